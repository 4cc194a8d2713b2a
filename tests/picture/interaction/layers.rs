//! Mouse and keys on the Layers page, and for this layer's name and role.

use super::{click, press, settings, type_over};
use egui::{Key, accesskit, pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbline_programme::session::{Aim, LayerLine};
use plumbline_programme::{BalanceTarget, Command, LayerId, Role, Stretch, View};
use plumbline_screen::{Intent, LONGEST_NAME, Settings};
use plumbline_tests::picture::{SIZES, Window, window};
use plumbline_tests::views;

fn open(view: &View) -> Harness<'static, Window> {
    let mut harness = window(view, &Settings::default(), SIZES[0]);
    press(&mut harness, Key::Num2);
    harness
}

/// The intents for the layer itself, without settings.
fn asked(harness: &Harness<'_, Window>) -> Vec<Intent> {
    harness.state().intents.iter().filter(|intent| **intent != Intent::SettingsChanged).cloned().collect()
}

fn id(view: &View, name: &str) -> LayerId {
    let named = |line: &&LayerLine| line.identity.name == name;
    view.session.layers.iter().find(named).expect("a layer of this name").id
}

/// The tops of rows, found by the starts of their accessible names.
fn tops<const N: usize>(harness: &Harness<'_, Window>, rows: [&str; N]) -> [f32; N] {
    rows.map(|row| harness.get_by_label_contains(row).rect().top())
}

fn shows(harness: &Harness<'_, Window>, label: &str) -> bool {
    harness.query_all_by_label_contains(label).next().is_some()
}

#[test]
fn one_and_two_turn_the_pages_and_m_marks() {
    let mut harness = window(&views::four(), &Settings::default(), SIZES[0]);
    assert!(harness.query_by_label("Mark passage").is_none());
    press(&mut harness, Key::Num2);
    assert!(harness.query_by_label("Mark passage").is_some());
    click(&mut harness, "Mark passage");
    press(&mut harness, Key::M);
    press(&mut harness, Key::Num1);
    assert!(harness.query_by_label("Mark passage").is_none());
    click(&mut harness, "Page Layers");
    assert!(harness.query_by_label("Mark passage").is_some());
    assert_eq!(asked(&harness), [Intent::Command(Command::Mark), Intent::Command(Command::Mark)]);
}

#[test]
fn the_own_name_is_taken_on_enter_and_cut_between_letters() {
    let mut harness = open(&views::of_the_chisel());
    type_over(&mut harness, "Name of this layer", "  Chisel on limestone ");
    assert_eq!(asked(&harness), [Intent::Rename("Chisel on limestone".to_owned())]);
    type_over(&mut harness, "Name of this layer", &"é".repeat(LONGEST_NAME));
    let Some(Intent::Rename(name)) = asked(&harness).pop() else { panic!("a second name") };
    assert_eq!(name, "é".repeat(LONGEST_NAME / 2), "é has two bytes");
}

#[test]
fn while_all_are_mixes_it_says_what_to_do_and_the_own_role_is_set_right_there() {
    for size in SIZES {
        let mut harness = window(&views::only_mixes(), &Settings::default(), size);
        let said = "8\u{a0}layers heard, all with the role Mix: give them roles";
        press(&mut harness, Key::Num2);
        let told = |harness: &Harness<'_, Window>, words: &str| {
            harness.query_all_by_label_contains(words).next().is_some()
        };
        assert!(told(&harness, said), "{size}");
        assert!(!told(&harness, "No other layer is heard"), "{size}");
        assert!(
            told(&harness, "Layer Layer 4, Mix, session A, 8\u{a0}layers heard"),
            "the header agrees: {size}"
        );
        assert!(told(&harness, "Heard: Layer 1, Layer 2, Layer 3, Layer 5 and 4 more"), "{size}");
        assert!(told(&harness, "set in its own window"), "{size}");
        click(&mut harness, "Role of this layer");
        click(&mut harness, "Foley");
        assert_eq!(asked(&harness), [Intent::SetRole(plumbline_programme::Role::Foley)], "{size}");
    }
    let mut harness = window(&views::alone(), &Settings::default(), SIZES[0]);
    press(&mut harness, Key::Num2);
    assert!(harness.query_by_label_contains("No other layer is heard in session A").is_some());
    assert!(harness.query_by_label("Role of this layer").is_none());
}

