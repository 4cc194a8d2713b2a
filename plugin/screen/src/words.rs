//! Verdicts in words: data in, one head, one figure and one plain sentence with numbers and advice out.

mod balance;
mod delivery;
mod layers;
mod mics;

pub(crate) use balance::{aim_words, gain_db};
pub use balance::{balance, unaccounted};
pub use delivery::delivery;
pub use layers::{Flag, LossWords, MatchWords, flags, loss, matched, note};
pub(crate) use layers::{nobody, note_in_short, session, session_in_short};
pub(crate) use mics::with_sigma;
pub use mics::{cannot_tell, mic_name, mics, pair};

use crate::figures::{self, DASH};
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::verdict::{BandLoss, Mono, OutOfStep, Phase, Width};

/// How a verdict is to be taken. Each state has a shape of its own on the screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum State {
    /// Nothing can be said yet: a short dash.
    #[default]
    Unknown,
    /// All is well: a filled disc.
    Fine,
    /// Worth knowing, no fault: a ring.
    Note,
    /// To be acted on: a triangle.
    Fault,
}

impl State {
    /// The state in a word, for those who hear the screen.
    pub fn name(self) -> &'static str {
        match self {
            Self::Unknown => "not known yet",
            Self::Fine => "fine",
            Self::Note => "worth knowing",
            Self::Fault => "to be acted on",
        }
    }
}

/// A verdict in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// How to take it.
    pub state: State,
    /// One or two words.
    pub head: String,
    /// The number behind the head, with its unit; may be empty.
    pub figure: String,
    /// One plain sentence (two at most) with numbers and advice.
    pub sentence: String,
    /// The same in few words, for narrow screens.
    pub short: String,
}

impl Said {
    pub(crate) fn new(state: State, head: &str, figure: impl Into<String>) -> Self {
        Self { state, head: head.to_owned(), figure: figure.into(), ..Self::default() }
    }

    pub(crate) fn saying(mut self, sentence: impl Into<String>, short: impl Into<String>) -> Self {
        self.sentence = sentence.into();
        self.short = short.into();
        self
    }

    fn unknown(why: &str) -> Self {
        Self::new(State::Unknown, DASH, "").saying(why, why)
    }

    /// All of it in one line, as read aloud.
    pub fn aloud(&self, title: &str) -> String {
        let head = if self.head == DASH { "no reading" } else { &self.head };
        let figure = if self.figure.is_empty() { String::new() } else { format!(", {}", self.figure) };
        format!("{title}: {head}{figure}, {}. {}", self.state.name(), self.sentence)
    }
}

/// The width verdict.
pub fn width(width: &Width) -> Said {
    match *width {
        Width::Unknown => Said::unknown("Too little signal yet."),
        Width::Mono => Said::new(State::Note, "Mono", side(0.0))
            .saying("Left and right carry the same sound: no width at all.", "Left and right are the same."),
        Width::OneSided { right } => one_sided(right),
        Width::Panned { balance_db } => {
            let (head, way) = if balance_db < 0.0 { ("Off left", "left") } else { ("Off right", "right") };
            let db = figures::db(Some(balance_db.abs()));
            Said::new(State::Note, head, db.clone()).saying(
                format!("One sound, placed {db} to the {way}. In step, so nothing to repair."),
                format!("One sound, placed {way}."),
            )
        }
        Width::Narrow { side_share } => Said::new(State::Fine, "Narrow", side(side_share))
            .saying("Mostly sound that both channels share, and in step.", "Mostly shared sound, in step."),
        Width::Wide { side_share } => Said::new(State::Fine, "Wide", side(side_share)).saying(
            "Shared and unrelated sound together, in step where it is shared.",
            "In step where it is shared.",
        ),
        Width::Spacious { side_share, .. } => Said::new(State::Fine, "Spacious", side(side_share)).saying(
            "Left and right are unrelated, as in a room or in open air. Not a fault.",
            "Left and right are unrelated. Not a fault.",
        ),
        Width::OutOfStep(ref found) => out_of_step(found),
    }
}

/// The mono verdict: what a phone loses.
pub fn mono(mono: &Mono) -> Said {
    match *mono {
        Mono::Unknown => Said::unknown("Too little signal yet."),
        Mono::Holds { loss_db } => Said::new(State::Fine, "Holds", figures::db(Some(loss_db)))
            .saying(format!("A phone keeps it all: {} in mono.", quieter(loss_db)), "A phone keeps it all."),
        Mono::Thins { loss_db, worst } => Said::new(State::Note, "Thins", figures::db(Some(loss_db))).saying(
            format!(
                "A phone plays it {}, {} most ({}). The price of width, not a fault.",
                quieter(loss_db),
                band(worst),
                figures::db(Some(worst.loss_db))
            ),
            format!("{} on a phone: the price of width.", capital(&quieter(loss_db))),
        ),
        Mono::OneChannel { loss_db } => Said::new(State::Note, "One channel", figures::db(Some(loss_db)))
            .saying(
                format!(
                    "A phone plays it {}: one channel alone, and nothing of it cancels.",
                    quieter(loss_db)
                ),
                format!("{} on a phone; nothing cancels.", capital(&quieter(loss_db))),
            ),
        Mono::Loses { loss_db, worst, fixable } => loses(loss_db, worst, fixable),
    }
}

