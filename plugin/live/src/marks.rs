//! The marks of a layer: ascending, a thousand at most.

use plumbline_programme::Mark;

/// Most marks kept; the earliest in time goes first.
pub(crate) const MOST_MARKS: usize = 1_000;

/// Sets a mark where it belongs.
pub(crate) fn put(marks: &mut Vec<Mark>, mark: Mark) {
    if let Err(place) = marks.binary_search(&mark) {
        marks.insert(place, mark);
    }
    if marks.len() > MOST_MARKS {
        marks.remove(0);
    }
}

/// What is to become of the marks, until the worker has done it.
#[derive(Debug, Default)]
pub(crate) struct MarkOrders {
    /// All marks go, before anything else.
    clear: bool,
    /// Marks to set, and to take away, in this order.
    changes: Vec<(Mark, bool)>,
}

impl MarkOrders {
    /// All marks go, those that were ordered too.
    pub(crate) fn clear(&mut self) {
        self.clear = true;
        self.changes.clear();
    }

    /// Sets marks.
    pub(crate) fn put(&mut self, marks: impl IntoIterator<Item = Mark>) {
        self.changes.extend(marks.into_iter().map(|mark| (mark, true)));
    }

    /// Takes a mark away.
    pub(crate) fn remove(&mut self, mark: Mark) {
        self.changes.push((mark, false));
    }

    /// Whether nothing is ordered.
    pub(crate) fn is_empty(&self) -> bool {
        !self.clear && self.changes.is_empty()
    }

    /// Does to `marks` what is ordered.
    pub(crate) fn apply(&self, marks: &mut Vec<Mark>) {
        if self.clear {
            marks.clear();
        }
        for (mark, set) in &self.changes {
            if *set {
                put(marks, *mark);
            } else {
                marks.retain(|m| m != mark);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::Grid;

    fn mark(index: i64) -> Mark {
        Mark { grid: Grid::Song, index }
    }

    #[test]
    fn a_second_load_takes_the_place_of_one_that_the_worker_has_not_seen() {
        let mut orders = MarkOrders::default();
        assert!(orders.is_empty());
        orders.clear();
        orders.put([mark(1), mark(2)]);
        orders.clear();
        orders.put([mark(7)]);
        let mut marks = vec![mark(3)];
        orders.apply(&mut marks);
        assert_eq!(marks, [mark(7)]);
    }

    #[test]
    fn marks_are_set_once_in_order_and_the_earliest_goes() {
        let mut orders = MarkOrders::default();
        orders.put([mark(5), mark(-3), mark(5)]);
        orders.remove(mark(-3));
        orders.put([mark(2)]);
        let mut marks = Vec::new();
        orders.apply(&mut marks);
        assert_eq!(marks, [mark(2), mark(5)]);
        orders.put((0..1_000).map(mark));
        orders.apply(&mut marks);
        assert_eq!((marks.len(), marks[0]), (MOST_MARKS, mark(0)));
        put(&mut marks, mark(5_000));
        assert_eq!((marks.len(), marks[0], marks[999]), (MOST_MARKS, mark(1), mark(5_000)));
    }

    /// The worker may be anywhere in its round, or dead: what was loaded is what is saved.
    #[test]
    fn a_save_right_after_a_load_has_its_marks() {
        let layer = crate::Layer::join();
        for round in 0..200 {
            layer.clear_marks();
            layer.put_marks(vec![mark(round), mark(round + 10)]);
            assert_eq!(layer.marks(), [mark(round), mark(round + 10)], "round {round}");
            layer.unmark(mark(round));
            assert_eq!(layer.marks(), [mark(round + 10)], "round {round}");
        }
    }
}
