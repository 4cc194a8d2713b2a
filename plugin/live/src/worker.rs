//! The one thread that measures every layer of the process.

use crate::board::{BoardReader, Folder, Numbers};
use crate::clock;
use crate::engine::{LayerEngine, Pace};
use crate::panic_guard::guarded;
use crate::priority;
use crate::shared::{SharedState, lock};
use plumbline_measure::Analyzer;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Pause between two rounds while audio flows. Short compared with the 30 ms that a reading may take to reach the
/// screen, but long enough that a hundred layers do not wake the processor for every block.
const FLOWING: Duration = Duration::from_millis(8);
/// Pause while no audio comes. A queue holds seconds, so the first audio after a rest is only delayed.
const IDLE: Duration = Duration::from_millis(50);
/// Pause while no audio comes here, but other layers are followed. A board file keeps 6.4 s of digests, which an
/// offline render in another process writes in 26 ms at 250 times real time.
const LISTENING: Duration = Duration::from_millis(20);

/// The layers of the worker.
#[derive(Default)]
pub(crate) struct Instances {
    layers: Mutex<Vec<Arc<SharedState>>>,
    changed: AtomicBool,
    pub(crate) stop: AtomicBool,
}

impl Instances {
    pub(crate) fn add(&self, shared: Arc<SharedState>) {
        lock(&self.layers).push(shared);
        self.changed.store(true, Ordering::Release);
    }

    /// Removes a layer and returns how many are left.
    pub(crate) fn remove(&self, shared: &Arc<SharedState>) -> usize {
        let mut layers = lock(&self.layers);
        layers.retain(|layer| !Arc::ptr_eq(layer, shared));
        self.changed.store(true, Ordering::Release);
        layers.len()
    }

    /// Drops the engines of layers that left, and makes engines for new layers.
    fn update(&self, engines: &mut Vec<LayerEngine<Analyzer>>, folder: &Result<Folder, String>) {
        if !self.changed.swap(false, Ordering::AcqRel) {
            return;
        }
        let layers = lock(&self.layers).clone();
        engines.retain(|engine| layers.iter().any(|layer| Arc::ptr_eq(layer, engine.shared())));
        for shared in layers {
            if !engines.iter().any(|engine| Arc::ptr_eq(&shared, engine.shared())) {
                engines.push(LayerEngine::new(shared, folder.clone()));
            }
        }
    }
}

/// Runs the worker: a round over all layers and the board, a pause, and so on until it must stop. Never panics: each
/// part catches its own panics.
///
/// When it returns, no file is mapped: hosts unload the binary next.
pub(crate) fn run(instances: &Instances) {
    priority::settle();
    let folder = find_folder();
    rounds(instances, &folder);
    if let Ok(folder) = folder {
        folder.leave();
    }
}

fn find_folder() -> Result<Folder, String> {
    let found = guarded(Folder::find).unwrap_or_else(|words| Err(format!("internal error ({words})")));
    found.map_err(|words| format!("{words}. Restart the host to try again"))
}

fn rounds(instances: &Instances, folder: &Result<Folder, String>) {
    let mut engines: Vec<LayerEngine<Analyzer>> = Vec::new();
    let mut board = BoardReader::new(folder.clone());
    while !instances.stop.load(Ordering::Acquire) {
        instances.update(&mut engines, folder);
        // The clock is read once a round, so that layers that start together get the same position.
        let now = clock::since_zero();
        let mut pace = Pace::Idle;
        for engine in &mut engines {
            if instances.stop.load(Ordering::Acquire) {
                return;
            }
            pace = pace.max(engine.round(now));
        }
        // The board is read after all layers of this process have written, so that all have the same latency.
        let wanted = engines.iter().any(|engine| engine.listens() || engine.wants_number(now));
        match guarded(|| board.round(now, wanted)) {
            Ok(true) => pace = pace.max(Pace::Flowing),
            Ok(false) if board.has_company() => pace = pace.max(Pace::Listening),
            Ok(false) => {}
            Err(words) => {
                board = BoardReader::new(Err(format!("internal error ({words}). Restart the host")))
            }
        }
        let mut numbers = Numbers::default();
        for engine in &mut engines {
            engine.take_number(now, &board, &mut numbers);
        }
        for engine in &mut engines {
            pace = pace.max(engine.attend(now, &board));
        }
        engines.iter().for_each(LayerEngine::settle);
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
    fn engines_follow_the_layers_and_those_that_left_are_dropped() {
        let instances = Instances::default();
        let layers: Vec<Arc<SharedState>> = (0..3).map(|_| Arc::new(SharedState::new())).collect();
        let mut engines = Vec::new();
        layers.iter().for_each(|d| instances.add(Arc::clone(d)));
        instances.update(&mut engines, &Err("no board here".into()));
        assert_eq!(engines.len(), 3);
        assert_eq!(instances.remove(&layers[1]), 2);
        instances.update(&mut engines, &Err("no board here".into()));
        let kept: Vec<bool> =
            layers.iter().map(|d| engines.iter().any(|s| Arc::ptr_eq(s.shared(), d))).collect();
        assert_eq!((engines.len(), kept), (2, vec![true, false, true]));
        assert_eq!(Arc::strong_count(&layers[1]), 1, "nothing of it is held any more");
    }
}
