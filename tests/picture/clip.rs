//! Values beyond an axis are clipped at the edge of the plot.

use egui::Rect;
use egui_kittest::kittest::Queryable;
use plumbline_programme::View;
use plumbline_screen::Settings;
use plumbline_tests::picture::{SIZES, window};
use plumbline_tests::views;

/// Pixels that differ between two pictures of one size, outside a rectangle in points at scale 1.
fn differ_outside(a: &image::RgbaImage, b: &image::RgbaImage, place: Rect) -> usize {
    assert_eq!(a.dimensions(), b.dimensions());
    let place = place.expand(1.0);
    let outside = a
        .enumerate_pixels()
        .filter(|(x, y, _)| !place.contains(egui::pos2(*x as f32 + 0.5, *y as f32 + 0.5)));
    outside.filter(|(x, y, pixel)| b.get_pixel(*x, *y) != *pixel).count()
}

#[test]
fn samples_over_full_scale_stay_in_the_scope_and_are_told() {
    // A square wave of four times full scale, in every direction of the scope.
    let samples = |scale: f32| -> Vec<[f32; 2]> {
        (0..1_024).map(|i| (i as f32 * 0.37).sin_cos()).map(|(l, r)| [l * scale, r * scale]).collect()
    };
    let mut ran = 0;
    for size in SIZES {
        let picture = |scale: f32| {
            let view = View { scope: samples(scale), ..views::spacious() };
            let mut harness = window(&view, &Settings::default(), size);
            let place = harness.query_by_label_contains("Stereo scope").map(|node| node.rect());
            let told = harness.query_all_by_label_contains("Over full scale").next().is_some();
            (harness.render().expect("a picture"), place, told)
        };
        let (within, place, told) = picture(1.0);
        assert!(!told, "full scale is not over full scale");
        let (over, _, told) = picture(4.0);
        let Some(place) = place else { continue };
        ran += 1;
        assert!(told);
        assert_eq!(differ_outside(&within, &over, place), 0, "{size} {place}");
        assert!(differ_outside(&within, &over, Rect::NOTHING) > 100, "the dots at the edge are visible");
    }
    assert!(ran > 0, "no size shows the scope");
}
