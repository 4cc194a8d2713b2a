//! Mouse and keys on the Joins and the Log page.

use super::{click, press, settings, sign};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbline_programme::findings::Rule;
use plumbline_programme::{Command, Finding, Join, Kind, Mark, Rules, View};
use plumbline_screen::{Exported, Intent, Settings};
use plumbline_tests::picture::{SIZES, Window, window};
use plumbline_tests::views;

fn open(view: &View, page: Key, settings: Settings) -> Harness<'static, Window> {
    let mut harness = window(view, &settings, SIZES[0]);
    press(&mut harness, page);
    harness
}

/// The intents, except those about settings.
fn asked(harness: &Harness<'_, Window>) -> Vec<Intent> {
    harness.state().intents.iter().filter(|intent| **intent != Intent::SettingsChanged).cloned().collect()
}

fn of(view: &View, kind: Kind) -> Finding {
    view.log.findings.iter().find(|finding| finding.kind == kind).expect("a finding of this kind").clone()
}

fn shows(harness: &Harness<'_, Window>, label: &str) -> bool {
    harness.query_all_by_label_contains(label).next().is_some()
}

fn top(harness: &Harness<'_, Window>, label: &str) -> f32 {
    harness.get_by_label_contains(label).rect().top()
}

#[test]
fn a_click_on_a_finding_rewinds_to_its_worst_tenth_and_enter_does_so_again() {
    let mut view = views::busy_log();
    let mut log = plumbline_programme::Log::clone(&view.log);
    // The worst moment is not the start.
    log.findings.iter_mut().for_each(|finding| finding.at = finding.start + 3);
    view.log = log.into();
    let found = of(&view, Kind::MonoLoss);
    let mut harness = open(&view, Key::Num5, Settings::default());
    harness.get_by_label_contains("Mono loss, grave: ").click();
    harness.run();
    let rewind = Intent::Command(Command::Rewind(Some(Mark { grid: found.grid, index: found.at })));
    assert_eq!(asked(&harness), [rewind]);
    assert!(shows(&harness, "Selected finding: Mono loss"));
    press(&mut harness, Key::Escape);
    let mut harness = open(&view, Key::Num5, Settings::default());
    press(&mut harness, Key::Enter);
    assert_eq!(asked(&harness), [], "nothing is selected");
    press(&mut harness, Key::ArrowDown);
    press(&mut harness, Key::ArrowDown);
    press(&mut harness, Key::Enter);
    let second = &view.log.findings[1];
    assert_eq!(
        asked(&harness),
        [Intent::Command(Command::Rewind(Some(Mark { grid: second.grid, index: second.at })))]
    );
}

#[test]
fn kinds_are_shown_alone_and_what_was_seen_is_hidden() {
    let mut harness = open(&views::busy_log(), Key::Num5, Settings::default());
    click(&mut harness, "Show wind: 1");
    click(&mut harness, "Show gap: 1");
    assert!(shows(&harness, "Wind, slight: ") && shows(&harness, "Gap, clear, done: "));
    assert!(!shows(&harness, "Clipped, grave: "));
    click(&mut harness, "Hide done findings");
    assert!(!shows(&harness, "Gap, clear, done: ") && shows(&harness, "Wind, slight: "));
    click(&mut harness, "Show wind: 1");
    assert!(shows(&harness, "Nothing to show"), "a gap alone is chosen, and it is hidden");
    click(&mut harness, "Show all kinds");
    assert!(shows(&harness, "Clipped, grave: ") && !shows(&harness, "Gap, clear, done: "));
    assert!(shows(&harness, "Show jump: none"));
}

#[test]
fn the_table_is_ordered_by_its_heads_and_by_a_key() {
    let mut harness = open(&views::busy_log(), Key::Num5, Settings::default());
    let (early, grave) = ("Covered, slight: ", "One-sided, grave: ");
    assert!(top(&harness, early) < top(&harness, grave));
    click(&mut harness, "Order by Time");
    assert!(top(&harness, early) > top(&harness, grave), "turned over");
    press(&mut harness, Key::O);
    assert!(top(&harness, grave) < top(&harness, early), "the gravest first");
    assert!(top(&harness, "Out of step, grave: ") < top(&harness, grave));
    press(&mut harness, Key::O);
    assert!(top(&harness, "Wind, slight: ") < top(&harness, early), "in the order of the rules");
}

#[test]
fn findings_are_ticked_as_seen_by_box_and_by_key() {
    let view = views::busy_log();
    let (wind, gap) = (of(&view, Kind::Wind), of(&view, Kind::Gap));
    let mut harness = open(&view, Key::Num5, Settings::default());
    harness.get_by_label_contains("Done: Wind at ").click();
    harness.run();
    harness.get_by_label_contains("Done: Gap at ").click();
    harness.run();
    assert_eq!(
        asked(&harness),
        [Intent::Command(Command::SetDone(wind.id, true)), Intent::Command(Command::SetDone(gap.id, false))]
    );
    press(&mut harness, Key::ArrowDown);
    press(&mut harness, Key::V);
    assert_eq!(asked(&harness).pop(), Some(Intent::Command(Command::SetDone(view.log.findings[0].id, true))));
}

