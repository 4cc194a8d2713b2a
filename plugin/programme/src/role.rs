//! The roles of layers.

use serde::{Deserialize, Serialize};

/// The content of a layer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Role {
    /// Sound recorded on location.
    Natural,
    /// Sound performed to picture.
    Foley,
    /// Designed effects.
    Design,
    /// Speech.
    Voice,
    /// Music.
    Music,
    /// A sum of layers; it has no share itself.
    #[default]
    Mix,
}

/// Number of roles that have a share: all except [`Role::Mix`].
pub const PARTS: usize = 5;

/// Whether a share is finite and over 0.
pub(crate) fn sounding(share: Option<f64>) -> bool {
    share.is_some_and(|share| share.is_finite() && share > 0.0)
}

/// The higher of two peaks; `None` if both are absent or NaN.
pub(crate) fn highest(peaks: [Option<f64>; 2]) -> Option<f64> {
    peaks.into_iter().flatten().filter(|peak| !peak.is_nan()).reduce(f64::max)
}

impl Role {
    /// All six.
    pub const ALL: [Self; 6] =
        [Self::Natural, Self::Foley, Self::Design, Self::Voice, Self::Music, Self::Mix];

    /// The roles that have a share, in the order of every `[_; PARTS]`.
    pub const PARTS: [Self; PARTS] = [Self::Natural, Self::Foley, Self::Design, Self::Voice, Self::Music];

    /// Name for the screen.
    pub fn name(self) -> &'static str {
        match self {
            Self::Natural => "Natural",
            Self::Foley => "Foley",
            Self::Design => "Design",
            Self::Voice => "Voice",
            Self::Music => "Music",
            Self::Mix => "Mix",
        }
    }

    /// Index in a `[_; PARTS]`; `None` for the mix.
    pub fn part(self) -> Option<usize> {
        Self::PARTS.iter().position(|role| *role == self)
    }
}
