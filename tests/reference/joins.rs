//! Joins on synthetic programmes (ours, no published number), scored as by mir_eval.segment: a join is a hit if one is
//! found within ±0.5 s, one to one (its default window).

use crate::rig::{frames, in_both, measured};
use plumbline_measure::{BandEdges, Tenth};
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::Finder;
use plumbline_programme::{Join, JoinDetector, Rules};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, mixed, sine};

const RATE: u32 = 48_000;
/// Window of mir_eval.segment.detection, seconds.
const HIT_SECS: f64 = 0.5;
/// Root mean square of the noises.
const RMS: f64 = 0.1;

fn joins(tenths: &[Tenth]) -> Vec<Join> {
    let mut detector = JoinDetector::new();
    tenths.iter().for_each(|tenth| detector.push(tenth));
    detector.joins().to_vec()
}

fn secs(join: &Join) -> f64 {
    join.sample as f64 / f64::from(RATE)
}

/// Compares found joins with the true ones: hits, precision, recall, F.
fn judge(cases: &mut Cases, name: &str, made: &[f64], found: &[Join]) {
    let times: Vec<f64> = found.iter().map(secs).collect();
    let mut free = times.clone();
    let mut hits = 0;
    for made in made {
        if let Some(at) = free.iter().position(|found| (found - made).abs() <= HIT_SECS) {
            free.remove(at);
            hits += 1;
        }
    }
    let share = |of: usize| if of == 0 { 1.0 } else { f64::from(hits) / of as f64 };
    let (precision, recall) = (share(times.len()), share(made.len()));
    let f = if precision + recall > 0.0 { 2.0 * precision * recall / (precision + recall) } else { 0.0 };
    cases.holds(
        format_args!(
            "{name}: precision {precision:.3}, recall {recall:.3}, F {f:.3}, made {made:?}, found {times:.3?}"
        ),
        f == 1.0,
    );
}

fn pink(seed: u64, secs: f64) -> Vec<f64> {
    Noise::new(seed).pink(frames(secs, RATE), RMS, f64::from(RATE))
}

/// Samples with a gain that depends on the time in seconds.
fn shaped(samples: &[f64], gain: impl Fn(f64) -> f64) -> Vec<f64> {
    samples.iter().enumerate().map(|(n, x)| x * gain(n as f64 / f64::from(RATE))).collect()
}

fn db(level: f64) -> f64 {
    10.0_f64.powf(level / 20.0)
}

#[test]
fn steps_of_level_are_found_and_measured() {
    let mut cases = Cases::new("pink noise stepped at 6, 12.34 and 20 s");
    for step in [6.0, -6.0, 10.0, -10.0] {
        let gain = |t: f64| if (6.0..12.34).contains(&t) || t >= 20.0 { db(step) } else { 1.0 };
        let run = in_both(RATE, &shaped(&pink(11, 26.0), gain));
        let found = joins(&run.tenths);
        judge(&mut cases, &format!("step {step} dB"), &[6.0, 12.34, 20.0], &found);
        for (join, change) in found.iter().zip([step, -step, step]) {
            cases.near(format!("step {step} dB at {:.2}", secs(join)), join.loudness_lu(), change, 0.4);
            cases.near(format!("step {step} dB, tone"), join.tone(), 0.0, 0.4);
            cases.within(format!("step {step} dB, takes"), join.takes_secs, 0.0, 0.35);
            cases.near(format!("step {step} dB, width"), join.width(), 0.0, 0.001);
            cases
                .holds(format_args!("step {step} dB, after: {}", join.after.tenths), join.after.tenths == 20);
        }
    }
    cases.end(4 * (1 + 3 * 5));
}

