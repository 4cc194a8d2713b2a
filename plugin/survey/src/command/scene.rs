//! `plumbline scene`: the demo's stems.

use super::Done;
use super::progress::Bar;
use super::trouble::Trouble;
use super::voice::Voice;
use std::path::Path;

/// Makes the scene.
pub(crate) fn run(dir: &Path, voice: &mut Voice) -> Result<Done, Trouble> {
    let bar = Bar::steps(voice, "making");
    let outcome = plumbline_scene::write(dir, &mut |step| bar.name(step));
    bar.clear();
    let truth = outcome.map_err(|error| Trouble::Output(error.to_string()))?;
    voice.say(&format!(
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
