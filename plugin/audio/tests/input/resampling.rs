//! The effect of resampling on level, frequency and time.
//!
//! No requirement is published for these; the bounds are those that the documentation promises.

use crate::build::{FLOAT, Folder, bext, patterns, wav};
use crate::line::{all, some, whole};
use plumbline_audio::{Options, Stems, StemsError};
use std::f64::consts::TAU;

/// Pairs of rates: the usual ones, pull-down by 0.1 %, and one with few common divisors.
const PAIRS: [(u32, u32); 9] = [
    (44_100, 48_000),
    (48_000, 44_100),
    (96_000, 48_000),
    (48_000, 96_000),
    (88_200, 48_000),
    (192_000, 48_000),
    (47_952, 48_000),
    (22_050, 384_000),
    (44_056, 48_000),
];

/// One mono file at another rate.
fn resampled(from: u32, to: u32, side: Vec<f32>) -> Vec<f32> {
    let folder = Folder::new();
    let path = folder.file("one.wav", &wav(FLOAT, from, &[side], &[], &[]));
    let mut stems = Stems::open(&[all(&path)], &Options { resample_hz: Some(to) }).expect("opened");
    let told = stems.frames();
    let side = whole(&mut stems, 1_000).expect("read").remove(0).remove(0);
    assert_eq!(told, Some(side.len() as u64), "{from} to {to}");
    side
}

fn sine(hz: f64, rate: u32, frames: usize) -> Vec<f32> {
    (0..frames).map(|n| (0.5 * (TAU * hz * n as f64 / f64::from(rate)).sin()) as f32).collect()
}

/// Level of a line in dB against amplitude 0.5, and of everything else, both from the middle of the sound: least
/// squares of sine and cosine.
fn line_and_rest(side: &[f32], hz: f64, rate: u32) -> (f64, f64) {
    let middle = &side[side.len() / 4..side.len() * 3 / 4];
    let (mut ss, mut sc, mut cc, mut xs, mut xc) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (n, x) in middle.iter().enumerate() {
        let (s, c) = (TAU * hz * n as f64 / f64::from(rate)).sin_cos();
        let x = f64::from(*x);
        (ss, sc, cc, xs, xc) = (ss + s * s, sc + s * c, cc + c * c, xs + x * s, xc + x * c);
    }
    let det = ss * cc - sc * sc;
    let (a, b) = ((xs * cc - xc * sc) / det, (xc * ss - xs * sc) / det);
    let rest = middle.iter().enumerate().map(|(n, x)| {
        let (s, c) = (TAU * hz * n as f64 / f64::from(rate)).sin_cos();
        (f64::from(*x) - a * s - b * c).powi(2)
    });
    let rest = (rest.sum::<f64>() / middle.len() as f64 * 2.0).sqrt();
    (20.0 * (a.hypot(b) / 0.5).log10(), 20.0 * (rest / 0.5).max(1e-12).log10())
}

#[test]
fn tones_keep_their_level_up_to_39_of_40_of_the_band() {
    let mut cases = 0;
    for (from, to) in PAIRS {
        let half = f64::from(from.min(to)) / 2.0;
        for part in [0.001, 0.05, 0.3, 0.6, 0.9, 0.975] {
            let hz = half * part;
            let side = resampled(from, to, sine(hz, from, from as usize / 2));
            let (level, rest) = line_and_rest(&side, hz, to);
            assert!(level.abs() < 0.0002, "{from} to {to}, {hz} Hz: {level} dB");
            // Everything except the tone: images, and the rounding of 32-bit floats.
            assert!(rest < -145.0, "{from} to {to}, {hz} Hz: {rest} dB");
            cases += 1;
        }
    }
    assert_eq!(cases, 54);
}

#[test]
fn what_the_lower_rate_cannot_hold_is_gone() {
    let mut cases = 0;
    for (from, to) in PAIRS.into_iter().filter(|(from, to)| from > to && *from != 48_000) {
        for part in [1.0, 1.02, 1.3, 1.8] {
            let hz = f64::from(to) / 2.0 * part;
            if hz >= f64::from(from) / 2.0 {
                continue;
            }
            let side = resampled(from, to, sine(hz, from, from as usize / 2));
            let middle = &side[side.len() / 4..side.len() * 3 / 4];
            let rms =
                (middle.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / middle.len() as f64).sqrt();
            let level = 20.0 * (rms * 2.0_f64.sqrt() / 0.5).max(1e-12).log10();
            assert!(level < -145.0, "{from} to {to}, {hz} Hz: {level} dB");
            cases += 1;
        }
    }
    assert!(cases >= 10, "{cases}");
}

#[test]
fn a_click_comes_at_its_time() {
    let mut cases = 0;
    for (from, to) in PAIRS {
        for at in [0, 1, 5_000, 19_990] {
            let mut side = vec![0.0; 20_000];
            side[at] = 0.9;
            let side = resampled(from, to, side);
            assert_eq!(side.len() as u64, (20_000 * u64::from(to)).div_ceil(u64::from(from)));
            let peak =
                (0..side.len()).max_by(|a, b| side[*a].abs().total_cmp(&side[*b].abs())).expect("samples");
            let exact = at as f64 * f64::from(to) / f64::from(from);
            assert!((peak as f64 - exact).abs() <= 0.5, "{from} to {to}: {peak} for {exact}");
            cases += 1;
        }
    }
    assert_eq!(cases, 36);
}

