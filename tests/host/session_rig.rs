//! A session of layers of the built CLAP in this process.

use crate::STEREO;
use plumbline_programme::{Role, Session, Trial, View};
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::readings::{Glimpse, Port, Readings};
use plumbline_tests::rig::{Moment, bundles, state};
use std::time::{Duration, Instant};

/// How long a session must stay the same to count as settled: three times its update interval.
const SETTLED: Duration = Duration::from_millis(400);
/// The longest wait before the test gives up. Not a requirement on the plug-in.
pub(crate) const PATIENCE: Duration = Duration::from_secs(60);
/// How long to wait before more audio is played.
const SOON: Duration = Duration::from_secs(4);
/// Rate in Hz.
pub(crate) const RATE_HZ: f64 = 48_000.0;
/// Frames that each layer plays in its turn.
const TURN: usize = 4_800;

/// One layer.
pub(crate) struct Layer {
    // The processor is dropped before its instance.
    pub(crate) processor: Option<Processor>,
    pub(crate) instance: Instance,
    pub(crate) name: String,
}

impl Layer {
    /// An active instance with a name, a role and a letter, made as when a host loads a project.
    pub(crate) fn new(library: &Library, name: &str, role: Role, letter: char, offline: bool) -> Self {
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let saved = state::named(&instance.save().unwrap(), name, role, letter).unwrap();
        instance.load(&saved).unwrap();
        instance.set_offline(offline).unwrap();
        let processor = instance.activate(RATE_HZ, TURN).unwrap();
        Self { processor: Some(processor), instance, name: name.to_owned() }
    }
}

impl Drop for Layer {
    fn drop(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
    }
}

/// Layers in the order of the readings port, all watched.
pub(crate) struct SessionRig {
    layers: Vec<Layer>,
    library: Library,
    port: Port,
}

impl SessionRig {
    /// A session without layers; layers added later render offline.
    pub(crate) fn offline() -> Self {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        Self { layers: Vec::new(), port: Port::open(&path).unwrap(), library }
    }

    /// Adds a layer.
    pub(crate) fn join(&mut self, name: &str, role: Role, letter: char) {
        let number = u32::try_from(self.layers.len()).unwrap();
        self.layers.push(Layer::new(&self.library, name, role, letter, true));
        self.port.watch(number, true).unwrap();
    }

    /// Removes a layer; later ones move up.
    pub(crate) fn leave(&mut self, layer: usize) {
        drop(self.layers.remove(layer));
    }

    /// Loads another name, role and letter into a layer.
    pub(crate) fn rename(&mut self, layer: usize, name: &str, role: Role, letter: char) {
        let instance = &mut self.layers[layer].instance;
        let saved = state::named(&instance.save().unwrap(), name, role, letter).unwrap();
        instance.load(&saved).unwrap();
        self.layers[layer].name = name.to_owned();
    }

    pub(crate) fn layer(&self, layer: usize) -> &Layer {
        &self.layers[layer]
    }

    /// Plays a signal through each layer in turns, as a host renders its tracks. The output must equal the input.
    pub(crate) fn play(&mut self, signals: &[&Vec<Vec<f32>>], song_frame: i64) {
        for (layer, (out, signal)) in self.play_out(signals, song_frame).iter().zip(signals).enumerate() {
            assert!(out == *signal, "{}", self.layers[layer].name);
        }
    }

    /// The same for layers that may alter it; returns the output.
    pub(crate) fn play_out(&mut self, signals: &[&Vec<Vec<f32>>], song_frame: i64) -> Vec<Vec<Vec<f32>>> {
        assert_eq!(signals.len(), self.layers.len(), "one signal a layer");
        let mut all: Vec<Vec<Vec<f32>>> =
            signals.iter().map(|signal| vec![Vec::new(); signal.len()]).collect();
        let length = signals[0][0].len();
        for from in (0..length).step_by(TURN) {
            let to = (from + TURN).min(length);
            let moment = Moment::playing_at(song_frame + i64::try_from(from).unwrap());
            for ((layer, signal), all) in self.layers.iter_mut().zip(signals).zip(&mut all) {
                let block: Vec<&[f32]> = signal.iter().map(|side| &side[from..to]).collect();
                let processor = layer.processor.as_mut().expect("active");
                let out = processor.process(&block, None, moment, &[]).unwrap();
                all.iter_mut().zip(&out).for_each(|(all, out)| all.extend_from_slice(out));
            }
        }
        all
    }

