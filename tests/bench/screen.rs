//! One frame of the Bus page at its default size: layout and tessellation, without the graphics card.

use crate::{Line, median};
use plumbline_screen::{Screen, Settings};
use plumbline_tests::{picture, views};
use std::time::Instant;

const FRAMES: usize = 300;
/// One frame at 60 Hz, in ms.
const FRAME_MS: f64 = 1_000.0 / 60.0;

pub(crate) fn run() -> Line {
    let ctx = egui::Context::default();
    let mut screen = Screen::new(Settings::default());
    // Two views in turn, so that no frame finds all of its text laid out.
    let shown = [views::spacious(), views::out_of_step()];
    let mut times = Vec::with_capacity(FRAMES);
    let mut triangles = 0;
    for frame in 0..FRAMES {
        let view = &shown[frame % 2];
        let start = Instant::now();
        triangles = picture::frame(&ctx, &mut screen, view, plumbline_screen::layout::DEFAULT, Vec::new());
        // The first frames rasterise the glyphs; that is once.
        if frame >= 10 {
            times.push(start.elapsed().as_secs_f64() * 1e3);
        }
    }
    assert!(triangles > 1_000, "an empty page was measured");
    let found = median(times);
    Line {
        what: "screen, one frame of the Bus page, 1180×760",
        bound: "16.7 ms",
        found,
        budget: 3.0,
        unit: "ms",
        behind: format!("{:.2} of a frame at 60 Hz, {triangles} triangles", found / FRAME_MS),
    }
}
