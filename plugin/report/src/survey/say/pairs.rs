//! Pairs of microphones in words: who trails whom, what to do about it, and why nothing can be told.

use super::{Said, State, phase};
use crate::figures::{self, DASH, plain, unit};
use crate::survey::{Pair, Survey};
use crate::words;
use plumbline_measure::mics::LEAST_COST_DB;
use plumbline_measure::pair::{Advice, CannotTell, Drift, Fix, NoFix, Side};
use plumbline_measure::verdict::Phase;
use plumbline_measure::{FrameRate, Mic, PairLine};

/// What is to be done about a pair, for a program.
pub(in crate::survey) fn outcome(line: &PairLine) -> &'static str {
    match line.advice(FrameRate::ALL[0], 20.0) {
        Advice::Repair(_) => "repair",
        Advice::Leave(NoFix::NothingToWin) => "in_step",
        Advice::Leave(NoFix::Room) => "room",
        Advice::Leave(NoFix::CannotTell(_)) => "cannot_tell",
    }
}

/// The advice on a pair, for picture at `frames` and air of `celsius`.
pub(in crate::survey) fn pair(pair: &Pair, frames: FrameRate, celsius: f64) -> Said {
    let [first, second] = [0, 1].map(|at| words::name(&pair.names[at]));
    match pair.line.advice(frames, celsius) {
        Advice::Repair(fix) => repair(&fix, &pair.line, &first, &second),
        Advice::Leave(NoFix::CannotTell(reason)) => cannot_tell(reason),
        Advice::Leave(NoFix::Room) => {
            let coherence = plain(pair.line.reading.coherence, 2);
            let coherence =
                if coherence == DASH { String::new() } else { format!(" (coherence {coherence})") };
            let sentence = format!(
                "Keep {first} and {second} as they are: what they share is room, not a fault{coherence}."
            );
            Said::new(State::Fine, "Room", "", sentence)
        }
        Advice::Leave(NoFix::NothingToWin) => {
            let apart = pair.line.reading.outcome.ok().map(|agreed| agreed.delay_secs.abs() * 1e3);
            let apart = unit(plain(apart, 2), "ms");
            let sentence =
                format!("{first} and {second} add up, {apart} apart: no move wins anything to be heard.");
            Said::new(State::Fine, "In step", apart, sentence)
        }
    }
}

fn repair(fix: &Fix, line: &PairLine, first: &str, second: &str) -> Said {
    let (later, earlier) = if fix.trails == Some(Side::First) { (first, second) } else { (second, first) };
    let ms = unit(plain(Some(fix.by.secs * 1e3), 2), "ms");
    let won = gains(fix);
    let drift = fix.drift.map(drifts).unwrap_or_default();
    let state = if line.cost_db.is_some_and(|db| db >= LEAST_COST_DB) { State::Fault } else { State::Note };
    if fix.trails.is_none() {
        let sentence =
            format!("{second} is upside down against {first}: flip one of them, move nothing; {won}.{drift}");
        return Said::new(state, "Upside down", ms, sentence);
    }
    let polarity = if fix.flip { "and flip its polarity" } else { "keep polarity" };
    let in_units = format!(
        "{} samples, {} frames, {}",
        plain(Some(fix.by.samples), 1),
        plain(Some(fix.by.frames), 2),
        unit(plain(Some(fix.by.metres), 2), "m")
    );
    let samples = figures::count(fix.move_earlier as f64, "sample", "samples");
    let sentence = format!(
        "{later} trails {earlier} by {ms} ({in_units}): move it {samples} earlier, {polarity}; {won}.{drift}"
    );
    Said::new(state, "Fight", ms, sentence)
}

/// What the blend wins, the most telling spans first; at most two.
fn gains(fix: &Fix) -> String {
    let mut gains: Vec<_> = fix.gains.iter().filter(|gain| gain.gain_db.is_finite()).collect();
    gains.sort_by(|a, b| b.gain_db.total_cmp(&a.gain_db));
    let told: Vec<String> = gains
        .iter()
        .take(2)
        .map(|gain| format!("{} at {}", super::db(gain.gain_db), figures::hz_span(&gain.span)))
        .collect();
    if told.is_empty() {
        "the blend gains".to_owned()
    } else {
        format!("the blend gains {}", told.join(" and "))
    }
}

