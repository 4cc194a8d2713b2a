//! `windows-editor`: the editor of the Windows build in a window of Wine, seen on a virtual display. Apart from `windows`,
//! since what a graphical Wine draws is less sure than what it computes.

use super::cross::{WINE, windows_path};
use crate::bundle::remove;
use crate::error::Error;
use crate::step::{self, Steps};
use crate::{paths, setup};
use std::fs;

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    Steps::of_task(rest, look)
}

fn look(steps: &mut Steps) -> Result<(), Error> {
    steps.run("setup", || setup::run(&[]))?;
    let (cross, suites) = super::prepare(steps)?;
    let pictures = cross.work("editor");
    steps.run("editor", || {
        remove(&pictures)?;
        fs::create_dir_all(&pictures).map_err(|e| Error::path("make the folder", &pictures, &e))?;
        // A server that was started without a display would go on without one.
        cross.end_wine()?;
        let mut test = paths::cargo();
        test.args(["test", "--package=plumbline-tests", "--no-default-features", "--test=host"]);
        test.args(["--", "--ignored", "--nocapture", "editor_in_wine::"]);
        cross.set_environment(&mut test);
        test.env("PLUMBLINE_WINE", WINE)
            .env("PLUMBLINE_WINE_PROGRAM", suites.host()?)
            .env("PLUMBLINE_WINE_PICTURES", &pictures)
            .env("PLUMBLINE_BUNDLES", windows_path(&cross.output));
        let seen = step::run(&mut test);
        // Nor may one be left that knows a display which is gone.
        cross.end_wine()?;
        seen
    })?;
    println!("\nwindows-editor: pictures of every stage are in {}; look at them.", pictures.display());
    Ok(())
}
