//! Width, mono and phase of two channels in words.

use super::{Context, State, VerdictText, band, capital};
use crate::figures;
use plumbline_measure::bands::BANDS;
use plumbline_programme::arrival::Cause;
use plumbline_programme::recording::{Contradiction, Technique};
use plumbline_programme::verdict::{BandLoss, Mono, OutOfStep, Phase, Width};

/// The band that no phone reproduces.
const SUB: usize = 0;

/// The width verdict.
pub fn width(width: &Width, context: Context) -> VerdictText {
    let side = |share| figures::unit(figures::percent(Some(share)), "side");
    match *width {
        Width::Unknown => VerdictText::unknown(
            context.pick("Too little signal yet.", "Too little signal to tell how wide it is."),
        ),
        Width::Mono => {
            let sentence = "Left and right carry the same sound: no width found.";
            VerdictText::new(State::Note, "Mono", side(0.0), sentence)
                .in_short("Left and right are the same.")
        }
        Width::OneSided { right } => one_sided(right),
        Width::Panned { balance_db } => {
            let way = if balance_db < 0.0 { "left" } else { "right" };
            let db = figures::db(Some(balance_db.abs()));
            let sentence = format!("One sound, placed {db} to the {way}. In step: nothing found to repair.");
            VerdictText::new(State::Note, format!("Off {way}"), db, sentence)
                .in_short(format!("One sound, placed {way}."))
        }
        Width::Narrow { side_share } => {
            let sentence = "Mostly sound that both channels share, and in step.";
            VerdictText::new(State::Fine, "Narrow", side(side_share), sentence)
                .in_short("Mostly shared sound, in step.")
        }
        Width::Wide { side_share } => {
            let sentence = "Shared and unrelated sound together, in step where it is shared.";
            VerdictText::new(State::Fine, "Wide", side(side_share), sentence)
                .in_short("In step where it is shared.")
        }
        Width::Spacious { side_share, .. } => {
            let sentence = "Left and right are mostly unrelated, as in a room or in open air. Not a fault.";
            VerdictText::new(State::Fine, "Spacious", side(side_share), sentence)
                .in_short("Mostly unrelated. Not a fault.")
        }
        Width::Spaced { side_share, secs } => {
            let (apart, combs) = (apart(secs), figures::hz(0.5 / secs.max(1e-6)));
            let sentence = format!(
                "Left and right arrive about {apart} apart, as from a spaced pair. Not a fault; mono combs from {combs}."
            );
            VerdictText::new(State::Fine, "Spaced", side(side_share), sentence)
                .in_short(format!("About {apart} apart, as from a spaced pair."))
        }
        Width::OutOfStep(ref found) => out_of_step(found),
        Width::Contradicts { technique, contradiction } => contradicts(technique, contradiction),
    }
}

fn one_sided(right: bool) -> VerdictText {
    let (head, here, there) =
        if right { ("Right only", "right", "left") } else { ("Left only", "left", "right") };
    let sentence =
        format!("Only {here} sounds; {there} is silent or nearly so. Check cable, pan and export.");
    VerdictText::new(State::Fault, head, "", sentence).in_short(format!("The {there} channel is silent."))
}

/// The contradiction to the technique stated, in words.
pub(crate) fn contradicts(technique: Technique, contradiction: Contradiction) -> VerdictText {
    let stated = technique.name().to_lowercase();
    match contradiction {
        Contradiction::NotDecoded { under_db } => {
            let db = figures::db(Some(under_db));
            let sentence = format!(
                "Left looks like the mid channel and right, {db} lower, like the side channel. Decode them: left is mid + \
                 side, right is mid − side."
            );
            VerdictText::new(State::Fault, "Not decoded", db, sentence).in_short("Mid and side, not decoded.")
        }
        Contradiction::CapsuleInverted { below_hz } => {
            let below = figures::hz(below_hz);
            let sentence = format!(
                "Stated as {stated}, but left and right oppose each other under {below}: one capsule is inverted. Invert \
                 the polarity of one channel."
            );
            VerdictText::new(State::Fault, "Inverted", format!("under {below}"), sentence)
                .in_short("One capsule is inverted.")
        }
        Contradiction::FurtherApart { secs, most_secs } => {
            let (is, most) = (apart(secs), apart(most_secs));
            let sentence = format!(
                "Stated as {stated}, up to {most} apart, but one sound arrives {is} apart. Check the files, or the statement."
            );
            VerdictText::new(State::Note, "Not as stated", is, sentence)
                .in_short("Further apart than stated.")
        }
        Contradiction::MoreThanOneSound { coherence } => {
            let coherence = figures::plain(Some(coherence), 2);
            let sentence = format!(
                "Stated as {stated}, but left and right share little of it: coherence {coherence}. Check the files, or the \
                 statement."
            );
            VerdictText::new(State::Note, "Not as stated", "", sentence).in_short("More than one sound.")
        }
    }
}

