//! Silence, NaN, ∞, denormals and extreme values pass harmlessly, and are counted.

use crate::rig::{OFFLINE, heard, my_turn, noise, play, settle, song_tenths};
use plumbline_live::{Format, Layer};
use plumbline_measure::Readings;
use plumbline_programme::View;

fn is_finite(view: &View) -> bool {
    let fine = |r: &Readings| {
        let all = [r.level_dbfs, r.side_share, r.correlation, r.coherence, r.out_of_step, r.balance_db];
        all.iter().flatten().all(|v| v.is_finite()) && r.mono_loss_db.is_none_or(|v| !v.is_nan())
    };
    let l = &view.loudness;
    let loudness = [l.momentary_lufs, l.short_term_lufs, l.integrated_lufs, l.range_lu];
    view.averages.iter().all(|a| a.thirds.iter().chain(&a.bands).chain([&a.whole]).all(fine))
        && loudness.iter().flatten().all(|v| v.is_finite())
        && l.true_peak_dbtp.iter().flatten().all(|v| v.is_finite())
}

#[test]
fn hostile_samples_are_counted_and_leave_no_trace_in_later_readings() {
    let _turn = my_turn();
    let hostile = [
        ("silence", 0.0, 0),
        ("minus zero", -0.0, 0),
        ("NaN", f32::NAN, 1),
        ("signalling NaN", f32::from_bits(0x7fa0_0001), 1),
        ("∞", f32::INFINITY, 1),
        ("−∞", f32::NEG_INFINITY, 1),
        ("a denormal", f32::from_bits(1), 0),
        ("the largest denormal", f32::from_bits(0x007f_ffff), 0),
        ("the largest number", f32::MAX, 0),
        ("the smallest number", f32::MIN, 0),
    ];
    let mut cases = 0;
    for (name, value, counts) in hostile {
        for (rate_hz, channels) in [(48_000.0, 2), (22_050.0, 1)] {
            let layer = Layer::join();
            let mut tap = layer.open(Format { rate_hz, channels, ..OFFLINE }).unwrap();
            let bad = [vec![value; 30_000], vec![value; 30_000]];
            play(&mut tap, 0, &bad, 512);
            play(&mut tap, 30_000, &noise(30, 30_000, 0.1), 512);
            let view = settle(&layer, tap);
            let expected = if channels == 2 { 60_000 } else { 30_000 };
            assert_eq!(view.health.not_finite, counts * expected, "{name}");
            assert!(is_finite(&view), "{name}");
            assert_eq!(heard(&song_tenths(&layer)), 60_000, "{name}");
            assert_eq!(layer.trouble(), None, "{name}");
            cases += 1;
        }
    }
    assert_eq!(cases, 20);
}
