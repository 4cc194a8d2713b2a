//! A test in a process of its own: a plug-in that ends its host must end one test, not the suite, and what it
//! prints can be read.

use std::process::Command;

/// Variable that tells a process that it is the child.
const CHILD_VARIABLE: &str = "PLUMBLINE_TEST_CHILD";

/// What a child left behind.
#[derive(Debug)]
pub struct Finished {
    /// Its standard output, with the test harness's own lines.
    pub stdout: String,
    /// Its standard error.
    pub stderr: String,
}

/// Runs the current `#[test]` in a child process: there `body` is run, here its end is checked. `environment` is
/// set for the child. Returns `None` in the child, after `body`.
///
/// # Panics
/// When the child failed, was killed by a signal, or ran no test.
pub fn run(environment: &[(&str, String)], body: impl FnOnce()) -> Option<Finished> {
    if std::env::var_os(CHILD_VARIABLE).is_some() {
        body();
        return None;
    }
    let name = std::thread::current().name().expect("the harness names a test's thread").to_owned();
    let program = std::env::current_exe().expect("this program has a path");
    let output = Command::new(program)
        .args([&name, "--exact", "--nocapture", "--test-threads=1"])
        .env(CHILD_VARIABLE, "1")
        .envs(environment.iter().map(|(key, value)| (*key, value)))
        .output()
        .expect("this program can be run again");
    let stdout = String::from_utf8_lossy(&output.stdout).into_owned();
    let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        output.status.success() && stdout.contains("1 passed"),
        "{name} in a process of its own ended with {}\n--- its output\n{stdout}\n--- its errors\n{stderr}",
        output.status
    );
    Some(Finished { stdout, stderr })
}