fn loses(loss_db: f64, worst: BandLoss, fixable: bool) -> Said {
    let advice = if fixable {
        "One sound out of step: align the channels."
    } else {
        "Narrow it there, or accept it knowingly."
    };
    if loss_db == f64::NEG_INFINITY {
        return Said::new(State::Fault, "Vanishes", "")
            .saying(format!("It cancels completely in mono. {advice}"), "Cancels completely in mono.");
    }
    let overall = lost(loss_db);
    let (sentence, short) = if worst.loss_db == f64::NEG_INFINITY {
        (
            format!("{} cancels completely in mono; {overall} overall. {advice}", band(worst)),
            format!("{} cancels completely.", band(worst)),
        )
    } else {
        let there = lost(worst.loss_db);
        (
            format!("A phone loses {there} of {}, {overall} overall. {advice}", band(worst)),
            format!("A phone loses {there} of {}.", band(worst)),
        )
    };
    Said::new(State::Fault, "Loses", figures::db(Some(loss_db))).saying(sentence, short)
}

/// The phase verdict of the bus's own two channels.
pub fn phase(phase: &Phase) -> Said {
    match *phase {
        Phase::Unknown => Said::unknown("Too little common sound yet: it takes 2 seconds."),
        Phase::InStep => Said::new(State::Fine, "In step", "")
            .saying("What left and right share adds up. Nothing to align.", "Left and right add up."),
        Phase::Unrelated => Said::new(State::Fine, "Unrelated", "").saying(
            "Left and right share no sound, so there is nothing to align.",
            "No shared sound: nothing to align.",
        ),
        Phase::OutOfStep(ref found) => out_of_phase(found),
    }
}

/// Where one sound is out of step: for the width it pretends to be.
fn out_of_step(found: &OutOfStep) -> Said {
    let span = figures::hz_span(&found.span);
    let (what, advice) = if found.opposed {
        ("left and right oppose each other", "Flip the polarity of one channel.")
    } else {
        ("one sound arrives twice", "Check delay or polarity between the channels.")
    };
    let do_it = if found.opposed { "flip one channel." } else { "check delay or polarity." };
    Said::new(State::Fault, "Out of step", span.clone())
        .saying(format!("No true width at {span}: {what}. {advice}"), format!("{span}: {do_it}"))
}

/// How badly, and where worst: for what to do about it.
fn out_of_phase(found: &OutOfStep) -> Said {
    let (worst, worst_hz) = (figures::plain(Some(found.worst), 2), figures::hz(found.worst_hz));
    let correlation = figures::signed(Some(found.correlation), 2);
    let (head, advice) = if found.opposed {
        ("Opposed", "Flip the polarity of one channel.")
    } else {
        ("Out of step", "Nudge one channel, or flip its polarity.")
    };
    Said::new(State::Fault, head, format!("{worst} at {worst_hz}")).saying(
        format!("Worst at {worst_hz}: out of step {worst}, correlation {correlation}. {advice}"),
        format!("Worst at {worst_hz}, correlation {correlation}."),
    )
}

fn one_sided(right: bool) -> Said {
    let (head, here, there) =
        if right { ("Right only", "right", "left") } else { ("Left only", "left", "right") };
    Said::new(State::Fault, head, "").saying(
        format!("Only {here} sounds; {there} is silent. Check cable, pan and export."),
        format!("The {there} channel is silent."),
    )
}

fn side(share: f64) -> String {
    let percent = figures::percent(Some(share));
    if percent == DASH { String::new() } else { format!("{percent} side") }
}

/// A loss as an amount: the mono loss is negative, an amount lost is not.
fn lost(loss_db: f64) -> String {
    figures::db(Some(loss_db.abs()))
}

fn quieter(loss_db: f64) -> String {
    let amount = lost(loss_db);
    if amount.starts_with("0.0") { "nothing lost".to_owned() } else { format!("{amount} quieter") }
}

fn band(loss: BandLoss) -> &'static str {
    BAND_NAMES.get(loss.band).copied().unwrap_or("a band")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

#[cfg(test)]
#[path = "words/tests.rs"]
mod tests;
