//! Several layers at one moment, as a screen or a report shows them: plain data.
//!
//! [`Balance`](crate::Balance) fills a [`Session`] from the [`Digest`](plumbline_measure::Digest)s of all layers. Shares are
//! K-weighted energies over the same tenths of song time; layers of role [`Role::Mix`] have none.

use crate::role::{PARTS, Role};
use plumbline_measure::bands::{BANDS, Span, THIRDS};
use plumbline_measure::reading::Maybe;
use serde::{Deserialize, Serialize};

mod leaders;
mod names;

pub use leaders::Leader;
pub use names::{order_key, told_apart};

/// Most layers that one session counts; what comes later is told in words and not counted.
pub const MOST_LAYERS: usize = 64;

/// A layer's own number: the same for its whole life, other for every instance.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct LayerId(pub u64);

/// What a layer says of itself.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Name, at most 64 bytes of UTF-8; may be empty. In a [`Session`] it is the one of [`told_apart`].
    pub name: String,
    /// What it holds.
    pub role: Role,
    /// The host's track colour.
    pub colour: Option<[u8; 3]>,
}

/// Over which stretch of time a share is taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Stretch {
    /// The newest 3 s.
    #[default]
    Now,
    /// The song time between the marks around the present position that has been heard; all of it without marks.
    Passage,
    /// All song time since reset, gated like integrated loudness.
    Programme,
}

impl Stretch {
    /// All three; the order of every array of stretches here.
    pub const ALL: [Self; 3] = [Self::Now, Self::Passage, Self::Programme];

    /// Place in an array of stretches.
    pub fn place(self) -> usize {
        match self {
            Self::Now => 0,
            Self::Passage => 1,
            Self::Programme => 2,
        }
    }

    /// Name for a button.
    pub fn name(self) -> &'static str {
        match self {
            Self::Now => "Now",
            Self::Passage => "Passage",
            Self::Programme => "Programme",
        }
    }
}

/// The part of one layer or role in the sound of all layers over one stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Share of the K-weighted energy, 0…1. A silent layer has 0; absent when nothing sounds at all.
    pub share: Option<f64>,
    /// Share of the sounding tenths in which it is the loudest by [`LEAD_LU`] or more, 0…1.
    pub lead: Option<f64>,
    /// K-weighted level in LUFS over the stretch; gated for the programme. Absent under −70 LUFS.
    pub loudness_lufs: Option<f64>,
    /// Share of the energy of each third, 0…1.
    pub thirds: [Maybe; THIRDS],
    /// Share of the energy of each named band, 0…1, summed from thirds.
    pub bands: [Maybe; BANDS],
}

/// How much louder than every other a layer must be to lead, LU.
pub const LEAD_LU: f64 = 3.0;

/// A layer that others cover: under them by [`COVERED_DB`] in every third in which it lives.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Covered {
    /// The least distance to the sum of the others among those thirds, dB.
    pub by_db: f64,
    /// Who leads most of those thirds.
    pub by: LayerId,
    /// Where it lives.
    pub span: Span,
}

/// How far the others must be over a layer to cover it, dB.
pub const COVERED_DB: f64 = 10.0;

/// What is known of one layer of the session.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LayerLine {
    /// Which layer.
    pub id: LayerId,
    /// What it says of itself.
    pub identity: Identity,
    /// Whether it is the layer whose view this is.
    pub own: bool,
    /// Whether audio reaches it.
    pub running: bool,
    /// Whether its host tells a song position (or its transport stands).
    pub on_song: bool,
    /// Its part over each [`Stretch`]. For a mix only the loudness.
    pub parts: [Part; 3],
    /// Level of its thirds over the newest 3 s, dBFS.
    pub thirds_dbfs: [Maybe; THIRDS],
    /// Side share over the newest 3 s, 0…1.
    pub side_share: Option<f64>,
    /// Mono loss over the newest 3 s, dB.
    pub mono_loss_db: Option<f64>,
    /// Whether the others cover it now.
    pub covered: Option<Covered>,
    /// How much later than the mix its level moves, in seconds, when that is plain to see.
    pub late_secs: Option<f64>,
    /// Tenths that it measured and that did not arrive here.
    pub missed: u64,
    /// Whether a repair is being tried out on it: what it hands on is altered.
    pub altered: bool,
    /// Whether the mix is known not to hold its sound: it counts as silent.
    pub absent: bool,
}

/// The part of one role: all its layers together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RolePart {
    /// Layers that have this role.
    pub layers: u32,
    /// Their part over each [`Stretch`].
    pub parts: [Part; 3],
}

/// The energy of the mix against the sum of its layers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Unaccounted {
    /// 10·lg(mix / sum of layers), dB. Positive: the mix holds more than its layers. −∞: the layers sound, the mix is
    /// silent. +∞: the mix sounds, the layers are silent. Absent when neither sounds or there is no mix.
    pub db: Option<f64>,
}

/// From how much unaccounted energy on it is shown, dB.
pub const UNACCOUNTED_DB: f64 = 1.0;

