//! The plug-in, loaded once, and the hosts that use it one by one.

use super::behaviour::{Behaviour, Life, Pause, Restart, Track, Transport};
use super::playback::Playback;
use super::rng::Rng;
use crate::signals::{arbitrary_bits, assert_bit_equal, sine};
use plumbline_measure::Averaging;
use plumbline_programme::Trial;
use plumbline_tests::rig::clap::{Instance, Library, Processor};
use plumbline_tests::rig::readings::{Port, Readings};
use plumbline_tests::rig::state::{memory_of, with_memory};
use plumbline_tests::rig::{board, bundles, threads};
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// The longest wait for a reading on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);
/// Peak of the sound: a full-scale sine reads 0 dBFS, so this one reads −20.
const PEAK: f64 = 0.1;
/// Its level and the tolerance of a reading, dB.
const LEVEL: [f64; 2] = [-20.0, 0.1];

/// A host's actions besides the sound, such as with an editor.
pub(super) trait Aside {
    /// Before the sound.
    fn before(&mut self, library: &Library, instance: &mut Instance);
    /// After the sound.
    fn after(&mut self, instance: &mut Instance);
}

/// The loaded plug-in.
pub(super) struct Rig {
    pub(super) library: Library,
    pub(super) port: Port,
    at_rest: Option<Vec<String>>,
}

impl Rig {
    pub(super) fn load() -> Self {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        Self { library, port, at_rest: threads::names() }
    }

    /// Plays one host from the first call to the last.
    pub(super) fn play(&self, behaviour: &Behaviour, mut aside: Option<&mut dyn Aside>, rng: &mut Rng) {
        let mut hosted = Hosted::new(self, behaviour);
        hosted.settle();
        hosted.activate();
        for label in behaviour.names.later() {
            hosted.instance.relabel(label).unwrap();
            hosted.instance.idle();
        }
        if let Some(aside) = &mut aside {
            aside.before(&self.library, &mut hosted.instance);
        }
        hosted.sound(rng);
        hosted.hears(0);
        if behaviour.pause == Pause::StopsCalling {
            // Once is enough, because each pause takes time.
            hosted.behaviour.pause = Pause::None;
        }
        if behaviour.tries {
            hosted.tries(rng);
        }
        if let Some(aside) = &mut aside {
            aside.after(&mut hosted.instance);
        }
        hosted.lives_on(rng);
        hosted.leave();
        self.is_empty();
    }

    /// Asserts that no instance, file or thread is left.
    pub(super) fn is_empty(&self) {
        assert_eq!(self.port.instances().unwrap(), 0, "instances are left");
        assert_eq!(board::files().unwrap(), Vec::<String>::new(), "files are left on the board");
        if let Some(at_rest) = &self.at_rest {
            threads::wait_for(at_rest).expect("every thread is joined with the last instance");
        }
    }

    /// Waits until the readings of an instance meet `wanted`.
    pub(super) fn wait(&self, index: u32, what: &str, wanted: impl Fn(&Readings) -> bool) -> Readings {
        let start = Instant::now();
        loop {
            let readings = self.port.readings(index, 0).unwrap();
            if wanted(&readings) {
                return readings;
            }
            assert!(
                start.elapsed() < PATIENCE,
                "{what} did not come; level {:?}, {:?}, {:?}, trouble {:?}",
                readings.view.spectral(Averaging::SinceReset).whole.level_dbfs,
                readings.view.clock,
                readings.view.health,
                readings.trouble,
            );
            std::thread::sleep(Duration::from_millis(4));
        }
    }
}

/// Whether a layer's shown name matches its track: the track's name, followed by a number if two have the same name;
/// only a number if the host gives no name.
fn is_called(shown: &str, track: &str) -> bool {
    let numbered = |start: &str, end: &str| {
        let number = shown.strip_prefix(start).and_then(|rest| rest.strip_suffix(end));
        number.is_some_and(|number| number.parse::<u8>().is_ok())
    };
    if track.is_empty() {
        numbered("Layer ", "")
    } else {
        shown == track || numbered(&format!("{track} ("), ")")
    }
}

