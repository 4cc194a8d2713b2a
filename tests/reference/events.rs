//! Sparse events, such as footsteps and hits without ambience: two seconds with few of them are worth only a few
//! averages.
//!
//! No document specifies these values. Unrelated sound must read near 0 or be absent at any rhythm, and never read as a
//! fault; a true delay must be found once there are enough events.

use crate::rig::{Run, frames, watched};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRDS};
use plumbline_measure::{Averaging, BandEdges, Glance};

use plumbline_programme::verdict::{Channels, Phase, Verdicts, Width};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, delayed};

const RATE: u32 = 48_000;
/// Length of each signal, seconds.
const SECS: f64 = 24.0;
/// Length of one burst, ms.
const LENGTHS: [f64; 3] = [10.0, 30.0, 100.0];
/// Interval between bursts, seconds.
const EVERY: [f64; 4] = [0.25, 0.5, 1.0, 2.0];

/// Bursts of white noise with a raised-cosine envelope, `every` seconds apart.
fn bursts(dice: &mut Noise, rate: u32, ms: f64, every: f64) -> Vec<f64> {
    let length = frames(ms / 1e3, rate);
    let mut samples = vec![0.0; frames(SECS, rate)];
    for start in
        (frames(every / 2.0, rate)..samples.len() - length - rate as usize / 100).step_by(frames(every, rate))
    {
        for (n, slot) in samples[start..start + length].iter_mut().enumerate() {
            let phase = (n as f64 + 0.5) / length as f64;
            *slot = dice.gauss() * 0.3 * (std::f64::consts::PI * phase).sin().powi(2);
        }
    }
    samples
}

/// The readings of the slow average, by cell, after the first 3 s.
#[derive(Default)]
struct Heard {
    cells: usize,
    /// Cells with the verdict out of step.
    faults: usize,
    /// Cells with a coherence of the whole range; its lowest and highest value.
    whole: usize,
    lowest_whole: f64,
    highest_whole: f64,
    /// Readings of thirds from 63 Hz up: how many, how many over 0.3, the highest, and the thirds with a reading.
    thirds: usize,
    over: usize,
    highest: f64,
    present: [usize; THIRDS],
}

fn heard(rate: u32, channels: &[&[f64]]) -> (Heard, Run) {
    let mut heard = Heard { lowest_whole: 1.0, ..Heard::default() };
    let run = watched(rate, channels, |end, view| {
        if end < 3 * rate as usize {
            return;
        }
        let spectral = view.spectral(Averaging::Slow);
        let verdicts = Verdicts::of(spectral, &BandEdges::default(), Channels::of(2));
        heard.cells += 1;
        let fault =
            matches!(verdicts.width, Width::OutOfStep(_)) || matches!(verdicts.phase, Phase::OutOfStep(_));
        heard.faults += usize::from(fault);
        if let Some(coherence) = spectral.whole.coherence {
            heard.whole += 1;
            heard.lowest_whole = heard.lowest_whole.min(coherence);
            heard.highest_whole = heard.highest_whole.max(coherence);
        }
        for (third, readings) in spectral.thirds.iter().enumerate().skip(FIRST_ACCURATE_THIRD) {
            if let Some(coherence) = readings.coherence {
                heard.thirds += 1;
                heard.over += usize::from(coherence > 0.3);
                heard.highest = heard.highest.max(coherence);
                heard.present[third] += 1;
            }
        }
    });
    (heard, run)
}

fn mean_of_thirds(view: &Glance) -> impl Iterator<Item = (usize, f64)> {
    let thirds = view.spectral(Averaging::SinceReset).thirds;
    thirds.into_iter().enumerate().filter_map(|(third, readings)| readings.coherence.map(|c| (third, c)))
}

#[test]
fn unrelated_events_are_no_fault_at_any_rhythm() {
    let mut cases =
        Cases::new("unrelated bursts: coherence under 0.3 or absent, never out of step (construction)");
    let mut dice = Noise::new(0xF007);
    for rate in [44_100, RATE] {
        for ms in LENGTHS {
            for every in EVERY {
                let [left, right] = [0, 1].map(|_| bursts(&mut dice, rate, ms, every));
                let (heard, run) = heard(rate, &[&left, &right]);
                let name = format!("{ms} ms every {every} s at {rate}");
                println!(
                    "{name}: {} faults, whole in {} of {} cells up to {:.2}, thirds {} over {} up to {:.2}",
                    heard.faults,
                    heard.whole,
                    heard.cells,
                    heard.highest_whole,
                    heard.thirds,
                    heard.over,
                    heard.highest
                );
                cases.holds(format!("{name}: {} cells out of step", heard.faults), heard.faults == 0);
                cases.within(format!("{name}, whole, highest"), heard.highest_whole, 0.0, 0.3);
                // A few readings in a hundred scatter more: a narrow third, or only two events, gives few samples to
                // average.
                let few = heard.over * 100 <= heard.thirds * 3;
                cases.holds(format!("{name}: {} of {} over 0.3", heard.over, heard.thirds), few);
                cases.within(format!("{name}, thirds, highest"), heard.highest, 0.0, 0.5);
                let highest = mean_of_thirds(&run.view).filter(|(third, _)| *third >= FIRST_ACCURATE_THIRD);
                let highest = highest.map(|(_, c)| c).fold(0.0, f64::max);
                cases.within(format!("{name}, since reset, highest third"), highest, 0.0, 0.3);
                if every == 2.0 {
                    cases.holds(format!("{name}: one event is no average"), heard.whole + heard.thirds == 0);
                }
            }
        }
    }
    cases.end(2 * 3 * (4 * 5 + 1));
}

#[test]
fn events_out_of_step_are_found_once_they_are_many() {
    let mut cases = Cases::new("bursts 4.66 ms late or inverted: found from one a second on (construction)");
    let mut dice = Noise::new(0xF008);
    for ms in LENGTHS {
        for every in EVERY {
            let left = bursts(&mut dice, RATE, ms, every);
            let inverted: Vec<f64> = left.iter().map(|x| -x).collect();
            let late = delayed(&left, 4.66e-3 * f64::from(RATE));
            for (kind, right) in [("late", late), ("inverted", inverted)] {
                let (heard, _) = heard(RATE, &[&left, &right]);
                let name = format!("{ms} ms every {every} s, {kind}");
                let share = heard.faults as f64 / heard.cells as f64;
                let whole = heard.whole as f64 / heard.cells as f64;
                let lowest = heard.present.iter().position(|n| n * 10 >= heard.cells * 9);
                println!("{name}: out of step {share:.3}, whole {whole:.3}, thirds from {lowest:?}");
                let least = if every <= 0.5 {
                    0.99
                } else if every == 1.0 {
                    0.9
                } else {
                    0.0
                };
                cases.within(
                    format!("{name}, cells out of step"),
                    share,
                    least,
                    if every > 1.0 { 0.0 } else { 1.0 },
                );
                if every <= 1.0 {
                    cases.within(format!("{name}, whole"), heard.lowest_whole, 0.9, 1.0);
                } else {
                    cases.holds(format!("{name}: one event is no average"), heard.whole + heard.thirds == 0);
                }
            }
        }
    }
    cases.end(3 * 4 * 2 * 2);
}
