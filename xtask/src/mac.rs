//! `mac-check`: type-checks the plug-in and the command for macOS. Nothing is linked and no C++ is compiled: both need
//! Apple's SDK, which only a Mac has.

use crate::error::Error;
use crate::step::Steps;
use crate::{packages, paths, setup, step};
use std::fs;

/// Both macOS targets, as named by Rust and as written in the variables of C++ builds.
const TARGETS: [(&str, &str); 2] =
    [("aarch64-apple-darwin", "aarch64_apple_darwin"), ("x86_64-apple-darwin", "x86_64_apple_darwin")];

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    Steps::of_task(rest, check)
}

fn check(steps: &mut Steps) -> Result<(), Error> {
    steps.run("packages", || setup::debian_packages("mac-check", packages::MAC))?;
    let work = paths::target()?.join("mac-build");
    // An empty folder in place of Apple's SDK: build scripts need the path, but compile nothing.
    let sdk = work.join("no-sdk");
    fs::create_dir_all(&sdk).map_err(|e| Error::path("make the folder", &sdk, &e))?;
    for (target, variable) in TARGETS {
        steps.run(target, || {
            let mut cargo = paths::cargo();
            // The plug-in and the command with their unit tests; the suites also need hosts and a display.
            cargo.args([
                "check",
                "--workspace",
                "--exclude=plumbline-tests",
                "--exclude=xtask",
                "--lib",
                "--bins",
                "--tests",
            ]);
            cargo
                .env("RUSTC", "/usr/bin/rustc")
                .env("RUSTDOC", "/usr/bin/rustdoc")
                .env("RUSTC_BOOTSTRAP", "1")
                .env("CARGO_UNSTABLE_BUILD_STD", "std,panic_unwind")
                .env("CARGO_BUILD_TARGET", target)
                .env("CARGO_TARGET_DIR", work.join("target"))
                .env("CARGO_INCREMENTAL", "0")
                .env("SDKROOT", &sdk);
            for tool in ["CC", "CXX", "AR"] {
                cargo.env(format!("{tool}_{variable}"), "/bin/true");
            }
            step::run(&mut cargo)
        })?;
    }
    println!(
        "\nmac-check: {} targets type-check; no C++ was compiled, nothing was linked or run.",
        TARGETS.len()
    );
    Ok(())
}