#[test]
fn a_slow_swell_is_neither_early_nor_late() {
    // Time is also right between samples: the centre of gravity of a pulse far longer than a sample.
    let mut cases = 0;
    for (from, to) in PAIRS {
        let centre = 10_000.3;
        let width = 60.0 * f64::from(from) / f64::from(from.min(to));
        let side = (0..20_000).map(|n| (-((f64::from(n) - centre) / width).powi(2)).exp() as f32).collect();
        let side = resampled(from, to, side);
        let sum: f64 = side.iter().map(|x| f64::from(*x)).sum();
        let got = side.iter().enumerate().map(|(n, x)| n as f64 * f64::from(*x)).sum::<f64>() / sum;
        let exact = centre * f64::from(to) / f64::from(from);
        assert!((got - exact).abs() < 0.001, "{from} to {to}: {got} for {exact}");
        cases += 1;
    }
    assert_eq!(cases, 9);
}

#[test]
fn files_of_several_rates_meet_on_one_line() {
    // 10:00:00 at 44.1 kHz and half a second later at 96 kHz; the line runs at 48 kHz.
    let folder = Folder::new();
    let mut click = vec![0.0; 44_100];
    click[22_050] = 0.9;
    let early =
        folder.file("early.wav", &wav(FLOAT, 44_100, &[click.clone(), click], &[bext(36_000 * 44_100)], &[]));
    let mut click = vec![vec![0.0; 48_000]; 5];
    click[3][960] = 0.9;
    let late = folder.file("late.wav", &wav(FLOAT, 96_000, &click, &[bext(36_000 * 96_000 + 48_000)], &[]));
    let same =
        folder.file("same.wav", &wav(FLOAT, 48_000, &patterns(1, 700), &[bext(36_000 * 48_000 + 7)], &[]));
    let files = [all(&early), some(&late, &[3, 0]), all(&same)];
    let options = Options { resample_hz: Some(48_000) };
    let mut line = None;
    for block in [64, 1_000, 4_096, 60_000] {
        let mut stems = Stems::open(&files, &options).expect("opened");
        assert_eq!((stems.rate_hz(), stems.origin()), (48_000, Some(36_000 * 48_000)));
        assert_eq!(stems.stems().iter().map(|info| info.start).collect::<Vec<_>>(), [0, 24_000, 7]);
        assert_eq!(
            stems.stems().iter().map(|info| info.frames).collect::<Vec<_>>(),
            [Some(48_000), Some(24_000), Some(700)]
        );
        assert_eq!(stems.frames(), Some(48_000));
        let got = whole(&mut stems, block).expect("read");
        assert!(line.get_or_insert_with(|| got.clone()) == &got, "block {block}");
    }
    let line = line.expect("read");
    let peak = |side: &[f32]| (0..side.len()).max_by(|a, b| side[*a].abs().total_cmp(&side[*b].abs()));
    assert_eq!(
        (peak(&line[0][0]), peak(&line[0][1]), peak(&line[1][0])),
        (Some(24_000), Some(24_000), Some(24_480))
    );
    assert!(line[1][1].iter().all(|sample| *sample == 0.0));
    // A file that already has the line's rate is not touched.
    assert_eq!(line[2][0][7..707], patterns(1, 700)[0]);
}

#[test]
fn a_sample_that_is_no_number_stays_alone() {
    for (from, to) in [(44_100, 48_000), (96_000, 48_000)] {
        let mut side = sine(500.0, from, 30_000);
        (side[10_000], side[10_002], side[20_000]) = (f32::NAN, f32::NEG_INFINITY, f32::INFINITY);
        let side = resampled(from, to, side);
        let strange: Vec<_> = (0..side.len()).filter(|n| !side[*n].is_finite()).collect();
        let place = |n: u64| usize::try_from(n * u64::from(to) / u64::from(from)).expect("in range");
        assert_eq!(strange, [place(10_000), place(10_002), place(20_000)], "{from} to {to}");
        assert!(
            side[strange[0]].is_nan()
                && side[strange[1]] == f32::NEG_INFINITY
                && side[strange[2]] == f32::INFINITY
        );
    }
    let side = resampled(44_100, 48_000, vec![f32::NAN; 5_000]);
    assert!(side.iter().filter(|sample| sample.is_nan()).count() >= 5_000);
}

#[test]
fn a_cut_file_is_told_after_what_is_there() {
    let folder = Folder::new();
    let bytes = wav(FLOAT, 44_100, &[sine(500.0, 44_100, 20_000)], &[], &[]);
    let path = folder.file("cut.wav", &bytes[..bytes.len() - 40_000]);
    let mut stems = Stems::open(&[all(&path)], &Options { resample_hz: Some(48_000) }).expect("opened");
    let (mut block, mut heard) = (vec![vec![vec![0.0; 512]]], 0);
    let error = loop {
        match stems.read(&mut block) {
            Ok(0) => panic!("an end without a word"),
            Ok(count) => heard += count,
            Err(error) => break error,
        }
    };
    assert!(matches!(error, StemsError::Read(_)), "{error}");
    assert_eq!(heard as u64, (10_000_u64 * 48_000).div_ceil(44_100));
}

#[test]
fn rates_without_a_common_step_are_refused() {
    let folder = Folder::new();
    let path = folder.file("odd.wav", &wav(FLOAT, 383_999, &patterns(1, 900), &[], &[]));
    let Err(error) = Stems::open(&[all(&path)], &Options { resample_hz: Some(384_000) }) else {
        panic!("opened")
    };
    assert!(matches!(error, StemsError::Resampling { from_hz: 383_999, to_hz: 384_000, .. }), "{error}");
    assert!(error.to_string().contains("odd.wav"));
}
