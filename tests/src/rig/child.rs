//! A test in a separate process, so that a plug-in that crashes its host ends one test and not the suite, and its
//! output can be read. The process has its own board, which is removed at its end.
//!
//! Inside such a process a [`Peer`] is a second host process on the same board: it runs the same test, which learns its
//! role from [`part`].

use super::board;
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

/// The variable that marks a child process, with the name of its test.
const CHILD_VARIABLE: &str = "PLUMBLINE_TEST_CHILD";
/// The variable with a tool that runs each child process, and its options: a memory checker.
const TOOL_VARIABLE: &str = "PLUMBLINE_TEST_TOOL";
/// The variable with a peer's part.
const PART_VARIABLE: &str = "PLUMBLINE_TEST_PART";
/// The start of a peer's messages: the test harness prints on the same line before them.
pub const MARK: &str = "peer says: ";

/// The output of a child.
#[derive(Debug)]
pub struct Finished {
    /// Its standard output, with the test harness's own lines.
    pub stdout: String,
    /// Its standard error.
    pub stderr: String,
}

/// Runs the current `#[test]` in a child process with `environment`: the child runs `body`, and the parent checks how
/// it ended. Returns `None` in the child, after `body`.
///
/// # Panics
/// If the child failed, was killed by a signal, ran no test, or left a file on its board.
pub fn run(environment: &[(&str, String)], body: impl FnOnce()) -> Option<Finished> {
    if std::env::var_os(CHILD_VARIABLE).is_some() {
        body();
        return None;
    }
    let name = std::thread::current().name().expect("the harness names a test's thread").to_owned();
    let board = board::Folder::make().expect("a board folder");
    let output = again(&name)
        .envs(environment.iter().map(|(key, value)| (*key, value)))
        .envs([board.variable()])
        .output()
        .expect("this program can be run again");
    let stdout = String::from_utf8_lossy(&output.stdout).into_owned();
    let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        output.status.success() && stdout.contains("1 passed"),
        "{name} in a separate process ended with {}\n--- its output\n{stdout}\n--- its errors\n{stderr}",
        output.status
    );
    let left: Vec<_> = std::fs::read_dir(board.path()).expect("the board is there").flatten().collect();
    assert!(left.is_empty(), "{name} left on its board: {left:?}");
    Some(Finished { stdout, stderr })
}

/// A command that runs one test of this program, under a tool if [`TOOL_VARIABLE`] names one.
fn again(name: &str) -> Command {
    let program = std::env::current_exe().expect("this program has a path");
    let tool = std::env::var(TOOL_VARIABLE).unwrap_or_default();
    let mut words = tool.split_whitespace();
    let mut command = match words.next() {
        Some(tool) => Command::new(tool),
        None => Command::new(&program),
    };
    if !tool.trim().is_empty() {
        command.args(words).arg(program);
    }
    command.args([name, "--exact", "--nocapture", "--test-threads=1"]).env(CHILD_VARIABLE, name);
    command
}

/// The part of this process in its test; `None` except in a [`Peer`].
pub fn part() -> Option<String> {
    std::env::var(PART_VARIABLE).ok()
}

/// A second host process of the same test, on the same board. It is killed when this is dropped.
pub struct Peer {
    process: Child,
    orders: ChildStdin,
    words: BufReader<ChildStdout>,
}

impl Peer {
    /// Runs the current test again as a peer with a part.
    ///
    /// # Panics
    /// Outside a child of [`run`].
    pub fn start(part: &str) -> Self {
        let name = std::env::var(CHILD_VARIABLE).expect("a peer belongs to a child");
        let mut process = again(&name)
            .env(PART_VARIABLE, part)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("this program can be run again");
        let orders = process.stdin.take().expect("piped");
        let words = BufReader::new(process.stdout.take().expect("piped"));
        Self { process, orders, words }
    }

    /// Sends an order, one line.
    ///
    /// # Panics
    /// If the peer has ended.
    pub fn order(&mut self, order: &str) {
        writeln!(self.orders, "{order}").expect("the peer listens");
    }

    /// Waits for the peer's next message.
    ///
    /// # Panics
    /// If the peer ends first.
    pub fn word(&mut self) -> String {
        let mut line = String::new();
        loop {
            line.clear();
            let length = self.words.read_line(&mut line).expect("the peer's output is text");
            assert!(length > 0, "the peer ended without a message");
            if let Some((_, word)) = line.split_once(MARK) {
                return word.trim().to_owned();
            }
        }
    }

    /// Kills it, as `kill -9` does.
    ///
    /// # Panics
    /// If the system refuses.
    pub fn kill(&mut self) {
        self.process.kill().expect("the peer can be killed");
        self.process.wait().expect("the peer can be waited for");
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        // It may be gone already.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// In a peer: sends a message to the process that started it.
///
/// # Panics
/// If that process has ended.
pub fn say(word: &str) {
    let mut out = std::io::stdout();
    writeln!(out, "{MARK}{word}").and_then(|()| out.flush()).expect("somebody listens");
}

/// In a peer: the orders as they arrive, read by a separate thread. The channel closes when the ordering process ends.
pub fn orders() -> std::sync::mpsc::Receiver<String> {
    let (hand, orders) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            if hand.send(line).is_err() {
                break;
            }
        }
    });
    orders
}
