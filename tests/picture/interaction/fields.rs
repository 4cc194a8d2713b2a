//! Text fields: a focused one gets every key, and an incomplete value is not applied.

use super::{click, press, sign, type_over};
use egui::{Event, Key};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbline_programme::{Command, Trial, View};
use plumbline_screen::{Intent, Page, Settings};
use plumbline_tests::picture::{SIZES, Window, window};
use plumbline_tests::views;

fn key_of(letter: char) -> Option<Key> {
    Key::from_name(&letter.to_uppercase().to_string()).or(match letter {
        '.' => Some(Key::Period),
        _ => None,
    })
}

/// Presses letters like a keyboard, each as a key event and a text event.
fn strike(harness: &mut Harness<'_, Window>, letters: &str) {
    for letter in letters.chars() {
        if let Some(key) = key_of(letter) {
            harness.key_down(key);
        }
        harness.event(Event::Text(letter.to_string()));
    }
    harness.run();
}

/// Focuses the field, not a label with the same text.
fn focus(harness: &mut Harness<'_, Window>, label: &str) {
    harness.query_all_by_label(label).last().unwrap_or_else(|| panic!("no {label}")).focus();
    harness.run();
}

/// The intents, settings and page.
fn state(harness: &Harness<'_, Window>) -> (Vec<Intent>, Settings, Page) {
    let window = harness.state();
    (window.intents.clone(), window.screen.settings().clone(), window.screen.page())
}

fn mics() -> (View, Harness<'static, Window>) {
    let view = views::trying();
    let mut harness = window(&view, &Settings::default(), SIZES[0]);
    press(&mut harness, Key::Num3);
    (view, harness)
}

#[test]
fn a_delay_that_begins_with_a_nought_is_typed_whole() {
    let (view, mut harness) = mics();
    let trial = view.trial.expect("a trial");
    let before = state(&harness);
    focus(&mut harness, "Trial delay Left");
    for letters in ["0", ".", "0", "7", "1"] {
        strike(&mut harness, letters);
        assert_eq!(state(&harness), before, "after {letters}");
    }
    press(&mut harness, Key::Enter);
    let [Intent::Command(Command::Try(Some(asked)))] = harness.state().intents[..] else {
        panic!("one trial: {:?}", harness.state().intents)
    };
    assert!((asked.delay_secs[0] - 0.071e-3).abs() < 1e-12, "{asked:?}");
    assert_eq!(Trial { delay_secs: trial.delay_secs, ..asked }, trial, "nothing else changes");
    assert_eq!(asked.delay_secs[1], trial.delay_secs[1]);
}

#[test]
fn a_delay_is_given_up_with_esc_and_taken_when_the_field_is_left() {
    let (_, mut harness) = mics();
    let before = state(&harness);
    focus(&mut harness, "Trial delay Left");
    strike(&mut harness, "0.5");
    press(&mut harness, Key::Escape);
    assert_eq!(state(&harness), before);
    focus(&mut harness, "Trial delay Left");
    strike(&mut harness, "0,5 ms");
    click(&mut harness, "Page Bus");
    assert_eq!(harness.state().screen.page(), Page::Bus);
    let [Intent::Command(Command::Try(Some(asked)))] = harness.state().intents[..] else {
        panic!("one trial: {:?}", harness.state().intents)
    };
    assert!((asked.delay_secs[0] - 0.5e-3).abs() < 1e-12, "{asked:?}");
}

#[test]
fn a_trial_that_is_ended_from_within_a_field_stays_ended() {
    for end in ["End the trial", "Switch the trial off"] {
        let (_, mut harness) = mics();
        focus(&mut harness, "Trial delay Left");
        strike(&mut harness, "7");
        let place = harness.get_by_label(end).rect().center();
        harness.hover_at(place);
        harness.drag_at(place);
        harness.drop_at(place);
        harness.run();
        assert_eq!(harness.state().intents, [Intent::Command(Command::Try(None))], "{end}");
    }
}

