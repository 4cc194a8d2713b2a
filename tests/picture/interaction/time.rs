//! Mouse and keys on the time lanes, and on a past moment.

use super::{click, open, press, settings, sign};
use egui::{Event, Key, Modifiers, MouseWheelSource, MouseWheelUnit, Pos2, Rect, TouchPhase, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbline_measure::Grid;
use plumbline_programme::{Command, Mark, TimeWindow};
use plumbline_screen::Intent;
use plumbline_screen::settings::LaneSpan;
use plumbline_tests::picture::Window;
use plumbline_tests::views;

/// The rectangle of the lanes.
fn field(harness: &Harness<'_, Window>) -> Rect {
    harness.get_by_label_contains("Time lanes from ").rect()
}

/// The point at a fraction of the width, at half the height.
fn at(harness: &Harness<'_, Window>, share: f32) -> Pos2 {
    let field = field(harness);
    pos2(field.left() + share * field.width(), field.top() + 30.0)
}

fn rewinds(harness: &Harness<'_, Window>) -> Vec<Option<i64>> {
    let index = |intent: &Intent| match intent {
        Intent::Command(Command::Rewind(mark)) => Some(mark.map(|mark: Mark| mark.index)),
        _ => None,
    };
    harness.state().intents.iter().filter_map(index).collect()
}

fn lens(harness: &Harness<'_, Window>) -> TimeWindow {
    *harness.state().looks.last().expect("each window asks for a stretch of time")
}

fn wheel(harness: &mut Harness<'_, Window>, lines: egui::Vec2, modifiers: Modifiers) {
    harness.event(Event::MouseWheel {
        unit: MouseWheelUnit::Line,
        delta: lines,
        phase: TouchPhase::Move,
        source: MouseWheelSource::Unknown,
        modifiers,
    });
    harness.run();
}

#[test]
fn the_first_frame_asks_for_two_minutes_and_a_column_a_point() {
    let harness = open(&views::busy_log());
    let looks = &harness.state().looks;
    assert_eq!(looks.len(), 1, "{looks:?}");
    assert_eq!((looks[0].tenths, looks[0].end), (Some(1_200), None));
    assert_eq!(f32::from(looks[0].columns), field(&harness).width().round());
}

#[test]
fn a_click_brings_the_tenth_under_it_back() {
    let view = views::busy_log();
    let mut harness = open(&view);
    let place = at(&harness, 0.75);
    harness.hover_at(place);
    harness.run();
    harness.drag_at(place);
    harness.run();
    harness.drop_at(place);
    harness.run();
    assert_eq!(rewinds(&harness), [Some(view.lanes.left + 900)]);
    let grids = harness.state().intents.iter().all(
        |intent| !matches!(intent, Intent::Command(Command::Rewind(Some(mark))) if mark.grid != Grid::Song),
    );
    assert!(grids);
}

#[test]
fn a_drag_scrubs_and_asks_once_a_tenth() {
    let view = views::busy_log();
    let mut harness = open(&view);
    let (from, to) = (at(&harness, 0.5002), at(&harness, 0.5206));
    harness.hover_at(from);
    harness.run();
    harness.drag_at(from);
    harness.run();
    for step in 1..=60_u8 {
        harness.hover_at(from.lerp(to, f32::from(step) / 60.0));
        harness.run();
    }
    harness.drop_at(to);
    harness.run();
    let asked = rewinds(&harness);
    // From tenth 600 to tenth 624, in steps of less than a tenth.
    assert_eq!(asked.len(), 25, "{asked:?}");
    assert!(asked.windows(2).all(|two| two[1] == two[0].map(|index| index + 1)), "{asked:?}");
}

#[test]
fn esc_returns_to_now_before_it_takes_the_cursor() {
    let mut harness = open(&views::rewound());
    press(&mut harness, Key::ArrowRight);
    assert!(harness.query_by_label_contains("third 1k").is_some());
    press(&mut harness, Key::Escape);
    assert_eq!(rewinds(&harness), [None]);
    assert!(harness.query_by_label_contains("third 1k").is_some());
    harness.state_mut().view = views::busy_log();
    harness.run();
    press(&mut harness, Key::Escape);
    assert_eq!(rewinds(&harness), [None]);
    assert!(harness.query_by_label_contains("third 1k").is_none());
}

#[test]
fn the_past_is_said_on_every_page_and_left_by_button() {
    let mut harness = open(&views::rewound());
    for key in [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5] {
        press(&mut harness, key);
        assert!(harness.query_by_label_contains("Viewing 01:22:34").is_some(), "{key:?}");
        let pairs = harness.query_by_label_contains("Pairs are live").is_some();
        assert_eq!(pairs, key == Key::Num3);
    }
    click(&mut harness, "Return to now");
    assert_eq!(rewinds(&harness), [None]);
}

#[test]
fn a_moment_is_stepped_by_tenths_and_seconds() {
    let view = views::rewound();
    let at = view.past.expect("a moment").at.index;
    let mut harness = open(&view);
    for (modifiers, key) in [
        (Modifiers::SHIFT, Key::ArrowLeft),
        (Modifiers::SHIFT, Key::ArrowLeft),
        (Modifiers::SHIFT, Key::ArrowRight),
        (Modifiers::SHIFT | Modifiers::CTRL, Key::ArrowLeft),
    ] {
        harness.key_press_modifiers(modifiers, key);
        harness.run();
    }
    assert_eq!(rewinds(&harness), [Some(at - 1), Some(at - 2), Some(at - 1), Some(at - 11)]);
}

#[test]
fn the_wheel_zooms_about_the_pointer_and_pans_with_shift() {
    let view = views::busy_log();
    let mut harness = open(&view);
    let place = at(&harness, 0.5);
    harness.hover_at(place);
    harness.run();
    wheel(&mut harness, vec2(0.0, 1.0), Modifiers::NONE);
    let zoomed = lens(&harness);
    assert_eq!((zoomed.tenths, zoomed.end), (Some(960), Some(view.lanes.left + 600 + 480)));
    wheel(&mut harness, vec2(0.0, 1.0), Modifiers::SHIFT);
    assert_eq!(lens(&harness).end, Some(view.lanes.left + 1_080 - 96), "a tenth of the length back");
    wheel(&mut harness, vec2(1.0, 0.0), Modifiers::NONE);
    assert_eq!(lens(&harness).end, Some(view.lanes.left + 1_080 - 192));
    press(&mut harness, Key::End);
    assert_eq!((lens(&harness).tenths, lens(&harness).end), (Some(960), None));
    assert_eq!(rewinds(&harness), [], "the present is shown");
}

#[test]
fn keys_and_buttons_choose_the_stretch() {
    let view = views::busy_log();
    let mut harness = open(&view);
    sign(&mut harness, "[");
    assert_eq!(lens(&harness).end, Some(view.lanes.right - 300));
    sign(&mut harness, "]");
    assert_eq!(lens(&harness).end, None);
    press(&mut harness, Key::Z);
    assert_eq!((lens(&harness).tenths, lens(&harness).end), (Some(800), None));
    press(&mut harness, Key::X);
    assert_eq!(lens(&harness).tenths, Some(1_200));
    for (button, reach, tenths) in [
        ("Time lanes 30 s", LaneSpan::HalfMinute, Some(300)),
        ("Time lanes 10 min", LaneSpan::TenMinutes, Some(6_000)),
        ("Time lanes Whole", LaneSpan::Whole, None),
    ] {
        click(&mut harness, button);
        assert_eq!(settings(&harness).reach, reach);
        assert_eq!(lens(&harness).tenths, tenths);
    }
}
