//! Pictures of the Joins page and the Log page.

use super::{Pressed, after_keys, compare, themed};
use egui::Key;
use egui_kittest::SnapshotResults;
use plumbline_programme::View;
use plumbline_screen::Exported;
use plumbline_screen::tokens::ThemeName;
use plumbline_tests::picture::{SIZES, size_name, window};
use plumbline_tests::views;

#[test]
fn joins_and_log_look_as_they_were_last_seen() {
    let mut results = SnapshotResults::new();
    let mut ran = 0;
    for (page, key) in [("joins", Key::Num4), ("log", Key::Num5)] {
        for theme in ThemeName::ALL {
            for size in SIZES {
                let mut harness = window(&views::busy_log(), &themed(theme), size);
                harness.key_press(key);
                harness.run();
                let name = format!("{page}-busy-{}-{}", theme.name().to_lowercase(), size_name(size));
                compare(&mut harness, &name, &mut results);
                ran += 1;
            }
        }
    }
    assert_eq!(ran, 2 * 2 * 2);
}

#[test]
fn empty_full_and_chosen_pages_look_as_they_were_last_seen() {
    let cases: [Pressed<'_>; 10] = [
        ("log-clean", views::clean_log(), 0, &[Key::Num5]),
        ("log-nothing", View::default(), 1, &[Key::Num5]),
        ("log-2000", views::full_log(), 0, &[Key::Num5, Key::O]),
        ("log-2000-760x480", views::full_log(), 1, &[Key::Num5, Key::ArrowDown]),
        (
            "log-selected",
            views::busy_log(),
            0,
            &[Key::Num5, Key::ArrowDown, Key::ArrowDown, Key::ArrowDown, Key::ArrowDown],
        ),
        ("joins-clean", views::clean_log(), 0, &[Key::Num4]),
        ("joins-nothing", View::default(), 1, &[Key::Num4]),
        ("joins-300", views::full_log(), 0, &[Key::Num4]),
        (
            "joins-mark",
            views::busy_log(),
            1,
            &[Key::Num4, Key::ArrowDown, Key::ArrowUp, Key::O, Key::ArrowUp],
        ),
        ("joins-rewound", views::rewound(), 0, &[Key::Num4, Key::O]),
    ];
    after_keys(&cases);
}

#[test]
fn rules_and_exports_look_as_they_were_last_seen() {
    use egui_kittest::kittest::Queryable;
    let mut results = SnapshotResults::new();
    let mut harness = window(&views::busy_log(), &themed(ThemeName::Light), SIZES[1]);
    harness.key_press(Key::Num5);
    harness.run();
    harness.get_by_label("Show Rules").click();
    harness.run();
    harness.state_mut().exported = Some(Exported {
        failed: false,
        words: "5 files named Bell tower-2026-03-14-101203… are in /home/mason/Documents/Plumbline."
            .to_owned(),
    });
    harness.run();
    compare(&mut harness, "log-rules-760x480", &mut results);
    let mut harness = window(&views::busy_log(), &themed(ThemeName::Dark), SIZES[0]);
    harness.key_press(Key::Num5);
    harness.run();
    harness.state_mut().exported = Some(Exported {
        failed: true,
        words: "Nothing was written: the folder may not be written to. Choose another folder, or change its \
                permissions, and export again."
            .to_owned(),
    });
    harness.run();
    compare(&mut harness, "log-export-failed", &mut results);
}