#[test]
fn rules_are_changed_put_back_and_had_back() {
    let mut harness = open(&views::busy_log(), Key::Num5, Settings::default());
    click(&mut harness, "Look for wind");
    let off = Rule { on: false, ..Rules::usual(Kind::Wind) };
    assert_eq!(settings(&harness).rules.get(Kind::Wind), off);
    assert!(harness.state().intents.contains(&Intent::SettingsChanged));
    click(&mut harness, "Reset rule wind");
    assert_eq!(settings(&harness).rules, Rules::default());
    click(&mut harness, "Undo");
    assert_eq!(settings(&harness).rules.get(Kind::Wind), off);
    click(&mut harness, "Look for gap");
    let both = settings(&harness).rules;
    click(&mut harness, "Reset all rules");
    assert_eq!(settings(&harness).rules, Rules::default());
    click(&mut harness, "Undo");
    assert_eq!(settings(&harness).rules, both);
}

#[test]
fn an_export_is_asked_for_and_what_became_of_it_is_told() {
    let mut harness = open(&views::busy_log(), Key::Num5, Settings::default());
    click(&mut harness, "Export the log");
    press(&mut harness, Key::E);
    press(&mut harness, Key::Num4);
    press(&mut harness, Key::E);
    press(&mut harness, Key::Num1);
    press(&mut harness, Key::E);
    assert_eq!(asked(&harness), [Intent::Export, Intent::Export, Intent::Export], "not on the Bus page");
    press(&mut harness, Key::Num5);
    harness.get_by_label("Folder for exports").focus();
    harness.run();
    harness.get_by_label("Folder for exports").type_text("reports");
    harness.run();
    assert_eq!(settings(&harness).export_folder, "", "not before it is whole");
    press(&mut harness, Key::Enter);
    assert_eq!(settings(&harness).export_folder, "reports");
    for (failed, label) in [(true, "Export failed: no room"), (false, "Exported: no room")] {
        harness.state_mut().exported = Some(Exported { failed, words: "no room".to_owned() });
        harness.run();
        assert!(shows(&harness, label), "{label}");
    }
}

#[test]
fn a_click_on_a_join_rewinds_there_and_the_largest_stands_first() {
    let view = views::busy_log();
    let mut harness = open(&view, Key::Num4, Settings::default());
    let largest = view.log.joins.iter().max_by(|a, b| a.size().total_cmp(&b.size())).expect("joins");
    let rewind =
        |join: &Join| Intent::Command(Command::Rewind(Some(Mark { grid: join.grid, index: join.at })));
    press(&mut harness, Key::Enter);
    assert_eq!(asked(&harness), [rewind(largest)]);
    harness.get_by_label_contains("size 0.4: ").click();
    harness.run();
    assert_eq!(asked(&harness).pop(), Some(rewind(&view.log.joins[1])));
    assert!(top(&harness, "size 1.6: ") < top(&harness, "size 0.5: "));
    press(&mut harness, Key::O);
    assert!(top(&harness, "size 1.6: ") > top(&harness, "size 0.5: "), "by time");
}

#[test]
fn a_mark_is_set_taken_away_and_put_back() {
    let view = views::busy_log();
    let mut harness = open(&view, Key::Num4, Settings::default());
    click(&mut harness, "Mark here");
    press(&mut harness, Key::Delete);
    assert_eq!(asked(&harness), [Intent::Command(Command::Mark)], "no mark stands at the largest jump");
    harness.get_by_label_contains("size 0.4: ").click();
    harness.run();
    press(&mut harness, Key::Delete);
    assert_eq!(asked(&harness).pop(), Some(Intent::Command(Command::Unmark(view.log.marks[0]))));
    click(&mut harness, "Undo");
    assert_eq!(asked(&harness).pop(), Some(Intent::Command(Command::PutMarks(vec![view.log.marks[0]]))));
    assert!(harness.query_by_label("Undo").is_none());
    harness.get_by_label_contains("Mark at ").click();
    harness.run();
    click(&mut harness, "Remove mark");
    assert_eq!(asked(&harness).pop(), Some(Intent::Command(Command::Unmark(view.log.marks[1]))));
    sign(&mut harness, "?");
    assert!(harness.query_by_label("Joins page: remove the mark").is_some());
}

#[test]
fn statistics_name_every_passage_and_where_we_are() {
    let harness = open(&views::busy_log(), Key::Num4, Settings::default());
    assert!(shows(&harness, "Since reset: from "));
    assert!(shows(&harness, "Passage 3, now: from ") && !shows(&harness, "Passage 2, now"));
    assert!(shows(&harness, "Natural 68 share %, "));
    let harness = open(&views::rewound(), Key::Num4, Settings::default());
    assert!(shows(&harness, "Passage 2, shown: from "));
    harness.check_accessibility();
}

#[test]
fn the_choice_over_the_table_stays_in_sight_however_full_the_log() {
    // The longest row that 2,000 findings can make: one kind with four digits, all others with three.
    let mut view = views::full_log();
    let mut log = plumbline_programme::Log::clone(&view.log);
    let others: Vec<Kind> = Kind::ALL.into_iter().filter(|kind| *kind != Kind::TruePeak).collect();
    for (index, finding) in log.findings.iter_mut().enumerate() {
        finding.kind = if index < 1_000 { Kind::TruePeak } else { others[index % others.len()] };
    }
    view.log = log.into();
    let sizes = [(760.0, 480.0), (1_000.0, 640.0), (1_140.0, 700.0), (1_180.0, 600.0), (1_180.0, 760.0)];
    for (width, height) in sizes {
        let mut harness = window(&view, &Settings::default(), egui::vec2(width, height));
        press(&mut harness, Key::Num5);
        let hide = harness.get_by_label("Hide done findings").rect();
        let table = harness.get_by_label("Column Done").rect();
        assert!(hide.right() < width && hide.bottom() <= table.top(), "{width}×{height}: {hide} {table}");
    }
}
