//! The effects of gain, channel swap and polarity on the readings.

use crate::numbers::{Numbers, difference, of_glance, of_tenths};
use crate::strategies::{RATES, holds_for, measured, stereo_noise};
use plumbline_measure::Glance;
use plumbline_measure::Readings;

use proptest::prelude::*;
use proptest::test_runner::TestCaseError;

#[derive(Clone, Debug)]
struct Draw {
    rate: u32,
    seed: u64,
    common: f64,
    ms: usize,
}

impl Draw {
    fn signal(&self) -> [Vec<f32>; 2] {
        stereo_noise(self.seed, self.ms * self.rate as usize / 1_000, self.rate, self.common)
    }
}

fn draws() -> impl Strategy<Value = Draw> {
    (0..6_usize, any::<u64>(), 0.0..1.0_f64, 2_300_usize..3_600).prop_map(|(rate, seed, common, ms)| Draw {
        rate: RATES[rate],
        seed,
        common,
        ms,
    })
}

/// All readings of a glance, with their average and span.
fn readings(view: &Glance) -> Vec<(usize, Readings)> {
    view.averages
        .iter()
        .flat_map(|s| s.thirds.iter().chain(&s.bands).chain([&s.whole]))
        .copied()
        .enumerate()
        .collect()
}

fn near(name: &str, a: Option<f64>, b: Option<f64>, tolerance: f64) -> Result<(), TestCaseError> {
    let equal = match (a, b) {
        (Some(a), Some(b)) => a == b || (a - b).abs() <= tolerance,
        (None, None) => true,
        _ => false,
    };
    prop_assert!(equal, "{name}: {a:?} against {b:?}");
    Ok(())
}

fn scaled(signal: &[Vec<f32>; 2], gain: [f32; 2]) -> [Vec<f32>; 2] {
    [0, 1].map(|c| signal[c].iter().map(|x| x * gain[c]).collect())
}

/// Checks that a gain changes every level by the same amount, and no ratio; `tolerance` is for the rounding of samples.
fn gain_law(draw: &Draw, gain: f32, tolerance: f64) -> Result<(), TestCaseError> {
    let signal = draw.signal();
    let (_, before) = measured(draw.rate, &signal);
    let (_, after) = measured(draw.rate, &scaled(&signal, [gain; 2]));
    let db = 20.0 * f64::from(gain).log10();
    let moved = |name: &str, a: Option<f64>, b: Option<f64>| near(name, a.map(|a| a + db), b, tolerance);
    for ((span, a), (_, b)) in readings(&before).into_iter().zip(readings(&after)) {
        moved(&format!("level {span}"), a.level_dbfs, b.level_dbfs)?;
        moved(&format!("left {span}"), a.channel_dbfs[0], b.channel_dbfs[0])?;
        moved(&format!("right {span}"), a.channel_dbfs[1], b.channel_dbfs[1])?;
        near(&format!("side share {span}"), a.side_share, b.side_share, tolerance)?;
        near(&format!("correlation {span}"), a.correlation, b.correlation, tolerance)?;
        near(&format!("coherence {span}"), a.coherence, b.coherence, tolerance)?;
        near(&format!("out of step {span}"), a.out_of_step, b.out_of_step, tolerance)?;
        near(&format!("balance {span}"), a.balance_db, b.balance_db, tolerance)?;
        near(&format!("mono loss {span}"), a.mono_loss_db, b.mono_loss_db, tolerance)?;
    }
    let (a, b) = (&before.meters, &after.meters);
    near("correlation, 300 ms", a.correlation, b.correlation, tolerance)?;
    near("balance, 300 ms", a.balance_db, b.balance_db, tolerance)?;
    moved("fast level", a.level_fast_dbfs, b.level_fast_dbfs)?;
    moved("slow level", a.level_slow_dbfs, b.level_slow_dbfs)?;
    let (c, d) = (&before.loudness, &after.loudness);
    moved("momentary", c.momentary_lufs, d.momentary_lufs)?;
    moved("short-term", c.short_term_lufs, d.short_term_lufs)?;
    // Stored in single precision: 4e-6 LU at −60.
    near(
        "highest momentary",
        c.max_momentary_lufs.map(|m| m + db),
        d.max_momentary_lufs,
        tolerance.max(8e-6),
    )?;
    for side in 0..2 {
        moved("peak", a.peak_dbfs[side], b.peak_dbfs[side])?;
        moved("highest peak", a.max_peak_dbfs[side], b.max_peak_dbfs[side])?;
        let [c, d] = [c, d].map(|l| l.true_peak_dbtp[side]);
        near("true peak", c.map(|p| p + db), d, tolerance.max(1e-5))?;
    }
    Ok(())
}

#[test]
fn gain_moves_levels_and_leaves_ratios() {
    // Powers of two are exact; other gains round each sample to 24 bits, and coherence is stored in single precision.
    holds_for(24, 0x6A14, (draws(), -7..4_i32), |(draw, doublings)| {
        gain_law(&draw, 2.0_f32.powi(doublings), 1e-9)
    });
    holds_for(24, 0x6A15, (draws(), -40.0..12.0_f32), |(draw, db)| {
        gain_law(&draw, 10.0_f32.powf(db / 20.0), 2e-5)
    });
}

