//! Pairs of microphones in words: who trails whom, what to do about it, and why nothing can be said.

use super::{Context, State, VerdictText};
use crate::figures::{self, DASH, plain, unit};
use plumbline_measure::FrameRate;
use plumbline_programme::PairLine;
use plumbline_programme::mics::Stretch;
use plumbline_programme::pair::{Advice, CannotTell, Drift, Fix, NoFix, Side};

/// Most stretches that a sentence names.
const MOST_STRETCHES: usize = 3;

/// The advice on a pair with these names, for picture at `frames` and air at `celsius` °C; users copy the sentence.
pub fn pair(
    line: &PairLine,
    names: &[String; 2],
    (frames, celsius): (FrameRate, f64),
    context: Context,
) -> VerdictText {
    let stretches = line.advice_by_stretch(frames, celsius);
    if !stretches.is_empty() {
        return by_stretch(&stretches, line, names, context);
    }
    single(&line.advice(frames, celsius), line, names, context)
}

fn single(advice: &Advice, line: &PairLine, names: &[String; 2], context: Context) -> VerdictText {
    match advice {
        Advice::Repair(fix) => repair(fix, line, names),
        Advice::Leave(NoFix::CannotTell(reason)) => cannot_tell(*reason, context),
        Advice::Leave(NoFix::Room) => room(line, names),
        Advice::Leave(NoFix::Unrelated) => unrelated(names),
        Advice::Leave(NoFix::Opposed) => opposed(),
        Advice::Leave(NoFix::Spaced) => spaced(line),
        Advice::Leave(NoFix::SeveralDelays(delays)) => several_delays(*delays, names),
        Advice::Leave(NoFix::Drifts(drift)) => clocks_differ(*drift, names),
        Advice::Leave(NoFix::NothingToWin) => nothing_to_win(line, names),
    }
}

/// The advice on each stretch that has a delay of its own.
fn by_stretch(
    stretches: &[(&Stretch, Advice)],
    line: &PairLine,
    names: &[String; 2],
    context: Context,
) -> VerdictText {
    let text = |(stretch, advice): &(&Stretch, Advice)| {
        let line = PairLine { reading: stretch.reading, stretches: Vec::new(), ..line.clone() };
        (stretch.start_secs, stretch.end_secs, single(advice, &line, names, context))
    };
    let texts: Vec<(f64, f64, VerdictText)> = stretches.iter().map(text).collect();
    let state = texts.iter().map(|(_, _, text)| text.state).find(|state| *state == State::Fault);
    let count = figures::count(texts.len() as f64, "delay", "delays");
    let named = texts.iter().take(MOST_STRETCHES);
    let sentences: Vec<String> = named
        .map(|(start, end, text)| format!("{} to {}: {}", clock(*start), clock(*end), text.sentence))
        .collect();
    let more = texts.len().saturating_sub(MOST_STRETCHES);
    let more = if more == 0 {
        String::new()
    } else {
        format!(" And {}.", figures::count(more as f64, "further stretch", "further stretches"))
    };
    let short = if texts.len() == 1 {
        "A delay for a time.".to_owned()
    } else {
        format!("{count}, each for a time.")
    };
    let sentence = format!("{short} {}{more}", sentences.join(" "));
    VerdictText::new(state.unwrap_or(State::Fine), "Changes", count, sentence).in_short(short)
}

/// A time from the start as minutes and seconds.
fn clock(secs: f64) -> String {
    let whole = secs.max(0.0).round();
    let (minutes, seconds) = ((whole / 60.0).floor(), whole % 60.0);
    format!("{minutes:.0}:{seconds:02.0}")
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
    let (polarity, and_invert) =
        if fix.flip { ("and invert its polarity", " and invert it") } else { ("keep polarity", "") };
    let trails = format!("{later} trails {earlier} by {by}");
    let sentence = format!("{trails} ({in_units}): move it {samples} earlier, {polarity}; {won}.{drift}");
    VerdictText::new(State::Fault, "Fight", figure, sentence)
        .in_short(format!("{trails}: move it {samples} earlier{and_invert}."))
}

