//! Moments as they were shown, the latest five minutes.
//!
//! # Memory
//! `size_of::<Moment>()` bytes each, and only for tenths that were watched.

use plumbline_measure::Grid;
use plumbline_programme::{Mark, Moment};
use std::collections::{BTreeMap, VecDeque};

/// The most moments that a layer keeps as they were shown: five watched minutes.
pub const MOST_MOMENTS: usize = 3_000;

/// Moments by tenth; a later pass replaces an earlier one.
#[derive(Debug, Default)]
pub(super) struct Moments {
    kept: BTreeMap<(Grid, i64), (u64, Box<Moment>)>,
    /// Tenths in the order in which they were kept; an entry replaced since is skipped.
    order: VecDeque<(u64, (Grid, i64))>,
    count: u64,
}

impl Moments {
    pub(super) fn keep(&mut self, at: Mark, moment: Moment) {
        self.count += 1;
        let key = (at.grid, at.index);
        self.kept.insert(key, (self.count, Box::new(moment)));
        self.order.push_back((self.count, key));
        while self.kept.len() > MOST_MOMENTS || self.order.len() > 2 * MOST_MOMENTS {
            let Some((count, key)) = self.order.pop_front() else { break };
            if self.kept.get(&key).is_some_and(|(kept, _)| *kept == count) {
                self.kept.remove(&key);
            }
        }
    }

    pub(super) fn get(&self, at: Mark) -> Option<&Moment> {
        self.kept.get(&(at.grid, at.index)).map(|(_, moment)| &**moment)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_programme::View;

    #[test]
    fn the_newest_five_minutes_are_kept_and_a_loop_is_kept_once() {
        let moment = |serial: f64| {
            let mut view = View::default();
            view.loudness.momentary_lufs = Some(serial);
            Moment::of(&view)
        };
        let at = |index: i64| Mark { grid: Grid::Song, index };
        let mut moments = Moments::default();
        for index in 0..MOST_MOMENTS as i64 + 100 {
            moments.keep(at(index), moment(0.0));
        }
        assert_eq!(moments.kept.len(), MOST_MOMENTS);
        assert!(moments.get(at(99)).is_none() && moments.get(at(100)).is_some());
        for pass in 0..50 {
            (1_000..1_050).for_each(|i| moments.keep(at(i), moment(f64::from(pass))));
        }
        assert_eq!(moments.kept.len(), MOST_MOMENTS, "what is looped pushes nothing out");
        assert_eq!(moments.get(at(1_020)), Some(&moment(49.0)));
        assert!(moments.order.len() <= 2 * MOST_MOMENTS);
    }
}