#[test]
fn a_step_of_a_tone_is_dated_to_milliseconds() {
    let mut cases = Cases::new("1 kHz stepped +6 dB at 5.000 s and back at 11.05 s");
    let tone = sine(frames(17.0, RATE), 0.5, 1_000.0, 0.0, f64::from(RATE));
    let run = in_both(RATE, &shaped(&tone, |t| if (5.0..11.05).contains(&t) { 0.5 } else { 0.25 }));
    let found = joins(&run.tenths);
    judge(&mut cases, "tone", &[5.0, 11.05], &found);
    for (join, at) in found.iter().zip([5.0, 11.05]) {
        cases.near(format!("tone at {at}"), secs(join), at, 0.012);
    }
    cases.holds("first tenth", found.first().is_some_and(|join| join.at == 50));
    cases.near("loudness", found.first().and_then(Join::loudness_lu), 6.02, 0.05);
    cases.end(5);
}

#[test]
fn tone_and_width_are_found_at_equal_loudness() {
    let mut cases = Cases::new("pink to white and back, mono to wide and back");
    let (a, b) = (pink(21, 20.0), Noise::new(22).white(frames(20.0, RATE), 1.0));
    // The loudness of white against pink noise, by measuring both.
    let loudness = |x: &[f64]| in_both(RATE, x).view.loudness.integrated_lufs.expect("sounds");
    let gain = db(loudness(&a) - loudness(&b));
    let changed = |from: &[f64], to: &[f64]| -> Vec<f64> {
        let inside = |n: usize| (frames(7.0, RATE)..frames(14.0, RATE)).contains(&n);
        from.iter().zip(to).enumerate().map(|(n, (from, to))| if inside(n) { *to } else { *from }).collect()
    };
    let white: Vec<f64> = b.iter().map(|x| gain * x).collect();
    let found = joins(&in_both(RATE, &changed(&a, &white)).tenths);
    judge(&mut cases, "pink, white, pink", &[7.0, 14.0], &found);
    for (join, slope) in found.iter().zip([3.01, -3.01]) {
        // Published: in octave bands, white noise rises by 3.01 dB per octave and pink noise is flat
        // (reference::noise_colours).
        cases.near("tone", join.tone(), slope, 0.3);
        cases.near("loudness", join.loudness_lu(), 0.0, 0.5);
    }
    let other = pink(23, 20.0);
    let found = joins(&measured(RATE, &[&a, &changed(&a, &other)]).tenths);
    judge(&mut cases, "mono, wide, mono", &[7.0, 14.0], &found);
    for (join, width) in found.iter().zip([0.5, -0.5]) {
        cases.near("width", join.width(), width, 0.06);
    }
    cases.end(8);
}

#[test]
fn a_crossfade_is_one_join_and_takes_its_time() {
    let mut cases = Cases::new("crossfades of 2 s around 9 s");
    let (from, to) = (pink(31, 18.0), pink(32, 18.0));
    // A linear rise in dB, which takes 1.6 s from 10 % to 90 %.
    let rise = |t: f64| db(12.0 * ((t - 8.0) / 2.0).clamp(0.0, 1.0));
    let found = joins(&in_both(RATE, &shaped(&from, rise)).tenths);
    judge(&mut cases, "12 dB in 2 s", &[9.0], &found);
    cases.near("12 dB in 2 s, takes", found.first().and_then(|join| join.takes_secs), 1.6, 0.25);
    // An equal-power fade to a brighter sound.
    let bright = Noise::new(33).white(to.len(), 2.0 * RMS);
    let angle = |t: f64| ((t - 8.0) / 2.0).clamp(0.0, 1.0) * std::f64::consts::FRAC_PI_2;
    let faded = mixed(&shaped(&from, |t| angle(t).cos()), &shaped(&bright, |t| angle(t).sin()), 1.0);
    let found = joins(&in_both(RATE, &faded).tenths);
    judge(&mut cases, "pink to white in 2 s", &[9.0], &found);
    cases.within("pink to white, takes", found.first().and_then(|join| join.takes_secs), 0.4, 2.0);
    cases.end(4);
}

