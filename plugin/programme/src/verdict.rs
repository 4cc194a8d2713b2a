//! The verdicts as data: which band, how much, fixable or spacious. The wording belongs to the screen and the report.

use crate::arrival::Cause;
use crate::audibility::{SUB, heard};
use crate::delivery::DeliveryVerdict;
use crate::mics::{MicsVerdict, PairLine};
use crate::recording::{Contradiction, Recording, Technique};
use crate::session::BalanceVerdict;
use plumbline_measure::Spectral;
use plumbline_measure::bands::{BANDS, BandEdges};
use plumbline_measure::reading::Readings;
use serde::{Deserialize, Serialize};

mod out_of_step;

pub use out_of_step::{
    OPPOSED_CORRELATION, OUT_OF_STEP_EDGE, OUT_OF_STEP_FAULT, OutOfStep, VERDICT_RANGE_DB,
};
pub(crate) use out_of_step::{inverting_gains_db, out_of_step, power, run_around};

/// The stereo width, and whether it is real.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Width {
    /// Too little signal to judge, or no coherence yet to tell the kind of width.
    #[default]
    Unknown,
    /// Mono input, or two identical channels: side share under [`MONO_SHARE`].
    Mono,
    /// One channel carries no signal, the other does.
    OneSided {
        /// Whether the right channel is the one that sounds.
        right: bool,
    },
    /// One sound placed off centre: correlated, with different levels.
    Panned {
        /// Right over left, dB.
        balance_db: f64,
    },
    /// Narrow, in step.
    Narrow {
        /// Side share 0…1.
        side_share: f64,
    },
    /// Wide and in step, or partly unrelated.
    Wide {
        /// Side share 0…1.
        side_share: f64,
    },
    /// Wide because the channels are unrelated: room, distance, ambience. Not a fault.
    Spacious {
        /// Side share 0…1.
        side_share: f64,
        /// Coherence 0…1 of the whole range.
        coherence: f64,
    },
    /// One sound that reaches the channels a little apart, as from a spaced pair of microphones: made on purpose.
    Spaced {
        /// Side share 0…1.
        side_share: f64,
        /// Seconds between the channels, not negative.
        secs: f64,
    },
    /// One sound in both channels that does not add up in phase. A fault only where the cause is known.
    OutOfStep(OutOfStep),
    /// The sound is not what the user stated it to be.
    Contradicts {
        /// The technique stated.
        technique: Technique,
        /// The contradiction.
        contradiction: Contradiction,
    },
}

/// The sound that remains in mono.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Mono {
    /// Too little signal to judge.
    #[default]
    Unknown,
    /// Mono holds: the loss is within [`MONO_HOLDS_DB`] over the whole range, and within three times that in every
    /// band that is heard.
    Holds {
        /// Loss over the whole range, dB.
        loss_db: f64,
    },
    /// Mono is quieter, as with any unrelated stereo (3.01 dB): the price of space, not a fault.
    Thins {
        /// Loss over the whole range, dB.
        loss_db: f64,
        /// The named band that loses most.
        worst: BandLoss,
    },
    /// One channel only: mono is 3.01 dB quieter and loses nothing.
    OneChannel {
        /// Loss over the whole range, dB.
        loss_db: f64,
    },
    /// Mono loses sound: [`MONO_FAULT_DB`] over the whole range, [`MONO_FAULT_BAND_DB`] in a band, or
    /// [`MONO_FAULT_OUT_OF_STEP_DB`] in a band that is out of step.
    Loses {
        /// Loss over the whole range, dB.
        loss_db: f64,
        /// The named band that loses most, among those that are heard: within 20 dB of the loudest, K-weighted, and
        /// not the lowest, which no phone reproduces.
        worst: BandLoss,
        /// Whether the loss follows from one sound out of step that can be repaired.
        fixable: bool,
    },
}

/// Loss of one named band.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BandLoss {
    /// Band, 0 Sub to 5 Air.
    pub band: usize,
    /// Loss in dB; −∞ when everything cancels.
    pub loss_db: f64,
}

