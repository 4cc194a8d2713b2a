//! Good sound that must not be called faulty: each case once was, and has a real fault beside it.

use crate::rig::{frames, measured};
use plumbline_measure::{Averaging, BandEdges, Digest};
use plumbline_programme::delivery::{DeliveryVerdict, Target};
use plumbline_programme::findings::Kind;
use plumbline_programme::verdict::{Channels, Mono, Phase, Verdicts};
use plumbline_programme::{Balance, LayerId, Role, Rules};
use plumbline_tests::cases::Cases;
use plumbline_tests::layers::{Asked, peer};
use plumbline_tests::programme::{findings, measured as layer};
use plumbline_tests::signal::{Noise, mixed, sine, single};

const RATE: u32 = 48_000;
const LOW: usize = 1;

fn judged(left: &[f64], right: &[f64]) -> Verdicts {
    let view = measured(RATE, &[left, right]).view;
    Verdicts::of(view.spectral(Averaging::SinceReset), &BandEdges::default(), Channels::of(view.channels))
}

/// The kinds of findings in a mix without layers.
fn kinds(left: &[f64], right: &[f64]) -> Vec<Kind> {
    let mix = layer(1, "mix", Role::Mix, RATE, &[single(left), single(right)]);
    findings(&[mix], Rules::default()).0.iter().map(|found| found.kind).collect()
}

fn band(noise: &mut Noise, secs: f64, rms: f64, [low, high]: [f64; 2]) -> Vec<f64> {
    noise.coloured(frames(secs, RATE), rms, 0.5, low, high, f64::from(RATE))
}

#[test]
fn of_eleven_layers_alike_none_is_covered() {
    let mut cases = Cases::new("eleven layers of pink noise at one level; then one of them 20 dB under");
    let mut noise = Noise::new(0x11_0001);
    let layers: Vec<Vec<f64>> =
        (0..11).map(|_| noise.pink(frames(4.0, RATE), 0.05, f64::from(RATE))).collect();
    let peers: Vec<_> = (1..=11).map(|id| peer(id, Role::Natural)).collect();
    for (gain, covered) in [(1.0, 0), (0.1, 1)] {
        let mut balance = Balance::default();
        for (id, sound) in (1..).zip(&layers) {
            let gain = if id == 1 { gain } else { 1.0 };
            let sound: Vec<f64> = sound.iter().map(|x| gain * x).collect();
            for tenth in &measured(RATE, &[&sound, &sound]).tenths {
                balance.take(LayerId(id), &Digest::from(tenth));
            }
        }
        let session = Asked::by(1).of(&mut balance, &peers);
        let found: Vec<u64> =
            session.layers.iter().filter(|line| line.covered.is_some()).map(|line| line.id.0).collect();
        cases.holds(format!("covered at a gain of {gain}: {found:?}"), found.len() == covered);
        cases.holds("the quiet one", covered == 0 || found == [1]);
    }
    cases.end(4);
}

#[test]
fn birds_over_rumble_that_nobody_hears_lose_nothing_on_a_phone() {
    let mut cases =
        Cases::new("birds, and under them lows that cancel: 24 dB down in Sub, then as loud in Low");
    let mut noise = Noise::new(0xB12D);
    let birds = band(&mut noise, 12.0, 0.1, [2_000.0, 7_000.0]);
    let both = |rumble: &[f64]| {
        let opposed: Vec<f64> = rumble.iter().map(|x| -x).collect();
        [mixed(&birds, rumble, 1.0), mixed(&birds, &opposed, 1.0)]
    };
    let rumble = band(&mut noise, 12.0, 0.1 * 10.0_f64.powf(-24.0 / 20.0), [22.0, 58.0]);
    let [left, right] = both(&rumble);
    let mono = judged(&left, &right).mono;
    cases.holds(format!("rumble: {mono:?}"), matches!(mono, Mono::Holds { loss_db } if loss_db > -0.3));
    let found = kinds(&left, &right);
    cases.holds(format!("findings: {found:?}"), !found.contains(&Kind::MonoLoss));
    // A voice's lows that cancel are audible, and a fault.
    let lows = band(&mut noise, 12.0, 0.05, [80.0, 180.0]);
    let [left, right] = both(&lows);
    let mono = judged(&left, &right).mono;
    cases.holds(format!("lows: {mono:?}"), matches!(mono, Mono::Loses { worst, .. } if worst.band == LOW));
    cases.holds("a finding", kinds(&left, &right).contains(&Kind::MonoLoss));
    cases.end(4);
}