#[test]
fn silence_starts_and_ends_a_passage_and_a_dropout_does_not() {
    let mut cases = Cases::new("silence of 2.5 s, dropouts of 0.2 s, lone hits");
    let gain = |t: f64| if (6.0..8.5).contains(&t) || t >= 14.0 { 0.0 } else { 1.0 };
    let found = joins(&in_both(RATE, &shaped(&pink(41, 17.0), gain)).tenths);
    judge(&mut cases, "silence", &[6.0, 8.5, 14.0], &found);
    cases.absent("silence has no loudness", found.first().and_then(|join| join.after.loudness_lufs));
    let dropout = |t: f64| if (6.03..6.23).contains(&t) || (9.0..9.2).contains(&t) { 0.0 } else { 1.0 };
    judge(&mut cases, "dropouts", &[], &joins(&in_both(RATE, &shaped(&pink(42, 14.0), dropout)).tenths));
    let hit = |t: f64| if (6.0..6.3).contains(&t) { 1.0 } else { 0.0 };
    judge(&mut cases, "lone hit", &[], &joins(&in_both(RATE, &shaped(&pink(43, 12.0), hit)).tenths));
    cases.end(4);
}

#[test]
fn rhythm_and_slow_change_are_no_joins() {
    let mut cases = Cases::new("clicks, hits, fades: 0 joins");
    let count = frames(30.0, RATE);
    let mut clicks = Noise::new(51).white(count, 0.001);
    (1..60).for_each(|k| clicks[k * frames(0.5, RATE)] += 0.5);
    judge(&mut cases, "clicks every 0.5 s", &[], &joins(&in_both(RATE, &clicks).tenths));
    // Hits of 0.1 to 0.3 s, 20 dB above the background, every 0.5 to 1 s.
    for seed in 0..6 {
        let mut dice = Noise::new(0x417 + seed);
        let (mut hits, ground) = (vec![0.0; count], Noise::new(60 + seed).pink(count, 0.01, f64::from(RATE)));
        let mut at = 0.3;
        while at < 29.5 {
            let decay = 0.03 + 0.06 * dice.uniform();
            let strength = db(6.0 * dice.uniform());
            for n in 0..frames(0.4, RATE) {
                let t = n as f64 / f64::from(RATE);
                hits[frames(at, RATE) + n] += 0.3 * strength * (-t / decay).exp() * dice.gauss();
            }
            at += 0.5 + 0.5 * dice.uniform();
        }
        hits.truncate(count);
        judge(
            &mut cases,
            &format!("hits {seed}"),
            &[],
            &joins(&in_both(RATE, &mixed(&hits, &ground, 1.0)).tenths),
        );
        judge(&mut cases, &format!("hits in silence {seed}"), &[], &joins(&in_both(RATE, &hits).tenths));
    }
    let fade = |t: f64| (t / 10.0).min(1.0);
    judge(&mut cases, "fade-in of 10 s", &[], &joins(&in_both(RATE, &shaped(&pink(52, 16.0), fade)).tenths));
    cases.end(14);
}

#[test]
fn steady_pink_noise_has_no_onset_join_or_finding_for_ten_minutes() {
    let mut cases =
        Cases::new("steady pink noise, 10 minutes, five seeds, two channels of their own: nothing");
    for seed in 0..5 {
        // With a period of 150 s, and the right channel half a period later: always unrelated.
        let minute = pink(0x10_11 + seed, 150.0);
        let cycled = |skip: usize| -> Vec<f64> {
            minute.iter().cycle().skip(skip).take(4 * minute.len()).copied().collect()
        };
        let tenths = measured(RATE, &[&cycled(0), &cycled(minute.len() / 2)]).tenths;
        cases.holds(format_args!("seed {seed}: {} tenths", tenths.len()), tenths.len() == 6_000);
        judge(&mut cases, &format!("pink noise, seed {seed}"), &[], &joins(&tenths));
        let onsets = crate::onsets::found(&tenths, RATE);
        cases.holds(format_args!("seed {seed}: onsets at {onsets:?}"), onsets.is_empty());
        let mut finder = Finder::new(Rules::default(), &Target::default(), BandEdges::default());
        tenths.iter().for_each(|tenth| finder.push(tenth));
        finder.end();
        let found = finder.findings();
        cases.holds(format_args!("seed {seed}: {found:?}"), found.is_empty());
    }
    cases.end(20);
}
