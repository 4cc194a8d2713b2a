//! Faults on purpose, for unit tests: each stage of the worker can be made to fail for one layer. Does nothing
//! elsewhere.

use plumbline_programme::LayerId;

/// A stage of the worker.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stage {
    /// The system gives no thread.
    Spawn,
    /// The worker before its rounds, outside every guard but the last.
    Start,
    /// Making a layer's engine.
    Making,
    /// Making a layer's engine again, after a failure between the engines.
    Renewal,
    /// Settings and commands, half carried out.
    Commands,
    /// Audio, with a chunk in hand.
    Intake,
    /// The layer's file on the board.
    Publishing,
    /// The number in the session.
    Number,
    /// Reading the board.
    Board,
    /// The session and its balance.
    Session,
    /// Joining the record with those of other layers.
    Record,
    /// Pairs of microphones.
    Pairs,
    /// The view.
    View,
    /// Between the engines, outside the guards of all layers.
    Round,
}

/// Panics if a test has armed this stage for this layer.
pub(crate) fn point(stage: Stage, layer: LayerId) {
    assert!(!strikes(stage, layer), "fault on purpose: {stage:?}");
}

#[cfg(not(test))]
pub(crate) fn strikes(_: Stage, _: LayerId) -> bool {
    false
}

#[cfg(test)]
pub(crate) use armed::{arm, disarm, is_armed, strikes};

#[cfg(test)]
mod armed {
    use super::{LayerId, Stage};
    use crate::shared::lock;
    use std::sync::Mutex;

    /// Stage, layer, and how many times more it fails.
    static ARMED: Mutex<Vec<(Stage, LayerId, u32)>> = Mutex::new(Vec::new());

    /// Makes a stage fail the next `times` times for a layer.
    pub(crate) fn arm(stage: Stage, layer: LayerId, times: u32) {
        lock(&ARMED).push((stage, layer, times));
    }

    /// Disarms all stages of a layer, and returns how many failures were left.
    pub(crate) fn disarm(layer: LayerId) -> u32 {
        let mut armed = lock(&ARMED);
        let left = armed.iter().filter(|(_, of, _)| *of == layer).map(|(_, _, times)| times).sum();
        armed.retain(|(_, of, _)| *of != layer);
        left
    }

    /// Whether any stage of a layer is still to fail.
    pub(crate) fn is_armed(layer: LayerId) -> bool {
        lock(&ARMED).iter().any(|(_, of, times)| *of == layer && *times > 0)
    }

    /// Whether this stage fails now; counts the failure.
    pub(crate) fn strikes(stage: Stage, layer: LayerId) -> bool {
        let mut armed = lock(&ARMED);
        let found = armed.iter_mut().find(|(at, of, times)| (*at, *of) == (stage, layer) && *times > 0);
        found.map(|(_, _, times)| *times -= 1).is_some()
    }
}
