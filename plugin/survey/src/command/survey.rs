//! `plumbline survey` and `plumbline mics`: everything around the measuring.

use super::Done;
use super::args::{Global, Survey};
use super::folder::Draft;
use super::layers;
use super::stop::Stop;
use super::trouble::Trouble;
use super::voice::Voice;
use plumbline_measure::Timecode;
use plumbline_survey::{Options, Stems};
use std::path::{Path, PathBuf};

/// Surveys stems, a mix, or both.
pub(crate) fn run(words: &Survey, global: &Global, voice: &mut Voice) -> Result<Done, Trouble> {
    if global.json.is_some() {
        voice.keep_stdout();
    }
    let _start = start(global)?;
    let stop = Stop::listen();
    let sounds = layers::sounds(words)?;
    let files = sounds.files();
    let _stems = Stems::open(&files, &options(global)).map_err(|error| layers::input(&error))?;
    let inputs: Vec<&Path> = files.iter().map(|file| file.path.as_path()).collect();
    let _draft =
        words.out.as_deref().map(|out| Draft::begin(out, words.replace, &inputs, &stop)).transpose()?;
    Err(Trouble::Usage("surveys are not measured yet; nothing was done".to_owned()))
}

/// Compares microphones in pairs.
pub(crate) fn mics(files: &[PathBuf], global: &Global, _voice: &mut Voice) -> Result<Done, Trouble> {
    let mics = layers::mics(files)?;
    let files: Vec<_> = mics.into_iter().map(|mic| mic.stem).collect();
    let _stems = Stems::open(&files, &options(global)).map_err(|error| layers::input(&error))?;
    Err(Trouble::Usage("microphones are not compared yet; nothing was done".to_owned()))
}

fn options(global: &Global) -> Options {
    Options { resample_hz: global.resample }
}

/// The timecode of the first sample, where the user named one.
fn start(global: &Global) -> Result<Option<Timecode>, Trouble> {
    let read = |text: &String| {
        Timecode::parse(global.rate_of_frames, text)
            .map_err(|error| Trouble::Usage(format!("--start {text}: {error}")))
    };
    global.start.as_ref().map(read).transpose()
}
