//! The stems' shares of the energy, and the mix against the sum of its stems: computed from the stems by the scene's
//! own K-weighting.

use super::loudness::k_tenths;
use super::mixdown::{FULL_SCALE, Pcm, Role, Track};
use super::plan::{RATE_HZ, Stretch};

/// BS.1770-5 Annex 1: a gating block is 400 ms, here in tenths, and blocks begin every 100 ms.
const BLOCK_TENTHS: usize = 4;
/// BS.1770-5 Annex 1: absolute gate in LUFS.
const ABSOLUTE_GATE: f64 = -70.0;
/// BS.1770-5 Annex 1: relative gate in LU, below the loudness of the blocks that pass the absolute gate.
const RELATIVE_GATE: f64 = -10.0;

/// K-weighted energies of the whole scene, by tenth.
pub(crate) struct Energies {
    stems: Vec<Vec<f64>>,
    mix: Vec<f64>,
}

impl Energies {
    pub(crate) fn of(tracks: &[Track], mix: &Pcm) -> Self {
        let mix: Vec<Vec<f64>> =
            mix.iter().map(|side| side.iter().map(|s| f64::from(*s) / FULL_SCALE).collect()).collect();
        Self { stems: tracks.iter().map(|t| k_tenths(&t.sides)).collect(), mix: k_tenths(&mix) }
    }

    /// Tenths of the scene.
    pub(crate) fn tenths(&self) -> usize {
        self.mix.len()
    }

    /// Energy of a role's stems in a tenth.
    pub(crate) fn of_role(&self, tracks: &[Track], role: Role, tenth: usize) -> f64 {
        tracks.iter().zip(&self.stems).filter(|(t, _)| t.role == role).map(|(_, stem)| stem[tenth]).sum()
    }

    /// For each tenth, the number of its gating blocks that pass both gates; the gates use the loudness of the stems'
    /// sum.
    fn passing(&self) -> Vec<f64> {
        let tenths = self.mix.len();
        let sum: Vec<f64> = (0..tenths).map(|t| self.stems.iter().map(|stem| stem[t]).sum()).collect();
        let blocks: Vec<f64> = sum.windows(BLOCK_TENTHS).map(|b| b.iter().sum()).collect();
        let frames = BLOCK_TENTHS as f64 * RATE_HZ / 10.0;
        let energy_at = |lufs: f64| 10.0_f64.powf((lufs + 0.691) / 10.0) * frames;
        let loud: Vec<f64> = blocks.iter().copied().filter(|e| *e > energy_at(ABSOLUTE_GATE)).collect();
        let gate = loud.iter().sum::<f64>() / loud.len() as f64 * 10.0_f64.powf(RELATIVE_GATE / 10.0);
        let mut times = vec![0.0; tenths];
        for (first, _) in blocks.iter().enumerate().filter(|(_, e)| **e > gate) {
            times[first..first + BLOCK_TENTHS].iter_mut().for_each(|t| *t += 1.0);
        }
        times
    }

    /// Shares of the stems in % over the programme, gated as integrated loudness is.
    pub(crate) fn gated_shares(&self) -> Vec<f64> {
        let times = self.passing();
        let energies: Vec<f64> = self.stems.iter().map(|stem| weighed(stem, &times)).collect();
        let all: f64 = energies.iter().sum();
        energies.into_iter().map(|e| 100.0 * e / all).collect()
    }

    /// Energy of the mix against the sum of its stems over the programme in dB, gated in the same way.
    pub(crate) fn gated_unaccounted_db(&self) -> f64 {
        let times = self.passing();
        let stems: f64 = self.stems.iter().map(|stem| weighed(stem, &times)).sum();
        10.0 * (weighed(&self.mix, &times) / stems).log10()
    }
}

fn weighed(energies: &[f64], times: &[f64]) -> f64 {
    energies.iter().zip(times).map(|(energy, times)| energy * times).sum()
}

/// Sum of the shares of a role's stems.
pub(crate) fn of_role(tracks: &[Track], shares: &[f64], role: Role) -> f64 {
    tracks.iter().zip(shares).filter(|(t, _)| t.role == role).map(|(_, share)| share).sum()
}

/// Mono loss in dB of the sum of all stems but one, over a stretch; `None` if nothing is left.
pub(crate) fn loss_without(tracks: &[Track], left_out: usize, stretch: Stretch) -> Option<f64> {
    let sum = |channel: usize| {
        let mut sum = vec![0.0; stretch.range().len()];
        for (_, track) in tracks.iter().enumerate().filter(|(i, _)| *i != left_out) {
            sum.iter_mut().zip(&track.side(channel)[stretch.range()]).for_each(|(sum, s)| *sum += s);
        }
        sum
    };
    let (left, right) = (sum(0), sum(1));
    let (mut mid, mut all) = (0.0, 0.0);
    for (l, r) in left.iter().zip(&right) {
        mid += (l + r) * (l + r);
        all += 2.0 * (l * l + r * r);
    }
    (all > 0.0).then(|| 10.0 * (mid / all).log10())
}
