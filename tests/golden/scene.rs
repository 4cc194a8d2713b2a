//! The bell-tower scene against its own truth, by plain arithmetic and the `ebur128` crate: the demo's reference must
//! be right.

use crate::stems::{Sides, read};
use ebur128::{EbuR128, Mode};
use plumbline_scene::{self as scene, MIX_FILE, Quantity, TRUTH_FILE, Truth, Value};
use std::path::Path;

fn number(truth: &Truth, quantity: Quantity) -> f64 {
    let planted = truth.planted.iter().find(|p| p.quantity == quantity).expect("planted");
    match planted.value {
        Value::Number(number) => number,
        Value::Word(_) => panic!("{} is a number", planted.name),
    }
}

#[test]
fn the_scene_is_what_its_truth_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut steps = 0;
    let truth = scene::write(folder.path(), &mut |_| steps += 1).expect("written");
    assert!(steps > 4, "long work tells its steps");
    let text = std::fs::read_to_string(folder.path().join(TRUTH_FILE)).expect("truth.json");
    let written: Truth = serde_json::from_str(&text).expect("reads back");
    assert_eq!(written.planted.len(), truth.planted.len());
    assert!(truth.seconds >= 60.0 && truth.planted.len() >= 20);

    let mix = read(folder.path(), MIX_FILE);
    assert_eq!(mix[0].len() as u64, truth.frames);
    the_mix_is_the_sum_of_its_stems(folder.path(), &truth, &mix);
    levels_and_peaks_are_as_planted(&truth, &mix);
    stretches_are_as_planted(&truth, &mix);
    shares_are_as_planted(folder.path(), &truth, &mix);

    // A second run writes the same bytes.
    let again = tempfile::tempdir().expect("a folder");
    scene::write(again.path(), &mut |_| ()).expect("written");
    for file in truth.stems.iter().map(|s| s.file.as_str()).chain([MIX_FILE]) {
        let bytes = |folder: &Path| std::fs::read(folder.join("stems").join(file)).expect("there");
        assert!(bytes(folder.path()) == bytes(again.path()), "{file} differs between two runs");
    }
}

fn the_mix_is_the_sum_of_its_stems(folder: &Path, truth: &Truth, mix: &Sides) {
    let mut sum = vec![vec![0.0_f64; mix[0].len()]; 2];
    for stem in &truth.stems {
        let sides = read(folder, &stem.file);
        assert_eq!(sides.len(), usize::from(stem.channels), "{}", stem.file);
        let pan_db = if stem.channels == 1 { truth.mono_pan_db } else { 0.0 };
        let gain = 10.0_f64.powf((stem.gain_db + pan_db) / 20.0);
        for (channel, sum) in sum.iter_mut().enumerate() {
            let side = &sides[channel.min(sides.len() - 1)];
            sum.iter_mut().zip(side).for_each(|(sum, s)| *sum += gain * f64::from(*s));
        }
    }
    let step = 1.0 / 8_388_608.0;
    for (channel, sum) in sum.iter().enumerate() {
        for (n, (sum, mixed)) in sum.iter().zip(&mix[channel]).enumerate() {
            let held = sum.clamp(-1.0, 1.0 - step);
            assert!((held - f64::from(*mixed)).abs() <= 0.51 * step, "channel {channel}, frame {n}");
        }
    }
    let shares: f64 = truth.stems.iter().map(|s| s.share_percent).sum();
    assert!((shares - 100.0).abs() < 1e-6);
}

/// Energies of all 400 ms blocks that begin at a tenth, by the momentary loudness of the `ebur128` crate.
fn blocks(sides: &Sides, gain_db: f64) -> Vec<f64> {
    let channels = u32::try_from(sides.len()).expect("few");
    let mut meter = EbuR128::new(channels, 48_000, Mode::M).expect("a meter");
    let mut energies = Vec::new();
    for tenth in 0..sides[0].len() / 4_800 {
        let part: Vec<&[f32]> = sides.iter().map(|s| &s[4_800 * tenth..4_800 * (tenth + 1)]).collect();
        meter.add_frames_planar_f32(&part).expect("added");
        if tenth >= 3 {
            let lufs = meter.loudness_momentary().expect("measured") + gain_db;
            energies.push(10.0_f64.powf((lufs + 0.691) / 10.0));
        }
    }
    energies
}

