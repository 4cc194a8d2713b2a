use super::*;

/// Steps of level at fixed pseudo-random times, like a take with events.
fn events(seed: u64) -> Vec<f64> {
    let mut state = seed;
    let mut level = 0.1;
    (0..TENTHS)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            if state >> 62 == 0 {
                level = (state >> 40 & 0xFF) as f64 / 255.0;
            }
            level
        })
        .collect()
}

fn later(values: &[f64], by: i32) -> Vec<f64> {
    let count = i32::try_from(values.len()).expect("short");
    (0..count).map(|at| values[usize::try_from((at - by).rem_euclid(count)).expect("small")]).collect()
}

#[test]
fn a_delay_is_found_with_its_sign_and_only_within_a_second() {
    let mix = events(7);
    let mut cases = 0;
    for by in -12..=12_i32 {
        let got = late(&later(&mix, by), &mix);
        if (1..=10).contains(&by.abs()) {
            let got = got.unwrap_or_else(|| panic!("{by} tenths are plain"));
            assert!((got - f64::from(by) / 10.0).abs() < 0.02, "{by}: {got}");
        } else {
            assert_eq!(got, None, "{by}");
        }
        cases += 1;
    }
    assert_eq!(cases, 25);
}

#[test]
fn half_a_tenth_is_found_between_tenths() {
    let mix = events(9);
    let [two, three] = [2, 3].map(|by| later(&mix, by));
    let between: Vec<f64> = two.iter().zip(&three).map(|(a, b)| (a + b) / 2.0).collect();
    let got = late(&between, &mix).expect("plain");
    assert!((got - 0.25).abs() < 0.03, "{got}");
}

#[test]
fn a_layer_that_is_half_of_the_mix_is_still_found() {
    let (layer, other) = (events(11), events(12));
    let mix: Vec<f64> = layer.iter().zip(&other).map(|(a, b)| (a * a + 0.1 * b * b).sqrt()).collect();
    let got = late(&later(&layer, 4), &mix).expect("plain");
    assert!((got - 0.4).abs() < 0.03, "{got}");
    assert_eq!(late(&layer, &mix), None);
    assert_eq!(late(&later(&other, 4), &layer), None, "another sound");
}

#[test]
fn what_repeats_or_stands_still_has_no_delay() {
    let mut cases = 0;
    for period in 2..=20 {
        let beats: Vec<f64> = (0..TENTHS).map(|at| if at % period == 0 { 1.0 } else { 0.05 }).collect();
        for by in [1, 3, 7] {
            assert_eq!(late(&later(&beats, by), &beats), None, "every {period}, {by} late");
            cases += 1;
        }
    }
    assert_eq!(cases, 57);
    let steady: Vec<f64> = events(5).iter().map(|x| 1.0 + 0.05 * x).collect();
    assert!(!moves(&steady) && moves(&events(5)));
    assert!(!moves(&[0.0; TENTHS]));
}

#[test]
fn a_delay_that_is_not_plain_is_not_told() {
    let mean = |values: &[f64], over: usize| -> Vec<f64> {
        (0..values.len()).map(|at| (0..over).map(|k| values[(at + k) % values.len()]).sum()).collect()
    };
    // A slowly moving level: two tenths make hardly any difference.
    let slow = mean(&events(21), 25);
    let value = |lag| correlation(&later(&slow, 2), &slow, lag);
    assert!(value(2) > 0.99 && value(0) > 0.8, "{} {}", value(2), value(0));
    assert_eq!(late(&later(&slow, 2), &slow), None);
    // A layer that is the smaller part of the mix: there is a peak, but a low one.
    let (layer, other) = (events(23), events(24));
    let mix: Vec<f64> = layer.iter().zip(&other).map(|(a, b)| (a * a + 1.2 * b * b).sqrt()).collect();
    let value = |lag| correlation(&later(&layer, 6), &mix, lag);
    assert!(value(6) > 0.55 && value(6) < 0.7 && value(0) < value(6) - 0.2, "{} {}", value(6), value(0));
    assert_eq!(late(&later(&layer, 6), &mix), None);
}
