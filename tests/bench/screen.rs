//! The cost of one frame of the pages at their default size: layout and tessellation, without the graphics card.

use crate::{Line, median};
use egui::{Event, Key, Modifiers};
use plumbline_programme::View;
use plumbline_screen::layout::DEFAULT;
use plumbline_screen::{Screen, Settings};
use plumbline_tests::{picture, views};
use std::sync::Arc;
use std::time::Instant;

const FRAMES: usize = 300;
/// One frame at 60 Hz, in ms.
const FRAME_MS: f64 = 1_000.0 / 60.0;

/// The Bus page of a single layer, among layers, with lanes of an hour and of two busy minutes; the Layers page with
/// the most layers that a session counts; and the Log page with the most findings that are kept. The slowest must meet
/// the budget.
pub(crate) fn run() -> Line {
    let pages: [(&str, Key, [View; 2]); 6] = [
        ("Bus", Key::Num1, [views::spacious(), views::out_of_step()]),
        ("Bus of 12 layers", Key::Num1, [views::twelve(), views::four()]),
        ("Bus, an hour", Key::Num1, over_time(views::an_hour(), views::busy_log())),
        ("Bus, a busy log", Key::Num1, over_time(views::busy_log(), views::an_hour())),
        ("Layers, 64", Key::Num2, [views::crowded(), views::twelve()]),
        ("Log, 2,000", Key::Num5, full_logs()),
    ];
    let found = pages.map(|(name, key, shown)| (name, frame_ms(key, &shown)));
    let slowest = found.iter().map(|(_, ms)| *ms).fold(0.0, f64::max);
    let each = found.map(|(name, ms)| format!("{name} {ms:.2} ms"));
    Line {
        what: "screen, one frame of the slowest page, 1180×760",
        bound: "16.7 ms",
        found: slowest,
        budget: 3.0,
        unit: "ms",
        behind: format!("{:.2} of a frame at 60 Hz; {}", slowest / FRAME_MS, each.join(", ")),
    }
}

/// A view, and the same view with the readings of another.
fn over_time(view: View, other: View) -> [View; 2] {
    let second = View { lanes: view.lanes.clone(), log: view.log.clone(), ..other };
    [view, second]
}

/// Two full logs without equal findings.
fn full_logs() -> [View; 2] {
    let (first, mut second) = (views::full_log(), views::full_log());
    for finding in &mut Arc::make_mut(&mut second.log).findings {
        (finding.start, finding.end) = (finding.start + 7, finding.end + 11);
        finding.worst += 0.13;
    }
    assert_eq!(first.log.findings.len(), 2_000);
    [first, second]
}

/// The median of one page in ms. Two views alternate, so that no frame finds all its text already laid out.
fn frame_ms(key: Key, shown: &[View; 2]) -> f64 {
    let ctx = egui::Context::default();
    let mut screen = Screen::new(Settings::default());
    let turn =
        Event::Key { key, physical_key: None, pressed: true, repeat: false, modifiers: Modifiers::NONE };
    picture::frame(&ctx, &mut screen, &shown[0], DEFAULT, vec![turn]);
    let mut times = Vec::with_capacity(FRAMES);
    for frame in 0..FRAMES {
        let start = Instant::now();
        let triangles = picture::frame(&ctx, &mut screen, &shown[frame % 2], DEFAULT, Vec::new());
        assert!(triangles > 1_000, "an empty page was measured");
        // The first frames rasterise the glyphs, once.
        if frame >= 10 {
            times.push(start.elapsed().as_secs_f64() * 1e3);
        }
    }
    median(times)
}
