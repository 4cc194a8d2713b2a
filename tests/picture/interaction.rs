//! The effect of mouse and keys, through the accessibility tree.

mod fields;
mod layers;
mod mics;
mod pages;
mod time;

use egui::{Event, Key, Modifiers, pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbline_measure::Averaging;
use plumbline_programme::{Command, View};
use plumbline_screen::tokens::ThemeName;
use plumbline_screen::{Intent, Settings};
use plumbline_tests::picture::{SIZES, Window, window};
use plumbline_tests::views;

fn open(view: &View) -> Harness<'static, Window> {
    window(view, &Settings::default(), SIZES[0])
}

fn press(harness: &mut Harness<'_, Window>, key: Key) {
    harness.key_press(key);
    harness.run();
}

fn sign(harness: &mut Harness<'_, Window>, text: &str) {
    harness.event(Event::Text(text.to_owned()));
    harness.run();
}

fn click(harness: &mut Harness<'_, Window>, label: &str) {
    harness.get_by_label(label).click();
    harness.run();
}

fn settings<'a>(harness: &'a Harness<'_, Window>) -> &'a Settings {
    harness.state().screen.settings()
}

#[test]
fn hold_and_reset_are_asked_for_by_click_and_by_key() {
    let mut harness = open(&views::spacious());
    click(&mut harness, "Hold");
    click(&mut harness, "Hold");
    press(&mut harness, Key::H);
    click(&mut harness, "Reset");
    press(&mut harness, Key::R);
    assert_eq!(
        harness.state().intents,
        [
            Intent::Hold(true),
            Intent::Hold(false),
            Intent::Hold(true),
            Intent::Command(Command::Reset),
            Intent::Command(Command::Reset)
        ]
    );
}

#[test]
fn every_key_does_what_the_list_says() {
    let mut harness = open(&views::spacious());
    press(&mut harness, Key::T);
    assert_eq!(settings(&harness).theme, ThemeName::Light);
    for expected in [Averaging::SinceReset, Averaging::Fast, Averaging::Slow] {
        press(&mut harness, Key::A);
        assert_eq!(settings(&harness).averaging, expected);
    }
    press(&mut harness, Key::P);
    assert!(!settings(&harness).peak_hold);
    press(&mut harness, Key::S);
    assert!(settings(&harness).reference.is_some());
    sign(&mut harness, "+");
    assert_eq!(settings(&harness).scale_percent, 115);
    sign(&mut harness, "-");
    sign(&mut harness, "-");
    assert_eq!(settings(&harness).scale_percent, 85);
    sign(&mut harness, "?");
    assert!(harness.query_by_label("Store the spectrum as reference").is_some());
    press(&mut harness, Key::Escape);
    assert!(harness.query_by_label("Store the spectrum as reference").is_none());
    let changed = harness.state().intents.iter().filter(|i| **i == Intent::SettingsChanged).count();
    assert_eq!(changed, 9, "one for each change, none for the panel: {:?}", harness.state().intents);
}

#[test]
fn keys_with_a_modifier_belong_to_the_host() {
    let mut harness = open(&views::spacious());
    for modifiers in [Modifiers::CTRL, Modifiers::ALT, Modifiers::COMMAND] {
        for key in [Key::H, Key::R, Key::S, Key::T, Key::A, Key::P] {
            harness.key_press_modifiers(modifiers, key);
            harness.run();
        }
    }
    assert_eq!(harness.state().intents, []);
}

#[test]
fn the_cursor_reads_every_lane_and_goes_with_esc() {
    let mut harness = open(&views::out_of_step());
    let readouts = ["Width per third: ", "Correlation and coherence per third: ", "Mono loss per third: "];
    assert!(harness.query_by_label_contains(readouts[0]).is_none());
    press(&mut harness, Key::ArrowRight);
    let thirds = &harness.state().view.averages[1].thirds;
    let side = format!("{:.0}\u{a0}% side", thirds[17].side_share.expect("a reading at 1 kHz") * 100.0);
    let out = format!(
        "Out of step per third: out of step {:.2}",
        thirds[17].out_of_step.expect("a reading at 1 kHz")
    );
    assert!(harness.query_by_label_contains("1\u{a0}kHz  ·  third 1k").is_some());
    assert!(harness.query_by_label_contains(&side).is_some(), "{side}");
    assert!(harness.query_by_label_contains(&out).is_some(), "{out}");
    for readout in readouts {
        assert!(harness.query_by_label_contains(readout).is_some(), "{readout}");
    }
    press(&mut harness, Key::ArrowLeft);
    assert!(harness.query_by_label_contains("third 800").is_some());
    press(&mut harness, Key::Escape);
    assert!(harness.query_by_label_contains(readouts[0]).is_none());
}

