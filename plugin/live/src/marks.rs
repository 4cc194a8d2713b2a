//! The marks of a layer: ascending, a thousand at most.

use plumbline_programme::{Command, Mark};

/// The most marks kept; the earliest is dropped first.
pub(crate) const MOST_MARKS: usize = 1_000;

/// The marks, those of the song before those of the clock.
#[derive(Clone, Debug, Default)]
pub(crate) struct Marks {
    list: Vec<Mark>,
    changed: bool,
}

impl Marks {
    /// Marks that are known already, in order.
    pub(crate) fn of(list: Vec<Mark>) -> Self {
        Self { list, changed: false }
    }

    pub(crate) fn list(&self) -> &[Mark] {
        &self.list
    }

    /// Whether the marks changed since the last call.
    pub(crate) fn take_changed(&mut self) -> bool {
        std::mem::take(&mut self.changed)
    }

    pub(crate) fn put(&mut self, mark: Mark) {
        self.changed = true;
        put(&mut self.list, mark);
    }

    /// Carries out a command about marks at known positions; ignores others.
    pub(crate) fn obey(&mut self, command: &Command) {
        self.changed |= apply(&mut self.list, command);
    }
}

/// Inserts a mark in order.
fn put(marks: &mut Vec<Mark>, mark: Mark) {
    if let Err(place) = marks.binary_search(&mark) {
        marks.insert(place, mark);
    }
    if marks.len() > MOST_MARKS {
        marks.remove(0);
    }
}

/// Carries out a command on a list of marks. Returns whether the command was about marks at known positions.
pub(crate) fn apply(marks: &mut Vec<Mark>, command: &Command) -> bool {
    match command {
        Command::ReplaceMarks(new) => {
            marks.clear();
            new.iter().for_each(|mark| put(marks, *mark));
        }
        Command::PutMarks(new) => new.iter().for_each(|mark| put(marks, *mark)),
        Command::Unmark(mark) => marks.retain(|known| known != mark),
        _ => return false,
    }
    true
}

/// Adds a command to those waiting. One that replaces all marks removes earlier commands about marks.
pub(crate) fn enqueue(waiting: &mut Vec<Command>, command: Command) {
    if matches!(command, Command::ReplaceMarks(_)) {
        let about_marks = |earlier: &Command| *earlier == Command::Mark || apply(&mut Vec::new(), earlier);
        waiting.retain(|earlier| !about_marks(earlier));
    }
    waiting.push(command);
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
        let mut waiting = Vec::new();
        enqueue(&mut waiting, Command::Reset);
        enqueue(&mut waiting, Command::ReplaceMarks(vec![mark(1), mark(2)]));
        enqueue(&mut waiting, Command::Mark);
        enqueue(&mut waiting, Command::ReplaceMarks(vec![mark(7)]));
        assert_eq!(waiting, [Command::Reset, Command::ReplaceMarks(vec![mark(7)])]);
        let mut marks = vec![mark(3)];
        for command in &waiting {
            apply(&mut marks, command);
        }
        assert_eq!(marks, [mark(7)]);
    }

    #[test]
    fn marks_are_set_once_in_order_and_the_earliest_goes() {
        let mut marks = Vec::new();
        apply(&mut marks, &Command::PutMarks(vec![mark(5), mark(-3), mark(5)]));
        apply(&mut marks, &Command::Unmark(mark(-3)));
        apply(&mut marks, &Command::PutMarks(vec![mark(2)]));
        assert_eq!(marks, [mark(2), mark(5)]);
        apply(&mut marks, &Command::PutMarks((0..1_000).map(mark).collect()));
        assert_eq!((marks.len(), marks[0]), (MOST_MARKS, mark(0)));
        put(&mut marks, mark(5_000));
        assert_eq!((marks.len(), marks[0], marks[999]), (MOST_MARKS, mark(1), mark(5_000)));
    }

    /// A save right after a load holds the loaded marks, wherever the worker is in its round, and even without a
    /// worker.
    #[test]
    fn a_save_right_after_a_load_has_its_marks() {
        let layer = crate::Layer::join();
        for round in 0..200 {
            layer.send(Command::ReplaceMarks(vec![mark(round), mark(round + 10)]));
            assert_eq!(layer.marks(), [mark(round), mark(round + 10)], "round {round}");
            layer.send(Command::Unmark(mark(round)));
            assert_eq!(layer.marks(), [mark(round + 10)], "round {round}");
        }
    }
}
