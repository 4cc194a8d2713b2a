//! Pairs of microphones in words: who trails whom, what to do about it, and why nothing can be context.

use super::{Context, State, VerdictText};
use crate::figures::{self, DASH, plain, unit};
use plumbline_measure::FrameRate;
use plumbline_programme::PairLine;
use plumbline_programme::pair::{Advice, CannotTell, Drift, Fix, NoFix, Side};

/// The advice on a pair of these names, for picture at `frames` and air of `celsius`: the sentence is what is copied.
pub fn pair(
    line: &PairLine,
    names: &[String; 2],
    (frames, celsius): (FrameRate, f64),
    context: Context,
) -> VerdictText {
    match line.advice(frames, celsius) {
        Advice::Repair(fix) => repair(&fix, line, names),
        Advice::Leave(NoFix::CannotTell(reason)) => cannot_tell(reason, context),
        Advice::Leave(NoFix::Room) => room(line, names),
        Advice::Leave(NoFix::NothingToWin) => nothing_to_win(line, names),
    }
}

fn ms(secs: Option<f64>) -> String {
    unit(plain(secs.map(|secs| secs * 1e3), 2), "ms")
}

fn repair(fix: &Fix, line: &PairLine, [first, second]: &[String; 2]) -> VerdictText {
    let (later, earlier) = if fix.trails == Some(Side::First) { (first, second) } else { (second, first) };
    let by = ms(Some(fix.by.secs));
    let won = gains(fix);
    let drift = fix.drift.map(drifts).unwrap_or_default();
    if fix.trails.is_none() {
        let sentence = format!(
            "{second} is polarity inverted against {first}: invert one of them, move neither; {won}.{drift}"
        );
        return VerdictText::new(State::Fault, "Inverted", by, sentence)
            .in_short(format!("{second} against {first}: invert one."));
    }
    let sigma = line.reading.outcome.ok().map(|agreed| agreed.sigma_secs);
    let figure = match sigma.filter(|sigma| (5e-6..0.1).contains(sigma)) {
        Some(sigma) => format!("{} ± {}", plain(Some(fix.by.secs * 1e3), 2), ms(Some(sigma))),
        None => by.clone(),
    };
    let in_units = format!(
        "{}, {}, {}",
        unit(plain(Some(fix.by.samples), 1), "samples"),
        unit(plain(Some(fix.by.frames), 2), "frames"),
        unit(plain(Some(fix.by.metres), 2), "m")
    );
    let samples = figures::count(fix.move_earlier as f64, "sample", "samples");
    let polarity = if fix.flip { "and invert its polarity" } else { "keep polarity" };
    let trails = format!("{later} trails {earlier} by {by}");
    let sentence = format!("{trails} ({in_units}): move it {samples} earlier, {polarity}; {won}.{drift}");
    VerdictText::new(State::Fault, "Fight", figure, sentence)
        .in_short(format!("{trails}: move it {samples} earlier."))
}

/// What the blend wins, the most telling spans first; at most two.
fn gains(fix: &Fix) -> String {
    let mut gains: Vec<_> = fix.gains.iter().filter(|gain| gain.gain_db.is_finite()).collect();
    gains.sort_by(|a, b| b.gain_db.total_cmp(&a.gain_db));
    let most = gains.iter().take(2);
    let text: Vec<String> = most
        .map(|gain| format!(" {} at {}", figures::db(Some(gain.gain_db)), figures::hz_span(&gain.span)))
        .collect();
    format!("the blend gains{}", text.join(" and"))
}

fn drifts(drift: Drift) -> String {
    let ppm = drift.ppm.abs();
    let way = if drift.ppm < 0.0 { "shrinks" } else { "grows" };
    let every = if ppm > 0.0 { 1_000.0 / ppm } else { f64::INFINITY };
    format!(
        " The gap {way} by {}, 1\u{a0}ms in {}: the recorders' clocks differ, and one move does not hold for long. \
         Correct the speed, or cut more often.",
        with_sigma(plain(Some(ppm), 1), drift.sigma_ppm),
        unit(plain(Some(every), 0), "s"),
    )
}

/// A drift with its standard deviation, which may be too small for the decimals shown.
pub fn with_sigma(ppm: String, sigma_ppm: f64) -> String {
    let sigma = plain(Some(sigma_ppm), 1);
    unit(if sigma == "0.0" { ppm } else { format!("{ppm} ± {sigma}") }, "ppm")
}

fn room(line: &PairLine, [first, second]: &[String; 2]) -> VerdictText {
    let coherence = plain(line.reading.coherence, 2);
    let coherence = if coherence == DASH { String::new() } else { format!(" (coherence {coherence})") };
    let sentence =
        format!("Keep {first} and {second} as they are: what they share is room, not a fault{coherence}.");
    VerdictText::new(State::Fine, "Room", "", sentence).in_short("Room, not a fault: keep it.")
}

fn nothing_to_win(line: &PairLine, [first, second]: &[String; 2]) -> VerdictText {
    let apart = ms(line.reading.outcome.ok().map(|agreed| agreed.delay_secs.abs()));
    let sentence = format!("{first} and {second} add up, {apart} apart: no move wins anything to be heard.");
    let short = format!("They add up, {apart} apart.");
    VerdictText::new(State::Fine, "In step", apart, sentence).in_short(short)
}

/// Why nothing can be context, and what helps.
pub(super) fn cannot_tell(reason: CannotTell, context: Context) -> VerdictText {
    let (head, why, helps, short) = match reason {
        CannotTell::TooShort => (
            context.pick("Listening", "Too short"),
            "it takes 3\u{a0}seconds of both together.",
            "",
            "It takes 3\u{a0}seconds of both.",
        ),
        CannotTell::TooQuiet => ("Silent", "neither sounds above −90\u{a0}dBFS.", "", "Neither sounds."),
        CannotTell::OneSilent => (
            "One silent",
            "one of them is silent, or 80\u{a0}dB under the other.",
            context.pick(" Check mute, fader and routing.", " Check the files."),
            "One of them is silent.",
        ),
        CannotTell::Unrelated => {
            ("Unrelated", "no shared sound stands out.", "", "No shared sound.")
        }
        CannotTell::Tonal => (
            "Steady tones",
            "what they share is a few steady tones, which many delays fit alike.",
            context.pick(
                " Wait for speech, steps or a blow, or clap once at the source.",
                " Use a stretch with speech, steps or a blow.",
            ),
            "Only steady tones: many delays fit.",
        ),
        CannotTell::Ambiguous => (
            "Two answers",
            "two delays fit alike, as with a strong echo or the two halves of a comb.",
            " Compare them by ear.",
            "Two delays fit alike.",
        ),
        CannotTell::Moving => (
            "Moving",
            "the delay is not constant.",
            context.pick(
                " The source or a microphone moves, or a clip was just moved: wait some seconds, or work in shorter \
                 pieces.",
                " The source or a microphone moves: work in shorter pieces.",
            ),
            "The delay is not constant.",
        ),
    };
    VerdictText::new(State::Unknown, head, "", format!("Cannot tell: {why}{helps}")).in_short(short)
}

/// The advice on the first of several pairs, and how many more need one.
pub fn and_further(text: VerdictText, more: u64) -> VerdictText {
    if more == 0 {
        return text;
    }
    let others = figures::count(more as f64, "further pair", "further pairs");
    VerdictText { sentence: format!("{} And {others}.", text.sentence), ..text }
}