/// The phase between the two channels of the bus.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Phase {
    /// Too little signal, less than 2 s of it, too few events in it, or common sound of which more than half does not
    /// add up although no third is at fault.
    #[default]
    Unknown,
    /// Left and right add up.
    InStep,
    /// Left and right carry unrelated sound: nothing to align.
    Unrelated,
    /// Left and right carry unrelated sound, except in some bands.
    MostlyUnrelated {
        /// The named bands, Sub first, in which half of the sound or more is common.
        common: [bool; BANDS],
    },
    /// Left and right carry one sound that does not add up.
    OutOfStep(OutOfStep),
}

/// The channels that readings are of, as far as known.
#[derive(Clone, Copy, Debug)]
pub struct Channels<'a> {
    /// Number of channels, 1 or 2.
    pub count: u8,
    /// The comparison of left and right, if there is one.
    pub left_right: Option<&'a PairLine>,
    /// How the sound was recorded, as stated.
    pub recording: Recording,
}

impl Channels<'_> {
    /// `count` channels of which nothing else is known.
    pub fn of(count: u8) -> Self {
        Self { count, left_right: None, recording: Recording::default() }
    }
}

/// All verdicts of one layer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Verdicts {
    /// Stereo width.
    pub width: Width,
    /// Mono compatibility.
    pub mono: Mono,
    /// Phase between left and right.
    pub phase: Phase,
    /// Delivery against the target.
    pub delivery: DeliveryVerdict,
    /// Balance of the roles against their aims.
    pub balance: BalanceVerdict,
    /// Pairs of microphones.
    pub mics: MicsVerdict,
}

/// Side share under which a signal is called mono: side 23 dB under mid (common practice, no source).
pub const MONO_SHARE: f64 = 0.005;
/// Side share under which a stereo signal is called narrow (common practice, no source).
pub const NARROW_SHARE: f64 = 0.10;
/// Coherence under which a wide sound is called spacious (common practice, no source).
pub const SPACIOUS_COHERENCE: f64 = 0.4;
/// Correlation from which a level difference is called a pan, and the smallest such difference in dB (common practice,
/// no source).
pub const PANNED: (f64, f64) = (0.9, 1.5);
/// Mono loss down to which mono holds, dB (common practice, no source).
pub const MONO_HOLDS_DB: f64 = -1.0;
/// Mono loss of the whole range from which sound counts as lost, dB. Unrelated channels lose 3.01 dB by arithmetic,
/// which is no fault, so the limit is half a decibel beyond that.
pub const MONO_FAULT_DB: f64 = -3.5;
/// Mono loss of a band from which sound counts as lost, dB (common practice, no source).
pub const MONO_FAULT_BAND_DB: f64 = -6.0;
/// Mono loss from which a band that is out of step counts as losing sound, dB. The loss of unrelated channels is no
/// excuse there.
pub const MONO_FAULT_OUT_OF_STEP_DB: f64 = -3.0;
/// Coherence or correlation of a band from which its sound is called common to both channels (common practice, no
/// source).
pub const COMMON: f64 = 0.5;

/// Level of one channel under the other, in dB, from which the sound is called one-sided (common practice, no source).
pub const ONE_SIDED_DB: f64 = 40.0;

/// Hysteresis of a standing mono verdict, dB of loss, so that the words do not flicker.
const HELD_DB: f64 = 0.5;
/// Hysteresis of a standing spacious verdict, in coherence.
const HELD_COHERENCE: f64 = 0.05;

impl Verdicts {
    /// Judges one average of the spectral readings (the slow one, on a screen). Delivery needs loudness and is judged
    /// by [`DeliveryVerdict::of`].
    pub fn of(spectral: &Spectral, edges: &BandEdges, channels: Channels<'_>) -> Self {
        Self::default().followed_by(spectral, edges, channels)
    }