/// Approximate difference in time between left and right.
fn apart(secs: f64) -> String {
    let decimals = if secs < 1e-3 { 2 } else { 1 };
    figures::unit(figures::plain(Some(secs * 1e3), decimals), "ms")
}

/// The width verdict on one sound that is out of step, which only pretends to be wide. The card of microphones has the
/// alarm and the remedy of a fault: one cause raises one alarm.
fn out_of_step(found: &OutOfStep) -> VerdictText {
    let span = figures::hz_span(&found.span);
    let (state, sentence, short) = match found.cause {
        Cause::Inverted => (
            State::Note,
            format!("No true width at {span}: left and right oppose each other. What to do is under Mics."),
            format!("{span}: left and right oppose; see Mics."),
        ),
        Cause::Delayed { .. } => (
            State::Note,
            format!("No true width at {span}: one sound arrives twice. What to do is under Mics."),
            format!("{span}: one sound arrives twice; see Mics."),
        ),
        Cause::Opposed => (
            State::Note,
            "Left and right mostly oppose each other: widened too far, or one channel inverted. Check it in mono."
                .to_owned(),
            "Left and right mostly oppose: check it in mono.".to_owned(),
        ),
        _ => (
            State::Note,
            format!(
                "Left and right share sound at {span} that does not add up. The cause is not known: check it in mono."
            ),
            format!("{span}: does not add up, cause not known."),
        ),
    };
    VerdictText::new(state, "Out of step", span, sentence).in_short(short)
}

/// The mono verdict: what a phone loses.
pub fn mono(mono: &Mono, context: Context) -> VerdictText {
    match *mono {
        Mono::Unknown => VerdictText::unknown(
            context.pick("Too little signal yet.", "Too little signal to tell what mono loses."),
        ),
        Mono::Holds { loss_db } => {
            let sentence = format!("Mono holds: {}.", quieter(loss_db));
            VerdictText::new(State::Fine, "Holds", figures::db(Some(loss_db)), sentence)
                .in_short("Mono holds.")
        }
        Mono::Thins { loss_db, worst } if worst.band == SUB => {
            let (quieter, lost) = (quieter(loss_db), lost(worst.loss_db));
            let lost = if worst.loss_db == f64::NEG_INFINITY {
                "cancels".to_owned()
            } else {
                format!("loses {lost}")
            };
            let sentence = format!(
                "Mono is {quieter}; {} {lost}, which no phone plays: check it on large speakers.",
                band(SUB)
            );
            VerdictText::new(State::Note, "Thins", figures::db(Some(loss_db)), sentence)
                .in_short(format!("{} {lost} in mono.", band(SUB)))
        }
        Mono::Thins { loss_db, worst } => {
            let (quieter, most) = (quieter(loss_db), figures::db(Some(worst.loss_db)));
            let sentence = format!(
                "A phone plays it {quieter}, {} most ({most}). The price of width, not a fault.",
                band(worst.band)
            );
            VerdictText::new(State::Note, "Thins", figures::db(Some(loss_db)), sentence)
                .in_short(format!("{} on a phone: the price of width.", capital(&quieter)))
        }
        Mono::OneChannel { loss_db } => {
            let quieter = quieter(loss_db);
            let sentence =
                format!("A phone plays it {quieter}: one channel alone, and nothing of it cancels.");
            VerdictText::new(State::Note, "One channel", figures::db(Some(loss_db)), sentence)
                .in_short(format!("{} on a phone; nothing cancels.", capital(&quieter)))
        }
        Mono::Loses { loss_db, worst, fixable } => loses(loss_db, worst, fixable),
    }
}

