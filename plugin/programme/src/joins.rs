//! Joins: transitions between two passages, and what jumps there.
//!
//! # Signal path
//! [`JoinDetector`] keeps a cell for each tenth of the last 14 s (`cell`) and measures both sides of each join and of
//! each mark (`side`). `passages` finds where one passage ends and another begins: the levels of the thirds (`levels`)
//! give boundaries at which most changes (`candidates`), each with its evidence for a join (`evidence`).

mod candidates;
mod cell;
mod comparison;
mod detector;
mod evidence;
mod levels;
mod passages;
mod side;
mod steepest;

pub use detector::JoinDetector;

use crate::role::{PARTS, Role, sounding};
use plumbline_measure::Grid;
use plumbline_measure::bands::THIRDS;
use plumbline_measure::reading::Maybe;
use serde::{Deserialize, Serialize};

/// Seconds compared on either side.
pub const SIDE_SECS: f64 = 2.0;

/// The measurements on one side of a join, over at most [`SIDE_SECS`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Side {
    /// Number of tenths measured: fewer where the programme starts, ends or has another join.
    pub tenths: u32,
    /// K-weighted loudness, LUFS; absent in silence.
    pub loudness_lufs: Option<f64>,
    /// Spectral tilt, dB per octave: the slope of a straight line fitted to the levels of the thirds.
    pub tone_db_per_octave: Option<f64>,
    /// Side share, 0…1.
    pub side_share: Option<f64>,
    /// Shares of the roles, 0…1, in the order of [`crate::Role::PARTS`].
    pub shares: [Option<f64>; PARTS],
    /// Levels of the thirds, dBFS.
    pub thirds_dbfs: [Maybe; THIRDS],
}

/// A transition between two passages.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Join {
    /// Number in this log, counting up.
    pub id: u64,
    /// Which clock.
    pub grid: Grid,
    /// The first tenth of the new passage.
    pub at: i64,
    /// The sample at which the new passage starts: that of an onset if there is one, otherwise the first sample of
    /// the tenth.
    pub sample: i64,
    /// Whether the user set a mark there.
    pub marked: bool,
    /// Whether the detector found it.
    pub found: bool,
    /// The last 2 s before the join.
    pub before: Side,
    /// The first 2 s after the join; grows while the song plays on.
    pub after: Side,
    /// Length of the transition in seconds: from 10 % to 90 % of the change, in level or tone.
    pub takes_secs: Option<f64>,
}

/// Change that counts as a jump: of loudness, LU (common practice, no source).
pub const JUMP_LU: f64 = 6.0;
/// Change that counts as a jump: of tone, dB per octave (common practice, no source).
pub const JUMP_TONE: f64 = 3.0;
/// Change that counts as a jump: of width or of a share, 0…1 (common practice, no source).
pub const JUMP_SHARE: f64 = 0.30;

fn change(before: Option<f64>, after: Option<f64>) -> Option<f64> {
    Some(after? - before?)
}

impl Join {
    /// Change of loudness, LU.
    pub fn loudness_lu(&self) -> Option<f64> {
        change(self.before.loudness_lufs, self.after.loudness_lufs)
    }

    /// Change of tone, dB per octave.
    pub fn tone(&self) -> Option<f64> {
        change(self.before.tone_db_per_octave, self.after.tone_db_per_octave)
    }

    /// Change of side share, −1…1.
    pub fn width(&self) -> Option<f64> {
        change(self.before.side_share, self.after.side_share)
    }

    /// Change of a role's share, −1…1. `part` is its index in [`Role::PARTS`].
    pub fn share(&self, part: usize) -> Option<f64> {
        change(*self.before.shares.get(part)?, *self.after.shares.get(part)?)
    }

    /// The roles that sound on either side, each with its index in [`Role::PARTS`].
    pub fn roles(&self) -> impl Iterator<Item = (usize, Role)> + '_ {
        let sounds = |part| [&self.before, &self.after].into_iter().any(|side| sounding(side.shares[part]));
        Role::PARTS.into_iter().enumerate().filter(move |(part, _)| sounds(*part))
    }

    /// Size of the jump: the largest change, in units of [`JUMP_LU`], [`JUMP_TONE`] and [`JUMP_SHARE`]. 0 when
    /// nothing could be compared.
    pub fn size(&self) -> f64 {
        let shares = (0..PARTS).filter_map(|part| self.share(part)).map(|change| change / JUMP_SHARE);
        let others = [
            self.loudness_lu().map(|change| change / JUMP_LU),
            self.tone().map(|change| change / JUMP_TONE),
            self.width().map(|change| change / JUMP_SHARE),
        ];
        others.into_iter().flatten().chain(shares).map(f64::abs).fold(0.0, f64::max)
    }
}