#[test]
fn a_name_left_with_esc_stays_as_it_was() {
    let mut harness = open(&views::of_the_chisel());
    harness.get_by_label("Name of this layer").focus();
    harness.run();
    harness.get_by_label("Name of this layer").type_text("Mistake");
    harness.run();
    press(&mut harness, Key::Escape);
    assert_eq!(asked(&harness), []);
    assert!(harness.query_all_by_value("Foley chisel").next().is_some());
}

#[test]
fn a_name_typed_in_the_panel_is_taken_when_another_opens_and_left_with_esc() {
    let mut harness = window(&views::four(), &Settings::default(), SIZES[0]);
    let typed = |harness: &mut Harness<'_, Window>| {
        press(harness, Key::N);
        harness.get_by_role_and_label(accesskit::Role::TextInput, "Name").focus();
        harness.run();
        harness.get_by_role_and_label(accesskit::Role::TextInput, "Name").type_text("!");
        harness.run();
    };
    typed(&mut harness);
    press(&mut harness, Key::Escape);
    assert_eq!(asked(&harness), [], "the first Esc ends the typing, the second closes the panel");
    press(&mut harness, Key::Escape);
    typed(&mut harness);
    click(&mut harness, "Settings");
    assert_eq!(asked(&harness), [Intent::Rename("Bell tower!".to_owned())]);
}

#[test]
fn the_own_role_is_chosen_in_the_table_and_in_the_panel() {
    let mut harness = open(&views::of_the_chisel());
    click(&mut harness, "Role of this layer");
    click(&mut harness, "Design");
    assert_eq!(asked(&harness), [Intent::SetRole(Role::Design)]);
    press(&mut harness, Key::Num1);
    press(&mut harness, Key::N);
    click(&mut harness, "Role of this layer");
    click(&mut harness, "Voice");
    assert_eq!(asked(&harness).pop(), Some(Intent::SetRole(Role::Voice)));
}

#[test]
fn other_layers_are_not_renamed_from_here() {
    let harness = open(&views::of_the_chisel());
    let fields = harness.query_all_by_label("Name of this layer").count();
    let roles = harness.query_all_by_label("Role of this layer").count();
    assert_eq!((fields, roles), (1, 1));
}

#[test]
fn a_session_letter_is_chosen() {
    let mut harness = open(&views::four());
    click(&mut harness, "Session letter");
    click(&mut harness, "Session C");
    press(&mut harness, Key::N);
    click(&mut harness, "Session F");
    assert_eq!(asked(&harness), [Intent::SetSession('C'), Intent::SetSession('F')]);
}

#[test]
fn heads_and_a_key_order_the_rows() {
    let mut harness = open(&views::four());
    let rows = [
        "Bell tower, Mix, this layer",
        "Designed swells, Design",
        "Foley chisel, Foley",
        "Tower ambience, Natural",
    ];
    let [mix, design, foley, natural] = tops(&harness, rows);
    assert!(natural < foley && foley < design && design < mix, "by role");
    click(&mut harness, "Order by Name");
    let [mix, design, foley, natural] = tops(&harness, rows);
    assert!(mix < design && design < foley && foley < natural, "by name");
    press(&mut harness, Key::O);
    let [mix, design, foley, natural] = tops(&harness, rows);
    assert!(natural < foley && foley < design && design < mix, "sorted by role again");
    click(&mut harness, "Order by Programme");
    assert_eq!(settings(&harness).stretch, Stretch::Programme, "a share's header selects its stretch too");
    let session = harness.state().view.session.clone();
    let share = |index: usize| session.layers[index].parts[Stretch::Programme.place()].share.unwrap_or(-1.0);
    let [mix, design, foley, natural] = tops(&harness, rows);
    // In session order: ambience, chisel, swells, mix.
    for (a, b) in [((natural, 0), (foley, 1)), ((foley, 1), (design, 2)), ((design, 2), (mix, 3))] {
        assert_eq!(a.0 < b.0, share(a.1) >= share(b.1), "{} and {}", share(a.1), share(b.1));
    }
}

