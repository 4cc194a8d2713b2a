//! How a stereo sound was recorded, as the user states it, and whether the sound contradicts that.

use crate::arrival::{Cause, LEAST_NET_GAIN_DB, SPACED_SECS};
use crate::pair::metres;
use crate::verdict::{OutOfStep, VERDICT_RANGE_DB, inverting_gains_db, power};
use plumbline_measure::Spectral;
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRDS, third_centre_hz};
use plumbline_measure::cross::{StereoPower, power_db};
use plumbline_measure::loudness::third_weights;
use serde::{Deserialize, Serialize};

/// A way to record or make stereo.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Technique {
    /// Not stated: nothing is checked.
    #[default]
    Unstated,
    /// One sound in both channels, whatever its pan.
    OneSound,
    /// Two capsules in one place.
    Coincident,
    /// Mid-side, decoded to left and right.
    MidSide,
    /// Two capsules apart, near-coincident pairs included.
    Spaced,
    /// Two ears.
    Binaural,
}

impl Technique {
    /// All six.
    pub const ALL: [Self; 6] =
        [Self::Unstated, Self::OneSound, Self::Coincident, Self::MidSide, Self::Spaced, Self::Binaural];

    /// Name for the screen and reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Unstated => "Not stated",
            Self::OneSound => "One sound",
            Self::Coincident => "Coincident pair",
            Self::MidSide => "Mid-side, decoded",
            Self::Spaced => "Spaced pair",
            Self::Binaural => "Binaural",
        }
    }

    /// Its name in files and on the command line.
    pub fn key(self) -> &'static str {
        match self {
            Self::Unstated => "unstated",
            Self::OneSound => "one_sound",
            Self::Coincident => "coincident",
            Self::MidSide => "mid_side",
            Self::Spaced => "spaced",
            Self::Binaural => "binaural",
        }
    }
}

/// How a layer was recorded, as stated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recording {
    /// The technique.
    pub technique: Technique,
    /// Distance of the capsules of a spaced pair, metres, within [`LEAST_SPACING_M`] and [`MOST_SPACING_M`].
    pub spacing_m: f64,
}

impl Default for Recording {
    fn default() -> Self {
        Self { technique: Technique::default(), spacing_m: USUAL_SPACING_M }
    }
}

/// Shortest spacing that can be stated, metres.
pub const LEAST_SPACING_M: f64 = 0.01;
/// Longest spacing that can be stated, metres: 35 ms of path, near the longest delay that the thirds are compared with.
pub const MOST_SPACING_M: f64 = 12.0;
/// Spacing before one is stated, metres: that of ears and near-coincident pairs, 17 cm (common practice, no source).
pub const USUAL_SPACING_M: f64 = 0.17;

/// Arrival-time difference up to which two capsules are in one place, seconds: 3.4 cm of path, as far as the capsules
/// of a coincident pair are apart (common practice, no source).
const ONE_PLACE_SECS: f64 = 0.1e-3;
/// Longest difference between two ears, seconds: 0.63 to 0.85 ms were measured, depending on the method, plus a margin
/// for larger heads.
const EARS_SECS: f64 = 1.0e-3;
/// Largest ratio of a path difference to the spacing: spacings are measured by eye.
const SPACING_TOLERANCE: f64 = 1.15;
/// Distance of the ears, metres, over which lows agree.
const EARS_M: f64 = 0.18;

/// Coherence under which two channels do not carry one sound.
const ONE_SOUND_COHERENCE: f64 = 0.5;
/// Limits of a mid and a side channel: largest correlation of either sign, least dB of left over right, and largest
/// part of the energy by which right leads in single thirds. Scenes by formula read 0.02 to 0.19, 3.2 to 3.5 dB and 0;
/// decoded 0.5 to 0.6, -0.6 to 2 dB and 0.2 to 0.3: `reference::stated`.
const UNDECODED_CORRELATION: f64 = 0.3;
const UNDECODED_DB: f64 = 2.5;
const SIDE_LEADS: f64 = 0.05;
/// Correlation down to which a low third shows capsules that agree.
const OPPOSED_LOWS: f64 = -0.3;
/// Coherence from which a low third counts.
const SHARED_LOWS: f64 = 0.3;
/// Fewest low thirds that decide.
const FEWEST_LOWS: usize = 3;

/// A contradiction between the sound and the technique stated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Contradiction {
    /// Left is the mid and right the side channel: they were not decoded.
    NotDecoded {
        /// Level of right under left, dB.
        under_db: f64,
    },
    /// One capsule of a pair is inverted: the lows, which reach both alike, oppose each other.
    CapsuleInverted {
        /// The frequency in Hz up to which they would agree.
        below_hz: f64,
    },
    /// One sound arrives further apart than the technique allows.
    FurtherApart {
        /// Seconds between the channels, not negative.
        secs: f64,
        /// The longest that the technique allows, seconds.
        most_secs: f64,
    },
    /// The channels carry more than one sound.
    MoreThanOneSound {
        /// Coherence 0…1 of the whole range.
        coherence: f64,
    },
}

impl Contradiction {
    /// Its name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::NotDecoded { .. } => "not_decoded",
            Self::CapsuleInverted { .. } => "capsule_inverted",
            Self::FurtherApart { .. } => "further_apart",
            Self::MoreThanOneSound { .. } => "more_than_one_sound",
        }
    }
}

