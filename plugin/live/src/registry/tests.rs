use super::*;
use crate::fault::{arm, disarm};
use crate::tap::{Stamp, Tap};
use crate::{Format, Layer};
use std::time::{Duration, Instant};

/// The most that a machine under load may take for what is due within a second.
const PATIENCE: Duration = Duration::from_secs(20);

fn wait_until(what: &str, mut done: impl FnMut() -> bool) {
    let start = Instant::now();
    while !done() {
        assert!(start.elapsed() < PATIENCE, "never: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// A registry of its own, and its layers.
struct Rig {
    registry: Registry,
    layers: Vec<(Arc<SharedState>, Arc<Layer>)>,
}

impl Rig {
    fn new() -> Self {
        Self { registry: Registry::EMPTY, layers: Vec::new() }
    }

    /// Adds a layer, whose stage fails once.
    fn join(&mut self, fails: Option<Stage>) -> Arc<Layer> {
        let shared = Arc::new(SharedState::new());
        fails.into_iter().for_each(|stage| arm(stage, shared.born.id, 1));
        let signal = self.registry.join(&shared);
        let layer = Layer::of(Arc::clone(&shared), signal);
        // Not in a session with layers that are not of this test.
        layer.change(|settings| (settings.session, settings.watched) = ('H', true));
        self.layers.push((shared, Arc::clone(&layer)));
        layer
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        for (shared, _) in &self.layers {
            disarm(shared.born.id);
            self.registry.leave(shared);
        }
    }
}

fn open(layer: &Arc<Layer>, offline: bool) -> Tap {
    layer.open(Format { rate_hz: 22_050.0, channels: 1, side_channels: 0, offline }).unwrap()
}

/// Plays `secs` of silence and waits until all of it is measured.
fn is_measured_to_the_end(layer: &Layer, mut tap: Tap, secs: i64) {
    let block = [0.0; 441];
    for k in 0..secs * 50 {
        tap.push(Stamp { song: Some(k * 441), playing: true }, &[&block], &[]);
    }
    drop(tap);
    wait_until("all is measured", || layer.is_settled());
    assert_eq!(layer.view().clock.position.sample, secs * 22_050 - 1);
    assert_eq!(layer.view().health.lost_frames, 0);
}

#[test]
fn a_layer_without_a_thread_waits_for_none_and_is_measured_once_a_later_one_gets_it() {
    let mut rig = Rig::new();
    let first = rig.join(Some(Stage::Spawn));
    let words = first.trouble().unwrap();
    assert!(words.contains("no thread"), "{words}");
    let mut tap = open(&first, true);
    let block = [0.0; 441];
    let start = Instant::now();
    for k in 0..6 * 50 {
        tap.push(Stamp { song: Some(k * 441), playing: true }, &[&block], &[]);
    }
    assert!(start.elapsed() < Duration::from_secs(5), "a render waits for no worker: {:?}", start.elapsed());
    drop(tap);
    let second = rig.join(None);
    wait_until("the words go", || first.trouble().is_none());
    first.send(plumbline_programme::Command::Reset);
    // Longer than a queue: now the render waits for the worker.
    let tap = open(&first, true);
    is_measured_to_the_end(&first, tap, 12);
    let tap = open(&second, true);
    is_measured_to_the_end(&second, tap, 12);
}

#[test]
fn a_worker_that_has_ended_is_replaced_with_the_next_layer() {
    let mut rig = Rig::new();
    let first = rig.join(Some(Stage::Start));
    let tap = open(&first, false);
    wait_until("the worker ends", || rig.registry.worker.as_ref().unwrap().is_finished());
    let words = first.trouble().unwrap();
    assert!(words.contains("fault on purpose"), "{words}");
    assert!(!rig.registry.instances.as_ref().unwrap().signal.measures());
    let second = rig.join(None);
    wait_until("the words go", || first.trouble().is_none());
    is_measured_to_the_end(&first, tap, 2);
    let tap = open(&second, false);
    is_measured_to_the_end(&second, tap, 2);
}

#[test]
fn the_last_layer_ends_the_worker() {
    let mut rig = Rig::new();
    let layer = rig.join(None);
    wait_until("it is measured", || layer.is_settled() || layer.serial() > 0);
    let instances = Arc::downgrade(rig.registry.instances.as_ref().unwrap());
    let (shared, _) = &rig.layers[0];
    rig.registry.leave(shared);
    assert!(rig.registry.worker.is_none() && instances.upgrade().is_none(), "joined");
}

/// Run by the next test: a fork while another test's thread holds a lock would leave it held in the child.
#[test]
#[cfg(unix)]
#[ignore = "run in a process of its own"]
fn forks_alone() {
    let mut rig = Rig::new();
    let first = rig.join(None);
    let good = crate::owner_process::tests::ends_well_in_a_child(|| {
        let second = rig.join(None);
        let alone = rig.registry.instances.as_ref().unwrap().list().len() == 1;
        wait_until("the child measures", || second.serial() > 0);
        let (shared, _) = rig.layers.last().unwrap();
        rig.registry.leave(shared);
        alone && rig.registry.worker.is_none()
    });
    assert!(good);
    let tap = open(&first, false);
    is_measured_to_the_end(&first, tap, 1);
}

#[test]
#[cfg(unix)]
fn a_forked_child_starts_a_worker_of_its_own_and_leaves_that_of_its_parent_alone() {
    let run = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["registry::tests::forks_alone", "--exact", "--ignored", "--test-threads=1"])
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&run.stdout);
    assert!(run.status.success() && words.contains("1 passed"), "{words}");
}