/// The gain of the sum of both, losses counted like gains, and where it gains most.
fn gains(fix: &Fix) -> String {
    let most = fix.gains.iter().filter(|gain| gain.gain_db.is_finite());
    let most = most.max_by(|a, b| a.gain_db.total_cmp(&b.gain_db)).map(|gain| {
        format!(", most at {} ({})", figures::hz_span(&gain.span), figures::db(Some(gain.gain_db)))
    });
    format!("the sum gains {}{}", figures::db(Some(fix.net_gain_db)), most.unwrap_or_default())
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

fn unrelated([first, second]: &[String; 2]) -> VerdictText {
    let sentence =
        format!("{first} and {second}: no shared sound found within ±60\u{a0}ms, so nothing to align.");
    VerdictText::new(State::Fine, "Unrelated", "", sentence)
        .in_short("No shared sound found within ±60\u{a0}ms.")
}

fn opposed() -> VerdictText {
    let sentence = "Left and right oppose each other but share little: widened too far, or one channel inverted. Check \
                    it in mono.";
    VerdictText::new(State::Note, "Opposed", "", sentence)
        .in_short("They oppose each other: check it in mono.")
}

fn spaced(line: &PairLine) -> VerdictText {
    let secs = line.reading.outcome.map_or(0.0, |agreed| agreed.delay_secs.abs());
    let (apart, combs) = (ms(Some(secs)), figures::hz(0.5 / secs.max(1e-6)));
    let sentence = format!(
        "Left and right arrive {apart} apart, as from a spaced pair: leave them. Mono combs from {combs}."
    );
    VerdictText::new(State::Fine, "Spaced", apart.clone(), sentence)
        .in_short(format!("{apart} apart, as from a spaced pair."))
}

fn several_delays([one, other]: [f64; 2], [first, second]: &[String; 2]) -> VerdictText {
    let signed = |secs: f64| unit(figures::signed(Some(secs * 1e3), 2), "ms");
    let sentence = format!(
        "{first} and {second} share several sounds, at {} and {}: a move would help one and harm the other.",
        signed(one),
        signed(other)
    );
    VerdictText::new(State::Note, "Several delays", "", sentence)
        .in_short("Several sounds, each at its own delay.")
}

fn clocks_differ(drift: Drift, [first, second]: &[String; 2]) -> VerdictText {
    let ppm = with_sigma(plain(Some(drift.ppm.abs()), 1), drift.sigma_ppm);
    let way = if drift.ppm < 0.0 { "gains on" } else { "falls behind" };
    let every = if drift.ppm == 0.0 { f64::INFINITY } else { 1_000.0 / drift.ppm.abs() };
    let every = unit(plain(Some(every), 0), "s");
    let sentence = format!(
        "{second} {way} {first} by {ppm}, 1\u{a0}ms in {every}: the recorders' clocks differ. Correct the speed first; no \
         single move holds."
    );
    VerdictText::new(State::Fault, "Clocks differ", ppm.clone(), sentence)
        .in_short(format!("Clocks differ by {ppm}: correct the speed first."))
}

fn nothing_to_win(line: &PairLine, [first, second]: &[String; 2]) -> VerdictText {
    let apart = ms(line.reading.outcome.ok().map(|agreed| agreed.delay_secs.abs()));
    let sentence = format!("{first} and {second} add up, {apart} apart: no move wins anything to be heard.");
    let short = format!("They add up, {apart} apart.");
    VerdictText::new(State::Fine, "In step", apart, sentence).in_short(short)
}

/// Why nothing can be said, and what helps.
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
        CannotTell::BeyondRange => (
            "Beyond range",
            "they share sound more than 60\u{a0}ms apart, beyond the range compared.",
            " Bring them closer first.",
            "More than 60\u{a0}ms apart.",
        ),
        CannotTell::Unsure => (
            "Faint",
            "what they share is too faint among other sound.",
            "",
            "Too little shared sound to tell.",
        ),
        CannotTell::Reverberant => (
            "Room",
            "what they share arrives over many paths, as in a room.",
            "",
            "Many paths, as in a room.",
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

/// The advice on the first of several pairs, and the number of others that need one.
pub fn and_further(text: VerdictText, more: u64) -> VerdictText {
    if more == 0 {
        return text;
    }
    let others = figures::count(more as f64, "further pair", "further pairs");
    VerdictText { sentence: format!("{} And {others}.", text.sentence), ..text }
}
