//! What a layer holds.

use serde::{Deserialize, Serialize};

/// What a layer holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
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
    /// The sum of layers.
    #[default]
    Mix,
}

impl Role {
    /// All six.
    pub const ALL: [Self; 6] =
        [Self::Natural, Self::Foley, Self::Design, Self::Voice, Self::Music, Self::Mix];

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
}
