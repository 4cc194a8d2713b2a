//! The bell-tower scene: a stonemason restores a bell tower. It is synthesised, the same on every run, with planted
//! faults whose values follow from how they were made.
//!
//! Stems: boom and lavalier on the mason (one source, the boom 4.66 ms later), the tower's ambience (two unrelated
//! channels), Foley of chisel, rope and steps, designed booms with a bell, designed swells; and their mix.
//! [`write()`] makes the files and `truth.json`.
#![forbid(unsafe_code)]

mod design;
mod entry;
mod error;
mod findings;
mod foley;
mod layering;
mod loudness;
mod mason;
mod mixdown;
mod noise;
mod plan;
mod planting;
mod shares;
mod sound;
mod spectrum;
mod tower;
mod truth;

pub use error::SceneError;
pub use plan::MIX_FILE;
pub use truth::{
    Passage, Place, Planted, PlantedFinding, PlantedJoin, Quantity, Stand, StemTruth, TRUTH_VERSION, Truth,
    Value,
};

use mixdown::Pcm;
use plan::BITS;
use std::path::Path;

/// The name of the file with the planted values.
pub const TRUTH_FILE: &str = "truth.json";

/// Makes the scene and writes it: stems and mix into `folder/stems`, and `truth.json` into `folder`. Calls `step` at
/// the start of each step.
///
/// # Errors
/// If a folder or file cannot be written.
pub fn write(folder: &Path, step: &mut dyn FnMut(&str)) -> Result<Truth, SceneError> {
    let stems_folder = folder.join("stems");
    // First, so that failing to make a folder is reported at once.
    std::fs::create_dir_all(&stems_folder)
        .map_err(|cause| SceneError::Write { path: stems_folder.clone(), cause })?;
    let tracks = mixdown::tracks(step)?;
    step("the mix");
    let stems = tracks.iter().map(mixdown::stem_pcm).collect::<Result<Vec<Pcm>, _>>()?;
    let mix = mixdown::mix_pcm(&tracks, &stems);
    let truth = planting::truth(&tracks, &mix);
    step("the files");
    for (track, stem) in tracks.iter().zip(&stems) {
        write_wav(&stems_folder.join(track.file), stem)?;
    }
    write_wav(&stems_folder.join(MIX_FILE), &mix)?;
    let path = folder.join(TRUTH_FILE);
    let text = serde_json::to_string_pretty(&truth).map_err(std::io::Error::from);
    text.and_then(|text| std::fs::write(&path, text + "\n"))
        .map_err(|cause| SceneError::Write { path, cause })?;
    Ok(truth)
}

fn write_wav(path: &Path, channels: &Pcm) -> Result<(), SceneError> {
    let failed = |error: hound::Error| SceneError::Write {
        path: path.to_owned(),
        cause: match error {
            hound::Error::IoError(cause) => cause,
            other => std::io::Error::other(other),
        },
    };
    let spec = hound::WavSpec {
        channels: if channels.len() == 1 { 1 } else { 2 },
        sample_rate: plan::RATE,
        bits_per_sample: BITS,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).map_err(failed)?;
    for n in 0..channels[0].len() {
        for channel in channels {
            writer.write_sample(channel[n]).map_err(failed)?;
        }
    }
    writer.finalize().map_err(failed)
}