impl Recording {
    /// The statement within its bounds. A spacing that is not finite is replaced by [`USUAL_SPACING_M`].
    #[must_use]
    pub fn sane(self) -> Self {
        let spacing_m = if self.spacing_m.is_finite() { self.spacing_m } else { USUAL_SPACING_M };
        Self { spacing_m: spacing_m.clamp(LEAST_SPACING_M, MOST_SPACING_M), ..self }
    }

    /// The longest arrival-time difference between left and right that is made on purpose, seconds. Not stated, it is
    /// that of any spaced pair in use, [`SPACED_SECS`].
    pub fn spaced_secs(&self) -> f64 {
        match self.technique {
            Technique::Unstated => SPACED_SECS,
            Technique::OneSound | Technique::Coincident | Technique::MidSide => ONE_PLACE_SECS,
            Technique::Spaced => (self.spacing_m * SPACING_TOLERANCE / metres(1.0, 20.0)).max(ONE_PLACE_SECS),
            Technique::Binaural => EARS_SECS,
        }
    }

    /// The contradiction to the statement in one average of the readings; `found` is the out of step in them. `None`
    /// without a statement, and where the sound decides nothing.
    pub(crate) fn contradiction(
        &self,
        spectral: &Spectral,
        found: Option<&OutOfStep>,
    ) -> Option<Contradiction> {
        let whole = &spectral.whole;
        let apart = found.and_then(|found| match found.cause {
            Cause::Spaced { secs } | Cause::Delayed { secs } => Some(secs),
            _ => None,
        });
        let most_secs = self.spaced_secs();
        let further = apart.filter(|secs| *secs > most_secs);
        let further = further.map(|secs| Contradiction::FurtherApart { secs, most_secs });
        match self.technique {
            Technique::Unstated => None,
            Technique::OneSound => further.or_else(|| {
                let coherence = whole.coherence.filter(|coherence| *coherence < ONE_SOUND_COHERENCE)?;
                Some(Contradiction::MoreThanOneSound { coherence })
            }),
            Technique::Coincident => further,
            Technique::MidSide => undecoded(spectral).or(further),
            Technique::Spaced => further.or_else(|| inverted_lows(spectral, self.spacing_m)),
            Technique::Binaural => further.or_else(|| inverted_lows(spectral, EARS_M)),
        }
    }
}

/// A mid channel left and a side channel right. Sound from one side of the middle is in phase in them, from the other
/// opposed, and sound from everywhere is unrelated: together they hardly correlate, and the mid is louder in every
/// third. Decoded, left and right are M ± S, and correlate by how much louder M is.
fn undecoded(spectral: &Spectral) -> Option<Contradiction> {
    spectral.whole.coherence?;
    let powers = spectral.thirds.each_ref().map(power);
    let sum = |of: fn(&StereoPower) -> f64| -> f64 {
        powers.iter().zip(third_weights()).map(|(third, weight)| weight * of(third)).sum()
    };
    let (mid, side) = (sum(|p| p.ll), sum(|p| p.rr));
    let both = sum(|p| (p.ll * p.rr).sqrt());
    if !(both > 0.0 && both.is_finite()) {
        return None;
    }
    let correlation = sum(|p| p.re) / both;
    let side_leads = sum(|p| (p.rr - p.ll).max(0.0)) / (mid + side);
    let under_db = power_db(mid / side.max(mid * 1e-12));
    (correlation.abs() <= UNDECODED_CORRELATION && under_db >= UNDECODED_DB && side_leads <= SIDE_LEADS)
        .then_some(Contradiction::NotDecoded { under_db })
}

/// Capsules `spacing_m` apart hear waves of at least four times that length within a quarter of a turn of each other,
/// from any direction, and so with a coherence of sinc(π/2) = 0.64 or more in a diffuse field (R. K. Cook et al., J.
/// Acoust. Soc. Am. 27(6), 1955; from memory). If the lows oppose each other nevertheless, one capsule is inverted.
fn inverted_lows(spectral: &Spectral, spacing_m: f64) -> Option<Contradiction> {
    let below_hz = metres(1.0, 20.0) / (4.0 * spacing_m);
    let loudest = spectral.thirds.iter().filter_map(|t| t.level_dbfs).fold(f64::NEG_INFINITY, f64::max);
    let lows = (FIRST_ACCURATE_THIRD..THIRDS).take_while(|third| third_centre_hz(*third) <= below_hz);
    let correlations: Vec<f64> = lows
        .map(|third| &spectral.thirds[third])
        .filter(|t| t.level_dbfs.is_some_and(|level| level >= loudest - VERDICT_RANGE_DB))
        .filter(|t| t.coherence.is_some_and(|coherence| coherence >= SHARED_LOWS))
        .filter_map(|t| t.correlation)
        .collect();
    let opposed = correlations.iter().filter(|correlation| **correlation <= OPPOSED_LOWS).count();
    let most = correlations.len() >= FEWEST_LOWS && 3 * opposed >= 2 * correlations.len();
    // The advice is to invert one, so that must win in mono.
    (most && inverting_gains_db(&spectral.thirds) >= LEAST_NET_GAIN_DB)
        .then_some(Contradiction::CapsuleInverted { below_hz })
}

#[cfg(test)]
mod tests;
