//! The record of a programme over time beside its tenths: findings, joins, marks, and statistics by passage.

use crate::balance::Mark;
use crate::findings::Finding;
use crate::joins::Join;
use crate::role::{PARTS, Role, highest, sounding};
use plumbline_measure::bands::BANDS;
use plumbline_measure::reading::{Maybe, Readings};
use plumbline_measure::{Grid, Loudness};
use serde::{Deserialize, Serialize};

/// All measures over one stretch of time, each tenth counted once, as it was last heard.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PassageLine {
    /// Which clock.
    pub grid: Grid,
    /// First tenth heard.
    pub start: i64,
    /// Tenth after the last one heard.
    pub end: i64,
    /// Seconds heard.
    pub secs: f64,
    /// Readings of 20 Hz to 20 kHz over the whole stretch: energies summed, coherence and out of step weighted by
    /// energy.
    pub whole: Readings,
    /// Readings of the named bands.
    pub bands: [Readings; BANDS],
    /// Integrated loudness and range of the stretch, its highest momentary and short-term loudness, its true peak.
    pub loudness: Loudness,
    /// Lowest correlation over 300 ms.
    pub lowest_correlation: Option<f64>,
    /// Highest sample peak, left and right, dBFS.
    pub peak_dbfs: [Option<f64>; 2],
    /// Samples at or over full scale, left and right.
    pub overs: [u64; 2],
    /// Samples lost.
    pub lost: u64,
    /// Samples that were NaN or infinite.
    pub not_finite: u64,
    /// Shares of the roles, 0…1.
    pub shares: [Option<f64>; PARTS],
    /// Share of the sounding tenths in which each role leads, 0…1.
    pub leads: [Option<f64>; PARTS],
    /// The mix against the sum of its layers, dB; see [`Unaccounted`](crate::session::Unaccounted).
    pub unaccounted_db: Option<f64>,
}

/// The log of one layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Log {
    /// Counts up with every change.
    pub serial: u64,
    /// Findings, sorted by start.
    pub findings: Vec<Finding>,
    /// Joins, sorted by time.
    pub joins: Vec<Join>,
    /// Marks, ascending.
    pub marks: Vec<Mark>,
    /// First everything since reset, then the passages between marks, in order. Without marks only the first.
    pub passages: Vec<PassageLine>,
    /// Findings and joins dropped because there were too many; the oldest are dropped first.
    pub dropped: u64,
}

impl PassageLine {
    /// True peak of the louder channel, dBTP; absent without a reading.
    pub fn true_peak_dbtp(&self) -> Option<f64> {
        highest(self.loudness.true_peak_dbtp)
    }
}

impl Log {
    /// The roles that have a share in some passage, as indices in [`Role::PARTS`].
    pub fn roles(&self) -> impl Iterator<Item = usize> {
        (0..Role::PARTS.len()).filter(|part| self.passages.iter().any(|line| sounding(line.shares[*part])))
    }

    /// Index of the passage that contains a moment: of those between marks, the last that starts at or before it.
    /// `None` without marks, and before the first passage.
    pub fn passage_at(&self, moment: Mark) -> Option<usize> {
        let starts =
            |(_, line): &(usize, &PassageLine)| line.grid == moment.grid && line.start <= moment.index;
        let between = self.passages.iter().enumerate().skip(1).filter(starts);
        between.max_by_key(|(_, line)| line.start).map(|(at, _)| at)
    }
}

/// Most findings, and most joins, that a log keeps.
pub const MOST_ENTRIES: usize = 2_000;

/// A moment in the past that a view shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Past {
    /// The tenth at whose end everything is shown.
    pub at: Mark,
    /// Whether the moment is rebuilt from tenths because no view was kept of it. Readings that tenths do not hold are
    /// absent.
    pub rebuilt: bool,
    /// Whether nothing is kept of the moment: nothing was heard there, or it is too long ago. All readings are
    /// absent.
    pub absent: bool,
    /// Index of the latest tenth, for [`View::past_secs`](crate::View::past_secs).
    pub newest: Maybe,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_in_the_last_passage_that_starts_before_it() {
        let line = |start, end| PassageLine { grid: Grid::Song, start, end, ..PassageLine::default() };
        let passages = vec![line(0, 90), line(0, 30), line(30, 60), line(60, 90)];
        let log = Log { passages, ..Log::default() };
        let at = |index| log.passage_at(Mark { grid: Grid::Song, index });
        assert_eq!([at(0), at(29), at(30), at(89), at(90)], [Some(1), Some(1), Some(2), Some(3), Some(3)]);
        assert_eq!(at(-1), None);
        assert_eq!(log.passage_at(Mark { grid: Grid::Clock, index: 40 }), None);
        let alone = Log { passages: vec![line(0, 90)], ..Log::default() };
        assert_eq!(alone.passage_at(Mark { grid: Grid::Song, index: 40 }), None, "all of it needs no mark");
    }

    #[test]
    fn the_louder_channel_gives_the_true_peak() {
        let peak = |true_peak_dbtp| {
            PassageLine {
                loudness: Loudness { true_peak_dbtp, ..Loudness::default() },
                ..PassageLine::default()
            }
            .true_peak_dbtp()
        };
        assert_eq!(peak([Some(-3.0), Some(-1.0)]), Some(-1.0));
        assert_eq!(peak([None, Some(-9.0)]), Some(-9.0));
        assert_eq!(peak([None, Some(f64::NAN)]), None);
    }
}