    /// Judges the readings that follow these verdicts. A standing fault or a standing spaciousness is held a little
    /// longer, so that the words do not flicker at a limit.
    pub fn followed_by(&self, spectral: &Spectral, edges: &BandEdges, channels: Channels<'_>) -> Self {
        let Channels { count, left_right, recording } = channels;
        let spaced_secs = recording.spaced_secs();
        let stands = matches!(self.phase, Phase::OutOfStep(_));
        let limit = if stands { OUT_OF_STEP_EDGE } else { OUT_OF_STEP_FAULT };
        let found =
            out_of_step(&spectral.thirds, limit, spaced_secs).map(|found| found.settled_by(left_right));
        let contradiction = recording.contradiction(spectral, found.as_ref()).filter(|_| count > 1);
        let unrelated = matches!(self.phase, Phase::Unrelated | Phase::MostlyUnrelated { .. });
        let spacious = SPACIOUS_COHERENCE + if unrelated { HELD_COHERENCE } else { 0.0 };
        let held_db = if matches!(self.mono, Mono::Loses { .. }) { HELD_DB } else { 0.0 };
        Self {
            width: match contradiction {
                Some(contradiction) => Width::Contradicts { technique: recording.technique, contradiction },
                None => width(spectral, count, found, spacious),
            },
            mono: mono(spectral, edges, found, held_db),
            phase: phase(spectral, found, spacious),
            delivery: DeliveryVerdict::default(),
            balance: self.balance,
            mics: self.mics,
        }
    }

    /// Whether a third out of step by `value` belongs to a fault, which is one that can be repaired.
    pub fn is_out_of_step_fault(&self, value: Option<f64>) -> bool {
        matches!(self.phase, Phase::OutOfStep(found) if found.is_fault())
            && value.is_some_and(|value| value >= OUT_OF_STEP_FAULT)
    }

    /// Whether the mono loss of a third or band, dB, belongs to a fault.
    pub fn is_mono_fault(&self, loss_db: Option<f64>) -> bool {
        matches!(self.mono, Mono::Loses { .. }) && loss_db.is_some_and(|loss| loss <= MONO_FAULT_BAND_DB)
    }

    /// The same verdicts, but one-sided as soon as the fast readings of the whole range show it: the slow average
    /// still contains a channel for many seconds after it fell silent.
    pub fn with_silent_channel(self, quick: &Readings) -> Self {
        let right = match quick.channel_dbfs {
            [Some(_), None] => false,
            [None, Some(_)] => true,
            [Some(left), Some(right)] if (left - right).abs() >= ONE_SIDED_DB => right > left,
            _ => return self,
        };
        match (self.width, quick.mono_loss_db) {
            (Width::Unknown, _) | (_, None) => self,
            (_, Some(loss_db)) => Self {
                width: Width::OneSided { right },
                mono: Mono::OneChannel { loss_db },
                phase: Phase::Unknown,
                ..self
            },
        }
    }
}

fn width(spectral: &Spectral, channels: u8, found: Option<OutOfStep>, spacious: f64) -> Width {
    let whole = &spectral.whole;
    let Some(side_share) = whole.side_share else { return Width::Unknown };
    if channels == 1 {
        return Width::Mono;
    }
    if let Some(found) = found.filter(OutOfStep::leads) {
        return Width::OutOfStep(found);
    }
    match whole.channel_dbfs {
        [Some(_), None] => return Width::OneSided { right: false },
        [None, Some(_)] => return Width::OneSided { right: true },
        _ if whole.correlation.is_none() => {
            return Width::OneSided { right: whole.channel_dbfs[1] > whole.channel_dbfs[0] };
        }
        _ => {}
    }
    if side_share < MONO_SHARE {
        return Width::Mono;
    }
    if let Some(Cause::Spaced { secs }) = found.map(|found| found.cause) {
        return Width::Spaced { side_share, secs };
    }
    if let (Some(correlation), Some(balance_db)) = (whole.correlation, whole.balance_db)
        && correlation >= PANNED.0
        && balance_db.abs() >= PANNED.1
    {
        return Width::Panned { balance_db };
    }
    if side_share < NARROW_SHARE {
        return Width::Narrow { side_share };
    }
    match (whole.coherence, whole.correlation) {
        (Some(coherence), _) if coherence < spacious => Width::Spacious { side_share, coherence },
        (Some(_), _) => Width::Wide { side_share },
        // Coherence is at least the square of correlation; if that does not settle the kind of width, it stays
        // unknown.
        (None, Some(correlation)) if correlation > 0.0 && correlation.powi(2) >= spacious => {
            Width::Wide { side_share }
        }
        (None, _) => Width::Unknown,
    }
}

