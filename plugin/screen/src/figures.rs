//! Numbers as text: true minus, unit after a no-break space, a dash where there is no reading.

pub use plumbline_report::figures::{DASH, hz, hz_span, unit};

/// A number with `places` decimals and a true minus. No reading, NaN and ∞ give a dash.
pub fn plain(value: Option<f64>, places: usize) -> String {
    number(value, places, false)
}

/// The same, with a plus before positive numbers.
pub fn signed(value: Option<f64>, places: usize) -> String {
    number(value, places, true)
}

fn number(value: Option<f64>, places: usize, plus: bool) -> String {
    let Some(v) = value.filter(|v| v.is_finite()) else { return DASH.to_owned() };
    // Wider numbers than any reading can be: say so, rather than break the column.
    if v.abs() >= 9_999.5 {
        return if v < 0.0 { "<−9999".to_owned() } else { ">9999".to_owned() };
    }
    let digits = format!("{:.places$}", v.abs());
    let zero = digits.bytes().all(|b| b == b'0' || b == b'.');
    let sign = match (v < 0.0, zero) {
        (_, true) => "",
        (true, false) => "−",
        (false, false) if plus => "+",
        (false, false) => "",
    };
    format!("{sign}{digits}")
}

/// A share 0…1 as whole per cent.
pub fn percent(share: Option<f64>) -> String {
    unit(plain(share.map(|s| s * 100.0), 0), "%")
}

/// Decibels with one decimal.
pub fn db(value: Option<f64>) -> String {
    unit(plain(value, 1), "dB")
}

/// A loss in dB, which may be −∞: then "gone".
pub fn loss(value: Option<f64>) -> String {
    match value {
        Some(v) if v == f64::NEG_INFINITY => "gone".to_owned(),
        other => plain(other, 1),
    }
}

/// A balance in dB as a side and a size: "R 1.2", "L 0.4", "0.0".
pub fn balance(value: Option<f64>) -> String {
    let size = plain(value.map(f64::abs), 1);
    match value.filter(|v| v.is_finite()) {
        Some(_) if size == "0.0" => size,
        Some(v) => format!("{}\u{a0}{size}", if v < 0.0 { "L" } else { "R" }),
        None => size,
    }
}

/// A count with its noun: "1 sample", "12 samples".
pub fn count(n: u64, one: &str, many: &str) -> String {
    format!("{n}\u{a0}{}", if n == 1 { one } else { many })
}

/// Seconds as hours, minutes, seconds and tenths: "0:12:04.3".
pub fn duration(secs: f64) -> String {
    if !secs.is_finite() || secs.abs() > 1e9 {
        return DASH.to_owned();
    }
    let sign = if secs < 0.0 { "−" } else { "" };
    #[expect(clippy::cast_possible_truncation, reason = "bounded above")]
    let tenths = (secs.abs() * 10.0).floor() as i64;
    let (s, rest) = (tenths / 10, tenths % 10);
    format!("{sign}{}:{:02}:{:02}.{rest}", s / 3600, s / 60 % 60, s % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_reading_is_a_dash_and_never_a_number() {
        for none in [None, Some(f64::NAN), Some(f64::INFINITY), Some(f64::NEG_INFINITY)] {
            assert_eq!(plain(none, 1), DASH);
            assert_eq!(signed(none, 2), DASH);
            assert_eq!(percent(none), DASH);
            assert_eq!(db(none), DASH);
            assert_eq!(balance(none), DASH);
        }
        assert_eq!(loss(Some(f64::NEG_INFINITY)), "gone");
        assert_eq!(loss(None), DASH);
    }

    #[test]
    fn numbers_carry_a_true_minus_and_no_minus_zero() {
        assert_eq!(plain(Some(-23.04), 1), "−23.0");
        assert_eq!(plain(Some(-0.04), 1), "0.0");
        assert_eq!(signed(Some(0.62), 2), "+0.62");
        assert_eq!(signed(Some(-0.004), 2), "0.00");
        assert_eq!(plain(Some(1e308), 1), ">9999");
    }

    #[test]
    fn frequencies_keep_three_digits() {
        for (value, text) in [
            (20.0, "20\u{a0}Hz"),
            (31.62, "31.6\u{a0}Hz"),
            (999.0, "999\u{a0}Hz"),
            (999.7, "1\u{a0}kHz"),
            (1_258.9, "1.26\u{a0}kHz"),
            (15_849.0, "15.8\u{a0}kHz"),
            (20_000.0, "20\u{a0}kHz"),
        ] {
            assert_eq!(hz(value), text);
        }
        assert_eq!(hz(f64::NAN), DASH);
    }

    #[test]
    fn sides_are_named() {
        assert_eq!(balance(Some(1.23)), "R\u{a0}1.2");
        assert_eq!(balance(Some(-6.0)), "L\u{a0}6.0");
        assert_eq!(balance(Some(0.01)), "0.0");
    }

    #[test]
    fn durations_read_as_a_clock() {
        assert_eq!(duration(724.39), "0:12:04.3");
        assert_eq!(duration(-1.0), "−0:00:01.0");
        assert_eq!(duration(f64::NAN), DASH);
    }
}
