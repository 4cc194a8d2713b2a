//! Readings that may be absent, and their gates: no reading without enough signal.

use crate::cross::{StereoPower, db_power};
use serde::{Deserialize, Serialize};

/// A stored value that may be absent, in four bytes. An absent one is stored as NaN, and never returned as a number.
///
/// ```
/// use plumbline_measure::Maybe;
///
/// assert_eq!(Maybe::new(Some(-23.5)).get(), Some(-23.5));
/// assert_eq!(Maybe::new(Some(f64::NAN)).get(), None);
/// assert_eq!(Maybe::default(), Maybe::NONE);
/// ```
#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(from = "Option<f32>", into = "Option<f32>")]
pub struct Maybe(f32);

impl Maybe {
    /// No reading.
    pub const NONE: Self = Self(f32::NAN);

    /// Stores a value; NaN is stored as absent.
    #[expect(clippy::cast_possible_truncation, reason = "storage in single precision is the purpose")]
    pub fn new(value: Option<f64>) -> Self {
        match value {
            Some(v) if !v.is_nan() => Self(v as f32),
            _ => Self::NONE,
        }
    }

    /// The value, if there is one.
    pub fn get(self) -> Option<f64> {
        (!self.0.is_nan()).then(|| f64::from(self.0))
    }
}

impl From<Option<f32>> for Maybe {
    fn from(value: Option<f32>) -> Self {
        value.map_or(Self::NONE, Self)
    }
}

impl From<Maybe> for Option<f32> {
    fn from(maybe: Maybe) -> Self {
        (!maybe.0.is_nan()).then_some(maybe.0)
    }
}

impl Default for Maybe {
    fn default() -> Self {
        Self::NONE
    }
}

impl PartialEq for Maybe {
    /// Two absent values are equal; others are equal if they are bit-equal.
    fn eq(&self, other: &Self) -> bool {
        self.get().map(f64::to_bits) == other.get().map(f64::to_bits)
    }
}

impl std::fmt::Debug for Maybe {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.get().fmt(f)
    }
}

/// Level in dBFS below which the whole signal counts as silence and has no reading.
///
/// 16-bit dither has about −93 dBFS (from memory); a recording that quiet has no stereo image.
pub const SIGNAL_GATE_DBFS: f64 = -90.0;

/// Level in dBFS under which one third or band has no reading. Lower than the broadband gate because the same
/// noise spread over thirty thirds is about 15 dB lower in each.
pub const BAND_GATE_DBFS: f64 = -105.0;

/// Largest distance of a third below the loudest one, and of one channel below the other, in dB, with a stereo reading:
/// anything lower is leakage of the analysis window.
pub const RELATIVE_GATE_DB: f64 = 80.0;

/// The gate of one set of readings: the mean square below which they are absent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gate {
    /// Least ll + rr.
    total: f64,
}

impl Gate {
    /// The gate for the whole signal.
    pub fn broadband() -> Self {
        Self { total: db_power(SIGNAL_GATE_DBFS) }
    }

    /// The gate for thirds and bands. `loudest` is the ll + rr of the loudest of them.
    pub fn bands(loudest: f64) -> Self {
        Self { total: db_power(BAND_GATE_DBFS).max(loudest * db_power(-RELATIVE_GATE_DB)) }
    }

    /// Whether there is a signal at all.
    pub fn open(&self, cross: &StereoPower) -> bool {
        cross.total() >= self.total
    }

    /// Whether both channels carry enough signal to be compared.
    pub fn both_open(&self, cross: &StereoPower) -> bool {
        let (quiet, loud) = if cross.ll < cross.rr { (cross.ll, cross.rr) } else { (cross.rr, cross.ll) };
        self.open(cross) && quiet >= self.total / 2.0 && quiet >= loud * db_power(-RELATIVE_GATE_DB)
    }
}

/// All readings of one stereo signal over some bins and some time. Each is absent without enough signal.
///
/// ```
/// use plumbline_measure::{Coherent, Gate, Readings, StereoPower};
///
/// let read = |power: StereoPower| Readings::of(&power, Coherent::default(), Gate::broadband());
/// // A full-scale sine on the left alone: it has a level, but nothing to compare it with.
/// let left = read(StereoPower { ll: 0.5, ..StereoPower::default() });
/// assert!(left.level_dbfs.is_some_and(|level| (level + 3.01).abs() < 0.01));
/// assert_eq!((left.side_share, left.correlation), (Some(0.5), None));
/// // 16-bit dither counts as silence.
/// assert_eq!(read(StereoPower { ll: 2e-10, rr: 2e-10, re: 0.0 }), Readings::default());
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Readings {
    /// Level in dBFS, mean of both channels against a full-scale sine.
    pub level_dbfs: Option<f64>,
    /// Level of left and right alone, dBFS.
    pub channel_dbfs: [Option<f64>; 2],
    /// Side share ("width"), 0…1.
    pub side_share: Option<f64>,
    /// Correlation, −1…+1.
    pub correlation: Option<f64>,
    /// Coherence, 0…1, bias taken out.
    pub coherence: Option<f64>,
    /// Out of step, 0…1: common sound that does not add up in phase.
    pub out_of_step: Option<f64>,
    /// Balance in dB, right positive.
    pub balance_db: Option<f64>,
    /// Mono loss in dB, 0…−∞; −∞ means that everything cancels in mono.
    pub mono_loss_db: Option<f64>,
}

impl Readings {
    /// Reads the matrix under a gate. Coherence and out of step come from their own 2 s average.
    pub fn of(cross: &StereoPower, coherent: Coherent, gate: Gate) -> Self {
        if !gate.open(cross) {
            return Self::default();
        }
        let both = gate.both_open(cross);
        let channel = |mean_square: f64| {
            let level = StereoPower { ll: mean_square, rr: mean_square, ..StereoPower::default() };
            gate.open(&level).then(|| level.level_dbfs())
        };
        Self {
            level_dbfs: Some(cross.level_dbfs()),
            channel_dbfs: [channel(cross.ll), channel(cross.rr)],
            side_share: cross.side_share(),
            correlation: cross.correlation().filter(|_| both),
            coherence: coherent.coherence.get().filter(|_| both),
            out_of_step: coherent.out_of_step.get().filter(|_| both),
            balance_db: cross.balance_db().filter(|_| both),
            mono_loss_db: cross.mono_loss_db(),
        }
    }
}

/// Coherence and out of step of one third or band, from the same bins and the same 2 s.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Coherent {
    /// Coherence 0…1; absent below the gate, or if the sound is worth too few averages.
    pub coherence: Maybe,
    /// Out of step 0…1.
    pub out_of_step: Maybe,
}
