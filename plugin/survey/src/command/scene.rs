//! `plumbline scene`: the demo's stems.

use super::error::CommandError;
use super::outcome::Done;
use super::output::Output;
use super::progress::Bar;
use std::path::Path;

/// Makes the scene.
pub(crate) fn run(dir: &Path, output: &mut Output) -> Result<Done, CommandError> {
    let bar = Bar::steps(output, "making");
    let outcome = plumbline_scene::write(dir, &mut |step| bar.name(step));
    bar.clear();
    let truth = outcome.map_err(|error| CommandError::Output(error.to_string()))?;
    output.say(&format!(
        "{}: {} stems and {}, {} s; {} planted values in {}",
        dir.display(),
        truth.stems.len(),
        truth.mix,
        truth.seconds,
        truth.planted.len(),
        plumbline_scene::TRUTH_FILE
    ));
    Ok(Done::Fine)
}
