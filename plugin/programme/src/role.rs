//! What a layer holds.

use serde::{Deserialize, Serialize};

/// What a layer holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Role {
    /// Sound of the place, recorded there.
    Natural,
    /// Sound performed against picture.
    Foley,
    /// Designed effects.
    Design,
    /// Speech.
    Voice,
    /// Music.
    Music,
    /// The sum of layers: it has no share in itself.
    #[default]
    Mix,
}

/// Number of roles that have a share: all but [`Role::Mix`].
pub const PARTS: usize = 5;

/// Whether a share is a number over 0.
pub(crate) fn sounding(share: Option<f64>) -> bool {
    share.is_some_and(|share| share.is_finite() && share > 0.0)
}

/// The higher of two peaks; absent where neither is a number.
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

    /// Place in a `[_; PARTS]`; none for the mix.
    pub fn part(self) -> Option<usize> {
        Self::PARTS.iter().position(|role| *role == self)
    }
}
