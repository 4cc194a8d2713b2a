//! Runs the command in a temporary folder.

use plumbline_tests::rig::command;
use serde_json::Value;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The outcome of a run.
#[derive(Debug)]
pub(crate) struct Ran {
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Ran {
    pub(crate) fn of(output: Output) -> Self {
        Self {
            code: output.status.code(),
            stdout: String::from_utf8(output.stdout).expect("text on stdout"),
            stderr: String::from_utf8(output.stderr).expect("text on stderr"),
        }
    }

    /// Checks the exit code; a failure shows the output.
    #[track_caller]
    pub(crate) fn ended_with(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "stdout:\n{}\nstderr:\n{}", self.stdout, self.stderr);
        self
    }

    /// Checks that the only output is one line on stderr that contains these words.
    #[track_caller]
    pub(crate) fn said_in_one_line(&self, words: &[&str]) {
        assert_eq!(self.stdout, "", "nothing belongs on stdout");
        assert_eq!(self.stderr.matches('\n').count(), 1, "one line:\n{}", self.stderr);
        assert!(self.stderr.ends_with('\n') && !self.stderr.contains("panicked"), "{}", self.stderr);
        for word in words {
            assert!(self.stderr.contains(word), "no `{word}` in: {}", self.stderr);
        }
    }
}

/// The command, ready for its arguments.
pub(crate) fn plumbline() -> Command {
    let mut command = Command::new(command::fresh().expect("the command"));
    command.stdin(Stdio::null());
    command
}

/// Runs the command to its end.
pub(crate) fn run<S: AsRef<OsStr>>(args: impl IntoIterator<Item = S>) -> Ran {
    Ran::of(plumbline().args(args).output().expect("the command starts"))
}

/// A temporary folder with the files of one test.
pub(crate) struct TempDir(tempfile::TempDir);

impl TempDir {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder for the test"))
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// The path as text.
    pub(crate) fn word(&self, name: &str) -> String {
        self.path(name).to_str().expect("a plain path").to_owned()
    }

    pub(crate) fn file(&self, name: &str, bytes: &[u8]) -> String {
        std::fs::write(self.path(name), bytes).expect("written");
        self.word(name)
    }

    /// Names in the folder or a subfolder, including hidden ones.
    pub(crate) fn names(&self, below: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.0.path().join(below)).expect("a folder");
        let mut names: Vec<String> = entries
            .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    pub(crate) fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    pub(crate) fn json(&self, name: &str) -> Value {
        json(&self.text(name))
    }
}

pub(crate) fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error} in: {text}"))
}

/// Whether this process ignores permissions, which makes tests of permissions meaningless.
pub(crate) fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.starts_with(b"0\n"))
}

/// Reports that a test did not run because something is missing, so that it does not seem to have passed.
pub(crate) fn did_not_run(why: &str) {
    eprintln!("DID NOT RUN: {} — {why}", std::thread::current().name().unwrap_or("a test"));
}

/// The path of a program, if installed.
#[cfg(unix)]
pub(crate) fn program(name: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path)
        .map(|folder: PathBuf| folder.join(name))
        .find(|path: &PathBuf| Path::is_file(path))
}
