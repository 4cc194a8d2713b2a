//! The worker's rounds: the engines of all layers, and the board between them.

use crate::board::{BoardReader, Folder, Numbers};
use crate::clock;
use crate::engine::{LayerEngine, Pace};
use crate::fault::{self, Stage};
use crate::instances::Instances;
use crate::panic_guard::guarded;
use crate::shared::SharedState;
use plumbline_measure::Analyzer;
use std::sync::Arc;
use std::time::Duration;

/// Pause between two rounds while audio flows. Short against the 30 ms that a reading may take to reach the screen, and
/// long enough that a hundred layers do not wake the processor for every block.
const FLOWING: Duration = Duration::from_millis(8);
/// Pause while no audio comes. A queue holds seconds, so the first audio after a rest only waits.
pub(crate) const IDLE: Duration = Duration::from_millis(50);
/// Pause while no audio comes here, but other layers are followed. A board file keeps 6.4 s of digests, which an
/// offline render in another process writes in 26 ms at 250 times real time.
const LISTENING: Duration = Duration::from_millis(20);

/// The engines of all layers, and the board.
pub(crate) struct Rounds<'a> {
    instances: &'a Instances,
    folder: &'a Result<Folder, String>,
    // Dropped before the engines: it shares the mappings of their files, and Windows does not remove a mapped file.
    board: BoardReader,
    engines: Vec<LayerEngine<Analyzer>>,
    /// Layers without an engine, because making it failed, and their attempts by then.
    refused: Vec<(Arc<SharedState>, u64)>,
    /// Attempts of all layers when reading the board failed; `None` while it works.
    board_failed: Option<u64>,
}

impl<'a> Rounds<'a> {
    pub(crate) fn new(instances: &'a Instances, folder: &'a Result<Folder, String>) -> Self {
        let board = BoardReader::new(folder.clone());
        Self { instances, folder, engines: Vec::new(), refused: Vec::new(), board, board_failed: None }
    }

    /// A round over all layers and the board, a pause, and so on until the worker is stopped.
    pub(crate) fn run(&mut self) {
        while !self.instances.is_stopped() {
            self.update();
            match self.round() {
                Pace::Busy => {}
                Pace::Flowing => std::thread::park_timeout(FLOWING),
                Pace::Listening => std::thread::park_timeout(LISTENING),
                Pace::Idle => std::thread::park_timeout(IDLE),
            }
        }
    }

    fn round(&mut self) -> Pace {
        // The clock is read once a round, so that layers which start together get the same position.
        let now = clock::since_zero();
        let mut pace = Pace::Idle;
        for engine in &mut self.engines {
            if self.instances.is_stopped() {
                return pace;
            }
            pace = pace.max(engine.round(now));
        }
        pace = pace.max(self.read_board(now));
        let mut numbers = Numbers::default();
        for engine in &mut self.engines {
            engine.take_number(now, &self.board, &mut numbers);
        }
        for engine in &mut self.engines {
            fault::point(Stage::Round, engine.shared().born.id);
            pace = pace.max(engine.attend(now, &self.board));
        }
        self.engines.iter().for_each(LayerEngine::settle);
        pace
    }

    /// Reads the board after all layers of this process have written, so that all have the same latency. After a
    /// failure it is not read until the next reset or opening of a layer.
    fn read_board(&mut self, now: Duration) -> Pace {
        if self.board_failed.is_some_and(|attempts| attempts != self.instances.attempts()) {
            self.board_failed = None;
            self.board = BoardReader::new(self.folder.clone());
        }
        let Self { engines, board, .. } = self;
        let wanted = engines.iter().any(|engine| engine.listens() || engine.wants_number(now));
        let read = guarded(|| {
            engines.iter().for_each(|engine| fault::point(Stage::Board, engine.shared().born.id));
            board.round(now, wanted)
        });
        match read {
            Ok(true) => Pace::Flowing,
            Ok(false) if board.has_company() => Pace::Listening,
            Ok(false) => Pace::Idle,
            Err(words) => {
                self.board_failed = Some(self.instances.attempts());
                let words = format!(
                    "reading the other layers failed ({words}). Reset in this window starts it again"
                );
                self.board = BoardReader::new(Err(words));
                Pace::Flowing
            }
        }
    }

