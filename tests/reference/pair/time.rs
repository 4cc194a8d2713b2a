//! A pair over time: clock drift, loud events, moved clips, moving sources.

use super::{RATE, WINDOW, compared, noisy, rate, tracked, trailing, windows};
use plumbline_programme::pair::{CannotTell, Correlator, Polarity, Track, Window};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, mixed};
use std::f64::consts::PI;

/// `source` read at n·(1 − ppm/10⁶) − start: a second recorder whose clock is slow by `ppm`. Windowed sinc of 32
/// points.
fn resampled(source: &[f64], frames: usize, start: f64, ppm: f64) -> Vec<f64> {
    let offset = (source.len() - frames) as f64 / 2.0;
    (0..frames)
        .map(|n| {
            let at = offset + n as f64 * (1.0 - ppm * 1e-6) - start;
            let whole = at.floor();
            let part = at - whole;
            // sin(π(part − k)) = ±sin(π·part): one sine for all points.
            let sine = (PI * part).sin();
            let mut sum = 0.0;
            for k in -15_i32..=16 {
                let x = part - f64::from(k);
                let window = 0.5 + 0.5 * (PI * x / 16.5).cos();
                let sinc =
                    if x.abs() < 1e-9 { 1.0 } else { sine * if k % 2 == 0 { 1.0 } else { -1.0 } / (PI * x) };
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "inside the source"
                )]
                let index = (whole + f64::from(k)) as usize;
                sum += source[index] * sinc * window;
            }
            sum
        })
        .collect()
}

#[test]
fn drifting_clocks() {
    let mut cases = Cases::new("two copies resampled against each other over 60 s");
    let frames = 60 * 48_000;
    let mut noise = Noise::new(5);
    // The interpolation is clean to 18 kHz.
    let source = noise.coloured(frames + 16_000, 0.1, 0.5, 20.0, 18_000.0, RATE);
    let first = noisy(&source[8_000..8_000 + frames], 30.0, &mut noise);
    for ppm in [-100.0, -20.0, -5.0, 5.0, 20.0, 100.0] {
        let second = noisy(&resampled(&source, frames, 240.0, ppm), 30.0, &mut noise);
        let reading = tracked(&first, &second);
        let agreed = reading.outcome.ok();
        let drift = agreed.and_then(|agreed| agreed.drift);
        println!("{ppm} ppm: {drift:?}, delay {:?}", agreed.map(|a| a.delay_secs * RATE));
        cases.near(format!("{ppm} ppm"), drift.map(|drift| drift.ppm), ppm, 1.0);
        cases.within(format!("{ppm} ppm, uncertainty"), drift.map(|drift| drift.sigma_ppm), 0.0, 0.5);
        cases.holds(format!("{ppm} ppm is clear: {drift:?}"), drift.is_some_and(|drift| drift.plain));
        let end = 240.0 + ppm * 1e-6 * frames as f64;
        cases.near(format!("{ppm} ppm, delay at the end"), agreed.map(|a| a.delay_secs * RATE), end, 0.5);
    }
    cases.end(24);
}

#[test]
fn steady_clocks_show_no_drift() {
    let mut cases = Cases::new("a steady pair");
    let mut noise = Noise::new(6);
    let source = noise.pink(20 * 48_000 + 8_000, 0.1, RATE);
    let [first, second] = trailing(&source, 223.7, 20 * 48_000);
    let (first, second) = (noisy(&first, 20.0, &mut noise), noisy(&second, 20.0, &mut noise));
    let agreed = tracked(&first, &second).outcome.ok();
    let drift = agreed.and_then(|agreed| agreed.drift);
    println!("{agreed:?}");
    cases.near("delay", agreed.map(|a| a.delay_secs * RATE), 223.7, 0.01);
    cases.near("drift", drift.map(|drift| drift.ppm), 0.0, 0.1);
    cases.within("confidence", agreed.map(|a| a.confidence), 0.5, 1.0);
    cases.end(3);
}

#[test]
fn a_loud_event_throws_nothing() {
    let mut cases = Cases::new("one event 40 dB over the source, with another delay");
    let mut noise = Noise::new(8);
    let frames = 14 * 48_000;
    let source = noise.pink(frames + 8_000, 0.02, RATE);
    let [first, second] = trailing(&source, 200.25, frames);
    for secs in [5.0, 8.0, 11.5, 13.0] {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside the signal")]
        let at = (secs * RATE) as usize;
        let mut bang = vec![0.0; frames];
        for (n, slot) in bang[at..at + 4_800].iter_mut().enumerate() {
            *slot = noise.gauss() * 2.0 * (-(n as f64) / 960.0).exp();
        }
        let mut early = bang.clone();
        early.rotate_left(400);
        // The event changes the result of some windows, but the track does not follow.
        let (loud_first, loud_second) = (mixed(&first, &bang, 1.0), mixed(&second, &early, -1.0));
        let mut track = Track::new();
        let mut thrown = 0;
        for (end, window) in windows(&loud_first, &loud_second) {
            thrown += usize::from(window.outcome.is_ok_and(|f| (f.delay_secs * RATE + 400.0).abs() < 5.0));
            track.push(end, &window);
        }
        let agreed = track.reading().outcome.ok();
        println!("event at {secs} s: {thrown} windows thrown, {:?}", agreed.map(|a| a.delay_secs * RATE));
        cases.holds(format!("event at {secs} s throws {thrown} windows"), thrown >= 3);
        cases.near(format!("event at {secs} s"), agreed.map(|a| a.delay_secs * RATE), 200.25, 0.05);
        cases.holds("polarity", agreed.map(|a| a.polarity) == Some(Polarity::Same));
    }
    cases.end(12);
}

