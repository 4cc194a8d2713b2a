//! `sanitize`: the wrapper's C++ under the address and undefined-behaviour sanitizers, and the whole plug-in under a
//! memory checker, in the host suite. Linux with GCC; for the nightly checks.

use crate::environment::Environment;
use crate::error::{Error, no_arguments};
use crate::{bundle, paths, step};
use std::path::Path;
use std::process::Command;

/// The variable with which the host suite finds the plug-ins.
const BUNDLES: &str = "PLUMBLINE_BUNDLES";
/// The variable with which it runs each test's process under a tool.
const TOOL: &str = "PLUMBLINE_TEST_TOOL";
/// Sanitizers of the C++. The first finding ends the process.
const FLAGS: &str = "-fsanitize=address,undefined -fno-sanitize-recover=undefined -fno-omit-frame-pointer";
/// Cases of the suite that go through the wrapper: life, state, sound, keys of an editor, parameters.
const WRAPPED: [&str; 2] = ["vst3_", "lifecycle"];
/// Cases under the memory checker, which is some fifty times slower.
const CHECKED: [&str; 3] =
    ["hostile_host::calls_in_any_order", "hostile_host::a_host_that_sleeps", "vst3_state_comes_back"];

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    no_arguments(rest)?;
    if !cfg!(target_os = "linux") {
        return Err(Error::Failed("`sanitize` runs on Linux only; nothing was done".to_owned()));
    }
    let environment = Environment::make()?;
    let folder = paths::target()?.join("sanitized");
    let mut build = paths::cargo();
    // A folder of its own, since other flags would have the C++ built again each time. Its link flags are for the
    // library alone: a build script with them could not start.
    build
        .args(["rustc", "--release", "--package", "plumbline-shell", "--lib", "--crate-type", "cdylib"])
        .args(["--", "-C", "link-arg=-fsanitize=address", "-C", "link-arg=-fsanitize=undefined"])
        .env("CARGO_TARGET_DIR", &folder)
        .env("CARGO_PROFILE_RELEASE_LTO", "off")
        .env("CARGO_PROFILE_RELEASE_OPT_LEVEL", "1")
        .env("CXXFLAGS", FLAGS);
    step::run(&mut build)?;
    let built = folder.join("release").join(format!("lib{}.so", bundle::LIBRARY));
    let bundled = folder.join("bundled");
    for format in bundle::Format::ALL {
        bundle::lay_out(format, &built, &bundled)?;
    }
    let runtime = runtime()?;
    // Leaks are those of the graphics driver, too; `vst3_editors_leave_little_memory_behind` watches ours.
    let tool = format!("env LD_PRELOAD={runtime} ASAN_OPTIONS=detect_leaks=0");
    hosted(&environment, &bundled, &tool, &WRAPPED)?;
    bundle::bundle(false)?;
    let checker = "valgrind --quiet --error-exitcode=9 --trace-children=no";
    hosted(&environment, &paths::bundled()?, checker, &CHECKED)
}

/// Runs cases of the host suite, each process under a tool.
fn hosted(environment: &Environment, bundles: &Path, tool: &str, cases: &[&str]) -> Result<(), Error> {
    let mut suite = paths::cargo();
    suite
        .args(["test", "--workspace", "--test", "host", "--no-fail-fast", "--"])
        .args(cases)
        .env(BUNDLES, bundles)
        .env(TOOL, tool);
    // Its limits are for a quick plug-in and for memory that nobody watches.
    suite.args(["--skip", "leaks", "--skip", "at_random", "--skip", "closes_quickly", "--skip", "watched"]);
    step::run(&mut environment.applied_to(suite))
}

/// The sanitizers' runtime, which a process must load first if its program was built without.
fn runtime() -> Result<String, Error> {
    let output = Command::new("gcc")
        .arg("-print-file-name=libasan.so")
        .output()
        .map_err(|error| Error::Failed(format!("could not run gcc: {error}")))?;
    let path = String::from_utf8_lossy(&output.stdout).trim().to_owned();
    if Path::new(&path).is_absolute() {
        Ok(path)
    } else {
        Err(Error::Failed("gcc has no libasan; install it (Debian: libgcc-dev of its version)".to_owned()))
    }
}
