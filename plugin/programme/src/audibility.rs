//! How loud a named band is heard: its level, K-weighted at its middle.

use plumbline_measure::bands::{BANDS, BandEdges};
use plumbline_measure::cross::power_db;
use plumbline_measure::loudness::k_weight;

/// Range under the loudest band, K-weighted, in which a band is still heard, dB (common practice, no source).
pub(crate) const HEARD_DB: f64 = 20.0;
/// The band that no phone reproduces: Sub (common practice, no source).
pub(crate) const SUB: usize = 0;

/// The bands that are heard: within [`HEARD_DB`] of the loudest, both K-weighted. `levels_db` may be on any one scale.
pub(crate) fn heard(levels_db: &[Option<f64>; BANDS], edges: &BandEdges) -> [bool; BANDS] {
    let weighted: [Option<f64>; BANDS] = std::array::from_fn(|band| {
        let span = edges.span(band);
        levels_db[band].map(|level| level + power_db(k_weight((span.low_hz * span.high_hz).sqrt())))
    });
    let loudest = weighted.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    weighted.map(|level| level.is_some_and(|level| level >= loudest - HEARD_DB))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn less_of_the_lows_is_heard_than_of_the_mids() {
        let edges = BandEdges::default();
        // Equally loud in Sub and Mid: K-weighting takes 6.9 dB at 35 Hz and adds 1.8 dB at 1.4 kHz.
        let sub = |db: f64| heard(&[Some(db), None, None, Some(0.0), None, None], &edges)[SUB];
        assert!(sub(0.0) && sub(-11.0) && !sub(-12.0));
        assert_eq!(heard(&[None; BANDS], &edges), [false; BANDS]);
        assert_eq!(heard(&[Some(f64::NAN); BANDS], &edges), [false; BANDS]);
    }
}
