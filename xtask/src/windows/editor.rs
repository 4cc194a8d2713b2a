//! `windows-editor`: opens the editor of the Windows build in Wine, on a virtual display. Separate from `windows`,
//! because Wine's drawing is less reliable than its computing.

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
        // A server that started without a display would stay without one.
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
        // The display ends with the test, so the server that uses it must end too.
        cross.end_wine()?;
        seen
    })?;
    println!("\nwindows-editor: the pictures of every stage are in {}; look at them.", pictures.display());
    Ok(())
}
