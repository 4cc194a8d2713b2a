//! The survey: from stems to all readings of a programme.
//!
//! # Data flow
//! [`Stems`] come in blocks of a second. Each layer has its own meter (`layer_meter`), which sums its stems, measures
//! the sum as the plug-in would on that track, and outputs tenths. Meters run in parallel. Then their tenths go to
//! `joint` in the order of song time. `joint` runs the plug-in's own code in the order of its worker. Meanwhile
//! microphones are compared (`pairs`), and if the bus loses level in mono, `mono_loss` looks for the layers that cause
//! it.
//!
//! # Memory
//! Two seconds of samples, and one packet of each file. Of every tenth, only the basis of the verdicts on the whole
//! programme is kept: seventeen bytes per layer for gated loudness and four for gated shares. For the match of Foley
//! with natural sound, at most ten minutes in which both play are kept, spread over the programme. Pictures keep only
//! the columns that they show; findings and joins, as many as a log holds.

mod block;
mod error;
mod finish;
mod joint_tenths;
mod layer_meter;
mod marks;
mod mono_loss;
mod pairs;
mod plan;
mod recent_balance;
mod source;

pub use error::{Progress, SurveyError};
pub use pairs::{MicsPlan, mics};
pub use plan::{EQUAL_POWER, Layer, Plan, PlanError};

use block::{Block, empty_blocks};
use joint_tenths::Joint;
use layer_meter::LayerMeter;
use mono_loss::Losses;
use pairs::Pairs;
use plumbline_audio::Stems;
use plumbline_measure::Tenth;
use plumbline_programme::survey::Survey;
use source::{Files, Source};
use std::io;
use std::ops::ControlFlow;
use std::sync::Mutex;

/// Receives the tenths of a survey: the index of the layer in the plan (for the bus, the number of layers), and the
/// tenth. Each tenth comes for all layers, the bus last, before the next tenth.
pub type TenthHand<'a> = dyn FnMut(usize, &Tenth) -> io::Result<()> + 'a;

/// Measures a programme.
///
/// `tenths` gets every tenth; none are kept. `progress` is called after each block, and may stop the survey.
///
/// # Errors
/// See [`SurveyError`].
pub fn survey(
    stems: Stems,
    plan: &Plan,
    tenths: Option<&mut TenthHand<'_>>,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<Survey, SurveyError> {
    run(&mut Files::new(stems)?, plan, tenths, progress)
}

fn run(
    source: &mut impl Source,
    plan: &Plan,
    mut tenths: Option<&mut TenthHand<'_>>,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<Survey, SurveyError> {
    plan.check(source)?;
    let mut meters = LayerMeter::all(source, plan);
    let mut pairs = Pairs::of_plan(source, plan);
    let mut joint = Joint::new(source.rate(), plan);
    let mut losses = Losses::new(source.rate());
    let threads = plan.threads();
    let mut blocks = [empty_blocks(source), empty_blocks(source)];
    let mut count = source.read(&mut blocks[0])?;
    let (mut at, of) = (0_u64, source.frames());
    while count > 0 {
        let [now, next] = &mut blocks;
        let read = side_by_side(threads, source, &mut meters, &mut pairs, (at, count), now, next);
        at += count as u64;
        take(&mut meters, &mut joint, &mut tenths)?;
        losses.ask(&meters, &mut joint, plan, at);
        joint.settle();
        if progress(Progress { frames: at, of }).is_break() {
            return Err(SurveyError::Stopped);
        }
        count = read?;
        blocks.swap(0, 1);
    }
    if at == 0 {
        return Err(SurveyError::Empty);
    }
    meters.iter_mut().for_each(LayerMeter::flush);
    take(&mut meters, &mut joint, &mut tenths)?;
    Ok(finish::survey(source, plan, at, meters, joint, &pairs, losses))
}

/// An independent piece of work.
enum Job<'a> {
    Layer(&'a mut LayerMeter),
    Pairs(&'a mut Pairs),
}

/// Measures a block on several threads while the next one is read.
fn side_by_side(
    threads: usize,
    source: &mut impl Source,
    meters: &mut [LayerMeter],
    pairs: &mut Pairs,
    (at, count): (u64, usize),
    now: &Block,
    next: &mut Block,
) -> Result<usize, SurveyError> {
    // The last job is taken first: pairs, which sometimes take longest, should not be left to the end.
    let mut jobs: Vec<Job<'_>> = meters.iter_mut().map(Job::Layer).collect();
    jobs.push(Job::Pairs(pairs));
    let threads = threads.min(jobs.len());
    let jobs = Mutex::new(jobs);
    let work = || {
        while let Some(job) = jobs.lock().ok().and_then(|mut jobs| jobs.pop()) {
            match job {
                Job::Layer(meter) => meter.run(now, at, count),
                Job::Pairs(pairs) => pairs.run(now, at, count),
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..threads {
            // If the system refuses a thread, the others do the work.
            let _ = std::thread::Builder::new().name("survey".to_owned()).spawn_scoped(scope, work);
        }
        let read = source.read(next);
        work();
        Ok(read?)
    })
}

/// Passes on, in the order of song time, the tenths that all meters have.
fn take(
    meters: &mut [LayerMeter],
    joint: &mut Joint,
    hand: &mut Option<&mut TenthHand<'_>>,
) -> Result<(), SurveyError> {
    let ready = meters.iter().map(|meter| meter.tenths.len()).min().unwrap_or(0);
    for at in 0..ready {
        if let Some(hand) = hand {
            for (layer, meter) in meters.iter().enumerate() {
                hand(layer, &meter.tenths[at]).map_err(SurveyError::Tenths)?;
            }
        }
        joint.push(meters.iter().map(|meter| &meter.tenths[at]));
    }
    meters.iter_mut().for_each(|meter| drop(meter.tenths.drain(..ready)));
    Ok(())
}

#[cfg(test)]
mod tests;