#[test]
fn swapped_channels_mirror_the_balance_and_nothing_else() {
    holds_for(32, 0x54A9, (draws(), 0.1..1.0_f32), |(draw, gain)| {
        let signal = scaled(&draw.signal(), [1.0, gain]);
        let [left, right] = signal.clone();
        let (_, before) = measured(draw.rate, &signal);
        let (_, after) = measured(draw.rate, &[right, left]);
        for ((span, a), (_, b)) in readings(&before).into_iter().zip(readings(&after)) {
            near(&format!("balance {span}"), a.balance_db.map(|x| -x), b.balance_db, 1e-9)?;
            prop_assert_eq!([a.channel_dbfs[1], a.channel_dbfs[0]], b.channel_dbfs);
            let mirrored = Readings { balance_db: b.balance_db, channel_dbfs: b.channel_dbfs, ..a };
            prop_assert_eq!(mirrored, b, "span {}", span);
        }
        near("balance, 300 ms", before.meters.balance_db.map(|x| -x), after.meters.balance_db, 1e-9)?;
        prop_assert_eq!(before.meters.correlation, after.meters.correlation);
        prop_assert_eq!(before.meters.max_peak_dbfs[0], after.meters.max_peak_dbfs[1]);
        prop_assert_eq!(before.loudness.true_peak_dbtp[1], after.loudness.true_peak_dbtp[0]);
        near("short-term", before.loudness.short_term_lufs, after.loudness.short_term_lufs, 1e-9)?;
        prop_assert_eq!(&before.averages[1].lines_dbfs, &after.averages[1].lines_dbfs);
        Ok(())
    });
}

#[test]
fn one_flipped_channel_swaps_mid_and_side() {
    holds_for(32, 0xF11B, draws(), |draw| {
        let signal = draw.signal();
        let (_, before) = measured(draw.rate, &signal);
        let (_, after) = measured(draw.rate, &scaled(&signal, [1.0, -1.0]));
        for ((span, a), (_, b)) in readings(&before).into_iter().zip(readings(&after)) {
            prop_assert_eq!(a.correlation.map(|x| -x), b.correlation);
            near(&format!("side share {span}"), a.side_share.map(|x| 1.0 - x), b.side_share, 1e-12)?;
            // Mono keeps mid: 10·lg of twice mid over the whole. So after inversion the loss follows from the side
            // share.
            let loss = a.side_share.map(|x| 10.0 * x.log10());
            near(&format!("mono loss {span}"), loss, b.mono_loss_db, 1e-6)?;
            prop_assert_eq!(a.coherence, b.coherence);
            prop_assert_eq!(a.level_dbfs, b.level_dbfs);
            prop_assert_eq!(a.balance_db, b.balance_db);
        }
        prop_assert_eq!(before.meters.correlation.map(|x| -x), after.meters.correlation);
        prop_assert_eq!(before.loudness, after.loudness);
        Ok(())
    });
}

/// The numbers without those that depend on the sign of a sample: scope and DC offset.
fn unsigned(numbers: Numbers) -> Numbers {
    numbers.into_iter().filter(|(name, _)| !name.starts_with("scope") && !name.contains("dc[")).collect()
}

#[test]
fn both_flipped_channels_change_nothing() {
    holds_for(24, 0xB07F, draws(), |draw| {
        let signal = draw.signal();
        let before = measured(draw.rate, &signal);
        let after = measured(draw.rate, &scaled(&signal, [-1.0, -1.0]));
        let tenths = [&before.0, &after.0].map(|t| unsigned(of_tenths(t)));
        prop_assert_eq!(difference(&tenths[0], &tenths[1]), None);
        let views = [&before.1, &after.1].map(|v| unsigned(of_glance(v)));
        prop_assert_eq!(difference(&views[0], &views[1]), None);
        Ok(())
    });
}

#[test]
fn one_channel_reads_as_two_equal_ones() {
    // A mono layer counts once in loudness (BS.1770-5: one channel), so it reads 3.01 LU below two equal channels.
    holds_for(16, 0x303, draws(), |draw| {
        let [left, _] = draw.signal();
        let (_, mono) = measured(draw.rate, std::slice::from_ref(&left));
        let (_, both) = measured(draw.rate, &[left.clone(), left]);
        for ((span, a), (_, b)) in readings(&mono).into_iter().zip(readings(&both)) {
            prop_assert_eq!(a, b, "span {}", span);
            near(&format!("correlation {span}"), a.correlation.or(Some(1.0)), Some(1.0), 1e-12)?;
        }
        prop_assert_eq!(mono.averages, both.averages);
        let lower = mono.loudness.short_term_lufs.map(|l| l + 10.0 * 2.0_f64.log10());
        near("short-term", lower, both.loudness.short_term_lufs, 1e-9)?;
        Ok(())
    });
}