#[test]
fn a_nudge_is_followed_within_the_vote() {
    let mut cases = Cases::new("a clip moved in the middle");
    let source = Noise::new(11).pink(40 * 48_000, 0.1, RATE);
    let mut with = Correlator::new(rate());
    let mut track = Track::new();
    let mut found = Vec::new();
    for step in 8..120_usize {
        let end = step * WINDOW / 8;
        let late = if end < 15 * 48_000 { 480 } else { 100 };
        let first = &source[end + 2_000 - WINDOW..end + 2_000];
        let second = &source[end + 2_000 - late - WINDOW..end + 2_000 - late];
        track.push(end as f64 / RATE, &compared(&mut with, first, second));
        found.push((end as f64 / RATE, track.reading().outcome.map(|a| (a.delay_secs * RATE).round())));
    }
    let at = |secs: f64| found.iter().find(|(end, _)| *end >= secs).map(|(_, outcome)| *outcome);
    cases.holds("before", at(14.0) == Some(Ok(480.0)));
    cases.holds(format!("after: {:?}", at(21.0)), at(21.0) == Some(Ok(100.0)));
    let others = found.iter().filter(|(_, o)| !matches!(o, Ok(480.0 | 100.0) | Err(_))).count();
    cases.holds(format!("{others} readings between the two"), others == 0);
    cases.end(3);
}

/// Windows of two copies of one sound, the second `late` samples late, without any trace of another delay.
fn steady(
    with: &mut Correlator,
    source: &[f64],
    ends: std::ops::Range<usize>,
    late: usize,
) -> Vec<(f64, Window)> {
    ends.map(|step| {
        let end = step * WINDOW / 8;
        let first = &source[end + 2_000 - WINDOW..end + 2_000];
        let second = &source[end + 2_000 - late - WINDOW..end + 2_000 - late];
        (end as f64 / RATE, compared(with, first, second))
    })
    .collect()
}

#[test]
fn behind_a_seam_three_windows_are_believed_and_what_came_before_is_forgotten() {
    let mut cases = Cases::new("a clip moved while the transport stood");
    let source = Noise::new(13).pink(30 * 48_000, 0.1, RATE);
    let mut with = Correlator::new(rate());
    let mut track = Track::new();
    steady(&mut with, &source, 8..48, 480).iter().for_each(|(end, window)| track.push(*end, window));
    track.seam();
    let moved = steady(&mut with, &source, 48..60, 100);
    let mut alone = Track::new();
    for (n, (end, window)) in moved.iter().enumerate() {
        track.push(*end, window);
        alone.push(*end, window);
        let reading = track.reading();
        let delay = reading.outcome.ok().map(|a| (a.delay_secs * RATE).round());
        cases.holds(format!("window {n}: {delay:?}"), delay == Some(if n < 2 { 480.0 } else { 100.0 }));
        if n >= 2 {
            // The gain is also from the new windows alone: the sums of the previous ones would fade for 5 s or more.
            cases.near(
                format!("window {n}, won"),
                reading.won,
                alone.reading().won.unwrap_or(f64::NAN),
                0.02,
            );
        }
    }
    // The same delay as before the stop: everything continues, and the timing of a drift does not restart.
    let before = track.delays().count();
    track.seam();
    steady(&mut with, &source, 60..66, 100).iter().for_each(|(end, window)| track.push(*end, window));
    cases.holds("all is kept", track.delays().count() == before + 6);
    cases.end(12 + 10 + 1);
}

#[test]
fn a_source_that_walks_is_said_to_move() {
    let mut cases = Cases::new("a delay that changes by 2 ms a second");
    let source = Noise::new(12).pink(40 * 48_000, 0.1, RATE);
    let mut with = Correlator::new(rate());
    let mut track = Track::new();
    for step in 8..60_usize {
        let (end, late) = (step * WINDOW / 8, 24 * step);
        let first = &source[end + 2_000 - WINDOW..end + 2_000];
        let second = &source[end + 2_000 - late - WINDOW..end + 2_000 - late];
        track.push(end as f64 / RATE, &compared(&mut with, first, second));
    }
    let outcome = track.reading().outcome;
    cases.holds(format!("{outcome:?}"), outcome == Err(CannotTell::Moving));
    cases.end(1);
}
