//! Sums over one stretch, before they become shares.

use super::page_sums::{Line, PageSums};
use crate::role::PARTS;
use plumbline_measure::bands::THIRDS;

/// Sums of one layer over a stretch.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    /// Sum of K-weighted mean squares; gated for the programme.
    pub(super) energy: f64,
    /// For the programme, the energy before gating.
    pub(super) ungated: f64,
    /// Tenths that it leads.
    pub(super) leads: u32,
    /// Whether it sounds in any tenth.
    pub(super) sounds: bool,
    /// Sum of the mean squares of each third.
    pub(super) thirds: [f64; THIRDS],
    /// For a mix, over the tenths reported by both it and any layer: its energy, and that of the layers.
    pub(super) shared: [f64; 2],
    /// Whether the mix, and whether the layers, sound in any of those tenths.
    pub(super) shared_sounds: [bool; 2],
}

impl Sums {
    /// Adds to `shared`.
    pub(super) fn share(&mut self, more: [f64; 2]) {
        self.shared = [self.shared[0] + more[0], self.shared[1] + more[1]];
    }
}

/// Sums over a stretch.
#[derive(Clone, Debug)]
pub(super) struct Totals {
    /// Tenths that any member reported.
    pub(super) tenths: u32,
    /// Tenths in which the layers, summed, sound.
    pub(super) sounding: u32,
    /// Divisor that turns an energy into a mean: tenths, or the tenths of all passing gating blocks.
    pub(super) weight: f64,
    /// Whether anything sounds, so that shares exist.
    pub(super) sounds: bool,
    /// Tenths that each role leads.
    pub(super) role_leads: [u32; PARTS],
    /// The layers, in the order of the members.
    pub(super) layers: Vec<Sums>,
}

impl Totals {
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

    /// Counts the tenths of a page under a mask.
    pub(super) fn count(&mut self, page_sums: &PageSums, mask: u64) {
        self.tenths += (page_sums.used & mask).count_ones();
        self.sounding += (page_sums.sounding & mask).count_ones();
        for (leads, bits) in self.role_leads.iter_mut().zip(page_sums.role_leads) {
            *leads += (bits & mask).count_ones();
        }
        for line in &*page_sums.lines {
            let sums = &mut self.layers[line.member];
            sums.leads += (line.leads & mask).count_ones();
            sums.sounds |= line.sounds & mask != 0;
            sums.shared_sounds[0] |= line.sounds & page_sums.layers & mask != 0;
            sums.shared_sounds[1] |= page_sums.sounding & line.used & mask != 0;
        }
    }

    /// Adds the energies of a whole page of one layer.
    pub(super) fn add(&mut self, line: &Line) {
        let sums = &mut self.layers[line.member];
        sums.energy += line.energy;
        sums.thirds.iter_mut().zip(line.thirds).for_each(|(sum, third)| *sum += f64::from(third));
        sums.share([line.shared[0], line.shared[1]]);
    }

    /// Clears the energies so that gated ones can be added; the counts stay.
    pub(super) fn begin_gated(&mut self) {
        for sums in &mut self.layers {
            sums.ungated = std::mem::take(&mut sums.energy);
            sums.shared = [0.0; 2];
        }
        self.weight = 0.0;
    }
}
