//! Speed of sound: ISO 9613-1, c = 343.2·√(T/293.15 K).

use plumbline_programme::pair::{metres, speed_of_sound};
use plumbline_tests::cases::Cases;

#[test]
fn speed_of_sound_by_temperature() {
    let mut cases = Cases::new("ISO 9613-1: speed of sound by temperature");
    let published = [
        (-10.0, 325.165),
        (0.0, 331.286),
        (10.0, 337.296),
        (15.0, 340.261),
        (20.0, 343.2),
        (25.0, 346.114),
        (30.0, 349.005),
        (40.0, 354.714),
    ];
    for (celsius, expected) in published {
        cases.near(format!("{celsius} °C"), speed_of_sound(celsius), expected, 0.0005);
    }
    // Slope at 20 °C 0.585 m/s/K; 1 m is 2.9138 ms.
    cases.near("slope", speed_of_sound(20.5) - speed_of_sound(19.5), 0.585, 0.0005);
    cases.near("a metre", metres(2.9138e-3, 20.0), 1.0, 1e-4);
    cases.near("a metre back", metres(-2.9138e-3, 20.0), -1.0, 1e-4);
    for hostile in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -300.0, 1e9] {
        cases.within(format!("{hostile} °C is held"), speed_of_sound(hostile), 306.0, 366.0);
    }
    cases.end(16);
}
