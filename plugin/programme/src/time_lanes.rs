//! Columns of tenths for the time lanes, ready to be painted.

use crate::role::{PARTS, sounding};
use plumbline_measure::Grid;
use plumbline_measure::reading::Maybe;
use serde::{Deserialize, Serialize};

/// The stretch of time that the lanes show.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TimeWindow {
    /// Tenths from the left to the right edge; `None` shows the whole programme. While the window follows a loop that
    /// fits, only what was heard up to the end of the loop.
    pub tenths: Option<u32>,
    /// The first tenth after the right edge; `None` follows the latest.
    pub end: Option<i64>,
    /// Columns that fit on the screen, at most [`MOST_COLUMNS`].
    pub columns: u16,
}

/// Upper limit of [`TimeWindow::columns`].
pub const MOST_COLUMNS: u16 = 2_048;

impl Default for TimeWindow {
    /// Two minutes, following.
    fn default() -> Self {
        Self { tenths: Some(1_200), end: None, columns: 800 }
    }
}

/// Lowest and highest value of a reading in a column; both absent without a reading.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MinMax {
    /// Lowest.
    pub low: Maybe,
    /// Highest.
    pub high: Maybe,
}

/// The lanes' readings over some consecutive tenths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Tenths heard; 0 leaves a gap.
    pub tenths: u32,
    /// How many of them have lost audio or were heard in part.
    pub broken: u32,
    /// Momentary loudness, LUFS.
    pub momentary: MinMax,
    /// Short-term loudness, LUFS.
    pub short_term: MinMax,
    /// Side share, 0…1.
    pub width: MinMax,
    /// Lowest correlation over 300 ms.
    pub correlation: Maybe,
    /// Shares of the roles in the layers' K-weighted energy, 0…1; absent in silence and where no energies were
    /// reported.
    pub shares: [Maybe; PARTS],
    /// Short-term loudness of the previous pass over the same time, LUFS.
    pub former_short_term: MinMax,
    /// Side share of the previous pass, 0…1.
    pub former_width: MinMax,
}

/// The lanes over one stretch of time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Lanes {
    /// Which clock.
    pub grid: Grid,
    /// First tenth of the first column; a multiple of `per_column`.
    pub first: i64,
    /// Tenths per column.
    pub per_column: u32,
    /// Tenth at the left edge, in the first column.
    pub left: i64,
    /// Tenth at the right edge, after the last one shown.
    pub right: i64,
    /// Columns from left to right.
    pub columns: Vec<Column>,
    /// First tenth heard on this clock, and the one after the last.
    pub extent: [i64; 2],
    /// Whether the right edge follows the latest tenth.
    pub follows: bool,
    /// Whether a passage is being replayed, as in a loop. The edges then stay still, with the end of the passage in
    /// view.
    pub again: bool,
    /// The latest tenth.
    pub newest: i64,
}

impl MinMax {
    /// The middle between lowest and highest; absent without a finite reading.
    pub fn middle(&self) -> Option<f64> {
        let middle = self.low.get()? / 2.0 + self.high.get()? / 2.0;
        middle.is_finite().then_some(middle)
    }
}

impl Lanes {
    /// Whether any column has a share.
    pub fn has_shares(&self) -> bool {
        self.columns.iter().any(|column| column.shares.iter().any(|share| sounding(share.get())))
    }

    /// Index of the column that holds a tenth; `None` before the first column.
    fn place(&self, tenth: i64) -> Option<usize> {
        let after = i128::from(tenth) - i128::from(self.first);
        usize::try_from(after.div_euclid(i128::from(self.per_column.max(1)))).ok()
    }

    /// The column that holds a tenth; `None` outside the columns.
    pub fn column_at(&self, tenth: i64) -> Option<&Column> {
        self.columns.get(self.place(tenth)?)
    }

    /// The tenth in view that was heard at `tenth`, or else the last one heard before it; `None` if none was.
    pub fn heard_at(&self, tenth: i64) -> Option<i64> {
        let [first, end] = self.extent;
        let tenth = tenth.clamp(self.left, self.right.saturating_sub(1).max(self.left));
        let tenth = tenth.min(end.saturating_sub(1));
        if tenth < first {
            return None;
        }
        let at = self.place(tenth)?;
        let mut before = (0..=at.min(self.columns.len().checked_sub(1)?)).rev();
        let found = before.find(|&i| self.columns[i].tenths > 0)?;
        if found == at {
            return Some(tenth);
        }
        let columns = i64::try_from(found).ok()?.saturating_add(1);
        let end = self.first.saturating_add(i64::from(self.per_column.max(1)).saturating_mul(columns));
        Some(end.saturating_sub(1).max(first))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tenth_that_was_not_heard_means_the_last_that_was() {
        let heard = Column { tenths: 5, ..Column::default() };
        let columns = vec![heard, heard, Column::default(), Column::default(), heard];
        let (extent, per_column) = ([100, 125], 5);
        let lanes =
            Lanes { first: 100, per_column, left: 100, right: 125, columns, extent, ..Lanes::default() };
        for (tenth, found) in
            [(100, 100), (103, 103), (109, 109), (110, 109), (117, 109), (120, 120), (900, 124)]
        {
            assert_eq!(lanes.heard_at(tenth), Some(found), "at {tenth}");
        }
        assert_eq!(Lanes { extent: [111, 125], ..lanes }.heard_at(105), None);
        assert_eq!(Lanes::default().heard_at(105), None);
    }
}
