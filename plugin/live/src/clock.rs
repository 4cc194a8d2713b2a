//! The clock grid: positions of chunks that have no song position.

use plumbline_measure::SampleRate;
use std::sync::OnceLock;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// This process's zero: a moment on the monotonic clock, the time from the zero to that moment, and the zero in whole
/// seconds of UNIX time.
static ZERO: OnceLock<(Instant, Duration, i64)> = OnceLock::new();

fn zero() -> &'static (Instant, Duration, i64) {
    ZERO.get_or_init(|| {
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let second = Duration::from_secs(now.as_secs());
        (Instant::now(), now.saturating_sub(second), i64::try_from(now.as_secs()).unwrap_or(0))
    })
}

/// Time since the zero of the clock grid, on the computer's monotonic clock. All layers of the process share the zero.
pub(crate) fn since_zero() -> Duration {
    let (moment, before, _) = zero();
    moment.elapsed() + *before
}

/// The zero of the clock grid in seconds of UNIX time. It is a whole second, so that the zeros of two processes differ
/// by whole tenths and, at any sample rate, by whole samples.
pub(crate) fn zero_secs() -> i64 {
    zero().2
}

/// Moves a tap's free-running count of samples to the clock, once per stretch.
///
/// Within a stretch the audio device's clock counts, so there is no gap or overlap. Two stretches never overlap either:
/// if audio comes faster than real time, the later one starts where the earlier one ended.
#[derive(Debug, Default)]
pub(crate) struct Anchor {
    /// Clock position minus free-running count, while a stretch lasts.
    offset: Option<i64>,
    /// End of the audio placed so far, and its rate.
    end: Option<(i64, SampleRate)>,
}

impl Anchor {
    /// Starts a new stretch with the next chunk.
    pub(crate) fn lift(&mut self) {
        self.offset = None;
    }

    /// Clock position of a chunk. `count` is the free-running count of its first frame, `now` the latest time read.
    pub(crate) fn place(&mut self, count: i64, frames: usize, rate: SampleRate, now: Duration) -> i64 {
        let offset = *self.offset.get_or_insert_with(|| {
            let earliest = self.end.map_or(i64::MIN, |(end, at)| convert(end, at, rate));
            samples(now, rate).max(earliest).saturating_sub(count)
        });
        let position = count.saturating_add(offset);
        self.end = Some((position.saturating_add(i64::try_from(frames).unwrap_or(i64::MAX)), rate));
        position
    }
}

/// Whole samples in a time, rounded down.
fn samples(time: Duration, rate: SampleRate) -> i64 {
    let exact = time.as_nanos() * u128::from(rate.hz()) / 1_000_000_000;
    i64::try_from(exact).unwrap_or(i64::MAX)
}

/// A position converted to another rate, rounded up so that no time overlaps.
fn convert(position: i64, from: SampleRate, to: SampleRate) -> i64 {
    let exact = i128::from(position) * i128::from(to.hz());
    let rate = i128::from(from.hz());
    i64::try_from(exact.div_euclid(rate) + i128::from(exact.rem_euclid(rate) > 0)).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(hz: u32) -> SampleRate {
        SampleRate::new(hz).unwrap()
    }

    #[test]
    fn a_stretch_is_moved_once_and_counts_on_by_itself() {
        let mut anchor = Anchor::default();
        let at = |s: f64| Duration::from_secs_f64(s);
        assert_eq!(anchor.place(0, 64, rate(48_000), at(1.0)), 48_000);
        // The clock is ahead, but the stretch continues.
        assert_eq!(anchor.place(64, 64, rate(48_000), at(9.0)), 48_064);
        anchor.lift();
        assert_eq!(anchor.place(128, 64, rate(48_000), at(9.5)), 456_000);
    }

    #[test]
    fn stretches_never_overlap_even_faster_than_real_time_and_across_rates() {
        let mut anchor = Anchor::default();
        let now = Duration::from_secs(1);
        assert_eq!(anchor.place(0, 48_000, rate(48_000), now), 48_000);
        anchor.lift();
        assert_eq!(anchor.place(48_000, 1, rate(48_000), now), 96_000);
        anchor.lift();
        // 96 001 samples at 48 kHz end at 88 200.92 at 44.1 kHz.
        assert_eq!(anchor.place(0, 1, rate(44_100), now), 88_201);
    }
}