/// Opens the page or panel with a field.
type Way = fn(&mut Harness<'_, Window>);

#[test]
fn every_field_keeps_its_keys_and_half_a_value_changes_nothing() {
    let panel: Way = |harness| sign(harness, ",");
    let own: Way = |harness| press(harness, Key::N);
    let layers: Way = |harness| press(harness, Key::Num2);
    let log: Way = |harness| press(harness, Key::Num5);
    let fields: [(View, Way, &str, &str, bool); 17] = [
        (views::spacious(), |_| {}, "Top of the level axis, dBFS", "-6", true),
        (views::spacious(), |_| {}, "Span of the level axis, dB", "60", true),
        (views::spacious(), panel, "Temperature of the air", "12.5", true),
        (views::spacious(), panel, "Start timecode", "01:00:00:00", true),
        (views::spacious(), panel, "Band edges in Hz", "20 80 200 800 2.5k 8k 20k", true),
        (views::spacious(), panel, "Integrated loudness", "-16.5", true),
        (views::spacious(), panel, "Tolerance above", "0.5", true),
        (views::spacious(), panel, "Tolerance below", "0.7", true),
        (views::spacious(), panel, "Maximum true peak", "-2", true),
        (views::spacious(), panel, "Maximum short-term", "-15", true),
        (views::four(), layers, "Aim of Natural", "55", true),
        (views::four(), layers, "Tolerance of Natural", "5", true),
        (views::busy_log(), log, "Limit of out of step", "0.45", true),
        (views::busy_log(), log, "Minimum length of out of step", "2.5", true),
        (views::busy_log(), log, "Folder for exports", "takes", true),
        (views::of_the_chisel(), layers, "Name of this layer", "m15", false),
        (views::four(), own, "Name", "chip", false),
    ];
    for (view, way, label, text, setting) in fields {
        let mut harness = window(&view, &Settings::default(), SIZES[0]);
        way(&mut harness);
        let before = state(&harness);
        let node = |harness: &Harness<'_, Window>| {
            let exact = |node: &egui_kittest::Node<'_>| node.rect().center();
            let places: Vec<_> = harness.query_all_by_label(label).map(|node| exact(&node)).collect();
            *places.last().unwrap_or_else(|| panic!("no {label}"))
        };
        // A click, and a key in the next frame, before the field has shown a caret.
        let place = node(&harness);
        harness.hover_at(place);
        harness.drag_at(place);
        harness.event(Event::PointerButton {
            pos: place,
            button: egui::PointerButton::Primary,
            pressed: false,
            modifiers: egui::Modifiers::NONE,
        });
        strike(&mut harness, "1235hrtapsmnockfvezx?[],");
        assert_eq!(state(&harness), before, "{label}: other keys, or an incomplete value");
        press(&mut harness, Key::Escape);
        assert_eq!(state(&harness), before, "{label}: left with Esc");
        assert!(harness.query_all_by_label(label).next().is_some(), "{label}: Esc only ends the typing");
        if setting {
            type_over(&mut harness, label, text);
            let after = state(&harness);
            assert_ne!(after.1, before.1, "{label}: applied on Enter");
            assert_eq!(
                (after.0.as_slice(), after.2),
                ([Intent::SettingsChanged].as_slice(), before.2),
                "{label}"
            );
        }
    }
}

#[test]
fn what_was_typed_in_a_panel_is_taken_when_a_button_closes_it() {
    let mut harness = window(&views::spacious(), &Settings::default(), SIZES[0]);
    sign(&mut harness, ",");
    for (label, text) in [("Integrated loudness", "-16"), ("Temperature of the air", "7")] {
        focus(&mut harness, label);
        harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
        strike(&mut harness, text);
        // The button comes before the heading of its panel.
        let place = harness.query_all_by_label("Settings").next().expect("the button").rect().center();
        harness.hover_at(place);
        harness.drag_at(place);
        harness.drop_at(place);
        harness.run();
        assert!(harness.query_all_by_label(label).next().is_none(), "the panel is closed");
        sign(&mut harness, ",");
    }
    let settings = harness.state().screen.settings();
    assert_eq!((settings.target.integrated_lufs, settings.celsius), (-16.0, 7.0));
}
