//! The test programs, built for Windows and run in Wine one by one. Every test is counted.
//!
//! A crash in Wine can look like success, and so can a run that skips tests. So each program must report as many tests
//! as it lists, and one program crashes on purpose.

use super::cross::{Cross, windows_path};
use crate::error::Error;
use crate::paths::json_string;
use crate::step;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

/// The unit tests to build, and the suites of `tests/` that neither draw nor start a Linux program.
const BUILD: &[&str] = &[
    "test",
    "--no-run",
    "--message-format=json-render-diagnostics",
    "--package=plumbline-measure",
    "--package=plumbline-programme",
    "--package=plumbline-live",
    "--package=plumbline-report",
    "--package=plumbline-audio",
    "--package=plumbline-scene",
    "--package=plumbline-survey",
    "--package=plumbline-tests",
    "--no-default-features",
    "--lib",
    "--bins",
    "--test=reference",
    "--test=property",
    "--test=host",
    "--test=crash",
    "--test=compare_reports",
];
/// The suite that loads the finished plug-ins.
const HOST: &str = "host";
const CRASH: &str = "crash";
const COMPARE: &str = "compare_reports";
/// The programs that must exist and contain tests: six libraries, the command and five suites.
const EXPECTED: [&str; 12] = [
    "plumbline_measure",
    "plumbline_programme",
    "plumbline_live",
    "plumbline_report",
    "plumbline_scene",
    "plumbline_survey",
    "plumbline",
    "reference",
    "property",
    HOST,
    CRASH,
    COMPARE,
];
/// The variable that makes the suite `crash` crash.
const CRASH_VARIABLE: &str = "PLUMBLINE_TEST_CRASH";

/// One test program.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Suite {
    name: String,
    program: PathBuf,
    /// The working directory that the tests expect: the folder of their package.
    folder: PathBuf,
}

/// All test programs.
pub(crate) struct Suites(Vec<Suite>);

impl Suites {
    /// Builds all test programs.
    pub(crate) fn build(cross: &Cross) -> Result<Self, Error> {
        let output = cross
            .cargo()
            .args(BUILD)
            .stderr(Stdio::inherit())
            .output()
            .map_err(|e| Error::Failed(format!("could not start cargo: {e}")))?;
        if !output.status.success() {
            return Err(Error::Failed("the tests could not be built; cargo's errors are above".to_owned()));
        }
        let text = String::from_utf8_lossy(&output.stdout);
        let suites: Vec<Suite> = text.lines().filter_map(test_program).collect();
        for name in EXPECTED {
            if !suites.iter().any(|suite| suite.name == name) {
                return Err(Error::Failed(format!(
                    "cargo built no test program {name}; were the tests renamed?"
                )));
            }
        }
        Ok(Self(suites))
    }

    /// Runs the suites that need no results of other steps.
    pub(crate) fn run_plain(&self, cross: &Cross) -> Result<(), Error> {
        let plain = self.0.iter().filter(|suite| ![HOST, COMPARE].contains(&suite.name.as_str()));
        run_all(cross, plain, &|_| {})
    }

    /// Runs the suite that loads the finished plug-ins.
    pub(crate) fn run_hosts(&self, cross: &Cross) -> Result<(), Error> {
        let bundles = windows_path(&cross.output);
        run_all(cross, self.named(HOST), &|command| {
            command.env("PLUMBLINE_BUNDLES", &bundles);
        })
    }

    /// Runs the comparison of the two reports in a folder.
    pub(crate) fn run_comparison(&self, cross: &Cross, folder: &Path) -> Result<(), Error> {
        let folder = windows_path(folder);
        run_all(cross, self.named(COMPARE), &|command| {
            command.arg("--include-ignored").env("PLUMBLINE_REPORTS", &folder);
        })
    }

    /// Checks that a crashing program counts as failed.
    pub(crate) fn prove_a_crash_fails(&self, cross: &Cross) -> Result<(), Error> {
        let suite =
            self.named(CRASH).next().ok_or_else(|| Error::Failed("`crash` was not built".to_owned()))?;
        match run(cross, suite, &|command| {
            command.env(CRASH_VARIABLE, "1");
        }) {
            Err(error) => {
                let said = error.to_string();
                println!("  failed, as expected: {}", said.lines().next().unwrap_or_default());
                Ok(())
            }
            Ok(_) => Err(Error::Failed(
                "a test read address 8 and its program passed: crashes go undetected, so no result counts"
                    .to_owned(),
            )),
        }
    }

    /// The program of the suite that loads the finished plug-ins.
    pub(crate) fn host(&self) -> Result<&Path, Error> {
        let host = self.named(HOST).next().map(|suite| suite.program.as_path());
        host.ok_or_else(|| Error::Failed("`host` was not built".to_owned()))
    }

    fn named(&self, name: &str) -> impl Iterator<Item = &Suite> {
        self.0.iter().filter(move |suite| suite.name == name)
    }
}