/// Shares over the gated programme, computed independently of the scene: each stem's file at its fader's gain, a mono
/// one counted once, as in BS.1770.
fn shares_are_as_planted(folder: &Path, truth: &Truth, mix: &Sides) {
    let stems: Vec<Vec<f64>> =
        truth.stems.iter().map(|stem| blocks(&read(folder, &stem.file), stem.gain_db)).collect();
    let sum: Vec<f64> = (0..stems[0].len()).map(|b| stems.iter().map(|s| s[b]).sum()).collect();
    // BS.1770-5 Annex 1: −70 LUFS, then 10 LU below the mean of the remaining blocks.
    let floor = 10.0_f64.powf((-70.0 + 0.691) / 10.0);
    let loud: Vec<f64> = sum.iter().copied().filter(|e| *e > floor).collect();
    let gate = loud.iter().sum::<f64>() / loud.len() as f64 / 10.0;
    let gated =
        |energies: &[f64]| energies.iter().zip(&sum).filter(|(_, s)| **s > gate).map(|(e, _)| e).sum::<f64>();
    let all = gated(&sum);
    let share = |with: &dyn Fn(usize) -> bool| {
        let energies = stems.iter().enumerate().filter(|(i, _)| with(*i)).map(|(_, s)| gated(s));
        100.0 * energies.sum::<f64>() / all
    };
    let of_role = |role: &str| share(&|i| truth.stems[i].role == role);
    let mut cases = 0;
    for planted in &truth.planted {
        let found = match planted.quantity {
            Quantity::NaturalShare => of_role("Natural"),
            Quantity::FoleyShare => of_role("Foley"),
            Quantity::DesignShare => of_role("Design"),
            Quantity::StemShare => share(&|i| Some(&truth.stems[i].name) == planted.stem.as_ref()),
            Quantity::Unaccounted => 10.0 * (gated(&blocks(mix, 0.0)) / all).log10(),
            _ => continue,
        };
        let Value::Number(value) = planted.value else { panic!("{} is a number", planted.name) };
        // The tolerance covers two filters with the same coefficients, and samples of 24 bits.
        assert!((found - value).abs() < 0.01, "{}: {found} for {value}", planted.name);
        cases += 1;
    }
    assert_eq!(cases, truth.stems.len() + 4);
    let natural = number(truth, Quantity::NaturalShare);
    assert!((65.0..75.0).contains(&natural), "natural share {natural}");
    let cause = truth.planted.iter().find(|p| p.quantity == Quantity::LossLayer).expect("planted");
    assert_eq!(cause.value, Value::Word("designed swells".to_owned()), "the inverted sound is a swell");
}

fn levels_and_peaks_are_as_planted(truth: &Truth, mix: &Sides) {
    let mut meter = EbuR128::new(2, truth.rate_hz, Mode::I | Mode::TRUE_PEAK).expect("a meter");
    let mut elsewhere = 0.0_f64;
    let near = |tenth: usize, secs: f64| (tenth as f64 / 10.0 - secs).abs() < 0.15;
    let (clip, ping) = (number(truth, Quantity::ClippedAt), number(truth, Quantity::TruePeakAt));
    for (tenth, (left, right)) in mix[0].chunks(4_800).zip(mix[1].chunks(4_800)).enumerate() {
        meter.add_frames_planar_f32(&[left, right]).expect("added");
        if !near(tenth, clip) && !near(tenth, ping) {
            for channel in 0..2 {
                elsewhere = elsewhere.max(meter.prev_true_peak(channel).expect("a channel"));
            }
        }
    }
    let loudness = meter.loudness_global().expect("loud enough");
    assert!((loudness - number(truth, Quantity::IntegratedLoudness)).abs() < 0.005, "{loudness} LUFS");
    let highest = 20.0 * meter.true_peak(0).expect("left").log10();
    assert!((highest - number(truth, Quantity::TruePeak)).abs() < 0.2, "{highest} dBTP");
    let elsewhere = 20.0 * elsewhere.log10();
    assert!(
        elsewhere < number(truth, Quantity::TruePeakElsewhere),
        "{elsewhere} dBTP away from the planted spots"
    );
    let at_bottom = mix.iter().flatten().filter(|s| **s <= -1.0).count();
    assert_eq!(at_bottom as f64, number(truth, Quantity::ClippedSamples));
    assert!(mix.iter().flatten().all(|s| *s < 0.999_999), "only the thump reaches full scale");
}

fn stretches_are_as_planted(truth: &Truth, mix: &Sides) {
    let range = |start: f64, end: f64| {
        let frame = |secs: f64| (secs * f64::from(truth.rate_hz)).round() as usize;
        frame(start)..frame(end)
    };
    let mut cases = 0;
    for planted in &truth.planted {
        let stretch = range(planted.start_secs, planted.end_secs);
        let (left, right) = (&mix[0][stretch.clone()], &mix[1][stretch]);
        let dot =
            |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| f64::from(*x) * f64::from(*y)).sum::<f64>();
        let (ll, rr, lr) = (dot(left, left), dot(right, right), dot(left, right));
        let found = match planted.quantity {
            // Band readings need filters, and are left to the plug-in.
            Quantity::Correlation if planted.band_hz.is_none() => lr / (ll * rr).sqrt(),
            Quantity::SideShare => 100.0 * (ll + rr - 2.0 * lr) / (2.0 * (ll + rr)),
            Quantity::MonoLoss => 10.0 * ((ll + rr + 2.0 * lr) / (2.0 * (ll + rr))).log10(),
            Quantity::DropoutLength => {
                assert_eq!(ll + rr, 0.0);
                planted.end_secs - planted.start_secs
            }
            Quantity::OneSided => {
                assert!(rr == 0.0 && ll > 0.0, "right must be silent and left must not");
                planted.end_secs - planted.start_secs
            }
            _ => continue,
        };
        assert!(
            planted.is_met_by(Some(&Value::Number(found))),
            "{}: {found} for {:?}",
            planted.name,
            planted.value
        );
        cases += 1;
    }
    assert_eq!(cases, 9);
}

#[test]
fn a_folder_that_cannot_be_made_is_told_before_the_work() {
    let folder = tempfile::tempdir().expect("a folder");
    let in_the_way = folder.path().join("taken");
    std::fs::write(&in_the_way, b"a file").expect("written");
    let mut steps = 0;
    let error = scene::write(&in_the_way, &mut |_| steps += 1).expect_err("a file is in the way");
    assert_eq!(steps, 0);
    let text = error.to_string();
    assert!(text.contains("taken") && text.contains("choose a folder"), "{text}");
}
