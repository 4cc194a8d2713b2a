//! Pictures of every page, theme and size at several moments; and of the panels.

mod pages;

use egui_kittest::{Harness, SnapshotOptions, SnapshotResults};
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use plumbline_screen::Settings;
use plumbline_screen::settings::LaneSpan;
use plumbline_screen::tokens::ThemeName;
use plumbline_tests::picture::{SIZES, Window, size_name, window};
use plumbline_tests::views;
use std::path::Path;

/// The folder of the pictures.
const SNAPSHOTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/picture/snapshots");

/// Compares a picture with the stored one. This is the only place with a tolerance: a pixel counts as different if its
/// colour differs visibly (the library's default), and a few may differ, because rasterisers round differently at
/// edges.
fn compare(harness: &mut Harness<'_, Window>, name: &str, results: &mut SnapshotResults) {
    let options = SnapshotOptions::new().threshold(0.6).max_failed_pixels(8_usize).output_path(SNAPSHOTS);
    results.add(harness.try_snapshot_options(name, &options));
    if std::env::var_os("UPDATE_SNAPSHOTS").is_some() {
        shrink(&Path::new(SNAPSHOTS).join(format!("{name}.png")));
    }
}

/// Rewrites a picture without its alpha channel and with the best compression: the same colours in half the bytes.
fn shrink(path: &Path) {
    let picture = image::open(path).expect("a snapshot that was just written").to_rgb8();
    let file = std::io::BufWriter::new(std::fs::File::create(path).expect("the snapshot's own file"));
    let encoder = PngEncoder::new_with_quality(file, CompressionType::Best, FilterType::Adaptive);
    picture.write_with_encoder(encoder).expect("room on the disk");
}

fn themed(theme: ThemeName) -> Settings {
    Settings { theme, ..Settings::default() }
}

#[test]
fn the_bus_page_looks_as_it_was_last_seen() {
    let mut results = SnapshotResults::new();
    let mut ran = 0;
    for moment in views::moments() {
        let telling = ["spacious", "out-of-step"].contains(&moment.name);
        for theme in ThemeName::ALL {
            for size in SIZES {
                // Plain moments have two of the four pictures; typical ones have all four.
                if !telling && (theme == ThemeName::Dark) != (size == SIZES[0]) {
                    continue;
                }
                let name = format!("bus-{}-{}-{}", moment.name, theme.name().to_lowercase(), size_name(size));
                compare(
                    &mut window(&views::heard(moment.view.clone()), &themed(theme), size),
                    &name,
                    &mut results,
                );
                ran += 1;
            }
        }
    }
    assert_eq!(ran, 2 * 4 + 5 * 2, "two moments in all themes and sizes, five in two of them");
}

#[test]
fn sessions_look_as_they_were_last_seen() {
    let mut results = SnapshotResults::new();
    let mut ran = 0;
    for moment in views::layered() {
        for theme in ThemeName::ALL {
            for size in SIZES {
                for (page, key) in [("bus", egui::Key::Num1), ("layers", egui::Key::Num2)] {
                    // A single layer has its Bus page among the moments, and one text on the other page.
                    if moment.name == "1-layer" && (theme == ThemeName::Dark) != (size == SIZES[0]) {
                        continue;
                    }
                    let mut harness = window(&moment.view, &themed(theme), size);
                    harness.key_press(key);
                    harness.run();
                    let name =
                        format!("{page}-{}-{}-{}", moment.name, theme.name().to_lowercase(), size_name(size));
                    compare(&mut harness, &name, &mut results);
                    ran += 1;
                }
            }
        }
    }
    assert_eq!(ran, 2 * 2 + 2 * 2 * 4, "two pages of one layer in two pictures, the others in four");
}

/// The name of the picture, the view, the index in [`SIZES`], and the keys to press before taking it.
type Pressed<'a> = (&'a str, plumbline_programme::View, usize, &'a [egui::Key]);

