//! Shares from sums: the part of each layer and each role, and the mix against its layers.

use super::page_sums::Member;
use super::totals::{Sums, Totals};
use crate::role::PARTS;
use crate::session::{Part, Unaccounted};
use plumbline_measure::bands::{BANDS, BandEdges, THIRDS, third_span};
use plumbline_measure::cross::{StereoPower, power_db};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, lufs};
use plumbline_measure::reading::{Gate, Maybe};

/// How much of each third belongs to each named band. A third cut by an edge is divided by log frequency, as if its
/// energy were spread evenly on that axis (pink).
#[derive(Clone, Debug)]
pub(super) struct BandWeights([[f64; THIRDS]; BANDS]);

impl BandWeights {
    pub(super) fn new(edges: &BandEdges) -> Self {
        Self(std::array::from_fn(|band| {
            let band = edges.span(band);
            std::array::from_fn(|third| {
                let third = third_span(third);
                let low = third.low_hz.max(band.low_hz);
                let high = third.high_hz.min(band.high_hz);
                if high > low { (high / low).ln() / (third.high_hz / third.low_hz).ln() } else { 0.0 }
            })
        }))
    }

    fn of(&self, thirds: &[f64; THIRDS]) -> [f64; BANDS] {
        self.0.map(|weights| weights.iter().zip(thirds).map(|(weight, third)| weight * third).sum())
    }
}

/// Parts of all members and of all roles, over one stretch.
pub(super) struct Parts {
    pub(super) layers: Vec<Part>,
    pub(super) roles: [Part; PARTS],
}

/// The sum of all layers.
struct Whole<'a> {
    totals: &'a Totals,
    weights: &'a BandWeights,
    energy: f64,
    thirds: [f64; THIRDS],
    bands: [f64; BANDS],
    open_thirds: [bool; THIRDS],
    open_bands: [bool; BANDS],
}

impl Parts {
    /// Turns sums into shares.
    pub(super) fn of(totals: &Totals, members: &[Member], weights: &BandWeights) -> Self {
        let layers = || members.iter().zip(&totals.layers);
        let sum = |part: Option<usize>| {
            let chosen = layers().filter(|(m, _)| m.part.is_some() && part.is_none_or(|p| m.part == Some(p)));
            chosen.fold(Sums::default(), |mut sum, (_, one)| {
                sum.energy += one.energy;
                sum.thirds.iter_mut().zip(one.thirds).for_each(|(sum, third)| *sum += third);
                sum
            })
        };
        let whole = Whole::new(totals, weights, &sum(None));
        Self {
            layers: layers()
                .map(|(member, sums)| match member.part {
                    Some(_) => whole.part(sums),
                    None => Part { loudness_lufs: whole.loudness(sums.energy), ..Part::default() },
                })
                .collect(),
            roles: std::array::from_fn(|part| {
                whole.part(&Sums { leads: totals.role_leads[part], ..sum(Some(part)) })
            }),
        }
    }
}

impl<'a> Whole<'a> {
    fn new(totals: &'a Totals, weights: &'a BandWeights, all: &Sums) -> Self {
        let bands = weights.of(&all.thirds);
        let tenths = f64::from(totals.tenths.max(1));
        let mean = |energy: f64| StereoPower { ll: energy / tenths, ..StereoPower::default() };
        let loudest = |energies: &[f64]| energies.iter().copied().fold(0.0, f64::max) / tenths;
        let (third_gate, band_gate) = (Gate::bands(loudest(&all.thirds)), Gate::bands(loudest(&bands)));
        Self {
            totals,
            weights,
            energy: all.energy,
            thirds: all.thirds,
            bands,
            open_thirds: all.thirds.map(|third| third_gate.open(&mean(third))),
            open_bands: bands.map(|band| band_gate.open(&mean(band))),
        }
    }

    fn part(&self, sums: &Sums) -> Part {
        if !self.totals.sounds || self.energy <= 0.0 {
            return Part::default();
        }
        let share = |energy: f64, of: f64, open: bool| {
            Maybe::new((open && of > 0.0).then(|| (energy / of).clamp(0.0, 1.0)))
        };
        let bands = self.weights.of(&sums.thirds);
        let sounding = self.totals.sounding;
        Part {
            share: Some((sums.energy / self.energy).clamp(0.0, 1.0)),
            lead: (sounding > 0).then(|| f64::from(sums.leads) / f64::from(sounding)),
            loudness_lufs: self.loudness(sums.energy),
            thirds: std::array::from_fn(|t| share(sums.thirds[t], self.thirds[t], self.open_thirds[t])),
            bands: std::array::from_fn(|b| share(bands[b], self.bands[b], self.open_bands[b])),
        }
    }

    /// K-weighted level of an energy over the stretch, LUFS; `None` under −70 LUFS.
    fn loudness(&self, energy: f64) -> Option<f64> {
        (self.totals.weight > 0.0)
            .then(|| lufs(energy / self.totals.weight))
            .filter(|loudness| *loudness >= ABSOLUTE_GATE_LUFS)
    }
}

/// The mix against the sum of its layers, over the tenths of the stretch that both reported. For the programme, only
/// tenths in passing gating blocks of the layers' sum count.
pub(super) fn unaccounted(mix: &Sums) -> Unaccounted {
    let [energy, layers] = mix.shared;
    let db = match mix.shared_sounds {
        [true, true] => (layers > 0.0).then(|| power_db(energy / layers)),
        [false, true] => Some(f64::NEG_INFINITY),
        [true, false] => Some(f64::INFINITY),
        [false, false] => None,
    };
    Unaccounted { db }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::bands::THIRD_LABELS;

    #[test]
    fn every_third_is_shared_out_among_the_bands_by_log_frequency() {
        let BandWeights(weights) = BandWeights::new(&BandEdges::default());
        for third in 0..THIRDS {
            let inside: f64 = weights.iter().map(|band| band[third]).sum();
            // 20 Hz and 20 kHz cut the outermost thirds, whose exact centres are 19.953 Hz and 19 953 Hz.
            let expected = [(0, 0.489_7), (THIRDS - 1, 0.510_3)].into_iter().find(|(end, _)| *end == third);
            let expected = expected.map_or(1.0, |(_, share)| share);
            assert!((inside - expected).abs() < 1e-4, "{}: {inside}", THIRD_LABELS[third]);
        }
        // 60 Hz cuts the 63 Hz third (56.23 to 70.79 Hz): ln(60/56.23)/ln(70.79/56.23) = 0.2815 of it is Sub.
        assert!((weights[0][5] - 0.281_5).abs() < 1e-3, "{}", weights[0][5]);
        assert!((weights[1][5] - 0.718_5).abs() < 1e-3, "{}", weights[1][5]);
        assert_eq!((weights[2][14], weights[3][14]), (1.0, 0.0));
    }
}
