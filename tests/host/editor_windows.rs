//! The editor on Windows: opened, drawn, given a key, resized, closed, reopened.
//!
//! Another program checks the pictures and pauses this one at every stage; in Wine that is `editor_in_wine`.
//!
//! High-density displays are not tested: Wine 8 lacks `GetDpiAwarenessContextForProcess`, from which the window on
//! Windows learns the source of its scale.
#![cfg(windows)]

use crate::STEREO;
use crate::parameters::HOLD;
use crate::signals::sine;
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::desktop::HostWindow;
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles, child, threads};
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::{Duration, Instant};

/// The longest wait for drawing on a slow machine without a graphics card.
const PATIENCE: Duration = Duration::from_secs(60);
/// Size of a new editor in pixels.
const USUAL: [u32; 2] = [1_180, 760];

/// A host that plays, and serves the editor.
struct Host {
    instance: Instance,
    processor: Processor,
    port: Port,
    signal: Vec<Vec<f32>>,
    played: i64,
    orders: Receiver<String>,
}

impl Host {
    fn new() -> Self {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let mut instance = library.create(STEREO, Label::new("Tower, west", [200, 80, 40])).unwrap();
        let processor = instance.activate(48_000.0, 512).unwrap();
        let port = Port::open(&path).unwrap();
        let signal = sine(2, 2_400, 1.0 / 48.0, 0.5, 0.8);
        Self { instance, processor, port, signal, played: 0, orders: child::orders() }
    }

    /// Plays and serves the editor for 0.05 s.
    fn go_on(&mut self, window: &HostWindow) {
        self.processor.play(&self.signal, Moment::playing_at(self.played)).unwrap();
        self.played += 2_400;
        self.instance.idle();
        window.serve(Duration::from_millis(50));
    }

    fn serial(&self) -> u64 {
        self.port.readings(0, 1).unwrap().view.serial
    }

    fn until(&mut self, window: &HostWindow, what: &str, mut wanted: impl FnMut(&mut Self) -> bool) {
        let start = Instant::now();
        while !wanted(self) {
            assert!(start.elapsed() < PATIENCE, "{what}");
            self.go_on(window);
        }
    }

    /// Reports a stage, and continues until the observer, if any, has seen it.
    fn show(&mut self, window: &HostWindow, stage: &str) {
        let [width, height] = window.inner_size().unwrap();
        child::say(&format!("{stage} {width} {height}"));
        loop {
            match self.orders.try_recv() {
                Ok(_) | Err(TryRecvError::Disconnected) => return,
                Err(TryRecvError::Empty) => self.go_on(window),
            }
        }
    }
}

#[test]
#[ignore = "needs a display; `cargo xtask windows-editor` gives it one"]
fn clap_editor_opens_draws_takes_a_key_resizes_closes_and_reopens() {
    let threads_at_rest = threads::names().unwrap_or_default();
    let mut host = Host::new();
    let mut openings = 0;
    for opening in ["opened", "reopened"] {
        let window = HostWindow::open(USUAL).unwrap();
        let before = host.serial();
        assert_eq!(host.instance.open_editor(window.id()).unwrap(), USUAL);
        host.until(&window, "the editor has a window", |_| window.inner_size() == Some(USUAL));
        host.until(&window, "an open editor gets views", |host| host.serial() > before + 5);
        host.show(&window, opening);
        // Held, so that only keys change the picture.
        window.press(b'H').unwrap();
        host.until(&window, "a key holds the picture", |host| host.instance.value(HOLD).unwrap() == 1.0);
        // The picture shows it in a later frame.
        (0..10).for_each(|_| host.go_on(&window));
        host.show(&window, "held");
        // The page of the microphones.
        window.press(b'3').unwrap();
        host.show(&window, "mics");
        window.press(b'1').unwrap();
        host.show(&window, "bus");
        window.press(b'H').unwrap();
        host.until(&window, "a key lets it go", |host| host.instance.value(HOLD).unwrap() == 0.0);
        host.instance.close_editor().unwrap();
        window.serve(Duration::from_millis(100));
        assert_eq!(window.inner_size(), None, "the editor's window goes with it");
        openings += 1;
    }
    assert_eq!(openings, 2);

    // The host's resize is limited to the smallest size.
    let window = HostWindow::open(USUAL).unwrap();
    host.instance.open_editor(window.id()).unwrap();
    assert_eq!(host.instance.resize_editor([100, 100]).unwrap(), [760, 480]);
    host.until(&window, "the editor's window follows", |_| window.inner_size() == Some([760, 480]));
    host.show(&window, "smallest");
    window.resize([1_400, 900]).unwrap();
    assert_eq!(host.instance.resize_editor([1_400, 900]).unwrap(), [1_400, 900]);
    host.until(&window, "the editor's window follows", |_| window.inner_size() == Some([1_400, 900]));
    host.show(&window, "larger");
    host.instance.close_editor().unwrap();
    drop(window);

    let Host { mut instance, processor, .. } = host;
    instance.deactivate(processor);
    drop(instance);
    let start = Instant::now();
    let left = || {
        let names = threads::names().unwrap_or_default().into_iter();
        // Wine starts its own thread for files dropped on windows, and keeps it.
        names.filter(|name| !threads_at_rest.contains(name) && !name.starts_with("wine_")).collect::<Vec<_>>()
    };
    while !left().is_empty() {
        assert!(start.elapsed() < PATIENCE, "threads that outlive the last instance: {:?}", left());
        std::thread::sleep(Duration::from_millis(5));
    }
    child::say("ended");
}
