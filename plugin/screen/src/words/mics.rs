//! Pairs of microphones in words: their names in a session, and one verdict on all pairs and on phase.

use crate::session_view;
use plumbline_measure::FrameRate;
use plumbline_programme::pair::Advice;
use plumbline_programme::verdict::{OutOfStep, Phase};
use plumbline_programme::{Mic, Mics, MicsVerdict, PairLine, Session};
use plumbline_report::figures;
use plumbline_report::words::{self, Context, VerdictText};

/// Name of a microphone in a pair.
pub fn mic_name(mic: Mic, session: &Session) -> String {
    match mic {
        Mic::Left => "Left".to_owned(),
        Mic::Right => "Right".to_owned(),
        Mic::Main => "This bus".to_owned(),
        Mic::SideChain => "Side-chain".to_owned(),
        Mic::Layer(id) => session_view::name_of(session, id).to_owned(),
    }
}

/// The advice on a pair, for picture at `frames` and air at `celsius`. *Copy* copies its sentence.
pub fn pair(line: &PairLine, session: &Session, frames: FrameRate, celsius: f64) -> VerdictText {
    words::pair(line, &line.mics.map(|mic| mic_name(mic, session)), (frames, celsius), Context::Live)
}

/// The verdict for the Bus page: left and right out of step, with the cause; else the pairs; else the phase.
pub fn mics(
    of_phase: &Phase,
    verdict: &MicsVerdict,
    mics: &Mics,
    session: &Session,
    (frames, celsius): (FrameRate, f64),
) -> VerdictText {
    let phase = words::phase(of_phase, Context::Live);
    let own = mics.line([Mic::Left, Mic::Right]);
    let repairs = |line: &PairLine| matches!(line.advice(frames, celsius), Advice::Repair(_));
    if let Phase::OutOfStep(fault) = of_phase
        && fault.is_fault()
    {
        let cause = mics.behind().or(own.filter(|line| repairs(line)));
        return match cause {
            Some(line) => caused(phase, fault, pair(line, session, frames, celsius)),
            None => phase,
        };
    }
    match *verdict {
        MicsVerdict::Fight { mics: two, more } => match mics.line(two) {
            Some(line) => words::and_further(pair(line, session, frames, celsius), u64::from(more)),
            None => phase,
        },
        MicsVerdict::InStep { pairs } if !session.layers.is_empty() && *of_phase != Phase::Unknown => {
            let pairs = figures::count(f64::from(pairs), "pair", "pairs");
            let sentence = format!("{} Microphones that share sound add up ({pairs}).", phase.sentence);
            VerdictText { sentence, ..phase }
        }
        _ => phase,
    }
}

fn caused(phase: VerdictText, fault: &OutOfStep, cause: VerdictText) -> VerdictText {
    let (worst, hz) = (figures::plain(Some(fault.worst), 2), figures::hz(fault.worst_hz));
    let sentence = format!("{} Out of step {worst} at {hz}.", cause.sentence);
    VerdictText { sentence, short: cause.short, ..phase }
}