fn drifts(drift: Drift) -> String {
    let ppm = drift.ppm.abs();
    let way = if drift.ppm < 0.0 { "shrinks" } else { "grows" };
    let every = if ppm > 0.0 { 1_000.0 / ppm } else { f64::INFINITY };
    format!(
        " The gap {way} by {} ± {}, 1 ms in {}: the recorders’ clocks differ, and one move does not hold for long. \
         Correct the speed, or cut more often.",
        plain(Some(ppm), 1),
        unit(plain(Some(drift.sigma_ppm), 1), "ppm"),
        unit(plain(Some(every), 0), "s"),
    )
}

/// Why nothing can be told, and what helps.
fn cannot_tell(reason: CannotTell) -> Said {
    let (head, sentence) = match reason {
        CannotTell::TooShort => ("Too short", "Cannot tell: it takes 3 seconds of both together."),
        CannotTell::TooQuiet => ("Silent", "Cannot tell: neither sounds above −90 dBFS."),
        CannotTell::OneSilent => {
            ("One silent", "Cannot tell: one of them is silent, or 80 dB under the other. Check the files.")
        }
        CannotTell::Unrelated => ("Unrelated", "Cannot tell: nothing stands out that both hear."),
        CannotTell::Tonal => (
            "Steady tones",
            "Cannot tell: what they share is a few steady tones, which many delays fit alike. Use a stretch with \
             speech, steps or a blow.",
        ),
        CannotTell::Ambiguous => (
            "Two answers",
            "Cannot tell: two delays fit alike, as with a strong echo or the two halves of a comb. Compare them by \
             ear.",
        ),
        CannotTell::Moving => (
            "Moving",
            "Cannot tell: the delay does not stand still. The source or a microphone moves: work in shorter pieces.",
        ),
    };
    Said::new(State::Unknown, head, "", sentence)
}

/// The verdict on all pairs: what is out of step between left and right first, then who fights.
pub(super) fn mics(survey: &Survey) -> Said {
    let (frames, celsius) = (survey.start.rate(), survey.celsius);
    let told = |of: &Pair| pair(of, frames, celsius);
    let pairs = &survey.pairs.pairs;
    let of_stems = || pairs.iter().filter(|pair| matches!(pair.line.mics, [Mic::Layer(_), Mic::Layer(_)]));
    if let Phase::OutOfStep(_) = survey.verdicts.phase {
        let own = pairs.iter().find(|pair| pair.line.mics == [Mic::Left, Mic::Right]);
        let repairs = |pair: &&Pair| outcome(&pair.line) == "repair";
        return own.filter(repairs).map_or_else(|| phase(&survey.verdicts.phase), told);
    }
    let fights: Vec<Said> = of_stems().map(told).filter(|said| said.state == State::Fault).collect();
    if let Some(first) = fights.first() {
        let more = fights.len() - 1;
        let others = figures::count(more as f64, "further pair", "further pairs");
        let and = if more > 0 { format!(" And {others}.") } else { String::new() };
        return Said { sentence: format!("{}{and}", first.sentence), ..first.clone() };
    }
    let count = |wanted: &str| of_stems().filter(|pair| outcome(&pair.line) == wanted).count();
    let (in_step, room) = (count("in_step") + count("repair"), count("room"));
    if in_step > 0 {
        let pairs = figures::count(in_step as f64, "pair of microphones adds", "pairs of microphones add");
        return Said::new(State::Fine, "In step", "", format!("{pairs} up, or nothing is won by a move."));
    }
    if room > 0 {
        let sentence = "What the microphones share is room, not a fault: keep them as they are.";
        return Said::new(State::Fine, "Room", "", sentence);
    }
    match of_stems().next() {
        Some(first) => told(first),
        None => phase(&survey.verdicts.phase),
    }
}
