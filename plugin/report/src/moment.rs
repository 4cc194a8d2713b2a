//! Moments of tenths and samples.

use crate::format::Moment;
use crate::rounding::round_to;
use plumbline_measure::{Grid, SampleRate, Timecode};
use plumbline_programme::survey::Survey;

/// Decimals of seconds: a third of a sample at the highest rate.
const SECONDS: i32 = 6;

/// Start and sample rate of a time line.
#[derive(Clone, Copy)]
pub(crate) struct Time {
    pub(crate) start: Timecode,
    pub(crate) rate: SampleRate,
}

impl Time {
    pub(crate) fn of(survey: &Survey) -> Self {
        Self { start: survey.start, rate: survey.rate }
    }

    pub(crate) fn seconds(self, samples: i64) -> f64 {
        round_to(samples as f64 / self.rate.as_f64(), SECONDS).unwrap_or_default()
    }

    /// Label of a sample of song time.
    pub(crate) fn label(self, sample: i64) -> String {
        Timecode::label_at(self.start, sample, self.rate)
    }

    pub(crate) fn tenth(self, grid: Grid, tenth: i64) -> Moment {
        Moment { seconds: tenth as f64 / 10.0, ..self.sample(grid, self.rate.tenth_start(tenth)) }
    }

    pub(crate) fn sample(self, grid: Grid, sample: i64) -> Moment {
        let (clock, timecode) = match grid {
            Grid::Song => ("song", Some(self.label(sample))),
            Grid::Clock => ("clock", None),
        };
        Moment { clock: clock.to_owned(), seconds: self.seconds(sample), sample, timecode }
    }

    /// A moment of song time by its seconds.
    pub(crate) fn song_seconds(self, seconds: f64) -> Moment {
        #[expect(clippy::cast_possible_truncation, reason = "saturates")]
        let sample = (seconds * self.rate.as_f64()).round() as i64;
        self.sample(Grid::Song, sample)
    }
}