#[test]
fn the_pointer_moves_the_cursor_and_a_click_pins_it() {
    let mut harness = open(&views::spacious());
    harness.hover_at(pos2(400.0, 300.0));
    harness.run();
    assert!(harness.query_by_label_contains("Width per third: ").is_some());
    harness.hover_at(pos2(1_000.0, 30.0));
    harness.run();
    assert!(harness.query_by_label_contains("Width per third: ").is_none());
    harness.drag_at(pos2(400.0, 300.0));
    harness.run();
    harness.drop_at(pos2(400.0, 300.0));
    harness.run();
    harness.hover_at(pos2(1_000.0, 30.0));
    harness.run();
    assert!(harness.query_by_label_contains("Width per third: ").is_some());
}

#[test]
fn arrows_move_the_cursor_after_a_click_on_a_button_too() {
    let mut harness = open(&views::spacious());
    click(&mut harness, "Peak hold");
    press(&mut harness, Key::ArrowRight);
    assert!(harness.query_by_label_contains("third 1k").is_some());
}

fn type_over(harness: &mut Harness<'_, Window>, label: &str, text: &str) {
    harness.query_all_by_label(label).last().expect("the field").focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    harness.query_all_by_label(label).last().expect("the field").type_text(text);
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
}

#[test]
fn a_bad_start_timecode_is_refused_in_words_and_a_good_one_taken() {
    let mut harness = open(&views::spacious());
    click(&mut harness, "Settings");
    type_over(&mut harness, "Start timecode", "99:00:00:00");
    assert!(harness.query_by_label_contains("Not set. Hours go to 23").is_some());
    assert_eq!(settings(&harness).start.to_string(), "00:00:00:00");
    type_over(&mut harness, "Start timecode", "10:00:00:00");
    assert!(harness.query_by_label_contains("Not set.").is_none());
    assert_eq!(settings(&harness).start.to_string(), "10:00:00:00");
    press(&mut harness, Key::Escape);
    assert!(harness.query_by_label_contains("Position 11:23:14:13").is_some());
}

#[test]
fn typing_triggers_no_key() {
    let mut harness = open(&views::spacious());
    click(&mut harness, "Settings");
    let before = settings(&harness).clone();
    harness.get_by_label("Band edges in Hz").focus();
    harness.run();
    for key in [Key::H, Key::R, Key::T, Key::A, Key::P, Key::S] {
        press(&mut harness, key);
    }
    harness.get_by_label("Band edges in Hz").type_text("rhtaps+-?");
    harness.run();
    assert_eq!(settings(&harness), &before);
    assert_eq!(harness.state().intents, []);
}

#[test]
fn a_cleared_reference_can_be_had_back_for_a_while() {
    let mut harness = open(&views::spacious());
    click(&mut harness, "Store reference");
    let stored = settings(&harness).reference.clone();
    assert!(stored.is_some());
    click(&mut harness, "Clear reference");
    assert_eq!(settings(&harness).reference, None);
    click(&mut harness, "Undo");
    assert_eq!(settings(&harness).reference, stored);
    click(&mut harness, "Clear reference");
    harness.input_mut().time = Some(1_000.0);
    harness.run();
    assert!(harness.query_by_label("Undo").is_none());
    assert_eq!(settings(&harness).reference, None);
}

#[test]
fn every_block_has_a_name_with_its_readings() {
    let harness = open(&views::over_target());
    let names = [
        "Layer Bell tower, Mix, session A",
        "Position 0:12:04.0, clock time, playing",
        "Delivery: Clipped",
        "Correlation now +0.",
        "Balance now L",
        "Sample peak, highest: left 0.0 dBFS",
        "Loudness: integrated −16.2 LUFS",
        "Stereo scope, gain",
        "Time lanes: nothing heard yet",
        "Health: 2\u{a0}gaps in the measurement, 4096\u{a0}samples lost. No song position: clock time",
        "Low mid 200–800\u{a0}Hz: level",
    ];
    for name in names {
        assert!(harness.query_by_label_contains(name).is_some(), "nothing is named {name:?}");
    }
    harness.check_accessibility();
}

#[test]
fn a_still_picture_asks_for_no_repaint() {
    let mut harness = open(&views::spacious());
    harness.run();
    harness.step();
    let delay = harness.output().viewport_output.values().map(|v| v.repaint_delay).min();
    assert!(delay.is_some_and(|d| d.as_secs() > 60), "repaints after {delay:?}");
}

#[test]
fn the_list_of_keys_is_whole_in_the_smallest_window() {
    let mut harness = window(&views::spacious(), &Settings::default(), SIZES[1]);
    sign(&mut harness, "?");
    for last in ["Select a row of the page's list", "This list", "Keys are off while you type."] {
        let line = harness.get_by_label(last).rect();
        // The panel ends at least a line above the bottom of the window.
        assert!(line.bottom() < SIZES[1].y - 68.0, "{last}: {line}");
    }
}
