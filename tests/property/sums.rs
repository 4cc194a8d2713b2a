//! All slower averages are sums of tenths: the sum over all tenths is the since-reset average.

use crate::strategies::{RATES, holds_for, measured, stereo_noise};
use plumbline_measure::bands::{BANDS, LONG, THIRDS, third_span, window_for};
use plumbline_measure::{Averaging, BandEdges, StereoPower, Tenth};
use proptest::prelude::*;

/// Mean matrix of a span over tenths: its sums divided by the frames of its window.
fn mean(tenths: &[Tenth], window: usize, span: impl Fn(&Tenth) -> StereoPower) -> StereoPower {
    let frames: f64 = tenths.iter().map(|t| f64::from(t.frames_of[window])).sum();
    tenths.iter().map(span).sum::<StereoPower>() * (1.0 / frames)
}

fn relative(name: &str, a: f64, b: f64) -> Result<(), TestCaseError> {
    prop_assert!((a / b - 1.0).abs() < 1e-6, "{name}: {a} against {b}");
    Ok(())
}

#[test]
fn tenths_sum_to_the_since_reset_average() {
    let draws = (0..RATES.len(), any::<u64>(), 0.0..1.0_f64, 500_usize..2_600);
    holds_for(40, 0x50A5, draws, |(rate, seed, common, ms)| {
        let rate = RATES[rate];
        let signal = stereo_noise(seed, ms * rate as usize / 1_000, rate, common);
        let (tenths, view) = measured(rate, &signal);
        let spectral = view.spectral(Averaging::SinceReset);
        let edges = BandEdges::default();
        let spans = (0..THIRDS)
            .map(|i| {
                let sum = mean(&tenths, window_for(third_span(i).low_hz), |t| t.thirds[i].into());
                (format!("third {i}"), sum, spectral.thirds[i])
            })
            .chain((0..BANDS).map(|i| {
                let sum = mean(&tenths, window_for(edges.span(i).low_hz), |t| t.bands[i].into());
                (format!("band {i}"), sum, spectral.bands[i])
            }))
            .chain([("whole".to_owned(), mean(&tenths, LONG, |t| t.whole.into()), spectral.whole)]);
        let mut compared = 0;
        for (name, sum, readings) in spans {
            let Some(level) = readings.level_dbfs else { continue };
            compared += 1;
            relative(&format!("{name}, power"), sum.total(), 10.0_f64.powf(level / 10.0))?;
            if let (Some(share), Some(expected)) = (sum.side_share(), readings.side_share) {
                prop_assert!((share - expected).abs() < 1e-6, "{name}: {share} against {expected}");
            }
            if let (Some(correlation), Some(expected)) = (sum.correlation(), readings.correlation) {
                prop_assert!(
                    (correlation - expected).abs() < 1e-6,
                    "{name}: {correlation} against {expected}"
                );
            }
        }
        prop_assert!(compared > 30, "{} spans compared", compared);
        Ok(())
    });
}

#[test]
fn a_tenth_holds_its_own_sums() {
    holds_for(40, 0x7E47, (0..RATES.len(), any::<u64>(), 150_usize..900), |(rate, seed, ms)| {
        let rate = RATES[rate];
        let [left, right] = stereo_noise(seed, ms * rate as usize / 1_000, rate, 0.4);
        let (tenths, _) = measured(rate, &[left.clone(), right.clone()]);
        let mut start = 0;
        for (index, tenth) in (0..).zip(&tenths) {
            prop_assert_eq!(tenth.index, index);
            let end = start + tenth.sums.frames as usize;
            let sum = |a: &[f32], b: &[f32]| -> f64 {
                a[start..end].iter().zip(&b[start..end]).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
            };
            relative("left", tenth.sums.ll, sum(&left, &left))?;
            relative("right", tenth.sums.rr, sum(&right, &right))?;
            prop_assert!((tenth.sums.lr - sum(&left, &right)).abs() < 1e-6 * tenth.sums.ll);
            let peak = left[start..end].iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
            prop_assert_eq!(tenth.sample_peak[0], peak);
            prop_assert!(tenth.true_peak[0] >= 0.97 * peak);
            start = end;
        }
        prop_assert_eq!(start, left.len());
        let whole = tenths.iter().filter(|t| t.is_whole()).count();
        prop_assert_eq!(whole, ms / 100);
        Ok(())
    });
}
