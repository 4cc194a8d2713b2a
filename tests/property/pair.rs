//! Laws of a pair of microphones: swapped, scaled, inverted, damaged.

use crate::strategies::{RATES, holds_for, hostile_signal};
use plumbline_measure::SampleRate;
use plumbline_programme::arrival::SPACED_SECS;
use plumbline_programme::pair::{
    Advice, CannotTell, Comb, Correlator, Judged, Polarity, Spectrum, Track, Window,
};
use plumbline_tests::signal::{Noise, delayed, mixed, single};
use proptest::prelude::*;
use std::cell::RefCell;

const RATE_HZ: u32 = 48_000;

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).expect("a rate that can be measured")
}

fn compared(with: &mut Correlator, first: &[f32], second: &[f32]) -> Window {
    let mut spectra = [Spectrum::default(), Spectrum::default()];
    with.spectrum(first, &mut spectra[0]);
    with.spectrum(second, &mut spectra[1]);
    with.compare(&spectra[0], &spectra[1])
}

/// Two microphones on one source, each with its own noise.
fn mics(seed: u64, frames: usize, by: f64, common: f64) -> [Vec<f64>; 2] {
    let mut noise = Noise::new(seed);
    let source = noise.pink(frames + 8_000, 0.1, f64::from(RATE_HZ));
    let late = delayed(&source, by);
    [source, late].map(|heard| {
        let own = noise.pink(frames, 0.1 * (1.0 - common), f64::from(RATE_HZ));
        mixed(&own, &heard[4_000..4_000 + frames], common)
    })
}

fn secs(window: &Window) -> Option<(f64, Polarity)> {
    window.outcome.ok().map(|found| (found.delay_secs, found.polarity))
}

#[test]
fn swap_turns_the_sign_and_gain_and_polarity_change_nothing_else() {
    let with = RefCell::new(Correlator::new(rate(RATE_HZ)));
    let found = RefCell::new(0);
    holds_for(
        24,
        401,
        (any::<u64>(), -2_800.0..2_800.0_f64, 0.3..1.0_f64, -60.0..40.0_f64),
        |(seed, by, common, db)| {
            let with = &mut *with.borrow_mut();
            let [first, second] = mics(seed, with.window_samples(), by, common);
            let [a, b] = [single(&first), single(&second)];
            let plain = compared(with, &a, &b);
            if let Some((delay, polarity)) = secs(&plain) {
                *found.borrow_mut() += 1;
                prop_assert!((delay * 48_000.0 - by).abs() < 0.5, "{delay} for {by}");
                prop_assert_eq!(polarity, Polarity::Same);
            }
            let swapped = compared(with, &b, &a);
            prop_assert_eq!(plain.outcome.is_ok(), swapped.outcome.is_ok());
            if let (Some((one, p)), Some((other, q))) = (secs(&plain), secs(&swapped)) {
                prop_assert!((one + other).abs() * 48_000.0 < 1e-3, "{one} {other}");
                prop_assert_eq!(p, q);
            }
            let gain = 10.0_f64.powf(db / 20.0);
            let scaled = compared(with, &a, &single(&second.iter().map(|x| x * gain).collect::<Vec<_>>()));
            if let (Some((one, p)), Some((other, q))) = (secs(&plain), secs(&scaled)) {
                prop_assert!((one - other).abs() * 48_000.0 < 1e-3, "{one} {other}");
                prop_assert_eq!(p, q);
            }
            prop_assert_eq!(plain.outcome.is_ok(), scaled.outcome.is_ok());
            let over: Vec<f32> = b.iter().map(|x| -x).collect();
            let over = compared(with, &a, &over);
            if let (Some((one, p)), Some((other, q))) = (secs(&plain), secs(&over)) {
                prop_assert_eq!(one.to_bits(), other.to_bits());
                prop_assert!(p != q);
            }
            prop_assert_eq!(plain.outcome.is_ok(), over.outcome.is_ok());
            for (third, other) in plain.thirds.iter().zip(&over.thirds) {
                prop_assert_eq!(third.coherence, other.coherence);
                if plain.outcome.is_ok() {
                    prop_assert_eq!(third.after, other.after);
                }
                prop_assert_eq!(-third.before, other.before);
            }
            Ok(())
        },
    );
    assert!(*found.borrow() >= 20, "only {} of 24 draws had a delay", found.borrow());
}

