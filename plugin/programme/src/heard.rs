//! How loud a named band is heard: its level, K-weighted at its middle.

use plumbline_measure::bands::{BANDS, BandEdges};

/// How far under the loudest band, K-weighted, a band is still heard, dB (common practice, no source).
pub(crate) const HEARD_DB: f64 = 20.0;
/// The band that no phone reproduces: Sub (common practice, no source).
pub(crate) const SUB: usize = 0;

/// Gain of the K-weighting at a frequency, dB: the analogue prototype that gives the coefficients of ITU-R BS.1770-5
/// Annex 1 at 48 kHz (general-library practice), a high-pass and a shelf.
fn k_gain_db(hz: f64) -> f64 {
    const HIGH_PASS: (f64, f64) = (38.135_470_876_024_44, 0.500_327_037_323_877_3);
    const SHELF: (f64, f64, f64) = (1_681.974_450_955_533, 0.707_175_236_955_419_6, 3.999_843_853_973_347);
    let (centre, q) = HIGH_PASS;
    let x = hz / centre;
    let high_pass = x.powi(4) / ((1.0 - x * x).powi(2) + (x / q).powi(2));
    let (centre, q, gain_db) = SHELF;
    let x = hz / centre;
    let high = 10.0_f64.powf(gain_db / 20.0);
    let middle = high.powf(0.499_666_774_154_541_6);
    let shelf =
        ((1.0 - high * x * x).powi(2) + (middle * x / q).powi(2)) / ((1.0 - x * x).powi(2) + (x / q).powi(2));
    10.0 * (high_pass * shelf).log10()
}

/// Which bands are heard: within [`HEARD_DB`] of the loudest, both K-weighted. `levels_db` are on any one scale.
pub(crate) fn heard(levels_db: &[Option<f64>; BANDS], edges: &BandEdges) -> [bool; BANDS] {
    let weighted: [Option<f64>; BANDS] = std::array::from_fn(|band| {
        let span = edges.span(band);
        levels_db[band].map(|level| level + k_gain_db((span.low_hz * span.high_hz).sqrt()))
    });
    let loudest = weighted.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    weighted.map(|level| level.is_some_and(|level| level >= loudest - HEARD_DB))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_weighting_has_the_published_gain_and_hears_less_of_the_lows() {
        // BS.1770-5 Annex 1: the constant of −0.691 cancels the gain at 997 Hz. The Recommendation's second stage is not
        // rescaled at 48 kHz, 4/(1 + 1.990 047 + 0.990 072) of the prototype: 0.043 dB over it.
        assert!((k_gain_db(997.0) + 0.043 - 0.691).abs() < 0.01, "{}", k_gain_db(997.0));
        assert!((k_gain_db(20_000.0) - 4.0).abs() < 0.05, "{}", k_gain_db(20_000.0));
        let edges = BandEdges::default();
        // As loud in Sub as in Mid: 6.9 dB of it are lost at 35 Hz, and 1.8 dB won at 1.4 kHz.
        let sub = |db: f64| heard(&[Some(db), None, None, Some(0.0), None, None], &edges)[SUB];
        assert!(sub(0.0) && sub(-11.0) && !sub(-12.0), "{}", k_gain_db(34.64));
        assert_eq!(heard(&[None; BANDS], &edges), [false; BANDS]);
        assert_eq!(heard(&[Some(f64::NAN); BANDS], &edges), [false; BANDS]);
    }
}
