//! Pairs of microphones in words: who trails whom, what to do about it, and why nothing can be told.

use super::{Said, State, phase};
use crate::company;
use crate::figures::{self, DASH};
use plumbline_measure::pair::{Advice, CannotTell, Drift, Fix, NoFix, Side};
use plumbline_measure::verdict::{OutOfStep, Phase};
use plumbline_measure::{FrameRate, Mic, Mics, MicsVerdict, PairLine, Session};

/// Name of one of a pair.
pub fn mic_name(mic: Mic, session: &Session) -> String {
    match mic {
        Mic::Left => "Left".to_owned(),
        Mic::Right => "Right".to_owned(),
        Mic::Main => "This bus".to_owned(),
        Mic::SideChain => "Side-chain".to_owned(),
        Mic::Layer(id) => company::name_of(session, id).to_owned(),
    }
}

/// The advice on a pair, for picture at `frames` and air of `celsius`: the sentence is what is copied.
pub fn pair(line: &PairLine, session: &Session, frames: FrameRate, celsius: f64) -> Said {
    let names = line.mics.map(|mic| mic_name(mic, session));
    match line.advice(frames, celsius) {
        Advice::Repair(fix) => repair(&fix, line, &names),
        Advice::Leave(NoFix::CannotTell(reason)) => cannot_tell(reason),
        Advice::Leave(NoFix::Room) => room(line, &names),
        Advice::Leave(NoFix::NothingToWin) => nothing_to_win(line, &names),
    }
}

fn repair(fix: &Fix, line: &PairLine, [first, second]: &[String; 2]) -> Said {
    let (later, earlier) = if fix.trails == Some(Side::First) { (first, second) } else { (second, first) };
    let ms = figures::unit(figures::plain(Some(fix.by.secs * 1e3), 2), "ms");
    let won = gains(fix);
    let drift = fix.drift.map(drifts).unwrap_or_default();
    let sigma_ms = line.reading.outcome.ok().map(|agreed| agreed.sigma_secs * 1e3);
    let figure = match sigma_ms.filter(|sigma| (0.005..100.0).contains(sigma)) {
        Some(sigma) if fix.trails.is_some() => {
            let number = figures::plain(Some(fix.by.secs * 1e3), 2);
            format!("{number} ± {}", figures::unit(figures::plain(Some(sigma), 2), "ms"))
        }
        _ => ms.clone(),
    };
    if fix.trails.is_none() {
        return Said::new(State::Fault, "Upside down", figure).saying(
            format!("{second} is upside down against {first}: flip one of them, move nothing; {won}.{drift}"),
            format!("{second} against {first}: flip one."),
        );
    }
    let polarity = if fix.flip { "and flip its polarity" } else { "keep polarity" };
    let in_units = format!(
        "{} samples, {} frames, {}",
        figures::plain(Some(fix.by.samples), 1),
        figures::plain(Some(fix.by.frames), 2),
        figures::unit(figures::plain(Some(fix.by.metres), 2), "m")
    );
    let samples = figures::count(fix.move_earlier, "sample", "samples");
    Said::new(State::Fault, "Fight", figure).saying(
        format!("{later} trails {earlier} by {ms} ({in_units}): move it {samples} earlier, {polarity}; {won}.{drift}"),
        format!("{later} trails {earlier} by {ms}: move it {samples} earlier."),
    )
}

/// What the blend wins, the most telling spans first; at most two.
fn gains(fix: &Fix) -> String {
    let mut gains: Vec<_> = fix.gains.iter().filter(|gain| gain.gain_db.is_finite()).collect();
    gains.sort_by(|a, b| b.gain_db.total_cmp(&a.gain_db));
    let said: Vec<String> = gains
        .iter()
        .take(2)
        .map(|gain| format!("{} at {}", figures::db(Some(gain.gain_db)), figures::hz_span(&gain.span)))
        .collect();
    if said.is_empty() {
        "the blend gains".to_owned()
    } else {
        format!("the blend gains {}", said.join(" and "))
    }
}

fn drifts(drift: Drift) -> String {
    let ppm = drift.ppm.abs();
    let way = if drift.ppm < 0.0 { "shrinks" } else { "grows" };
    let every = if ppm > 0.0 { 1_000.0 / ppm } else { f64::INFINITY };
    format!(
        " The gap {way} by {}, 1 ms in {}: the recorders' clocks differ, and one move does not hold for long. Correct the \
         speed, or cut more often.",
        with_sigma(figures::plain(Some(ppm), 1), drift.sigma_ppm),
        figures::unit(figures::plain(Some(every), 0), "s"),
    )
}

