//! Layers in two host processes and in both formats: they find each other, leave, and survive the kill of a process.

use crate::assert_quiet;
use crate::session_rig::{Layer, RATE_HZ};
use crate::signals::assert_bit_equal;
use plumbline_programme::Role;
use plumbline_tests::rig::clap::Library;
use plumbline_tests::rig::readings::{Glimpse, Port};
use plumbline_tests::rig::{Moment, board, bundles, child, state, vst3};
use plumbline_tests::signal::{Noise, single};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// Frames of a block: 10 ms.
const BLOCK: usize = 480;
/// The longest time until all layers know that another joined or left. Under Wine every access to a file goes through a
/// server, which took 353 ms on a busy computer.
const KNOWN: Duration = Duration::from_millis(if cfg!(windows) { 1_000 } else { 300 });
/// The longest time until the layers of a killed process are gone.
const GONE: Duration = Duration::from_secs(if cfg!(windows) { 2 } else { 1 });
/// Trials of joining and leaving; the median counts, so that other work on the computer may disturb a few.
const TRIALS: usize = 5;
/// Trials of killing a process; the median counts.
const KILLS: usize = 3;
/// The most frames that measuring may lag behind the song if undisturbed: 100 ms.
const BEHIND: usize = 4_800;
/// The longest wait before the test gives up.
const PATIENCE: Duration = Duration::from_secs(60);

/// Milliseconds on the clock that all processes share.
fn now_ms() -> f64 {
    SystemTime::now().duration_since(UNIX_EPOCH).expect("after 1970").as_secs_f64() * 1e3
}

/// A host process that plays in real time: layers of the CLAP, and of the VST3.
struct Host {
    clap: Vec<Layer>,
    vst3: Vec<vst3::Instance>,
    library: Library,
    ports: [Port; 2],
    signal: Vec<Vec<f32>>,
    start: Instant,
    frame: usize,
}

impl Host {
    fn new() -> Self {
        let path = bundles::clap().unwrap();
        let mut noise = Noise::new(11);
        Self {
            clap: Vec::new(),
            vst3: Vec::new(),
            library: Library::load(&path).unwrap(),
            ports: [&path, &bundles::vst3_library().unwrap()].map(|path| Port::open(path).unwrap()),
            signal: (0..2).map(|_| single(&noise.pink(48_000, 0.1, RATE_HZ))).collect(),
            start: Instant::now(),
            frame: 0,
        }
    }

    fn join_clap(&mut self, name: &str, role: Role) {
        let number = u32::try_from(self.clap.len()).unwrap();
        self.clap.push(Layer::new(&self.library, name, role, 'A', false));
        self.ports[0].watch(number, true).unwrap();
    }

    fn join_vst3(&mut self, name: &str, role: Role) {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let mut instance = vst3::Instance::create(&bundle, &classes[0].id, RATE_HZ, BLOCK).unwrap();
        let memory = serde_json::json!({"version": 1, "name": name, "role": role, "session": "A"});
        instance.load(&state::with_memory(&memory.to_string())).unwrap();
        instance.start().unwrap();
        self.ports[1].watch(u32::try_from(self.vst3.len()).unwrap(), true).unwrap();
        self.vst3.push(instance);
    }

    /// Plays the blocks that are due; the output must equal the input.
    fn play(&mut self) {
        let due = self.start.elapsed().as_secs_f64() * RATE_HZ;
        while (self.frame + BLOCK) as f64 <= due {
            let at = self.frame % (self.signal[0].len() - BLOCK);
            let block: Vec<Vec<f32>> = self.signal.iter().map(|s| s[at..at + BLOCK].to_vec()).collect();
            let moment = Moment::playing_at(i64::try_from(self.frame).unwrap());
            for layer in &mut self.clap {
                let out = layer.processor.as_mut().expect("active").play(&block, moment).unwrap();
                assert_bit_equal(&out, &block, &layer.name);
                layer.instance.idle();
            }
            // No `idle`: the framework reports its latency at each activation, and the host library reactivates the
            // instance each time.
            for instance in &mut self.vst3 {
                let out = instance.play(&block, moment).unwrap();
                assert_bit_equal(&out, &block, "a VST3 layer");
            }
            self.frame += BLOCK;
        }
    }

    /// Starts the second process. The song is stopped meanwhile, so that there is no backlog.
    fn start_peer(&mut self) -> child::Peer {
        let begun = Instant::now();
        let mut peer = child::Peer::start("second process");
        assert_eq!(peer.word(), "here");
        self.start += begun.elapsed();
        peer
    }

    /// The latest glimpse of each layer of this process.
    fn glimpses(&self) -> Vec<Glimpse> {
        let of = |port: &Port, count: usize| -> Vec<Glimpse> {
            (0..u32::try_from(count).unwrap()).map(|i| port.glimpse(i).unwrap()).collect()
        };
        let mut all = of(&self.ports[0], self.clap.len());
        all.extend(of(&self.ports[1], self.vst3.len()));
        all
    }

