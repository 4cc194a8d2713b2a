//! Loudness for setting the scene's levels, independent of the code under test.

use super::plan::{RATE, Stretch, frame};
use ebur128::{EbuR128, Mode};

/// K-weighting at 48 kHz, the digits as printed: ITU-R BS.1770-5 Annex 1, Tables 1 and 2, as b0 b1 b2 a1 a2.
const SHELF: [f64; 5] = [
    1.535_124_859_586_97,
    -2.691_696_189_406_38,
    1.198_392_810_852_85,
    -1.690_659_293_182_41,
    0.732_480_774_215_85,
];
const HIGH_PASS: [f64; 5] = [1.0, -2.0, 1.0, -1.990_047_454_833_98, 0.990_072_250_366_21];

/// The squares of one channel after both filters.
fn k_squares(signal: &[f64]) -> impl Iterator<Item = f64> + '_ {
    let mut stages = [([0.0; 4], SHELF), ([0.0; 4], HIGH_PASS)];
    signal.iter().map(move |sample| {
        let mut x = *sample;
        for (past, [b0, b1, b2, a1, a2]) in &mut stages {
            let y = *b0 * x + *b1 * past[0] + *b2 * past[1] - *a1 * past[2] - *a2 * past[3];
            *past = [x, past[0], y, past[2]];
            x = y;
        }
        x * x
    })
}

/// K-weighted energy of one channel: the sum of squares after both filters.
fn k_energy_of_channel(signal: &[f64]) -> f64 {
    k_squares(signal).sum()
}

/// K-weighted energy of each tenth of a whole mono or stereo sound on a stereo bus. The filters run continuously.
pub(crate) fn k_tenths(sides: &[Vec<f64>]) -> Vec<f64> {
    let length = frame(0.1);
    let mut tenths = vec![0.0; sides[0].len() / length];
    for side in sides {
        for (n, square) in k_squares(side).enumerate() {
            if let Some(tenth) = tenths.get_mut(n / length) {
                *tenth += square;
            }
        }
    }
    if sides.len() == 1 {
        tenths.iter_mut().for_each(|t| *t *= 2.0);
    }
    tenths
}

/// K-weighted energy of a mono or stereo sound on a stereo bus: mono goes to both channels.
pub(crate) fn k_energy(sides: &[Vec<f64>], stretch: Stretch) -> f64 {
    let sum: f64 = sides.iter().map(|side| k_energy_of_channel(&side[stretch.range()])).sum();
    if sides.len() == 1 { 2.0 * sum } else { sum }
}

/// Ungated loudness of a stretch in LUFS: −0.691 + 10·lg of the K-weighted power (BS.1770-5 eq. 2).
pub(crate) fn lufs(sides: &[Vec<f64>], stretch: Stretch) -> f64 {
    -0.691 + 10.0 * (k_energy(sides, stretch) / stretch.range().len() as f64).log10()
}

/// Gated integrated loudness of a stereo programme in LUFS, by the `ebur128` crate.
pub(crate) fn integrated(mix: &[Vec<f64>; 2]) -> Result<f64, ebur128::Error> {
    let mut meter = EbuR128::new(2, RATE, Mode::I)?;
    meter.add_frames_planar_f64(&[&mix[0], &mix[1]])?;
    meter.loudness_global()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_at_997_hz_reads_its_level() {
        // BS.1770-5 Annex 1: 0 dBFS, 997 Hz, one channel reads −3.01 LKFS (−3.0103).
        let tone: Vec<f64> =
            (0..480_000).map(|n| (std::f64::consts::TAU * 997.0 * f64::from(n) / 48_000.0).sin()).collect();
        let silent = vec![0.0; 480_000];
        let whole = Stretch { start: 0.0, end: 10.0 };
        assert!((lufs(&[tone.clone(), silent.clone()], whole) + 3.0103).abs() < 0.005);
        // Mono goes to both sides: 0.00 LUFS.
        assert!(lufs(std::slice::from_ref(&tone), whole).abs() < 0.005);
        let by_tenths: f64 = k_tenths(std::slice::from_ref(&tone)).iter().sum();
        let at_once = k_energy(std::slice::from_ref(&tone), whole);
        assert!((by_tenths / at_once - 1.0).abs() < 1e-12);
        let gated = integrated(&[tone, silent]).expect("ten seconds of tone");
        assert!((gated + 3.0103).abs() < 0.005, "{gated}");
    }
}