/// A drift with its standard deviation, which may be too small for the decimals shown.
pub(crate) fn with_sigma(ppm: String, sigma_ppm: f64) -> String {
    let sigma = figures::plain(Some(sigma_ppm), 1);
    figures::unit(if sigma == "0.0" { ppm } else { format!("{ppm} ± {sigma}") }, "ppm")
}

fn room(line: &PairLine, [first, second]: &[String; 2]) -> Said {
    let coherence = figures::plain(line.reading.coherence, 2);
    let coherence = if coherence == DASH { String::new() } else { format!(" (coherence {coherence})") };
    Said::new(State::Fine, "Room", "").saying(
        format!("Keep {first} and {second} as they are: what they share is room, not a fault{coherence}."),
        "Room, not a fault: keep it.",
    )
}

fn nothing_to_win(line: &PairLine, [first, second]: &[String; 2]) -> Said {
    let apart = line.reading.outcome.ok().map(|agreed| agreed.delay_secs.abs() * 1e3);
    let apart = figures::unit(figures::plain(apart, 2), "ms");
    Said::new(State::Fine, "In step", apart.clone()).saying(
        format!("{first} and {second} add up, {apart} apart: no move wins anything to be heard."),
        format!("They add up, {apart} apart."),
    )
}

/// Why nothing can be told, and what helps.
pub fn cannot_tell(reason: CannotTell) -> Said {
    let (head, sentence, short) = match reason {
        CannotTell::TooShort => (
            "Listening",
            "Cannot tell yet: it takes 3 seconds of both together.",
            "It takes 3 seconds of both.",
        ),
        CannotTell::TooQuiet => ("Silent", "Cannot tell: neither sounds above −90 dBFS.", "Neither sounds."),
        CannotTell::OneSilent => (
            "One silent",
            "Cannot tell: one of them is silent, or 80 dB under the other. Check mute, fader and routing.",
            "One of them is silent.",
        ),
        CannotTell::Unrelated => {
            ("Unrelated", "Cannot tell: nothing stands out that both hear.", "Nothing that both hear.")
        }
        CannotTell::Tonal => (
            "Steady tones",
            "Cannot tell: what they share is a few steady tones, which many delays fit alike. Wait for speech, steps or a \
             blow, or clap once at the source.",
            "Only steady tones: many delays fit.",
        ),
        CannotTell::Ambiguous => (
            "Two answers",
            "Cannot tell: two delays fit alike, as with a strong echo or the two halves of a comb. Compare them by ear.",
            "Two delays fit alike.",
        ),
        CannotTell::Moving => (
            "Moving",
            "Cannot tell: the delay does not stand still. The source or a microphone moves, or a clip was just moved: \
             wait some seconds, or work in shorter pieces.",
            "The delay does not stand still.",
        ),
    };
    Said::new(State::Unknown, head, "").saying(sentence, short)
}

/// The verdict for the Bus page: first what is out of step between left and right and who is behind it, then the pairs,
/// then the phase alone.
pub fn mics(
    of_phase: &Phase,
    verdict: &MicsVerdict,
    mics: &Mics,
    session: &Session,
    (frames, celsius): (FrameRate, f64),
) -> Said {
    let own = mics.line([Mic::Left, Mic::Right]);
    let repairs = |line: &PairLine| matches!(line.advice(frames, celsius), Advice::Repair(_));
    if let Phase::OutOfStep(fault) = of_phase {
        let cause = mics.behind().or(own.filter(|line| repairs(line)));
        return match cause {
            Some(line) => caused(of_phase, fault, &pair(line, session, frames, celsius)),
            None => phase(of_phase),
        };
    }
    match *verdict {
        MicsVerdict::Fight { mics: two, more } => {
            let Some(line) = mics.line(two) else { return phase(of_phase) };
            let said = pair(line, session, frames, celsius);
            if more == 0 {
                return said;
            }
            let others = figures::count(u64::from(more), "further pair", "further pairs");
            let (sentence, short) = (format!("{} And {others}.", said.sentence), said.short.clone());
            said.saying(sentence, short)
        }
        MicsVerdict::InStep { pairs } if !session.layers.is_empty() && *of_phase != Phase::Unknown => {
            let said = phase(of_phase);
            let pairs = figures::count(u64::from(pairs), "pair", "pairs");
            let sentence = format!("{} Microphones that share sound add up ({pairs}).", said.sentence);
            let short = said.short.clone();
            said.saying(sentence, short)
        }
        _ => phase(of_phase),
    }
}

fn caused(of_phase: &Phase, fault: &OutOfStep, cause: &Said) -> Said {
    let said = phase(of_phase);
    let worst = figures::plain(Some(fault.worst), 2);
    said.saying(
        format!("{} Out of step {worst} at {}.", cause.sentence, figures::hz(fault.worst_hz)),
        cause.short.clone(),
    )
}