/// The mono verdict on lost sound. Complete cancellation has words instead of a number. A loss that follows from left
/// and right out of step is not a second alarm.
fn loses(loss_db: f64, worst: BandLoss, fixable: bool) -> VerdictText {
    let (state, advice) = if fixable {
        (State::Note, "It follows from what is under Mics.")
    } else {
        (State::Fault, "Check it in mono, or accept it knowingly.")
    };
    if loss_db == f64::NEG_INFINITY {
        return VerdictText::new(state, "Vanishes", "", format!("It cancels completely in mono. {advice}"))
            .in_short("Cancels completely in mono.");
    }
    let (overall, band) = (lost(loss_db), band(worst.band));
    let (sentence, short) = if worst.loss_db == f64::NEG_INFINITY {
        (
            format!("{band} cancels completely in mono; {overall} overall. {advice}"),
            format!("{band} cancels completely."),
        )
    } else {
        let there = lost(worst.loss_db);
        (
            format!("A phone loses {there} of {band}, {overall} overall. {advice}"),
            format!("A phone loses {there} of {band}."),
        )
    };
    VerdictText::new(state, "Loses", figures::db(Some(loss_db)), sentence).in_short(short)
}

/// A loss as an amount: the mono loss is negative, an amount lost is not.
fn lost(loss_db: f64) -> String {
    figures::db(Some(loss_db.abs()))
}

fn quieter(loss_db: f64) -> String {
    let amount = lost(loss_db);
    if amount.starts_with("0.0") { "no quieter".to_owned() } else { format!("{amount} quieter") }
}

/// The phase verdict of the bus's own two channels.
pub fn phase(phase: &Phase, context: Context) -> VerdictText {
    match *phase {
        Phase::Unknown => VerdictText::unknown(context.pick(
            "Too little common sound yet: it takes 2\u{a0}seconds.",
            "Too little common sound to tell whether left and right add up.",
        )),
        Phase::InStep => {
            let sentence = "What left and right share adds up. Nothing found to align.";
            VerdictText::new(State::Fine, "In step", "", sentence).in_short("Left and right add up.")
        }
        Phase::Unrelated => {
            let sentence = "Left and right are mostly unrelated: no common sound found to align.";
            VerdictText::new(State::Fine, "Unrelated", "", sentence)
                .in_short("No common sound found to align.")
        }
        Phase::MostlyUnrelated { ref common } => mostly_unrelated(common),
        Phase::OutOfStep(ref found) => out_of_phase(found),
    }
}

/// Unrelated overall, with the bands that are common: neither is a fault.
fn mostly_unrelated(common: &[bool; BANDS]) -> VerdictText {
    let bands: Vec<&str> = (0..BANDS).filter(|at| common[*at]).map(band).collect();
    let bands = match bands.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => "some bands".to_owned(),
    };
    let sentence = format!(
        "Left and right are mostly unrelated; {bands} common to both. Nothing found to align.",
        bands = are(&bands)
    );
    VerdictText::new(State::Fine, "Unrelated", "", sentence)
        .in_short(format!("Mostly unrelated; common: {bands}."))
}

/// "Low is", "Sub and Low are".
fn are(bands: &str) -> String {
    format!("{bands} {}", if bands.contains(" and ") || bands == "some bands" { "are" } else { "is" })
}

/// The phase verdict on one sound that is out of step: how badly, where worst, and what to do.
fn out_of_phase(found: &OutOfStep) -> VerdictText {
    if let Cause::Spaced { secs } = found.cause {
        let apart = apart(secs);
        let sentence =
            format!("Left and right arrive about {apart} apart, as from a spaced pair: nothing to align.");
        return VerdictText::new(State::Fine, "Spaced", apart.clone(), sentence)
            .in_short(format!("About {apart} apart: nothing to align."));
    }
    let (worst, worst_hz) = (figures::plain(Some(found.worst), 2), figures::hz(found.worst_hz));
    let correlation = figures::signed(Some(found.correlation), 2);
    let (state, head, advice) = match found.cause {
        Cause::Inverted => (State::Fault, "Opposed", "Invert the polarity of one channel.".to_owned()),
        Cause::Delayed { .. } => (State::Fault, "Out of step", "One sound arrives twice.".to_owned()),
        Cause::Opposed => {
            (State::Note, "Opposed", "They share little: widened too far, or one inverted.".to_owned())
        }
        _ => (State::Note, "Out of step", "The cause is not known: check it in mono.".to_owned()),
    };
    let sentence = format!("Worst at {worst_hz}: out of step {worst}, correlation {correlation}. {advice}");
    VerdictText::new(state, head, format!("{worst} at {worst_hz}"), sentence)
        .in_short(format!("Worst at {worst_hz}, correlation {correlation}."))
}