    /// Tries a repair on a layer, or ends the trial.
    pub(crate) fn try_out(&self, layer: u32, trial: Option<Trial>) {
        self.port.try_out(layer, trial).unwrap();
    }

    /// Waits until the latest view of a layer meets `wanted`.
    pub(crate) fn view_once(&self, layer: u32, what: &str, wanted: impl Fn(&View) -> bool) -> View {
        view_once(&self.port, layer, what, wanted)
    }

    /// Waits a short time until the latest view of a layer meets `wanted`.
    pub(crate) fn view_soon(&self, layer: u32, wanted: impl Fn(&View) -> bool) -> Option<View> {
        let start = Instant::now();
        while start.elapsed() < SOON {
            let view = self.port.readings(layer, 0).unwrap().view;
            if wanted(&view) {
                return Some(view);
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        None
    }

    /// Ends the processing of all layers, and waits until all their audio is measured and reported.
    pub(crate) fn stop(&mut self) {
        for layer in &mut self.layers {
            if let Some(processor) = layer.processor.take() {
                layer.instance.deactivate(processor);
            }
        }
        wait_until("the end of the measurement", PATIENCE, || {
            (0..).take(self.layers.len()).all(|layer| self.port.is_settled(layer).unwrap())
        });
    }

    /// A layer's readings, with all its tenths.
    pub(crate) fn readings(&self, layer: u32) -> Readings {
        self.port.readings(layer, 36_000).unwrap()
    }

    pub(crate) fn glimpse(&self, layer: u32) -> Glimpse {
        self.port.glimpse(layer).unwrap()
    }

    /// Waits until every layer's latest view is within a chunk of the end of the audio.
    pub(crate) fn wait_for_frames(&self, end: i64) {
        for layer in 0..u32::try_from(self.layers.len()).unwrap() {
            wait_until("the end of what was played", PATIENCE, || {
                (end - 64..end).contains(&self.glimpse(layer).clock.position.sample)
            });
        }
    }

    /// Waits until a layer's session meets `wanted`.
    pub(crate) fn session_once(&self, layer: u32, what: &str, wanted: impl Fn(&Session) -> bool) -> Session {
        self.session_that_stays(layer, what, wanted, Duration::ZERO)
    }

    /// Waits until a layer's session meets `wanted` and stays the same for a while: layers report one after the
    /// other, and count as silent until they have.
    pub(crate) fn session_when(&self, layer: u32, what: &str, wanted: impl Fn(&Session) -> bool) -> Session {
        self.session_that_stays(layer, what, wanted, SETTLED)
    }

    fn session_that_stays(
        &self,
        layer: u32,
        what: &str,
        wanted: impl Fn(&Session) -> bool,
        time: Duration,
    ) -> Session {
        let start = Instant::now();
        let (mut seen, mut since) = (self.glimpse(layer).session, start);
        while !wanted(&seen) || since.elapsed() < time {
            assert!(start.elapsed() < PATIENCE, "waited too long for {what}; the session is {seen:#?}");
            std::thread::sleep(Duration::from_millis(5));
            let newer = self.glimpse(layer).session;
            if newer != seen {
                (seen, since) = (newer, Instant::now());
            }
        }
        seen
    }
}

/// Waits until the latest view of an instance meets `wanted`.
pub(crate) fn view_once(port: &Port, layer: u32, what: &str, wanted: impl Fn(&View) -> bool) -> View {
    let start = Instant::now();
    loop {
        let view = port.readings(layer, 0).unwrap().view;
        if wanted(&view) {
            return view;
        }
        assert!(start.elapsed() < PATIENCE, "waited too long for {what}; pairs: {:#?}", view.mics);
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Waits until `done` is true.
pub(crate) fn wait_until(what: &str, patience: Duration, mut done: impl FnMut() -> bool) {
    let start = Instant::now();
    while !done() {
        assert!(start.elapsed() < patience, "waited in vain for {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}
