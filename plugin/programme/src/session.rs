//! Several layers at one moment, as a screen or a report shows them: plain data.
//!
//! [`Balance`](crate::Balance) fills a [`Session`] from the [`Digest`](plumbline_measure::Digest)s of all layers.
//! Shares are K-weighted energies over the same tenths; layers of role [`Role::Mix`] have none.

use crate::role::{PARTS, Role};
use plumbline_measure::bands::{BANDS, Span, THIRDS};
use plumbline_measure::reading::Maybe;
use serde::{Deserialize, Serialize};

mod leaders;
mod names;

pub use leaders::Leader;
pub use names::{order_key, told_apart};

/// Most layers that one session counts. [`SessionNote::TooMany`] reports the rest.
pub const MOST_LAYERS: usize = 64;

/// The number of a layer: unique to the instance, and the same for its whole life.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct LayerId(pub u64);

/// What a layer reports about itself.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Name, at most 64 bytes of UTF-8; may be empty. In a [`Session`], the name given by [`told_apart`].
    pub name: String,
    /// Its role.
    pub role: Role,
    /// The host's track colour.
    pub colour: Option<[u8; 3]>,
}

/// The stretch of time over which a share is taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Stretch {
    /// The last 3 s.
    #[default]
    Now,
    /// The song time heard between the marks on either side of the present position; all of it without marks.
    Passage,
    /// All song time since reset, gated like integrated loudness.
    Programme,
}

impl Stretch {
    /// All three, in the order of every array of stretches here.
    pub const ALL: [Self; 3] = [Self::Now, Self::Passage, Self::Programme];

    /// Index in an array of stretches.
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

/// The part that one layer or role has in the sound of all layers, over one stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Share of the K-weighted energy, 0…1: 0 for a silent layer, absent when no layer sounds.
    pub share: Option<f64>,
    /// Share of the sounding tenths in which it leads: it is the loudest by [`LEAD_LU`] or more. 0…1.
    pub lead: Option<f64>,
    /// K-weighted level over the stretch, LUFS; gated for the programme. Absent under −70 LUFS.
    pub loudness_lufs: Option<f64>,
    /// Share of the energy in each third, 0…1.
    pub thirds: [Maybe; THIRDS],
    /// Share of the energy in each named band, 0…1, summed from thirds.
    pub bands: [Maybe; BANDS],
}

/// Distance above every other layer at which a layer leads, LU (common practice, no source).
pub const LEAD_LU: f64 = 3.0;

/// A covered layer: in every third in which it has energy, at least [`COVERED_DB`] under the sum of the others and
/// [`RIVAL_DB`] under the loudest of them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Covered {
    /// Smallest distance to the sum of the others over those thirds, dB.
    pub by_db: f64,
    /// The layer that leads most of those thirds.
    pub by: LayerId,
    /// The span of those thirds.
    pub span: Span,
}

/// Distance of the sum of the others above a layer that they cover, dB (common practice, no source).
pub const COVERED_DB: f64 = 10.0;
/// Distance of the loudest of the others above a layer that they cover, dB (common practice, no source). Without it,
/// each of eleven equal layers would count as covered: 10 dB under the sum of ten.
pub const RIVAL_DB: f64 = 6.0;

/// One layer of the session.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LayerLine {
    /// Which layer.
    pub id: LayerId,
    /// What the layer reports about itself.
    pub identity: Identity,
    /// Whether it is the layer whose view this is.
    pub own: bool,
    /// Whether audio reaches it.
    pub running: bool,
    /// Whether it has ever reported song time; also true while no running layer reports song time.
    pub on_song: bool,
    /// Its part over each [`Stretch`]; for a mix only the loudness.
    pub parts: [Part; 3],
    /// Level of each third over the last 3 s, dBFS.
    pub thirds_dbfs: [Maybe; THIRDS],
    /// Side share over the last 3 s, 0…1.
    pub side_share: Option<f64>,
    /// Mono loss over the last 3 s, dB.
    pub mono_loss_db: Option<f64>,
    /// Set if the others cover it over the last 3 s.
    pub covered: Option<Covered>,
    /// Delay of its level against that of the mix, in seconds; absent unless it is clear.
    pub late_secs: Option<f64>,
    /// Tenths measured by the layer that did not arrive here.
    pub missed: u64,
    /// Whether a repair is being tried out on it, so that its output is altered.
    pub altered: bool,
    /// Whether the mix is known not to contain its sound; the layer then counts as silent.
    pub absent: bool,
}

/// The part of one role: all its layers together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RolePart {
    /// Number of layers with this role.
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

/// Unaccounted energy from which it is shown, dB (common practice, no source).
pub const UNACCOUNTED_DB: f64 = 1.0;

/// The difference in tone between two layers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Match {
    /// The layer to be changed.
    pub change: LayerId,
    /// The layer it is to sound like.
    pub like: LayerId,
    /// Change per third, dB: level of `like` minus level of `change`, with the mean over the thirds removed. Absent
    /// where either is under its gate.
    pub change_db: [Maybe; THIRDS],
    /// Standard deviation over the tenths, per third, dB. Absent where both are heard in fewer than ten tenths, or in
    /// under a quarter of those in which both layers sound.
    pub spread_db: [Maybe; THIRDS],
    /// The mean removed: how much louder `like` is over these thirds, dB.
    pub louder_db: f64,
    /// Tenths in which both sound.
    pub tenths: u32,
}

