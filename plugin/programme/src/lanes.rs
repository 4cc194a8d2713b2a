//! What the time lanes show: columns of tenths, ready to be painted.

use crate::role::PARTS;
use plumbline_measure::Grid;
use plumbline_measure::reading::Maybe;
use serde::{Deserialize, Serialize};

/// Which stretch of time the lanes show.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TimeWindow {
    /// Tenths from the left to the right edge; none shows the whole programme. While a passage that fits is played
    /// again and the lens follows, so much of it as was heard.
    pub tenths: Option<u32>,
    /// The first tenth past the right edge; none follows the newest.
    pub end: Option<i64>,
    /// Columns there is room for, at most [`MOST_COLUMNS`].
    pub columns: u16,
}

/// Most columns that are made.
pub const MOST_COLUMNS: u16 = 2_048;

impl Default for TimeWindow {
    /// Two minutes, following.
    fn default() -> Self {
        Self { tenths: Some(1_200), end: None, columns: 800 }
    }
}

/// Lowest and highest of a reading in a column; both absent without a reading.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MinMax {
    /// Lowest.
    pub low: Maybe,
    /// Highest.
    pub high: Maybe,
}

/// What the lanes show of some neighbouring tenths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Tenths heard; 0 leaves a gap.
    pub tenths: u32,
    /// Of those, the ones with audio lost or heard in part.
    pub broken: u32,
    /// Momentary loudness, LUFS.
    pub momentary: MinMax,
    /// Short-term loudness, LUFS.
    pub short_term: MinMax,
    /// Side share, 0…1.
    pub width: MinMax,
    /// Lowest correlation over 300 ms.
    pub correlation: Maybe,
    /// Shares of the roles in the layers' K-weighted energy, 0…1; absent while nothing sounds or nobody told.
    pub shares: [Maybe; PARTS],
    /// The pass before over the same song time: short-term loudness.
    pub former_short_term: MinMax,
    /// The pass before: side share.
    pub former_width: MinMax,
}

/// The lanes over one stretch of time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Lanes {
    /// Which clock.
    pub grid: Grid,
    /// First tenth of the first column; a multiple of `per_column`.
    pub first: i64,
    /// Tenths a column.
    pub per_column: u32,
    /// Tenth at the left edge: in the first column.
    pub left: i64,
    /// Tenth at the right edge: after the last shown.
    pub right: i64,
    /// Columns from left to right.
    pub columns: Vec<Column>,
    /// First tenth ever heard on this clock, and the one after the last.
    pub extent: [i64; 2],
    /// Whether the right edge follows the newest tenth.
    pub follows: bool,
    /// Whether a passage is played again, as a loop is: the edges stand at what was heard, up to its end, instead of going
    /// to and fro with the newest tenth.
    pub again: bool,
    /// The newest tenth.
    pub newest: i64,
}
