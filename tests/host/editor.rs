//! The editor on a display: opened, drawn, resized, closed, reopened, while audio and automation run.
#![cfg(target_os = "linux")]

use crate::parameters::HOLD;
use crate::session_rig::wait_until;
use crate::signals::sine;
use crate::{STEREO, assert_quiet};
use plumbline_tests::rig::child::Finished;
use plumbline_tests::rig::clap::{Change, Instance, Label, Library};
use plumbline_tests::rig::display::{HostWindow, Screen};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles, child, threads, vst3};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// The longest wait for drawing on a slow machine without a graphics card.
const PATIENCE: Duration = Duration::from_secs(30);
/// The least number of colours of a drawn window; a blank one has one, or two with a border.
const DRAWN: usize = 8;
/// Size of a new editor in pixels.
pub(crate) const USUAL: [u32; 2] = [1_180, 760];

/// Runs `body` in a process with a display: that of the environment, or a new virtual one.
pub(crate) fn with_display(body: impl FnOnce()) -> Option<Finished> {
    let own = std::env::var_os("DISPLAY").is_none().then(|| Screen::start().unwrap());
    let environment = own.as_ref().map(Screen::environment).unwrap_or_default();
    child::run(&environment, body)
}

fn wait_until_drawn(window: &HostWindow, instance: &mut Instance) {
    window.wait_for_picture(PATIENCE, || instance.idle(), |p| p.colours() >= DRAWN).unwrap();
}

