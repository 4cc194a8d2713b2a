//! The verdicts on a whole programme in words: the seven questions, each with a state, a figure and a sentence.

mod layers;
mod pairs;

pub(super) use layers::{balance, losses, matched, unaccounted};
pub(super) use pairs::{outcome, pair};

use super::Survey;
use crate::figures::{self, DASH, percent, plain, unit};
use crate::words;
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::delivery::Target;
use plumbline_measure::verdict::{BandLoss, Mono, Phase, Width};

/// How a verdict is to be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum State {
    Unknown,
    Fine,
    Note,
    Fault,
}

impl State {
    /// The word in files, and the class on the page.
    pub(super) fn key(self) -> &'static str {
        match self {
            Self::Unknown => "unknown",
            Self::Fine => "fine",
            Self::Note => "note",
            Self::Fault => "fault",
        }
    }

    /// The same for a reader.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Unknown => "cannot be told",
            Self::Fine => "fine",
            Self::Note => "worth knowing",
            Self::Fault => "to be acted on",
        }
    }
}

/// A verdict in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Said {
    pub(super) state: State,
    pub(super) head: String,
    pub(super) figure: String,
    pub(super) sentence: String,
}

impl Said {
    pub(super) fn new(
        state: State,
        head: impl Into<String>,
        figure: impl Into<String>,
        sentence: impl Into<String>,
    ) -> Self {
        let figure: String = figure.into();
        let figure = if figure == DASH { String::new() } else { figure };
        Self { state, head: head.into(), figure, sentence: sentence.into() }
    }

    pub(super) fn unknown(sentence: &str) -> Self {
        Self::new(State::Unknown, DASH, "", sentence)
    }
}

/// All verdicts, each with what it is on.
pub(super) fn verdicts(survey: &Survey) -> Vec<(&'static str, Said)> {
    let mut all = vec![
        ("width", width(&survey.verdicts.width)),
        ("mono", mono(&survey.verdicts.mono)),
        ("mics", pairs::mics(survey)),
    ];
    if !survey.layers.is_empty() {
        all.push(("balance", balance(survey)));
    }
    if let Some(first) = survey.matches.first() {
        all.push(("match", matched(first, survey)));
    }
    all.push(("joins", joins(survey)));
    all.push(("delivery", delivery(survey)));
    all
}

fn db(value: f64) -> String {
    unit(plain(Some(value), 1), "dB")
}

/// A loss as an amount.
fn amount(db: f64) -> String {
    if db == f64::NEG_INFINITY { words::ALL_OF_IT.to_owned() } else { self::db(db.abs()) }
}

fn width(width: &Width) -> Said {
    let side = |share: f64| unit(percent(Some(share)), "side");
    match *width {
        Width::Unknown => Said::unknown("Too little signal to tell how wide it is."),
        Width::Mono => {
            Said::new(State::Note, "Mono", side(0.0), "Left and right carry the same sound: no width at all.")
        }
        Width::OneSided { right } => {
            let (here, there) = if right { ("right", "left") } else { ("left", "right") };
            let head = if right { "Right only" } else { "Left only" };
            Said::new(
                State::Fault,
                head,
                "",
                format!("Only {here} sounds; {there} is silent or nearly so. Check cable, pan and export."),
            )
        }
        Width::Panned { balance_db } => {
            let way = if balance_db < 0.0 { "left" } else { "right" };
            let size = db(balance_db.abs());
            let sentence = format!("One sound, placed {size} to the {way}. In step, so nothing to repair.");
            Said::new(State::Note, format!("Off {way}"), size, sentence)
        }
        Width::Narrow { side_share } => Said::new(
            State::Fine,
            "Narrow",
            side(side_share),
            "Mostly sound that both channels share, and in step.",
        ),
        Width::Wide { side_share } => Said::new(
            State::Fine,
            "Wide",
            side(side_share),
            "Shared and unrelated sound together, in step where it is shared.",
        ),
        Width::Spacious { side_share, .. } => Said::new(
            State::Fine,
            "Spacious",
            side(side_share),
            "Left and right are unrelated, as in a room or in open air. Not a fault.",
        ),
        Width::OutOfStep(found) => {
            let span = figures::hz_span(&found.span);
            let (what, advice) = if found.opposed {
                ("left and right oppose each other", "Flip the polarity of one channel.")
            } else {
                ("one sound arrives twice", "Check delay or polarity between the channels.")
            };
            let sentence = format!("No true width at {span}: {what}. {advice}");
            Said::new(State::Fault, "Out of step", span, sentence)
        }
    }
}