    /// Drops the engines of layers that left, and makes engines for new layers, and for those whose engine could not
    /// be made before the latest reset or opening.
    fn update(&mut self) {
        let again = self.refused.iter().any(|(shared, attempts)| shared.attempts() != *attempts);
        if !self.instances.take_changed() && !again {
            return;
        }
        let layers = self.instances.list();
        let is_here = |shared: &Arc<SharedState>| layers.iter().any(|layer| Arc::ptr_eq(layer, shared));
        self.refused.retain(|(shared, attempts)| is_here(shared) && shared.attempts() == *attempts);
        let engines = std::mem::take(&mut self.engines);
        let (here, left): (Vec<_>, Vec<_>) = engines.into_iter().partition(|engine| is_here(engine.shared()));
        self.engines = here;
        for engine in left {
            // Nobody is left to read the words of a failure.
            let _ = guarded(|| drop(engine));
        }
        for shared in layers {
            let made = self.engines.iter().any(|engine| Arc::ptr_eq(&shared, engine.shared()));
            if !made && !self.refused.iter().any(|(of, _)| Arc::ptr_eq(of, &shared)) {
                self.make(shared);
            }
        }
    }

    fn make(&mut self, shared: Arc<SharedState>) {
        match guarded(|| LayerEngine::new(Arc::clone(&shared), self.folder.clone())) {
            Ok(engine) => self.engines.push(engine),
            Err(words) => self.refuse(shared, &words),
        }
    }

    /// Leaves a layer without an engine until its next reset or opening.
    fn refuse(&mut self, shared: Arc<SharedState>, words: &str) {
        shared.set_trouble(Some(format!(
            "measuring this layer could not start, due to an internal error ({words}). Audio passes, but is not \
             measured. Reset in this window tries again"
        )));
        let attempts = shared.attempts();
        self.refused.push((shared, attempts));
    }

    /// Makes the reader of the board and all engines anew, after a failure outside the guards of the layers. Marks and
    /// the audio that waits are kept.
    pub(crate) fn renew(&mut self, words: &str) {
        // A layer that came while the failing round took the change would be missed.
        self.instances.note_change();
        let board = std::mem::replace(&mut self.board, BoardReader::new(self.folder.clone()));
        // What cannot even be dropped is left to the system.
        let _ = guarded(|| drop(board));
        self.board_failed = None;
        for engine in std::mem::take(&mut self.engines) {
            let shared = Arc::clone(engine.shared());
            match guarded(|| engine.renewed(self.folder.clone(), words)) {
                Ok(engine) => self.engines.push(engine),
                Err(words) => self.refuse(shared, &words),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn engines_follow_the_layers_and_those_that_left_are_dropped() {
        let instances = Instances::default();
        let folder = Err("no board here".into());
        let layers: Vec<Arc<SharedState>> = (0..3).map(|_| Arc::new(SharedState::new())).collect();
        layers.iter().for_each(|layer| instances.add(Arc::clone(layer)));
        let mut rounds = Rounds::new(&instances, &folder);
        rounds.update();
        assert_eq!(rounds.engines.len(), 3);
        assert_eq!(instances.remove(&layers[1]), 2);
        rounds.update();
        let has = |layer| rounds.engines.iter().any(|engine| Arc::ptr_eq(engine.shared(), layer));
        let kept: Vec<bool> = layers.iter().map(has).collect();
        assert_eq!((rounds.engines.len(), kept), (2, vec![true, false, true]));
        assert_eq!(Arc::strong_count(&layers[1]), 1, "nothing of it is held any more");
    }
}
