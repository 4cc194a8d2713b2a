//! Two sounds compared over their whole length, as in a survey.

use plumbline_measure::{Grid, Position, SampleRate};
use plumbline_programme::mics::PairTracker;
use plumbline_programme::pair::Correlator;
use plumbline_programme::{Mic, PairLine};

/// The line of a pair over two sounds of equal length.
///
/// # Panics
/// If the rate cannot be measured.
pub fn whole_line(rate_hz: u32, mics: [Mic; 2], first: &[f32], second: &[f32]) -> PairLine {
    let rate = SampleRate::new(rate_hz).expect("a rate that can be measured");
    let mut correlator = Correlator::new(rate);
    let mut tracker = PairTracker::new(rate, true);
    tracker.set_pairs(&[mics]);
    let window = correlator.window_samples();
    let (mut last, mut end) = (0, window);
    while end <= first.len() {
        let sample = i64::try_from(end).expect("seconds of samples");
        tracker.begin(Position { grid: Grid::Song, sample }, (end - last) as f64 / rate.as_f64());
        for (mic, sound) in mics.into_iter().zip([first, second]) {
            tracker.hear(&mut correlator, mic, &[&sound[end - window..end]]);
        }
        tracker.compare(&mut correlator, mics);
        last = end;
        end += tracker.step() as usize;
    }
    tracker.whole().remove(0).0
}