#[test]
fn clap_editor_opens_draws_resizes_closes_and_reopens() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let Some(threads_at_rest) = threads::names() else { return };
        let mut instance = library.create(STEREO, Label::new("Tower, west", [200, 80, 40])).unwrap();
        let mut processor = instance.activate(48_000.0, 512).unwrap();
        let window = HostWindow::open(USUAL).unwrap();
        assert_eq!(instance.open_editor(window.id()).unwrap(), USUAL);
        wait_until_drawn(&window, &mut instance);
        assert_eq!(window.inner_size().unwrap(), Some(USUAL));

        // The picture moves with the audio.
        let at_rest = window.picture().unwrap();
        let signal = sine(2, 48_000, 1.0 / 48.0, 0.5, 0.8);
        let mut at = 0;
        window
            .wait_for_picture(
                PATIENCE,
                || {
                    processor.play(&signal, Moment::playing_at(at)).unwrap();
                    at += 48_000;
                    instance.idle();
                },
                |p| p.differing(&at_rest) > 1_000,
            )
            .expect("the picture moves with the audio");

        // The host's resize is limited to the smallest size.
        assert_eq!(instance.resize_editor([100, 100]).unwrap(), [760, 480]);
        window.resize([1_400, 900]).unwrap();
        assert_eq!(instance.resize_editor([1_400, 900]).unwrap(), [1_400, 900]);
        window
            .wait_for_picture(
                PATIENCE,
                || instance.idle(),
                |p| {
                    let edge = p.pixels().skip(1_400 * 880).collect::<std::collections::HashSet<_>>();
                    p.colours() >= DRAWN && edge.len() > 1
                },
            )
            .expect("the larger window is drawn to its edge");
        assert_eq!(window.inner_size().unwrap(), Some([1_400, 900]));

        instance.close_editor().unwrap();
        drop(window);
        // The size is kept by the instance and its state.
        let window = HostWindow::open([1_400, 900]).unwrap();
        assert_eq!(instance.open_editor(window.id()).unwrap(), [1_400, 900]);
        wait_until_drawn(&window, &mut instance);
        let state = instance.save().unwrap();
        instance.close_editor().unwrap();
        let mut other = library.create(STEREO, Label::default()).unwrap();
        other.load(&state).unwrap();
        let second = HostWindow::open([1_400, 900]).unwrap();
        assert_eq!(other.open_editor(second.id()).unwrap(), [1_400, 900]);
        wait_until_drawn(&second, &mut other);
        other.close_editor().unwrap();
        instance.deactivate(processor);
        drop((instance, other));
        threads::wait_for(&threads_at_rest).expect("every thread is joined with the last instance");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_hold_freezes_the_picture_and_the_track_name_changes_it() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::new("Tower, west", [200, 80, 40])).unwrap();
        let mut processor = instance.activate(48_000.0, 512).unwrap();
        let window = HostWindow::open(USUAL).unwrap();
        instance.open_editor(window.id()).unwrap();
        wait_until_drawn(&window, &mut instance);
        let soft = sine(2, 4_800, 1.0 / 48.0, 0.05, 0.0);
        let loud = sine(2, 4_800, 1.0 / 12.0, 0.9, 1.5);
        let play = |processor: &mut plumbline_tests::rig::clap::Processor, signal: &[Vec<f32>]| {
            for _ in 0..20 {
                processor.play(signal, Moment::stopped()).unwrap();
                std::thread::sleep(Duration::from_millis(10));
            }
        };
        play(&mut processor, &soft);
        let block: Vec<&[f32]> = soft.iter().map(|c| &c[..64]).collect();
        let hold = Change { frame: 0, parameter: HOLD, value: 1.0 };
        processor.process(&block, None, Moment::stopped(), &[hold]).unwrap();
        // The screen of a busy machine reacts late: the picture counts as held once a second of audio leaves it alone.
        let mut held = window.picture().unwrap();
        wait_until("a picture that stays while audio plays", PATIENCE, || {
            for _ in 0..5 {
                play(&mut processor, &soft);
            }
            let before = std::mem::replace(&mut held, window.picture().unwrap());
            before.differing(&held) == 0
        });
        for _ in 0..3 {
            play(&mut processor, &loud);
        }
        let differing = window.picture().unwrap().differing(&held);
        assert_eq!(differing, 0, "a held picture does not change");
        let release = Change { value: 0.0, ..hold };
        processor.process(&block, None, Moment::stopped(), &[release]).unwrap();
        window
            .wait_for_picture(
                PATIENCE,
                || {
                    play(&mut processor, &loud);
                    instance.idle();
                },
                |p| p.differing(&held) > 1_000,
            )
            .expect("a released picture moves");

        std::thread::sleep(Duration::from_secs(1));
        let before = window.picture().unwrap();
        instance.relabel(Label::new("Scaffold and rope", [30, 120, 200])).unwrap();
        window
            .wait_for_picture(PATIENCE, || instance.idle(), |p| p.differing(&before) > 20)
            .expect("the new name is shown");
        instance.close_editor().unwrap();
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_automation_arrives_while_the_editor_opens_and_closes() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut processor = instance.activate(48_000.0, 64).unwrap();
        let stop = AtomicBool::new(false);
        let processor = std::thread::scope(|scope| {
            let audio = scope.spawn(|| {
                let signal = [[0.25_f32; 64]; 2];
                let main: Vec<&[f32]> = signal.iter().map(|c| &c[..]).collect();
                let mut blocks = 0_u32;
                while !stop.load(Ordering::Acquire) {
                    let value = f64::from(blocks % 2);
                    let change = Change { frame: blocks % 64, parameter: HOLD, value };
                    let moment = Moment::playing_at(i64::from(blocks) * 64);
                    processor.process(&main, None, moment, &[change]).unwrap();
                    blocks += 1;
                    std::thread::sleep(Duration::from_micros(500));
                }
                assert!(blocks > 100, "{blocks}");
                processor
            });
            let mut openings = 0;
            for _ in 0..12 {
                let window = HostWindow::open(USUAL).unwrap();
                instance.open_editor(window.id()).unwrap();
                for _ in 0..5 {
                    instance.idle();
                    std::thread::sleep(Duration::from_millis(10));
                }
                if openings % 4 == 0 {
                    wait_until_drawn(&window, &mut instance);
                }
                instance.close_editor().unwrap();
                openings += 1;
            }
            assert_eq!(openings, 12);
            stop.store(true, Ordering::Release);
            audio.join().unwrap()
        });
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_editor_leaves_no_thread_behind_when_it_closes() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut closings = 0;
        for closing in 0..25 {
            let window = HostWindow::open(USUAL).unwrap();
            instance.open_editor(window.id()).unwrap();
            if closing % 5 == 0 {
                wait_until_drawn(&window, &mut instance);
            }
            let open = threads::names().expect("Linux lists its threads");
            instance.close_editor().unwrap();
            // A host may now unload the library, so no thread may still be ending.
            let closed = threads::names().expect("Linux lists its threads");
            assert!(closed.len() < open.len(), "open {open:?}, closed {closed:?}");
            closings += 1;
        }
        assert_eq!(closings, 25);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_editor_is_drawn_without_audio_however_long_the_host_takes_to_show_it() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut openings = 0;
        // A frame requested before the window was shown used to be the last.
        for pause_ms in [0, 5, 15, 30, 100, 300, 0, 100] {
            let window = HostWindow::open(USUAL).unwrap();
            instance.open_editor_taking(window.id(), Duration::from_millis(pause_ms)).unwrap();
            wait_until_drawn(&window, &mut instance);
            instance.close_editor().unwrap();
            openings += 1;
        }
        assert_eq!(openings, 8);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_makes_views_only_while_an_editor_is_open() {
    let Some(quiet) = with_display(|| {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        instance.set_offline(true).unwrap();
        let mut processor = instance.activate(48_000.0, 512).unwrap();
        let second = sine(2, 48_000, 1.0 / 48.0, 0.5, 0.8);
        let mut played = 0;
        // Plays until ten more tenths are measured, and returns the serial of the latest view.
        let mut play = || {
            processor.play(&second, Moment::playing_at(played)).unwrap();
            played += 48_000;
            let wanted = usize::try_from(played / 4_800).expect("not negative") - 5;
            let start = std::time::Instant::now();
            loop {
                let readings = port.readings(0, 36_000).unwrap();
                if readings.tenths.len() >= wanted {
                    return readings.view.serial;
                }
                assert!(start.elapsed() < PATIENCE, "measuring stopped at {} tenths", readings.tenths.len());
                std::thread::sleep(Duration::from_millis(5));
            }
        };
        let never_open = play();
        assert_eq!(play(), never_open, "without a watcher no view is made");
        let window = HostWindow::open(USUAL).unwrap();
        instance.open_editor(window.id()).unwrap();
        wait_until_drawn(&window, &mut instance);
        play();
        let start = std::time::Instant::now();
        while play() == never_open {
            assert!(start.elapsed() < PATIENCE, "an open editor gets views");
        }
        instance.close_editor().unwrap();
        // One view may have been in progress.
        play();
        let closed = play();
        assert_eq!(play(), closed, "the editor is closed, so no view is made");
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_two_editors_are_open_at_once() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut first = library.create(STEREO, Label::new("Boom", [10, 20, 30])).unwrap();
        let mut second = library.create(STEREO, Label::new("Rope", [30, 20, 10])).unwrap();
        let windows = [HostWindow::open(USUAL).unwrap(), HostWindow::open(USUAL).unwrap()];
        first.open_editor(windows[0].id()).unwrap();
        second.open_editor(windows[1].id()).unwrap();
        wait_until_drawn(&windows[1], &mut second);
        first.close_editor().unwrap();
        wait_until_drawn(&windows[1], &mut second);
        second.close_editor().unwrap();
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_editor_has_as_many_points_of_more_pixels_on_a_sharper_display() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let sharper = USUAL.map(|pixels| pixels / 4 * 5);
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let window = HostWindow::open(sharper).unwrap();
        instance.open_editor(window.id()).unwrap();
        wait_until_drawn(&window, &mut instance);
        instance.scale_editor(1.25).unwrap();
        let drawn = window.wait_for_picture(
            PATIENCE,
            || instance.idle(),
            |p| p.colours() >= DRAWN && window.inner_size().is_ok_and(|size| size == Some(sharper)),
        );
        drawn.expect("the editor keeps its points, each of more pixels");
        assert_eq!(instance.editor_size().unwrap(), sharper);

        // The project stores points, so the size in points is the same on the next display.
        assert_eq!(instance.resize_editor([1_250, 875]).unwrap(), [1_250, 875]);
        window
            .wait_for_picture(
                PATIENCE,
                || instance.idle(),
                |_| window.inner_size().is_ok_and(|size| size == Some([1_250, 875])),
            )
            .expect("the editor's window follows");
        let state = instance.save().unwrap();
        instance.close_editor().unwrap();
        let mut other = library.create(STEREO, Label::default()).unwrap();
        other.load(&state).unwrap();
        let plain = HostWindow::open([1_000, 700]).unwrap();
        assert_eq!(other.open_editor(plain.id()).unwrap(), [1_000, 700]);
        wait_until_drawn(&plain, &mut other);
        other.close_editor().unwrap();
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_editor_opens_draws_resizes_closes_and_reopens() {
    let Some(quiet) = with_display(|| {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let mut instance = vst3::Instance::create(&bundle, &classes[0].id, 48_000.0, 512).unwrap();
        instance.start().unwrap();
        let signal = sine(2, 4_800, 1.0 / 48.0, 0.5, 0.8);
        let mut openings = 0;
        let mut size = [1_180, 760];
        for _ in 0..2 {
            let window = HostWindow::open(USUAL).unwrap();
            assert_eq!(instance.open_editor(window.id()).unwrap(), size);
            let drawn = window.wait_for_picture(
                PATIENCE,
                || {
                    instance.play(&signal, Moment::playing_at(0)).unwrap();
                    instance.idle();
                },
                |p| p.colours() >= DRAWN,
            );
            drawn.unwrap();
            size = instance.resize_editor([900, 600]).unwrap();
            assert_eq!(size, [900, 600]);
            window
                .wait_for_picture(
                    PATIENCE,
                    || instance.idle(),
                    |_| window.inner_size().is_ok_and(|s| s == Some([900, 600])),
                )
                .expect("the editor's window follows");
            instance.close_editor().unwrap();
            openings += 1;
        }
        assert_eq!(openings, 2);
        instance.stop().unwrap();
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