fn band(loss: BandLoss) -> &'static str {
    BAND_NAMES.get(loss.band).copied().unwrap_or("a band")
}

fn quieter(loss_db: f64) -> String {
    let amount = amount(loss_db);
    if amount.starts_with("0.0") { "no quieter".to_owned() } else { format!("{amount} quieter") }
}

fn mono(mono: &Mono) -> Said {
    match *mono {
        Mono::Unknown => Said::unknown("Too little signal to tell what mono loses."),
        Mono::Holds { loss_db } => {
            let sentence = format!("A phone keeps it all: {} in mono.", quieter(loss_db));
            Said::new(State::Fine, "Holds", db(loss_db), sentence)
        }
        Mono::Thins { loss_db, worst } => {
            let sentence = format!(
                "A phone plays it {}, {} most ({}). The price of width, not a fault.",
                quieter(loss_db),
                band(worst),
                db(worst.loss_db)
            );
            Said::new(State::Note, "Thins", db(loss_db), sentence)
        }
        Mono::OneChannel { loss_db } => {
            let sentence = format!(
                "A phone plays it {}: one channel alone, and nothing of it cancels.",
                quieter(loss_db)
            );
            Said::new(State::Note, "One channel", db(loss_db), sentence)
        }
        Mono::Loses { loss_db, worst, fixable } => {
            let advice = if fixable {
                "One sound out of step: align the channels."
            } else {
                "Narrow it there, or accept it knowingly."
            };
            if loss_db == f64::NEG_INFINITY {
                let sentence = format!("It cancels completely in mono. {advice}");
                return Said::new(State::Fault, "Vanishes", "", sentence);
            }
            let sentence = format!(
                "A phone loses {} of {}, {} overall. {advice}",
                amount(worst.loss_db),
                band(worst),
                amount(loss_db)
            );
            Said::new(State::Fault, "Loses", db(loss_db), sentence)
        }
    }
}

/// What left and right do, where no pair of microphones says more.
fn phase(phase: &Phase) -> Said {
    match *phase {
        Phase::Unknown => Said::unknown("Too little common sound to tell whether left and right add up."),
        Phase::InStep => {
            Said::new(State::Fine, "In step", "", "What left and right share adds up. Nothing to align.")
        }
        Phase::Unrelated => Said::new(
            State::Fine,
            "Unrelated",
            "",
            "Left and right share no sound, so there is nothing to align.",
        ),
        Phase::OutOfStep(found) => {
            let (worst, worst_hz) = (plain(Some(found.worst), 2), figures::hz(found.worst_hz));
            let correlation = figures::signed(Some(found.correlation), 2);
            let (head, advice) = if found.opposed {
                ("Opposed", "Flip the polarity of one channel.")
            } else {
                ("Out of step", "Nudge one channel, or flip its polarity.")
            };
            let sentence =
                format!("Worst at {worst_hz}: out of step {worst}, correlation {correlation}. {advice}");
            Said::new(State::Fault, head, format!("{worst} at {worst_hz}"), sentence)
        }
    }
}