/// Difference in tone between two layers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Match {
    /// The layer to be changed.
    pub change: LayerId,
    /// The layer it is to sound like.
    pub like: LayerId,
    /// What to change, dB per third: level of `like` less level of `change`, the mean over the thirds taken out.
    /// Absent where either is under its gate.
    pub change_db: [Maybe; THIRDS],
    /// Standard deviation over the tenths, dB.
    pub spread_db: [Maybe; THIRDS],
    /// The mean taken out: how much louder `like` is over these thirds, dB.
    pub louder_db: f64,
    /// Tenths in which both sound.
    pub tenths: u32,
}

/// What leaving out one layer, or two, does to the mono loss of a band of the mix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// One layer, or the two of a pair.
    pub layers: Vec<LayerId>,
    /// Mono loss of the band without them, dB; −∞ when all that is left cancels. Absent when nothing of the band is
    /// left: then they are all of it.
    pub loss_db: Option<f64>,
}

/// Which layers cause the mono loss in the worst band of the mix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LossByLayer {
    /// Named band, 0 Sub to 5 Air.
    pub band: usize,
    /// Its edges.
    pub span: Span,
    /// Mono loss of the mix in the band, dB; −∞ when all of it cancels.
    pub loss_db: f64,
    /// What leaving out does, the most helpful first. Empty when no layer explains the loss.
    pub left_out: Vec<LeftOut>,
    /// Share of the mix's energy in the band that the layers explain, 0…1.
    pub explained: f64,
}

/// Something about the session that its numbers do not say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum SessionNote {
    /// No board could be had: the layer is alone. Why, in words.
    Alone(String),
    /// More layers than [`MOST_LAYERS`]: so many are not counted.
    TooMany {
        /// Layers beyond the limit.
        beyond: u32,
        /// Whether this very layer is among them.
        own: bool,
    },
    /// Files on the board that are no layer of this version.
    Unreadable {
        /// How many.
        files: u32,
    },
}

/// The session of one layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// Session letter, A to H.
    pub letter: char,
    /// All layers that are counted, the own one included: by role, then name, then number. Empty before the layer has
    /// joined a board.
    pub layers: Vec<LayerLine>,
    /// Roles in the order of [`Role::PARTS`].
    pub roles: [RolePart; PARTS],
    /// Seconds that each stretch has behind it.
    pub secs: [f64; 3],
    /// The mix against its layers over each stretch.
    pub unaccounted: [Unaccounted; 3],
    /// The mix that is meant.
    pub mix: Option<LayerId>,
    /// The match asked for, or the default: the loudest Foley layer against the loudest natural one.
    pub matched: Option<Match>,
    /// Which layers cause the mono loss.
    pub loss: Option<LossByLayer>,
    /// What the numbers do not say.
    pub notes: Vec<SessionNote>,
}

/// The share that a role is meant to have.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Aim {
    /// Share, 0…1.
    pub share: f64,
    /// How far it may be off, 0…1.
    pub tolerance: f64,
}

impl Aim {
    /// Least and most share within the tolerance; may lie beyond 0…1.
    pub fn range(&self) -> [f64; 2] {
        [self.share - self.tolerance, self.share + self.tolerance]
    }

    /// Whether a share is within the tolerance.
    pub fn holds(&self, share: f64) -> bool {
        (share - self.share).abs() <= self.tolerance
    }
}

/// The shares that are aimed at, in the order of [`Role::PARTS`]; a role without an aim is free.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BalanceTarget {
    /// Aims.
    pub aims: [Option<Aim>; PARTS],
}

impl Default for BalanceTarget {
    /// Natural 70 % ± 10, the rest free (common practice for hybrid location-sound mixes, no source).
    fn default() -> Self {
        Self { aims: [Some(Aim { share: 0.70, tolerance: 0.10 }), None, None, None, None] }
    }
}

impl BalanceTarget {
    /// Whether every aim is finite, 0…1, with a tolerance of 0.01…1; one that is not is dropped.
    #[must_use]
    pub fn sane(mut self) -> Self {
        for aim in &mut self.aims {
            *aim = aim.filter(|a| (0.0..=1.0).contains(&a.share) && (0.01..=1.0).contains(&a.tolerance));
        }
        self
    }
}

/// The verdict on the balance of the newest 3 s.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum BalanceVerdict {
    /// No other layer is heard: there is nothing to compare.
    #[default]
    Alone,
    /// Layers are heard, none of them sounds (or the newest tenths are not there yet).
    Silent,
    /// No role has an aim.
    Free,
    /// Every role that has an aim is within its tolerance. The first of them.
    On {
        /// Role.
        role: Role,
        /// Its share, 0…1.
        share: f64,
    },
    /// A role is off its aim; the one that is furthest off in tolerances.
    Off {
        /// Role.
        role: Role,
        /// Its share, 0…1.
        share: f64,
        /// What it is meant to be.
        aim: Aim,
    },
}

impl Session {
    /// The part of a role over a stretch; none for the mix.
    pub fn part(&self, role: Role, stretch: Stretch) -> Option<&Part> {
        role.part().map(|at| &self.roles[at].parts[stretch.place()])
    }

    /// A layer by its number.
    pub fn layer(&self, id: LayerId) -> Option<&LayerLine> {
        self.layers.iter().find(|line| line.id == id)
    }
}
