//! Small VST3 hosts, each with a behaviour that the format allows or that some hosts have.
#![cfg(target_os = "linux")]

mod at_random;
mod editor;
mod keys;
mod latency;
mod leaks;
mod sound;
mod state;
mod track;

use plumbline_tests::rig::bundles;
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::vst3_raw::{Class, HostBehaviour, Instance, Module, Processor, Setup};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Sample rate of the tests that need only one, in Hz.
const RATE_HZ: f64 = 48_000.0;
/// The longest wait on a slow machine without a graphics card.
const PATIENCE: Duration = Duration::from_secs(30);

/// The module, its classes, and the readings of its instances.
struct Rig {
    module: Arc<Module>,
    port: Port,
    stereo: Class,
    mono: Class,
}

impl Rig {
    fn new() -> Self {
        let library = bundles::vst3_library().unwrap();
        let module = Module::load(&library).unwrap();
        let [stereo, mono]: [Class; 2] = module.classes().try_into().expect("two classes of audio");
        assert!(mono.name.contains("Mono"), "{}", mono.name);
        Self { module, port: Port::open(&library).unwrap(), stereo, mono }
    }

    fn stereo(&self, behaviour: HostBehaviour) -> Instance {
        Instance::create(&self.module, &self.stereo, behaviour).unwrap()
    }

    fn mono(&self, behaviour: HostBehaviour) -> Instance {
        Instance::create(&self.module, &self.mono, behaviour).unwrap()
    }
}

/// Real-time playback at the usual rate, in blocks of at most `largest_block` frames.
fn playing(largest_block: usize) -> Setup {
    Setup { rate_hz: RATE_HZ, largest_block, offline: false }
}

/// Sets an instance up and activates it.
fn activated(instance: &mut Instance, setup: Setup) -> Processor {
    instance.set_up(setup).unwrap();
    instance.activate().unwrap()
}

/// Waits until `wanted` is true, calling `idle` in between as a host would.
fn until(what: &str, mut idle: impl FnMut(), mut wanted: impl FnMut() -> bool) {
    let start = Instant::now();
    while !wanted() {
        assert!(start.elapsed() < PATIENCE, "{what} did not come in {PATIENCE:?}");
        idle();
        std::thread::sleep(Duration::from_millis(5));
    }
}