/// One instance on one track of a host.
pub(super) struct Hosted<'s> {
    rig: &'s Rig,
    behaviour: Behaviour,
    pub(super) instance: Instance,
    /// `None` while it is not active.
    processor: Option<Processor>,
    /// Frames of the song played.
    played: usize,
    /// The state in the project.
    saved: Vec<u8>,
}

impl<'s> Hosted<'s> {
    /// Makes an instance on a track, and fits it.
    pub(super) fn new(rig: &'s Rig, behaviour: &Behaviour) -> Self {
        let mut instance = rig.library.create(behaviour.track.class(), behaviour.names.first()).unwrap();
        fit(&mut instance, behaviour.track);
        if behaviour.restart == Restart::AtOnce {
            instance.serve_restarts_at_once().unwrap();
        }
        Self { rig, behaviour: *behaviour, instance, processor: None, played: 0, saved: Vec::new() }
    }

    /// Loads a project's state, and saves at once.
    fn settle(&mut self) {
        let project = r#"{"version":1,"role":"Foley","session":"C","window":[900,600]}"#;
        self.instance.load(&with_memory(project)).unwrap();
        self.saved = self.instance.save().unwrap();
        self.instance.load(&self.saved).unwrap();
        assert!(self.instance.save().unwrap() == self.saved, "the state is not what was loaded");
    }

    /// Asserts that the instance still has the project's state, except the size of the window.
    fn keeps_its_state(&mut self) {
        let [now, then] = [&self.instance.save().unwrap(), &self.saved].map(|state| {
            let mut memory = memory_of(state).unwrap();
            assert!(memory.remove("window").is_some());
            memory
        });
        assert_eq!(now, then);
        assert_eq!(now["role"], "Foley");
    }

    fn asks_latency(&mut self, active: bool) {
        if self.behaviour.latency.asks(active) {
            assert_eq!(self.instance.latency().unwrap(), 0, "latency while active: {active}");
        }
    }

    fn activate(&mut self) {
        self.asks_latency(false);
        self.instance.set_offline(self.behaviour.offline).unwrap();
        let rate_hz = f64::from(self.behaviour.rate_hz);
        self.processor = Some(self.instance.activate(rate_hz, self.behaviour.blocks.longest()).unwrap());
        self.asks_latency(true);
    }

    fn deactivate(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
        self.asks_latency(false);
    }

    /// Plays a sound from the song's position on. Returns the input and the output.
    fn play(&mut self, sound: Vec<Vec<f32>>, rng: &mut Rng) -> [Vec<Vec<f32>>; 2] {
        let frames = sound[0].len();
        let processor = self.processor.take().expect("it is active");
        let (processor, both) = Playback::new(&self.behaviour, processor, sound, self.played).play(rng);
        self.processor = Some(processor);
        self.played += frames;
        self.instance.idle();
        both
    }

    /// Plays a second of sine while the instance is watched.
    fn sound(&mut self, rng: &mut Rng) {
        self.rig.port.watch(0, true).unwrap();
        let [input, out] = self.play(self.tone(), rng);
        assert_bit_equal(&out, &input, "the sound");
    }

    /// A second of sine, silent in its middle if the host sleeps on silence.
    fn tone(&self) -> Vec<Vec<f32>> {
        let rate = self.behaviour.rate_hz as usize;
        let mut tone = sine(self.instance.channels(), rate, 1_000.0 / rate as f64, PEAK, 0.0);
        if self.behaviour.pause == Pause::SleepsOnSilence {
            tone.iter_mut().for_each(|channel| channel[rate / 2..rate * 5 / 8].fill(0.0));
        }
        tone
    }

    /// Asserts an instance's readings of that sine.
    fn hears(&self, index: u32) {
        let [level, off] = LEVEL;
        let right = |r: &Readings| {
            let read = r.view.spectral(Averaging::SinceReset).whole.level_dbfs;
            read.is_some_and(|read| (read - level).abs() < off)
        };
        let name = self.behaviour.names.last();
        let named = |r: &Readings| {
            let own = r.view.session.layers.iter().find(|layer| layer.own);
            own.is_some_and(|own| is_called(&own.identity.name, name))
        };
        self.rig.wait(index, "the level", right);
        let heard = self.rig.wait(index, "the name", named);
        let health = heard.view.health;
        assert_eq!((health.lost_frames, health.not_finite), (0, 0), "{health:?}");
        if matches!(
            self.behaviour.transport,
            Transport::JumpsByOne | Transport::NoPosition | Transport::Stands
        ) && self.behaviour.pause == Pause::None
        {
            assert_eq!(health.jumps, 0, "{health:?}");
        }
    }