#[test]
fn unrelated_sound_with_common_lows_shares_some() {
    let mut cases = Cases::new("surf with common lows: correlation near +0.5, coherence under 0.4");
    let mut noise = Noise::new(0x0705);
    // Lows are 55 % of the energy, four fifths of them common: correlation 0.55 · 0.8 = 0.44, coherence
    // 0.55 · 0.8² = 0.35.
    let rms = |part: f64| 0.1 * part.sqrt();
    let common = band(&mut noise, 12.0, rms(0.55 * 0.8), [60.0, 200.0]);
    let own = [0, 1].map(|_| band(&mut noise, 12.0, rms(0.55 * 0.2), [60.0, 200.0]));
    let sides = [0, 1].map(|_| band(&mut noise, 12.0, rms(0.45), [200.0, 16_000.0]));
    let [left, right] = [0, 1].map(|side: usize| mixed(&mixed(&common, &own[side], 1.0), &sides[side], 1.0));
    let view = measured(RATE, &[&left, &right]).view;
    let whole = view.spectral(Averaging::SinceReset).whole;
    cases.within("correlation", whole.correlation, 0.4, 0.6);
    let verdicts = judged(&left, &right);
    let named = matches!(verdicts.phase, Phase::MostlyUnrelated { common } if common[LOW] && !common[3..].contains(&true));
    cases.within("coherence", whole.coherence, 0.29, 0.4);
    cases.holds(format!("{:?}", verdicts.phase), named);
    let unrelated = judged(&sides[0], &sides[1]).phase;
    cases.holds(format!("without lows: {unrelated:?}"), unrelated == Phase::Unrelated);
    cases.end(4);
}

#[test]
fn a_peak_at_full_scale_is_a_note_and_a_flat_top_a_fault() {
    let mut cases =
        Cases::new("samples at full scale: one in a wave, a normalised tone, and a clipped one; DC");
    let rate = f64::from(RATE);
    let delivery = |sound: &[f64]| {
        let view = measured(RATE, &[sound, sound]).view;
        let whole = view.spectral(Averaging::Slow).whole;
        DeliveryVerdict::of(&view.loudness, &view.meters, &whole, &Target::default()).of_a_part()
    };
    // A tone at an eighth of the rate reaches full scale with one sample of each cycle.
    let normalised = sine(frames(2.0, RATE), 1.0, rate / 8.0, 0.0, rate);
    let touched = delivery(&normalised);
    cases.holds(format!("normalised: {touched:?}"), touched.overs > 1_000 && touched.flat == 0);
    cases.holds("no fault", !touched.has_fault());
    let mut quiet = sine(frames(2.0, RATE), 0.5, 440.0, 0.0, rate);
    (quiet[9_000], quiet[50_001]) = (1.0, -1.0);
    let lone = delivery(&quiet);
    cases.holds(format!("two: {lone:?}"), (lone.overs, lone.flat) == (4, 0) && !lone.has_fault());
    // Clipped 3 dB over full scale, half of each cycle is flat: |sin| is over 1/√2 for half of the time.
    let clipped: Vec<f64> = sine(frames(2.0, RATE), 2.0_f64.sqrt(), 440.0, 0.0, rate)
        .iter()
        .map(|x| x.clamp(-1.0, 1.0))
        .collect();
    let cut = delivery(&clipped);
    cases.holds(format!("clipped: {cut:?}"), cut.flat == cut.overs && cut.has_fault());
    cases.near("half of all samples", cut.flat as f64 / (2.0 * 2.0 * rate), 0.5, 0.02);
    for (dc, noted, fault) in [(0.000_5, false, false), (0.001_2, true, false), (0.012, true, true)] {
        let shifted: Vec<f64> =
            sine(frames(4.0, RATE), 0.1, 440.0, 0.0, rate).iter().map(|x| x + dc).collect();
        let verdict = delivery(&shifted);
        cases.holds(format!("DC of {dc}"), verdict.dc.is_some() == noted && verdict.has_fault() == fault);
    }
    cases.end(8);
}
