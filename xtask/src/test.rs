//! `test`: everything that must hold, in the order in which it fails soonest.

use crate::fault::{Fault, no_arguments};
use crate::step::Steps;
use crate::{bundle, demo, place, setup, step};
use std::path::PathBuf;
use std::process::Command;

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Fault> {
    no_arguments(rest)?;
    let mut steps = Steps::default();
    let outcome = prove(&mut steps);
    steps.summary();
    outcome
}

fn prove(steps: &mut Steps) -> Result<(), Fault> {
    let surroundings = Surroundings::make()?;
    let cargo = |args: &[&str]| {
        let mut command = place::cargo();
        command.args(args);
        surroundings.give(&mut command);
        command
    };
    steps.run("setup", || setup::run(&[]))?;
    steps.run("format", || step::run(&mut cargo(&["fmt", "--all", "--check"])))?;
    steps.run("lints", || {
        step::run(&mut cargo(&["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
    })?;
    steps.run("bundle", || bundle::bundle(false))?;
    steps.run("docs", || {
        step::run(cargo(&["doc", "--workspace", "--no-deps"]).env("RUSTDOCFLAGS", "-D warnings"))
    })?;
    // The development profile, so that debug assertions and the allocation guard are awake; what ships is tested
    // through the bundle of the release profile.
    steps.run("tests", || step::run(&mut cargo(&["test", "--workspace", "--no-fail-fast"])))?;
    steps.run("demo", || {
        step::run(
            &mut surroundings.given(demo::program(demo::Profile::Development, &["--headless".to_owned()])),
        )
    })
}

/// What programs need that draw without a display and talk to each other through a per-user folder.
struct Surroundings {
    runtime: Option<PathBuf>,
    software_drawing: bool,
}

impl Surroundings {
    fn make() -> Result<Self, Fault> {
        let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
        let runtime = if set("XDG_RUNTIME_DIR") || cfg!(not(target_os = "linux")) {
            None
        } else {
            Some(private_folder(place::target()?.join("runtime"))?)
        };
        Ok(Self { runtime, software_drawing: cfg!(target_os = "linux") && !set("DISPLAY") })
    }

    fn give(&self, command: &mut Command) {
        if let Some(runtime) = &self.runtime {
            command.env("XDG_RUNTIME_DIR", runtime);
        }
        if self.software_drawing {
            command.env("LIBGL_ALWAYS_SOFTWARE", "1");
        }
    }

    fn given(&self, mut command: Command) -> Command {
        self.give(&mut command);
        command
    }
}

/// A folder that only this user may enter.
fn private_folder(path: PathBuf) -> Result<PathBuf, Fault> {
    std::fs::create_dir_all(&path).map_err(|e| Fault::path("make the folder", &path, &e))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o700))
            .map_err(|e| Fault::path("close to others", &path, &e))?;
    }
    Ok(path)
}