    /// Tries a fractional delay from another thread, and ends the trial; the host serves restarts in its own way.
    fn tries(&mut self, rng: &mut Rng) {
        let secs = 10.5 / f64::from(self.behaviour.rate_hz);
        for trial in [Some(Trial { delay_secs: [secs, 0.0], ..Trial::default() }), None] {
            let port = &self.rig.port;
            std::thread::scope(|scope| scope.spawn(|| port.try_out(0, trial).unwrap()).join().unwrap());
            self.instance.idle();
            // The sound settles after the trial.
            self.play(self.tone(), rng);
            self.serve_restart();
        }
        let [input, out] = self.play(self.tone(), rng);
        assert_bit_equal(&out, &input, "after a trial");
    }

    fn serve_restart(&mut self) {
        let wanted = self.instance.notes().restart.swap(false, Ordering::AcqRel);
        let times = match self.behaviour.restart {
            Restart::AtOnce | Restart::Later => 1,
            Restart::Twice => 2,
            Restart::Never => 0,
        };
        for _ in 0..if wanted { times } else { 0 } {
            self.deactivate();
            self.activate();
        }
    }

    /// Carries out the fate of the instance.
    fn lives_on(&mut self, rng: &mut Rng) {
        match self.behaviour.life {
            Life::Stays => {}
            Life::Duplicated => {
                let mut other = Self::new(self.rig, &self.behaviour);
                other.saved = self.instance.save().unwrap();
                other.instance.load(&other.saved).unwrap();
                assert!(other.instance.save().unwrap() == other.saved, "a duplicate has another state");
                other.activate();
                for hosted in [&mut *self, &mut other] {
                    let [input, out] = hosted.play(hosted.tone(), rng);
                    assert_bit_equal(&out, &input, "a duplicate");
                }
                other.leave();
            }
            Life::Moved => {
                let new = Self::new(self.rig, &self.behaviour);
                let mut old = std::mem::replace(self, new);
                self.saved = old.instance.save().unwrap();
                old.leave();
                self.instance.load(&self.saved).unwrap();
                assert!(self.instance.save().unwrap() == self.saved, "the new place has another state");
                self.activate();
            }
            Life::Frozen => {
                self.deactivate();
                let live = std::mem::replace(&mut self.behaviour.offline, true);
                self.activate();
                let [input, out] = self.play(self.tone(), rng);
                assert_bit_equal(&out, &input, "a freeze");
                self.deactivate();
                self.behaviour.offline = live;
                self.activate();
            }
            Life::OtherRate => {
                self.deactivate();
                self.behaviour.rate_hz = 88_200;
                self.activate();
            }
        }
        let [input, out] = self.play(arbitrary_bits(self.instance.channels(), 4_000), rng);
        assert_bit_equal(&out, &input, "bits of any kind");
    }

    /// The track is removed.
    fn leave(mut self) {
        self.keeps_its_state();
        self.deactivate();
        let astray = self.instance.notes().astray.lock().unwrap().clone();
        assert_eq!(astray, Vec::<&str>::new(), "main-thread calls from another thread");
    }
}

impl Drop for Hosted<'_> {
    /// A host deactivates before it destroys; so does a failing test.
    fn drop(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
    }
}

/// Fits an instance to a track.
pub(super) fn fit(instance: &mut Instance, track: Track) {
    let one = match track {
        Track::MonoSelected => true,
        Track::MonoPushed => instance.push_channels(1).unwrap() != Some(true),
        Track::Stereo | Track::MonoDoubled | Track::MonoClass | Track::LeftAlone => false,
    };
    if one {
        let layouts = instance.layouts().unwrap();
        let mono = layouts.iter().position(|layout| layout.channels == [1; 2]).unwrap();
        instance.select_layout(mono).unwrap();
    }
    let channels = if matches!(track, Track::Stereo | Track::MonoDoubled) { 2 } else { 1 };
    assert_eq!(instance.channels(), channels, "{track:?}");
}
