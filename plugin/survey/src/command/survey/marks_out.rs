//! The files of `--write-marks`: all joins, in the forms that `--marks` reads.
//!
//! Each file is written under a temporary name beside its final one, and renamed after the report. A name in use is
//! refused before anything is measured, unless an earlier report may be replaced.

use super::cues::Copy;
use super::marks_in::Form;
use crate::command::error::CommandError;
use crate::command::interrupt::Stop;
use crate::command::report_dir::{SET, is_same_place};
use plumbline_programme::survey::Survey as Measured;
use plumbline_report::survey as report;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// The files to write.
pub(super) struct MarksOut {
    targets: Vec<(PathBuf, Form)>,
    replace: bool,
}

impl MarksOut {
    /// Makes sure, before anything is measured, that the files may be written. `inputs` must not change.
    pub(super) fn check(
        paths: &[PathBuf],
        out: Option<&Path>,
        replace: bool,
        inputs: &[&Path],
    ) -> Result<Self, CommandError> {
        let mut targets: Vec<(PathBuf, Form)> = Vec::new();
        for path in paths {
            let refused = |what: &str| format!("--write-marks {}: {what}. Nothing was done", path.display());
            let usage = |what: &str| Err(CommandError::Usage(refused(what)));
            let Some(form) = Form::of(path) else {
                return usage("joins are written as .csv, .edl, or cue points in a .wav");
            };
            if targets.iter().any(|(other, _)| is_same_place(other, path)) {
                return usage("is named twice; name it once");
            }
            let folder = folder_of(path);
            let in_report = out.is_some_and(|out| folder == out || is_same_place(folder, out));
            let in_set = |name: &std::ffi::OsStr| SET.iter().any(|one| name.eq_ignore_ascii_case(one));
            if in_report && path.file_name().is_some_and(in_set) {
                return usage("the report has a file of that name; choose another");
            }
            if inputs.iter().any(|input| is_same_place(input, path)) {
                return Err(CommandError::Output(refused(
                    "is an input, and inputs are never changed; choose another name",
                )));
            }
            if fs::symlink_metadata(path).is_ok() && !replace {
                return Err(CommandError::Output(refused(
                    "is there already; --replace replaces it, or choose another name",
                )));
            }
            if path.is_dir() {
                return Err(CommandError::Output(refused("is a folder; choose the name of a file")));
            }
            // The report's folder is made together with the report.
            if !in_report && !folder.is_dir() {
                return Err(CommandError::Output(refused(
                    "its folder is not there; make it, or choose another",
                )));
            }
            targets.push((path.clone(), form));
        }
        Ok(Self { targets, replace })
    }

    /// Whether to write a copy of the mix.
    pub(super) fn wants_copy(&self) -> bool {
        self.targets.iter().any(|(_, form)| *form == Form::Cues)
    }

    /// The paths of the files, for the user.
    pub(super) fn paths(&self) -> impl Iterator<Item = &Path> {
        self.targets.iter().map(|(path, _)| path.as_path())
    }

    /// Writes the files; `copy` is given if one is wanted.
    pub(super) fn write(
        &self,
        measured: &Measured,
        copy: Option<&Copy>,
        stop: &Stop,
    ) -> Result<(), CommandError> {
        for (path, form) in &self.targets {
            let passing = passing_name(path);
            let not_written = |cause: io::Error| failed(path, &cause);
            let written = match form {
                Form::Table => text(&passing, &report::marks_csv(measured)).map_err(not_written),
                Form::EditList => text(&passing, &report::marks_edl(measured)).map_err(not_written),
                Form::Cues => copy.map_or(Ok(()), |copy| {
                    copy.write_joins(measured, &passing, &|cause| failed(path, cause), stop)
                }),
            };
            let named = written.and_then(|()| publish(&passing, path, self.replace).map_err(not_written));
            if named.is_err() {
                // The first error says more than an error of the removal would.
                let _ = fs::remove_file(&passing);
            }
            named?;
        }
        Ok(())
    }
}

/// The error for a file that cannot be written.
fn failed(path: &Path, cause: &io::Error) -> CommandError {
    CommandError::Output(format!(
        "could not write {}: {cause}; choose another place with --write-marks. A report named with --out is complete",
        path.display()
    ))
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// A temporary name beside the final one, unique to this process.
fn passing_name(path: &Path) -> PathBuf {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}.plumbline-{}", std::process::id()))
}

/// Writes a text and syncs it: on some systems a full disk reports only then.
fn text(path: &Path, text: &str) -> io::Result<()> {
    let mut file = File::create_new(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// Gives a finished file its name.
fn publish(passing: &Path, path: &Path, replace: bool) -> io::Result<()> {
    if replace {
        return fs::rename(passing, path);
    }
    // Claims the name, so that no file created there in the meantime is lost.
    OpenOptions::new().write(true).create_new(true).open(path)?;
    fs::rename(passing, path).inspect_err(|_| {
        let _ = fs::remove_file(path);
    })
}