    /// Plays until each layer of this process finds exactly `count` layers.
    fn play_until_all_hear(&mut self, count: usize) {
        let start = Instant::now();
        loop {
            self.play();
            let heard: Vec<usize> = self.glimpses().iter().map(|g| g.session.layers.len()).collect();
            if heard.iter().all(|heard| *heard == count) {
                return;
            }
            assert!(start.elapsed() < PATIENCE, "all were to hear {count} layers; they hear {heard:?}");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn play_for(&mut self, time: Duration) {
        let start = Instant::now();
        while start.elapsed() < time {
            self.play();
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    /// Plays until each layer of this process has measured all but the latest frames.
    fn play_until_all_keep_up(&mut self) {
        let start = Instant::now();
        loop {
            self.play();
            // Reading four views takes longer than audio may pause, so "running" proves nothing here, but the position
            // does.
            let behind: Vec<i64> =
                self.glimpses().iter().map(|g| self.frame as i64 - g.clock.position.sample).collect();
            if behind.iter().all(|behind| *behind < BEHIND as i64) {
                return;
            }
            assert!(
                start.elapsed() < PATIENCE,
                "at frame {} the layers are {behind:?} frames behind",
                self.frame
            );
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

/// The second process: two layers that come and go on orders.
fn second_process() {
    let orders = child::orders();
    let mut host = Host::new();
    child::say("here");
    loop {
        host.play();
        match orders.recv_timeout(Duration::from_millis(2)).as_deref() {
            Ok("join") => {
                host.join_clap("boom", Role::Natural);
                host.join_clap("lavalier", Role::Voice);
                child::say(&now_ms().to_string());
                host.play_until_all_hear(6);
                child::say("six");
            }
            Ok("leave") => {
                let from = now_ms();
                host.clap.clear();
                child::say(&from.to_string());
            }
            Ok(other) => panic!("`{other}` is not an order"),
            Err(std::sync::mpsc::RecvTimeoutError::Timeout) => {}
            Err(std::sync::mpsc::RecvTimeoutError::Disconnected) => return,
        }
    }
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    values[values.len() / 2]
}

#[test]
fn six_layers_of_two_processes_and_two_formats_come_and_go() {
    let Some(quiet) = child::run(&[], || {
        if child::part().is_some() {
            return second_process();
        }
        let mut host = Host::new();
        host.join_clap("mix", Role::Mix);
        host.join_clap("chisel", Role::Foley);
        host.join_vst3("tower", Role::Natural);
        host.join_vst3("swell", Role::Design);
        host.play_until_all_hear(4);
        let mut peer = host.start_peer();
        let (mut joined, mut left) = (Vec::new(), Vec::new());
        for trial in 0..TRIALS {
            peer.order("join");
            host.play_until_all_hear(6);
            let seen = now_ms();
            joined.push(seen - peer.word().parse::<f64>().expect("a time"));
            assert_eq!(peer.word(), "six", "the second process finds the first");
            let names: Vec<String> =
                host.glimpses()[0].session.layers.iter().map(|line| line.identity.name.clone()).collect();
            for name in ["mix", "chisel", "tower", "swell", "boom", "lavalier"] {
                assert!(names.iter().any(|n| n == name), "{name} is not among {names:?}");
            }
            if trial + 1 == TRIALS {
                break;
            }
            peer.order("leave");
            host.play_until_all_hear(4);
            let seen = now_ms();
            left.push(seen - peer.word().parse::<f64>().expect("a time"));
        }
        let (joined, left) = (middle(joined), middle(left));
        let known = KNOWN.as_secs_f64() * 1e3;
        assert!(joined <= known, "a layer that joined was known to all after {joined:.0} ms");
        assert!(left <= known, "a layer that left was gone for all after {left:.0} ms");

        // Killed as by `kill -9`, so it cannot clean up.
        let mut gone = Vec::new();
        for kill in 0..KILLS {
            if kill > 0 {
                peer = host.start_peer();
                peer.order("join");
                host.play_until_all_hear(6);
                peer.word();
                assert_eq!(peer.word(), "six", "the second process finds the first");
            }
            let with_peer = board::files().unwrap();
            assert_eq!(with_peer.len(), 6, "one file a layer: {with_peer:?}");
            let start = Instant::now();
            peer.kill();
            host.play_until_all_hear(4);
            while board::files().unwrap().len() > 4 {
                assert!(start.elapsed() < PATIENCE, "still on the board: {:?}", board::files());
                host.play();
                std::thread::sleep(Duration::from_millis(2));
            }
            gone.push(start.elapsed().as_secs_f64() * 1e3);
        }
        let gone = middle(gone);
        assert!(gone <= GONE.as_secs_f64() * 1e3, "a killed process was gone after {gone:.0} ms");
        host.play_for(Duration::from_secs(1));
        host.play_until_all_keep_up();
        for glimpse in host.glimpses() {
            assert_eq!((glimpse.health.lost_frames, glimpse.health.gaps), (0, 0));
            assert_eq!(glimpse.session.layers.len(), 4);
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
