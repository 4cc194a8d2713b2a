//! `plumbline mics`: microphones in pairs.

use super::args::Global;
use super::error::CommandError;
use super::interrupt::Stop;
use super::layers;
use super::outcome::Done;
use super::output::Output;
use super::progress::Bar;
use super::survey::{failed, options, start, watch};
use plumbline_audio::Stems;
use plumbline_report::survey as report;
use plumbline_survey::engine::{self, MicsPlan};
use std::path::PathBuf;

/// Compares microphones in pairs.
pub(crate) fn run(files: &[PathBuf], global: &Global, output: &mut Output) -> Result<Done, CommandError> {
    if global.json.is_some() {
        output.keep_stdout();
    }
    let start = start(global)?;
    let mics = layers::mics(files)?;
    let stop = Stop::listen();
    let (names, files): (Vec<String>, Vec<_>) = mics.into_iter().map(|mic| (mic.name, mic.stem)).unzip();
    let stems = Stems::open(&files, &options(global)).map_err(|error| layers::input(&error))?;
    let plan = MicsPlan { names, frames: global.frame_rate, start, ..MicsPlan::default() };
    let bar = Bar::frames(output, stems.frames());
    let told = engine::mics(stems, &plan, &mut watch(&bar, &stop));
    bar.clear();
    let told = told.map_err(|error| failed(error, None))?;
    if global.json.is_some() {
        output.hand_out(&report::mics_json(&told));
    }
    let advice = report::mics_advice(&told);
    for (pair, advice) in told.pairs.pairs.iter().zip(advice) {
        output.say(&format!("{} and {}: {advice}", pair.names[0], pair.names[1]));
    }
    if told.pairs.uncompared > 0 {
        output.complain(&format!(
            "plumbline mics: {} microphones more were not compared; name fewer at a time",
            told.pairs.uncompared
        ));
    }
    Ok(Done::Fine)
}