impl Match {
    /// The change in a third, dB, if it may be advised: it is known, and larger than the tenths scatter.
    pub fn advised_db(&self, third: usize) -> Option<f64> {
        let change = self.change_db.get(third)?.get().filter(|db| db.is_finite())?;
        let spread = self.spread_db.get(third)?.get()?;
        (spread < change.abs()).then_some(change)
    }
}

/// The mono loss of a band of the mix with one or two layers left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// One layer, or the two of a pair.
    pub layers: Vec<LayerId>,
    /// Mono loss of the band without them, dB; −∞ when all that is left cancels. Absent when they hold all of the
    /// band.
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
    /// The effect of leaving out layers, the most helpful first. Empty when no layer explains the loss.
    pub left_out: Vec<LeftOut>,
    /// Share of the mix's energy in the band that the layers explain, 0…1.
    pub explained: f64,
}

/// A note about the session that its numbers do not show.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum SessionNote {
    /// No board is available, so the layer is alone. Holds the reason in words.
    Alone(String),
    /// More layers than [`MOST_LAYERS`]; the rest are not counted.
    TooMany {
        /// Layers over the limit.
        beyond: u32,
        /// Whether the layer of this view is among them.
        own: bool,
    },
    /// Files on the board that are not layers of this version.
    Unreadable {
        /// Number of files.
        files: u32,
    },
}

/// The session of one layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// Session letter, A to H.
    pub letter: char,
    /// All layers counted, the own one included, sorted by role, name and number. Empty before the layer has joined a
    /// board.
    pub layers: Vec<LayerLine>,
    /// Roles in the order of [`Role::PARTS`].
    pub roles: [RolePart; PARTS],
    /// Seconds heard in each stretch.
    pub secs: [f64; 3],
    /// The mix against the sum of its layers, over each stretch.
    pub unaccounted: [Unaccounted; 3],
    /// The mix compared: the own layer if it is one, otherwise the loudest.
    pub mix: Option<LayerId>,
    /// The match asked for, or the default: the loudest Foley layer against the loudest natural one.
    pub matched: Option<Match>,
    /// Which layers cause the mono loss of the mix.
    pub loss: Option<LossByLayer>,
    /// Notes that the numbers do not show.
    pub notes: Vec<SessionNote>,
}

/// The share that a role should have, and its tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Aim {
    /// Share, 0…1.
    pub share: f64,
    /// Largest deviation either way, 0…1.
    pub tolerance: f64,
}

impl Aim {
    /// Lowest and highest share within the tolerance; may fall outside 0…1.
    pub fn range(&self) -> [f64; 2] {
        [self.share - self.tolerance, self.share + self.tolerance]
    }

    /// Whether a share is within the tolerance.
    pub fn holds(&self, share: f64) -> bool {
        (share - self.share).abs() <= self.tolerance
    }
}

/// The target shares, in the order of [`Role::PARTS`]. A role without an aim is free.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BalanceTarget {
    /// Aims.
    pub aims: [Option<Aim>; PARTS],
}

impl Default for BalanceTarget {
    /// Natural 70 % ± 10 %, the rest free (common practice for hybrid location-sound mixes, no source).
    fn default() -> Self {
        Self { aims: [Some(Aim { share: 0.70, tolerance: 0.10 }), None, None, None, None] }
    }
}

impl BalanceTarget {
    /// The aims in force where some roles sound. The default is for mixes of natural sound with Foley, so it holds only
    /// where both sound; a target that the user set always holds. Damaged aims are dropped, as by [`Self::sane`].
    #[must_use]
    pub fn in_force(self, sounds: impl Fn(Role) -> bool) -> Self {
        let is_hybrid = sounds(Role::Natural) && sounds(Role::Foley);
        if self == Self::default() && !is_hybrid { Self { aims: [None; PARTS] } } else { self.sane() }
    }

    /// Drops each aim whose share is not within 0…1 or whose tolerance is not within 0.01…1.
    #[must_use]
    pub fn sane(mut self) -> Self {
        for aim in &mut self.aims {
            *aim = aim.filter(|a| (0.0..=1.0).contains(&a.share) && (0.01..=1.0).contains(&a.tolerance));
        }
        self
    }
}

/// Least share with which a role sounds, for the default aim, and least share of the others to balance a role with: 30
/// dB under the rest (common practice, no source).
pub const SOUNDS_SHARE: f64 = 0.001;

/// The verdict on the balance over the last 3 s.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum BalanceVerdict {
    /// There is no other layer to compare with, or only mixes.
    #[default]
    Alone,
    /// Layers are present, but none of them sounds, or their latest tenths have not arrived yet.
    Silent,
    /// No role has an aim.
    Free,
    /// Every role with an aim is within its tolerance. Holds the first of them.
    On {
        /// Role.
        role: Role,
        /// Its share, 0…1.
        share: f64,
    },
    /// A role is off its aim. Holds the one furthest off, counted in tolerances.
    Off {
        /// Role.
        role: Role,
        /// Its share, 0…1.
        share: f64,
        /// Its aim.
        aim: Aim,
    },
}

impl Session {
    /// The part of a role over a stretch; `None` for the mix.
    pub fn part(&self, role: Role, stretch: Stretch) -> Option<&Part> {
        role.part().map(|at| &self.roles[at].parts[stretch.place()])
    }

    /// A layer by its number.
    pub fn layer(&self, id: LayerId) -> Option<&LayerLine> {
        self.layers.iter().find(|line| line.id == id)
    }
}