#[test]
fn pointing_shows_a_layer_and_a_click_or_an_arrow_keeps_it() {
    let mut harness = open(&views::four());
    let chisel = harness.get_by_label_contains("Foley chisel, Foley").rect().center();
    harness.hover_at(chisel);
    harness.run();
    harness.run();
    assert!(shows(&harness, "Spectrum of Foley chisel"));
    harness.hover_at(pos2(600.0, 5.0));
    harness.run();
    harness.run();
    assert!(!shows(&harness, "Spectrum of Foley chisel"));
    harness.get_by_label_contains("Foley chisel, Foley").click();
    harness.run();
    harness.hover_at(pos2(600.0, 5.0));
    harness.run();
    harness.run();
    assert!(shows(&harness, "Spectrum of Foley chisel"));
    press(&mut harness, Key::Escape);
    assert!(!shows(&harness, "Spectrum of Foley chisel"), "Esc ends the selection");
    press(&mut harness, Key::ArrowDown);
    assert!(shows(&harness, "Spectrum of Tower ambience"));
    press(&mut harness, Key::ArrowDown);
    assert!(shows(&harness, "Spectrum of Foley chisel"));
    press(&mut harness, Key::ArrowUp);
    assert!(shows(&harness, "Spectrum of Tower ambience"));
}

#[test]
fn arrows_bring_the_last_of_many_rows_into_sight() {
    let mut harness = open(&views::crowded());
    let last = "Bell tower, Mix, this layer";
    assert!(!shows(&harness, last), "so many rows do not fit");
    for _ in 0..harness.state().view.session.layers.len() + 3 {
        press(&mut harness, Key::ArrowDown);
    }
    assert!(shows(&harness, last));
    assert!(shows(&harness, "Spectrum of Bell tower"));
}

/// A position on a bar, whose touch area extends four points past its ends.
fn on_bar(harness: &Harness<'_, Window>, label: &str, share: f32) -> egui::Pos2 {
    let touch = harness.get_by_label_contains(label).rect();
    pos2(touch.left() + 4.0 + share * (touch.width() - 8.0), touch.center().y)
}

#[test]
fn an_aim_is_dragged_typed_freed_and_put_back() {
    let natural = |harness: &Harness<'_, Window>| settings(harness).balance.aims[0];
    let mut harness = open(&views::four());
    let start = natural(&harness).expect("natural sound has an aim by default");

    harness.drag_at(on_bar(&harness, "Natural: share", 0.70));
    harness.run();
    harness.hover_at(on_bar(&harness, "Natural: share", 0.45));
    harness.run();
    harness.drop_at(on_bar(&harness, "Natural: share", 0.40));
    harness.run();
    let dragged = natural(&harness).expect("still an aim");
    assert!((dragged.share - 0.40).abs() < 0.02, "{dragged:?}");
    assert_eq!(dragged.tolerance, start.tolerance);
    click(&mut harness, "Undo");
    assert_eq!(natural(&harness), Some(start));

    type_over(&mut harness, "Aim of Natural", "55");
    type_over(&mut harness, "Tolerance of Natural", "5");
    let typed = natural(&harness).expect("still an aim");
    assert!((typed.share - 0.55).abs() < 1e-9 && (typed.tolerance - 0.05).abs() < 1e-9, "{typed:?}");
    type_over(&mut harness, "Aim of Natural", "170");
    assert_eq!(natural(&harness).map(|aim: Aim| aim.share), Some(1.0), "no share is over 100 %");

    click(&mut harness, "Natural free");
    assert_eq!(natural(&harness), None);
    click(&mut harness, "Undo");
    assert_eq!(natural(&harness).map(|aim| aim.share), Some(1.0));

    click(&mut harness, "Foley free");
    assert!(settings(&harness).balance.aims[1].is_some());
    click(&mut harness, "Reset aims to default");
    assert_eq!(settings(&harness).balance, BalanceTarget::default());
}