#[test]
fn hostile_samples_never_panic_nor_give_what_is_not_finite() {
    holds_for(
        60,
        402,
        (any::<u64>(), 0..RATES.len(), 0..5_usize, 0.0..=1.0_f64),
        |(seed, at, length, tapered)| {
            let samples = [0, 1, 63, 4_800, 20_000][length];
            let mut with = Correlator::over(rate(RATES[at]), samples, tapered);
            let [a, b] = hostile_signal(seed, 20_000);
            let mut track = Track::new();
            for (i, (a, b)) in
                [(&a[..], &b[..]), (&b, &a), (&a, &a), (&a, &[]), (&a[..7], &b[..7])].into_iter().enumerate()
            {
                let window = compared(&mut with, a, b);
                if let Ok(found) = window.outcome {
                    prop_assert!(found.delay_secs.abs() <= 0.061, "{found:?}");
                    prop_assert!((0.0..=1.0).contains(&found.confidence), "{found:?}");
                    prop_assert!(found.sigma_secs >= 0.0);
                }
                for third in &window.thirds {
                    prop_assert!(third.power.iter().all(|p| p.is_finite() && *p >= 0.0));
                    prop_assert!(third.before.is_finite() && third.after.is_finite());
                    prop_assert!(third.coherence.is_none_or(|c| (0.0..=1.0).contains(&c)));
                }
                prop_assert!(with.correlation().iter().all(|r| r.is_finite()));
                for secs in [i as f64, f64::NAN, f64::INFINITY, -1e300] {
                    track.push(secs, &window);
                }
                let reading = track.reading();
                prop_assert!(reading.coherence.is_none_or(f64::is_finite));
                let judged = Judged { spaced_secs: (i % 2 == 0).then_some(SPACED_SECS), secs: 10.0 };
                let advice = Advice::of(&reading, judged, rate(RATES[at]), Default::default(), f64::NAN);
                if let Advice::Repair(fix) = advice {
                    prop_assert!(fix.by.metres.is_finite() && fix.by.frames.is_finite());
                }
            }
            Ok(())
        },
    );
}

#[test]
fn spectra_of_another_shape_are_refused() {
    let mut with = Correlator::over(rate(RATE_HZ), 4_800, 0.25);
    let mut other = Correlator::over(rate(96_000), 9_600, 0.25);
    let samples = single(&Noise::new(5).white(9_600, 0.1));
    let (mut fits, mut strange) = (Spectrum::default(), Spectrum::default());
    with.spectrum(&samples, &mut fits);
    other.spectrum(&samples, &mut strange);
    let mut cases = 0;
    for (first, second) in [(&fits, &strange), (&strange, &fits), (&fits, &Spectrum::default())] {
        assert_eq!(with.compare(first, second).outcome, Err(CannotTell::TooShort));
        assert!(with.correlation().iter().all(|r| *r == 0.0));
        cases += 1;
    }
    assert!(with.compare(&fits, &fits).outcome.is_ok());
    assert_eq!(cases, 3);
}

#[test]
fn a_comb_of_any_numbers_is_finite_or_none() {
    let numbers = [0.0, 1e-9, 0.003, -0.06, 1e300, f64::NAN, f64::INFINITY];
    let mut cases = 0;
    for delay in numbers {
        for level in numbers {
            for polarity in [Polarity::Same, Polarity::Inverted] {
                let comb = Comb::new(delay, level, polarity);
                assert!(comb.notches_hz(20_000.0).take(5_000).all(|hz| (0.0..=20_000.0).contains(&hz)));
                assert!(comb.peaks_hz(f64::NAN).take(5).count() == 0);
                assert!(
                    !comb.gain_db(1_000.0).is_nan()
                        || delay.is_nan()
                        || level.is_nan()
                        || delay.is_infinite()
                );
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 98);
}
