//! The cost of comparing microphones: the computation of each hop against the length of the hop.

use crate::{Line, median};
use plumbline_measure::SampleRate;
use plumbline_programme::mics::MOST_MICS;
use plumbline_programme::pair::{Correlator, HOP_SECS, Spectrum, Track};
use plumbline_tests::signal::{Noise, delayed, single};
use std::time::Instant;

/// Hops measured; their median counts.
const HOPS: usize = 41;
const RATE_HZ: u32 = 48_000;

/// One pair at four updates a second.
pub(crate) fn one() -> Line {
    line("microphones, one pair", 2, 1.0)
}

/// Eight microphones.
pub(crate) fn eight() -> Line {
    line("microphones, 28 pairs", MOST_MICS, 15.0)
}

fn line(what: &'static str, mics: usize, budget: f64) -> Line {
    let secs = spent(mics);
    Line {
        what,
        bound: "one core",
        found: 100.0 * secs / HOP_SECS,
        budget,
        unit: "%",
        behind: format!(
            "{mics} spectra, {} comparisons and readings in {:.2} ms of each {:.0} ms",
            mics * (mics - 1) / 2,
            1e3 * secs,
            1e3 * HOP_SECS
        ),
    }
}

/// Seconds for a hop over some microphones.
fn spent(mics: usize) -> f64 {
    let rate = SampleRate::new(RATE_HZ).expect("a rate that can be measured");
    let mut correlator = Correlator::new(rate);
    let window = correlator.window_samples();
    let hop = window / 8;
    let mut noise = Noise::new(28);
    let source = noise.pink(window + hop * HOPS, 0.1, f64::from(RATE_HZ));
    let sound: Vec<Vec<f32>> = (0..mics).map(|mic| single(&delayed(&source, 100.25 * mic as f64))).collect();
    let mut spectra = vec![Spectrum::default(); mics];
    let mut tracks = vec![Track::new(); mics * (mics - 1) / 2];
    let mut found = 0;
    let times = (0..HOPS).map(|n| {
        let start = Instant::now();
        for (sound, spectrum) in sound.iter().zip(&mut spectra) {
            correlator.spectrum(&sound[n * hop..n * hop + window], spectrum);
        }
        let mut tracks = tracks.iter_mut();
        for first in 0..mics {
            for second in first + 1..mics {
                let seen = correlator.compare(&spectra[first], &spectra[second]);
                let track = tracks.next().expect("a track a pair");
                track.push(2.0 + HOP_SECS * n as f64, &seen);
                found += usize::from(track.reading().outcome.is_ok());
            }
        }
        start.elapsed().as_secs_f64()
    });
    let times = times.collect();
    // Sound from one source goes through the whole comparison; an early refusal would cost less.
    assert!(found > 0, "no delay was found");
    median(times)
}
