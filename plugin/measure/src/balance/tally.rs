//! What was summed over one stretch, before it becomes shares.

use crate::bands::THIRDS;
use crate::role::PARTS;

/// Sums of one layer over a stretch.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    /// K-weighted mean squares; gated in the programme.
    pub(super) energy: f64,
    /// The programme's energy before the gate.
    pub(super) ungated: f64,
    /// Tenths that it leads.
    pub(super) leads: u32,
    /// Whether it sounds in any tenth.
    pub(super) sounds: bool,
    /// Mean squares of the thirds.
    pub(super) thirds: [f64; THIRDS],
    /// For a mix, over the tenths that both it and any layer reported: its energy, and that of the layers.
    pub(super) shared: [f64; 2],
    /// Whether the mix, and whether the layers sound in any of those.
    pub(super) shared_sounds: [bool; 2],
}

impl Sums {
    /// Adds to what a mix shares with its layers.
    pub(super) fn share(&mut self, more: [f64; 2]) {
        self.shared = [self.shared[0] + more[0], self.shared[1] + more[1]];
    }
}

/// Sums over a stretch.
#[derive(Clone, Debug)]
pub(super) struct Tally {
    /// Tenths that any member reported.
    pub(super) tenths: u32,
    /// Tenths in which the layers sound.
    pub(super) sounding: u32,
    /// What an energy is to be divided by for a mean: tenths, or tenths of passing gating blocks.
    pub(super) weight: f64,
    /// Whether anything sounds, so that there are shares.
    pub(super) sounds: bool,
    /// Tenths that each role leads.
    pub(super) role_leads: [u32; PARTS],
    /// The layers, in the order of the members.
    pub(super) layers: Vec<Sums>,
}

impl Tally {
    /// Nothing yet.
    pub(super) fn new(members: usize) -> Self {
        Self {
            tenths: 0,
            sounding: 0,
            weight: 0.0,
            sounds: false,
            role_leads: [0; PARTS],
            layers: vec![Sums::default(); members],
        }
    }
}