/// Runs all suites, and returns the failed ones as an error.
fn run_all<'a>(
    cross: &Cross,
    suites: impl Iterator<Item = &'a Suite>,
    prepare: &dyn Fn(&mut Command),
) -> Result<(), Error> {
    let (mut total, mut failed) = (0, Vec::new());
    for suite in suites {
        let start = Instant::now();
        match run(cross, suite, prepare) {
            Ok(Counted { passed, ignored, .. }) => {
                let left_out = if ignored == 0 { String::new() } else { format!(", {ignored} ignored") };
                let seconds = start.elapsed().as_secs_f64();
                println!("  {passed:>4} passed  {seconds:>7.1} s  {}{left_out}", suite.name);
                total += passed;
            }
            Err(error) => {
                println!("  FAILED       {:>7.1} s  {}\n{error}", start.elapsed().as_secs_f64(), suite.name);
                failed.push(suite.name.as_str());
            }
        }
    }
    println!("  {total:>4} passed in Wine");
    if !failed.is_empty() {
        return Err(Error::Failed(format!(
            "these suites failed in Wine: {}; their output is above",
            failed.join(", ")
        )));
    }
    if total == 0 { Err(Error::Failed("no test ran in Wine".to_owned())) } else { Ok(()) }
}

/// Runs one suite, which passes if each listed test passed or was ignored.
fn run(cross: &Cross, suite: &Suite, prepare: &dyn Fn(&mut Command)) -> Result<Counted, Error> {
    let told = |args: &[&str]| {
        let mut command = cross.wine(&suite.program);
        command.args(args).current_dir(&suite.folder).stdin(Stdio::null());
        prepare(&mut command);
        // Through pipes: Wine's services hold them open until they end, some 5 s after the program. So the next suite
        // does not start while services are still ending, which once made a suite hang.
        command.output().map_err(|e| Error::Failed(format!("could not start Wine: {e}")))
    };
    let listed = listed(&String::from_utf8_lossy(&told(&["--list", "--format", "terse"])?.stdout));
    let output = told(&[])?;
    let said = String::from_utf8_lossy(&output.stdout);
    let words =
        || format!("--- output of {}\n{said}\n{}", suite.name, String::from_utf8_lossy(&output.stderr));
    let Some(result) = said.lines().find_map(result) else {
        return Err(Error::Failed(format!(
            "{} ended with {} and printed no result\n{}",
            suite.name,
            step::how(output.status),
            words()
        )));
    };
    let may_be_empty = !EXPECTED.contains(&suite.name.as_str());
    let all_counted = result.passed + result.ignored == listed && (result.passed > 0 || may_be_empty);
    if output.status.success() && result.failed == 0 && all_counted {
        return Ok(result);
    }
    Err(Error::Failed(format!(
        "{} ended with {}: of {listed} tests {} passed, {} failed, {} were ignored\n{}",
        suite.name,
        step::how(output.status),
        result.passed,
        result.failed,
        result.ignored,
        words()
    )))
}

/// The number of tests in a program's list.
fn listed(text: &str) -> usize {
    text.lines().filter(|line| line.trim_end().ends_with(": test")).count()
}

/// The counts in a program's result.
#[derive(Debug, PartialEq, Eq)]
struct Counted {
    passed: usize,
    failed: usize,
    ignored: usize,
}

/// Reads `test result: ok. 12 passed; 0 failed; 1 ignored; …`.
fn result(line: &str) -> Option<Counted> {
    let counts = line.strip_prefix("test result: ")?.split_once(". ")?.1;
    let count = |word: &str| {
        counts.split("; ").find_map(|part| part.strip_suffix(word)).and_then(|n| n.trim().parse().ok())
    };
    Some(Counted { passed: count("passed")?, failed: count("failed")?, ignored: count("ignored")? })
}

/// A test program from a line of cargo's messages.
fn test_program(line: &str) -> Option<Suite> {
    if !line.contains(r#""reason":"compiler-artifact""#) {
        return None;
    }
    let profile = line.split_once(r#""profile":{"#)?.1.split_once('}')?.0;
    if !profile.contains(r#""test":true"#) {
        return None;
    }
    let program = PathBuf::from(json_string(line, "executable")?);
    let manifest = PathBuf::from(json_string(line, "manifest_path")?);
    // reference-0123456789abcdef.exe
    let stem = program.file_stem()?.to_str()?;
    let name = stem.rsplit_once('-').map_or(stem, |(name, _)| name).to_owned();
    Some(Suite { name, folder: manifest.parent()?.to_owned(), program })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_result_is_read_and_a_crash_has_none() {
        let line = "test result: FAILED. 12 passed; 3 failed; 1 ignored; 0 measured; 0 filtered out; finished in 0.10s";
        assert_eq!(result(line), Some(Counted { passed: 12, failed: 3, ignored: 1 }));
        assert_eq!(result("test findings::edges ... ok"), None);
        assert_eq!(result("test result: ok. none"), None);
    }

    #[test]
    fn listed_tests_are_counted_with_windows_line_ends_too() {
        assert_eq!(listed("a::b: test\r\nc: test\nd: benchmark\n\n2 tests, 1 benchmark\n"), 2);
    }

    #[test]
    fn test_programs_are_found_among_cargos_messages() {
        let line = |test: bool, program: &str| {
            format!(
                r#"{{"reason":"compiler-artifact","manifest_path":"/w/tests/Cargo.toml","target":{{"test":true}},"profile":{{"opt_level":"1","test":{test}}},"executable":{program}}}"#
            )
        };
        let suite = test_program(&line(true, r#""/t/deps/reference-01ab.exe""#)).expect("one");
        assert_eq!((suite.name.as_str(), suite.folder), ("reference", PathBuf::from("/w/tests")));
        assert_eq!(test_program(&line(false, r#""/t/plumbline.exe""#)), None);
        assert_eq!(test_program(&line(true, "null")), None);
        assert_eq!(test_program(r#"{"reason":"build-finished","success":true}"#), None);
    }
}
