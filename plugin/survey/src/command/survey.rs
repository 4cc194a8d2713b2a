//! `plumbline survey`: measures stems and a mix, and reports on them.

mod cues;
mod marks_in;
mod marks_out;
mod plan_from_args;
mod summary;

use marks_out::MarksOut;
pub(crate) use plan_from_args::start;

use super::args::{Global, Survey};
use super::error::CommandError;
use super::interrupt::Stop;
use super::layers;
use super::outcome::Done;
use super::output::Output;
use super::progress::Bar;
use super::report_dir::Draft;
use plumbline_audio::{Options, Stems};
use plumbline_measure::SampleRate;
use plumbline_programme::findings::Grade;
use plumbline_programme::survey::Survey as Measured;
use plumbline_report::survey::{self as report, tenth_line, tenths_head};
use plumbline_survey::engine::{self, Plan, Progress, SurveyError};
use plumbline_survey::marks::Line;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

const TENTHS: &str = "tenths.csv";
const CUES: &str = "mix-cues.wav";

/// Surveys stems, a mix, or both.
pub(crate) fn run(words: &Survey, global: &Global, output: &mut Output) -> Result<Done, CommandError> {
    if global.json.is_some() {
        output.keep_stdout();
    }
    // Errors that need no measuring are found first, since measuring may take minutes.
    let start = start(global)?;
    let sounds = layers::sounds(words)?;
    let mark_files = marks_in::read(&words.marks, global.frame_rate)?;
    let mut plan = plan_from_args::plan(words, global, &sounds, start)?;
    let stop = Stop::listen();
    let files = sounds.files();
    let stems = Stems::open(&files, &options(global)).map_err(|error| layers::input(&error))?;
    let copy = |option| match (&sounds.mix, stems.stems().last()) {
        (Some(mix), Some(info)) => cues::Copy::of(&mix.path, info, option).map(Some),
        _ => Ok(None),
    };
    let cues = if words.cue { copy("--cue")? } else { None };
    let sound = files.iter().map(|file| file.path.as_path());
    let inputs: Vec<&Path> = sound.chain(words.marks.iter().map(PathBuf::as_path)).collect();
    let marks_out = MarksOut::check(&words.write_marks, words.out.as_deref(), words.replace, &inputs)?;
    let marked_copy = if marks_out.wants_copy() { copy("--write-marks")? } else { None };
    if marks_out.wants_copy() && marked_copy.is_none() {
        return Err(CommandError::Usage(
            "--write-marks: cue points are written into a copy of the mix; give it with --mix. Nothing was done"
                .to_owned(),
        ));
    }
    plan.marks = marks_in::place(&mark_files, time_line(&stems, &plan)?, stems.origin(), output)?;
    let draft =
        words.out.as_deref().map(|out| Draft::begin(out, words.replace, &inputs, &stop)).transpose()?;
    let measured = measure(stems, &plan, draft.as_ref().filter(|_| words.tenths), &stop, output)?;
    let document = report::document(&measured);
    let json = report::json(&measured);
    if let Some(draft) = draft {
        draft.write("report.json", json.as_bytes())?;
        draft.write("findings.csv", report::findings_csv(&measured).as_bytes())?;
        draft.write("joins.csv", report::joins_csv(&measured).as_bytes())?;
        draft.write("report.html", report::html(&measured).as_bytes())?;
        if let Some(cues) = cues {
            cues.write(&measured, &draft, CUES, &stop)?;
        }
        if stop.asked() {
            return Err(CommandError::Stopped);
        }
        draft.publish()?;
    }
    marks_out.write(&measured, marked_copy.as_ref(), &stop)?;
    if global.json.is_some() {
        output.hand_out(&json);
    }
    let grades: Vec<Grade> = measured.findings.iter().map(|finding| finding.grade).collect();
    summary::print(&document, &grades, words.out.as_deref(), output);
    for path in marks_out.paths() {
        output.say(&format!("joins in {}", path.display()));
    }
    let worst = grades.iter().max();
    let limit = words.fail_on.map(super::args::FailOn::grade);
    let found = limit.zip(worst).is_some_and(|(limit, worst)| *worst >= limit);
    Ok(if found { Done::Found } else { Done::Fine })
}

/// The time line of a survey.
fn time_line(stems: &Stems, plan: &Plan) -> Result<Line, CommandError> {
    let rate = SampleRate::new(stems.rate_hz()).map_err(|error| failed(SurveyError::Rate(error), None))?;
    Ok(Line { start: plan.start(stems.origin(), rate), rate, frames: stems.frames() })
}

/// The options for placing files on the time line.
pub(crate) fn options(global: &Global) -> Options {
    Options { resample_hz: global.resample }
}

/// Measures everything; with a draft, writes tenths to it as they come.
fn measure(
    stems: Stems,
    plan: &Plan,
    draft: Option<&Draft>,
    stop: &Stop,
    output: &Output,
) -> Result<Measured, CommandError> {
    let bar = Bar::frames(output, stems.frames());
    let mut progress = watch(&bar, stop);
    let Some(draft) = draft else {
        return engine::survey(stems, plan, None, &mut progress).map_err(|error| failed(error, None));
    };
    let written = |cause: io::Error| draft.failed(TENTHS, &cause);
    let file = File::create_new(draft.place(TENTHS)).map_err(written)?;
    let mut table = BufWriter::new(file);
    table.write_all(tenths_head().as_bytes()).map_err(written)?;
    // The bus comes after the layers.
    let layers = plan.layers.iter().map(|layer| layer.name.as_str());
    let names: Vec<&str> = layers.chain([plan.bus_name.as_str()]).collect();
    let Line { start, rate, .. } = time_line(&stems, plan)?;
    let mut hand = |place: usize, tenth: &plumbline_measure::Tenth| {
        let name = names.get(place).copied().unwrap_or("");
        table.write_all(tenth_line(name, tenth, start, rate).as_bytes())
    };
    let measured = engine::survey(stems, plan, Some(&mut hand), &mut progress)
        .map_err(|error| failed(error, Some(draft)))?;
    let file = table.into_inner().map_err(|error| written(error.into_error()))?;
    file.sync_all().map_err(written)?;
    Ok(measured)
}

/// Moves the bar, and checks for a stop.
pub(crate) fn watch(bar: &Bar, stop: &Stop) -> impl FnMut(Progress) -> ControlFlow<()> {
    move |progress| {
        bar.at(progress.frames);
        if stop.asked() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

/// The error for a survey that failed.
pub(crate) fn failed(error: SurveyError, draft: Option<&Draft>) -> CommandError {
    match error {
        SurveyError::Stopped => CommandError::Stopped,
        SurveyError::Stems(error) => layers::input(&error),
        SurveyError::Tenths(cause) => draft
            .map_or_else(|| CommandError::Output(cause.to_string()), |draft| draft.failed(TENTHS, &cause)),
        SurveyError::Plan(error) => CommandError::Usage(error.to_string()),
        SurveyError::Empty | SurveyError::Rate(_) => CommandError::Input(error.to_string()),
    }
}