fn after_keys(cases: &[Pressed<'_>]) {
    let mut results = SnapshotResults::new();
    assert!(!cases.is_empty());
    for (name, view, size, keys) in cases {
        let mut harness = window(view, &themed(ThemeName::Dark), SIZES[*size]);
        for key in *keys {
            harness.key_press(*key);
            harness.run();
        }
        compare(&mut harness, name, &mut results);
    }
}

#[test]
fn pairs_of_microphones_look_as_they_were_last_seen() {
    let mut results = SnapshotResults::new();
    let mut ran = 0;
    for moment in views::with_mics() {
        for theme in ThemeName::ALL {
            for size in SIZES {
                // The typical one in all four combinations of theme and size, the others in two.
                if moment.name != "fight" && (theme == ThemeName::Dark) != (size == SIZES[0]) {
                    continue;
                }
                let mut harness = window(&moment.view, &themed(theme), size);
                harness.key_press(egui::Key::Num3);
                harness.run();
                let name =
                    format!("mics-{}-{}-{}", moment.name, theme.name().to_lowercase(), size_name(size));
                compare(&mut harness, &name, &mut results);
                ran += 1;
            }
        }
    }
    assert_eq!(ran, 4 + 4 * 2);
}

#[test]
fn causes_trials_and_kept_readings_look_as_they_were_last_seen() {
    use egui::Key;
    let cases: [Pressed<'_>; 8] = [
        ("bus-spaced", views::spaced_pair(), 1, &[]),
        ("mics-spaced", views::spaced_pair(), 0, &[Key::Num3]),
        ("bus-not-decoded", views::not_decoded(), 0, &[]),
        ("bus-named-cause", views::named_cause(), 0, &[]),
        ("bus-trial", views::trying(), 1, &[]),
        ("layers-trial", views::trying(), 0, &[Key::Num2]),
        ("mics-drift", views::fighting(), 0, &[Key::Num3, Key::ArrowDown, Key::ArrowDown]),
        ("mics-kept", views::fighting(), 0, &[Key::Num3, Key::K, Key::C]),
    ];
    after_keys(&cases);
}

/// The stretch in the lanes of a moment.
fn reach_of(moment: &str) -> LaneSpan {
    if moment == "an-hour" { LaneSpan::Whole } else { LaneSpan::default() }
}

#[test]
fn time_looks_as_it_was_last_seen() {
    let mut results = SnapshotResults::new();
    let mut ran = 0;
    let moments = [
        ("busy-log", views::busy_log(), true),
        ("an-hour", views::an_hour(), false),
        ("rewound", views::rewound(), false),
        ("rebuilt", views::rebuilt(), false),
        ("absent", views::absent(), false),
    ];
    for (moment, view, telling) in moments {
        for theme in ThemeName::ALL {
            for size in SIZES {
                if !telling && (theme == ThemeName::Dark) != (size == SIZES[0]) {
                    continue;
                }
                let name = format!("time-{moment}-{}-{}", theme.name().to_lowercase(), size_name(size));
                let settings = Settings { reach: reach_of(moment), ..themed(theme) };
                compare(&mut window(&view, &settings, size), &name, &mut results);
                ran += 1;
            }
        }
    }
    assert_eq!(ran, 4 + 4 * 2, "one view in all four pictures, four in two");
}

#[test]
fn the_past_is_said_on_other_pages_and_beside_a_trial() {
    use egui::Key;
    let trying = plumbline_programme::View { trial: views::trying().trial, ..views::rebuilt() };
    let cases: [Pressed<'_>; 2] =
        [("mics-rewound", trying.clone(), 1, &[Key::Num3]), ("time-rewound-trial", trying, 1, &[])];
    after_keys(&cases);
}

#[test]
fn special_sessions_look_as_they_were_last_seen() {
    use egui::Key;
    let cases: [Pressed<'_>; 7] = [
        (
            "layers-selected",
            views::twelve(),
            0,
            &[Key::Num2, Key::ArrowDown, Key::ArrowDown, Key::ArrowRight],
        ),
        ("layers-64", views::crowded(), 0, &[Key::Num2, Key::O]),
        ("layers-own-is-foley", views::of_the_chisel(), 1, &[Key::Num2]),
        ("layers-no-board", views::without_board(), 0, &[Key::Num2]),
        ("bus-layers-cancel", views::cancelling(), 0, &[]),
        ("bus-12-layers-cursor", views::twelve(), 1, &[Key::ArrowRight]),
        ("identity", views::four(), 1, &[Key::N]),
    ];
    after_keys(&cases);
}

#[test]
fn the_cursor_reads_a_column_beside_a_stored_reference() {
    let mut results = SnapshotResults::new();
    for size in SIZES {
        let mut harness = window(&views::spacious(), &themed(ThemeName::Dark), size);
        harness.key_press(egui::Key::S);
        harness.run();
        harness.state_mut().view = views::out_of_step();
        for _ in 0..2 {
            harness.key_press(egui::Key::ArrowRight);
            harness.run();
        }
        compare(&mut harness, &format!("cursor-{}", size_name(size)), &mut results);
    }
}

#[test]
fn panels_fit() {
    let mut results = SnapshotResults::new();
    let cases = [
        (",", "settings", ThemeName::Light, SIZES[0]),
        (",", "settings", ThemeName::Light, SIZES[1]),
        ("?", "keys", ThemeName::Light, SIZES[0]),
        ("?", "keys", ThemeName::Dark, SIZES[1]),
    ];
    for (key, panel, theme, size) in cases {
        let mut harness = window(&views::spacious(), &themed(theme), size);
        harness.event(egui::Event::Text(key.to_owned()));
        harness.run();
        compare(&mut harness, &format!("{panel}-{}", size_name(size)), &mut results);
    }
}

#[test]
fn a_long_name_leaves_room_for_the_position() {
    let name = "Bell tower, north face, scaffold left of the window with the broken sill";
    let mut view = views::four();
    let mut session = plumbline_programme::Session::clone(&view.session);
    session.layers.iter_mut().filter(|line| line.own).for_each(|line| line.identity.name = name.to_owned());
    view.session = std::sync::Arc::new(session);
    let mut results = SnapshotResults::new();
    for size in SIZES {
        let mut harness = window(&view, &themed(ThemeName::Dark), size);
        compare(&mut harness, &format!("header-long-name-{}", size_name(size)), &mut results);
    }
}

#[test]
fn a_larger_scale_is_sharp_and_whole() {
    let settings = Settings { scale_percent: 150, ..themed(ThemeName::Dark) };
    let mut results = SnapshotResults::new();
    let mut harness = window(&views::out_of_step(), &settings, SIZES[1]);
    compare(&mut harness, "scale-150", &mut results);
}
