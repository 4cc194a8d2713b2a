//! Mouse and keys on the Mics page, and during a trial.

use super::{click, press};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbline_measure::FrameRate;
use plumbline_programme::pair::Advice;
use plumbline_programme::{Command, Mic, Trial, View};
use plumbline_screen::{Intent, Settings};
use plumbline_tests::picture::{SIZES, Window, window};
use plumbline_tests::views;

fn open(view: &View) -> Harness<'static, Window> {
    let mut harness = window(view, &Settings::default(), SIZES[0]);
    press(&mut harness, Key::Num3);
    harness
}

fn shows(harness: &Harness<'_, Window>, label: &str) -> bool {
    harness.query_all_by_label_contains(label).next().is_some()
}

#[test]
fn pairs_are_chosen_by_click_and_by_arrows() {
    let mut harness = open(&views::fighting());
    assert!(shows(&harness, "Advice: Fight") && shows(&harness, "4.66"));
    press(&mut harness, Key::ArrowDown);
    assert!(shows(&harness, "Advice: Inverted"));
    harness.get_by_label_contains("Pair Boom at the scaffold and Tower ambience").click();
    harness.run();
    assert!(shows(&harness, "Advice: Unrelated"));
    for _ in 0..20 {
        press(&mut harness, Key::ArrowDown);
    }
    assert!(shows(&harness, "Advice: Moving"), "the last advice stays");
}

#[test]
fn a_trial_between_the_channels_is_asked_for_and_ended_from_any_page() {
    let view = views::bus_alone();
    let mut harness = open(&view);
    let line = view.mics.line([Mic::Left, Mic::Right]).expect("left and right");
    let Advice::Repair(fix) = line.advice(FrameRate::F25, 20.0) else { panic!("a repair: {line:?}") };
    let asked = Intent::Command(Command::Try(Some(Trial::between_channels(&fix))));
    click(&mut harness, "Try the fix");
    press(&mut harness, Key::F);
    assert_eq!(harness.state().intents, [asked.clone(), asked]);

    let mut harness = window(&views::trying(), &Settings::default(), SIZES[1]);
    assert!(shows(&harness, "Signal altered"));
    click(&mut harness, "Switch the trial off");
    press(&mut harness, Key::F);
    press(&mut harness, Key::Num2);
    assert!(shows(&harness, "Signal altered"), "on every page");
    press(&mut harness, Key::F);
    assert_eq!(
        harness.state().intents,
        [
            Intent::Command(Command::Try(None)),
            Intent::Command(Command::Try(None)),
            Intent::Command(Command::Try(None))
        ]
    );
}

#[test]
fn a_pair_that_is_not_ours_says_where_to_try_it() {
    let mut harness = open(&views::fighting());
    press(&mut harness, Key::F);
    assert!(harness.state().intents.is_empty(), "the mix is not one of the two");
    assert!(shows(&harness, "open Plumbline on Lavalier on the mason"));
}

#[test]
fn a_reading_is_kept_and_dropped_and_the_advice_copied() {
    let mut harness = open(&views::fighting());
    click(&mut harness, "Keep");
    assert!(shows(&harness, "Kept: +4.66"));
    press(&mut harness, Key::K);
    assert!(!shows(&harness, "Kept: +4.66"));
    // A single event and frame: the clipboard of the next frame would be empty.
    let modifiers = egui::Modifiers::NONE;
    let pressed =
        egui::Event::Key { key: Key::C, physical_key: None, pressed: true, repeat: false, modifiers };
    harness.event(pressed);
    harness.step();
    let copied = harness.output().platform_output.commands.iter().any(
        |command| matches!(command, egui::OutputCommand::CopyText(text) if text.contains("move it 224 samples earlier")),
    );
    assert!(copied, "the sentence is on the clipboard");
}