#[test]
fn a_pair_is_chosen_for_the_match() {
    let view = views::four();
    let mut harness = open(&view);
    let [ambience, chisel, swells] =
        ["Tower ambience", "Foley chisel", "Designed swells"].map(|n| id(&view, n));
    click(&mut harness, "Layer to change");
    click(&mut harness, "Designed swells");
    click(&mut harness, "Layer to sound like");
    click(&mut harness, "Designed swells");
    click(&mut harness, "Layer to change");
    click(&mut harness, "Tower ambience");
    click(&mut harness, "Default pair");
    // The view does not change here: its pair remains chisel and ambience, and a layer cannot match itself.
    assert_eq!(
        asked(&harness),
        [
            Intent::Command(Command::Match(Some((swells, ambience)))),
            Intent::Command(Command::Match(Some((chisel, swells)))),
            Intent::Command(Command::Match(None))
        ]
    );
}

#[test]
fn a_still_page_of_many_layers_asks_for_no_repaint() {
    let mut harness = open(&views::crowded());
    harness.run();
    harness.step();
    let delay = harness.output().viewport_output.values().map(|v| v.repaint_delay).min();
    assert!(delay.is_some_and(|d| d.as_secs() > 60), "repaints after {delay:?}");
}

#[test]
fn a_line_of_the_balance_chooses_the_stretch_of_the_lane() {
    let mut harness = window(&views::four(), &Settings::default(), SIZES[0]);
    assert!(shows(&harness, "Layer share per third"));
    harness.get_by_label_contains("Share Programme: Natural").click();
    harness.run();
    assert_eq!(settings(&harness).stretch, Stretch::Programme);
    press(&mut harness, Key::ArrowRight);
    let session = harness.state().view.session.clone();
    let part = session.part(Role::Foley, Stretch::Programme).expect("Foley is heard");
    let foley = format!("Foley {:.0}\u{a0}%", part.thirds[17].get().expect("at 1 kHz") * 100.0);
    assert!(shows(&harness, &foley), "{foley}");
}

#[test]
fn delivery_stays_in_sight_beside_a_balance() {
    let harness = window(&views::four(), &Settings::default(), SIZES[0]);
    assert!(shows(&harness, "Balance: Natural"));
    assert!(shows(&harness, "Delivery: On target"));
    let alone = window(&views::alone(), &Settings::default(), SIZES[0]);
    assert!(!shows(&alone, "Balance: ") && !shows(&alone, "Layer share per third"));
}

#[test]
fn every_part_of_the_page_is_named() {
    let harness = open(&views::twelve());
    let names = [
        "Sort by share",
        "Shares of passage",
        "Session letter",
        "Order by Name",
        "Boom at the scaffold, Natural:",
        "0.3\u{a0}s late",
        "Chimes kept in reserve, Design:",
        "not running",
        "14\u{a0}tenths missed",
        "Spectrum of ",
        "Layer cursor",
        "Match. ",
        "Aim of Natural",
        "Music free",
        "In mono ",
        "Session: ",
    ];
    for name in names {
        assert!(harness.query_all_by_label_contains(name).next().is_some(), "nothing is named {name:?}");
    }
    harness.check_accessibility();
}