fn joins(survey: &Survey) -> Said {
    let largest = survey.joins.iter().filter(|join| join.size().is_finite());
    let Some(largest) = largest.max_by(|a, b| a.size().total_cmp(&b.size())) else {
        return Said::new(State::Fine, "None", "", "No passage differs from the one before it.");
    };
    let at = survey.time().sample(largest.grid, largest.sample).timecode.unwrap_or_default();
    let count = figures::count(survey.joins.len() as f64, "join", "joins");
    let (state, head) = if largest.size() >= 1.0 { (State::Note, "Jumps") } else { (State::Fine, "Smooth") };
    let sentence = format!("The largest of {count}, at {at}: {}.", words::join(largest));
    Said::new(state, head, format!("{} ×", plain(Some(largest.size()), 1)), sentence)
}

/// Whether the programme meets what it is delivered to.
pub(super) fn delivery(survey: &Survey) -> Said {
    let (verdict, target) = (&survey.verdicts.delivery, &survey.target);
    let figure = unit(plain(survey.bus.sound.loudness.integrated_lufs, 1), "LUFS");
    let faults = faults(survey);
    if let Some((head, _)) = faults.first() {
        let all: Vec<&str> = faults.iter().map(|(_, sentence)| sentence.as_str()).collect();
        return Said::new(State::Fault, *head, figure, all.join(" "));
    }
    let aim = aim(target, survey.target_name.as_deref());
    if verdict.off_target_lu.is_none() {
        return Said::unknown(&format!(
            "Too quiet or too short for an integrated loudness; the target is {aim}."
        ));
    }
    if survey.bus.sound.loudness.measured_secs < plumbline_measure::delivery::SETTLED_SECS {
        let sentence =
            format!("Too short to be held against {aim}: under 10 s. Peaks and channels are in order.");
        return Said::new(State::Note, "Short", figure, sentence);
    }
    Said::new(
        State::Fine,
        "On target",
        figure,
        format!("Within tolerance of {aim}; peaks and channels are in order."),
    )
}

fn aim(target: &Target, name: Option<&str>) -> String {
    let lufs = unit(plain(Some(target.integrated_lufs), 1), "LUFS");
    match name.map(str::trim).filter(|name| !name.is_empty()) {
        Some(name) => format!("{lufs} ({name})"),
        None => lufs,
    }
}

/// Each fault as a head and a sentence, the worst to deliver first.
fn faults(survey: &Survey) -> Vec<(&'static str, String)> {
    let (verdict, target) = (&survey.verdicts.delivery, &survey.target);
    let lu = |value: f64| unit(plain(Some(value), 1), "LU");
    let mut faults = Vec::new();
    if let Some(right) = verdict.dead_channel {
        let side = if right { "right" } else { "left" };
        faults.push(("Dead channel", format!("The {side} channel is silent.")));
    }
    if verdict.overs > 0 {
        let samples = figures::count(verdict.overs as f64, "sample", "samples");
        faults.push(("Clipped", format!("{samples} at full scale: lower the gain before it.")));
    }
    if let Some(over) = verdict.true_peak_over_db {
        let ceiling = unit(plain(Some(target.true_peak_dbtp), 1), "dBTP");
        faults.push(("Peak over", format!("True peak {} above {ceiling}.", db(over))));
    }
    if let Some(off) = verdict.off_target_lu.filter(|_| verdict.loudness_off) {
        let (head, way) = if off > 0.0 { ("Too loud", "over") } else { ("Too quiet", "under") };
        let aim = aim(target, survey.target_name.as_deref());
        faults.push((head, format!("{} {way} {aim}.", lu(off.abs()))));
    }
    if let Some(over) = verdict.short_term_over_lu {
        faults.push(("Passage too loud", format!("Short-term loudness {} over its limit.", lu(over))));
    }
    if let Some(dc) = verdict.dc {
        let share = unit(plain(Some(dc * 100.0), 1), "%");
        faults.push(("DC offset", format!("DC of {share} of full scale: use a high-pass.")));
    }
    faults
}