fn mono(spectral: &Spectral, edges: &BandEdges, found: Option<OutOfStep>, held_db: f64) -> Mono {
    let Some(loss_db) = spectral.whole.mono_loss_db else { return Mono::Unknown };
    if spectral.whole.correlation.is_none() {
        return Mono::OneChannel { loss_db };
    }
    let heard = heard(&spectral.bands.map(|band| band.level_dbfs), edges);
    let loss_of = |band: usize| {
        spectral.bands[band].mono_loss_db.filter(|_| heard[band]).map(|loss_db| BandLoss { band, loss_db })
    };
    // No phone reproduces the lowest band, so its loss in mono is a note at most.
    let sub = loss_of(SUB).filter(|sub| sub.loss_db < MONO_HOLDS_DB * 3.0);
    let worst = (SUB + 1..BANDS)
        .filter_map(loss_of)
        .min_by(|a, b| a.loss_db.total_cmp(&b.loss_db))
        .unwrap_or(BandLoss { band: SUB, loss_db });
    let band = edges.span(worst.band);
    let within = |f: &OutOfStep| f.span.low_hz < band.high_hz && f.span.high_hz > band.low_hz;
    let fixable = found.is_some_and(|f| f.is_fault() && within(&f));
    // The mono loss of a spaced pair is the price of its spacing.
    let spaced = matches!(found.map(|found| found.cause), Some(Cause::Spaced { .. }));
    let loses = loss_db <= MONO_FAULT_DB + held_db
        || worst.loss_db <= MONO_FAULT_BAND_DB + held_db
        || (fixable && worst.loss_db <= MONO_FAULT_OUT_OF_STEP_DB + held_db);
    if loses && !spaced {
        Mono::Loses { loss_db, worst, fixable }
    } else if loss_db >= MONO_HOLDS_DB && worst.loss_db >= MONO_HOLDS_DB * 3.0 && sub.is_none() {
        Mono::Holds { loss_db }
    } else {
        let worst = sub.filter(|sub| sub.loss_db < worst.loss_db).unwrap_or(worst);
        Mono::Thins { loss_db, worst }
    }
}

/// The bands within [`VERDICT_RANGE_DB`] of the loudest in which half of the sound or more is common to both channels:
/// by coherence, or by correlation, whose magnitude does not need 2 s.
fn common(spectral: &Spectral) -> [bool; BANDS] {
    let loudest = spectral.bands.iter().filter_map(|b| b.level_dbfs).fold(f64::NEG_INFINITY, f64::max);
    spectral.bands.map(|band| {
        let counts = band.level_dbfs.is_some_and(|level| level >= loudest - VERDICT_RANGE_DB);
        let reaches = |value: Option<f64>| value.is_some_and(|value| value >= COMMON);
        counts && (reaches(band.coherence) || reaches(band.correlation.map(f64::abs)))
    })
}

fn phase(spectral: &Spectral, found: Option<OutOfStep>, spacious: f64) -> Phase {
    if let Some(found) = found.filter(|found| found.leads() || matches!(found.cause, Cause::Spaced { .. })) {
        return Phase::OutOfStep(found);
    }
    match (spectral.whole.coherence, spectral.whole.out_of_step) {
        (Some(coherence), _) if coherence < spacious => {
            let common = common(spectral);
            if common.contains(&true) { Phase::MostlyUnrelated { common } } else { Phase::Unrelated }
        }
        // Most of the common sound adds up.
        (Some(coherence), Some(out_of_step)) if out_of_step < coherence / 2.0 => Phase::InStep,
        _ => Phase::Unknown,
    }
}

#[cfg(test)]
mod tests;
