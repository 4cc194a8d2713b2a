//! The one thread that measures every layer of the process.

use crate::board::{Board, Folder, Numbers};
use crate::clock;
use crate::desk::{Desk, lock};
use crate::guard::guarded;
use crate::priority;
use crate::seat::{Pace, Seat};
use plumbline_measure::Analyzer;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Pause between two rounds while audio flows: short against the 30 ms that a reading may take to the screen, and
/// long enough that a hundred layers do not wake the processor for every block.
const FLOWING: Duration = Duration::from_millis(8);
/// Pause while nothing comes. A queue holds seconds, so the first audio after a rest only waits.
const IDLE: Duration = Duration::from_millis(50);
/// Pause while nothing comes here, but somebody wants to know of other layers. A file on the board keeps 6.4 s of
/// digests, which an offline render of another process at 250 times real time writes in 26 ms.
const LISTENING: Duration = Duration::from_millis(20);

/// The layers that the worker looks after.
#[derive(Default)]
pub(crate) struct Crew {
    desks: Mutex<Vec<Arc<Desk>>>,
    changed: AtomicBool,
    pub(crate) stop: AtomicBool,
}

impl Crew {
    pub(crate) fn add(&self, desk: Arc<Desk>) {
        lock(&self.desks).push(desk);
        self.changed.store(true, Ordering::Release);
    }

    /// Removes a layer and returns how many are left.
    pub(crate) fn remove(&self, desk: &Arc<Desk>) -> usize {
        let mut desks = lock(&self.desks);
        desks.retain(|d| !Arc::ptr_eq(d, desk));
        self.changed.store(true, Ordering::Release);
        desks.len()
    }

    /// Brings the seats in line with the layers there are.
    fn seat(&self, seats: &mut Vec<Seat<Analyzer>>, folder: &Result<Folder, String>) {
        if !self.changed.swap(false, Ordering::AcqRel) {
            return;
        }
        let desks = lock(&self.desks).clone();
        seats.retain(|s| desks.iter().any(|d| Arc::ptr_eq(d, s.desk())));
        for desk in desks {
            if !seats.iter().any(|s| Arc::ptr_eq(&desk, s.desk())) {
                seats.push(Seat::new(desk, folder.clone()));
            }
        }
    }
}

/// The worker's life: a round over all layers and the board, a pause, and again until told to stop. Never panics:
/// each part catches its own.
///
/// Hosts unload the binary when it has ended: nothing is mapped by then.
pub(crate) fn run(crew: &Crew) {
    priority::settle();
    let folder = find_folder();
    rounds(crew, &folder);
    if let Ok(folder) = folder {
        folder.leave();
    }
}

fn find_folder() -> Result<Folder, String> {
    let found =
        guarded(Folder::find).unwrap_or_else(|words| Err(format!("the board failed inside ({words})")));
    found.map_err(|words| format!("{words}. Layers do not hear each other; everything else works"))
}

fn rounds(crew: &Crew, folder: &Result<Folder, String>) {
    let mut seats: Vec<Seat<Analyzer>> = Vec::new();
    let mut board = Board::new(folder.clone());
    while !crew.stop.load(Ordering::Acquire) {
        crew.seat(&mut seats, folder);
        // One look at the clock a round, so that layers which start together are placed together.
        let now = clock::since_zero();
        let mut pace = Pace::Idle;
        for seat in &mut seats {
            if crew.stop.load(Ordering::Acquire) {
                return;
            }
            pace = pace.max(seat.round(now));
        }
        // The board is read after all layers of this process have written, so that none is heard later than others.
        let wanted = seats.iter().any(|seat| seat.listens() || seat.wants_number(now));
        match guarded(|| board.round(now, wanted)) {
            Ok(true) => pace = pace.max(Pace::Flowing),
            Ok(false) if board.has_company() => pace = pace.max(Pace::Listening),
            Ok(false) => {}
            Err(words) => board = Board::new(Err(format!("the board failed inside ({words})"))),
        }
        let mut numbers = Numbers::default();
        for seat in &mut seats {
            seat.take_number(now, &board, &mut numbers);
        }
        for seat in &mut seats {
            pace = pace.max(seat.attend(now, &board));
        }
        seats.iter().for_each(Seat::settle);
        match pace {
            Pace::Busy => {}
            Pace::Flowing => std::thread::park_timeout(FLOWING),
            Pace::Listening => std::thread::park_timeout(LISTENING),
            Pace::Idle => std::thread::park_timeout(IDLE),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seats_follow_the_layers_and_those_that_left_are_let_go() {
        let crew = Crew::default();
        let desks: Vec<Arc<Desk>> = (0..3).map(|_| Arc::new(Desk::new())).collect();
        let mut seats = Vec::new();
        desks.iter().for_each(|d| crew.add(Arc::clone(d)));
        crew.seat(&mut seats, &Err("no board here".into()));
        assert_eq!(seats.len(), 3);
        assert_eq!(crew.remove(&desks[1]), 2);
        crew.seat(&mut seats, &Err("no board here".into()));
        let kept: Vec<bool> = desks.iter().map(|d| seats.iter().any(|s| Arc::ptr_eq(s.desk(), d))).collect();
        assert_eq!((seats.len(), kept), (2, vec![true, false, true]));
        assert_eq!(Arc::strong_count(&desks[1]), 1, "nothing of it is held any more");
    }
}
