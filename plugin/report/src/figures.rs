//! Numbers as text: true minus, unit after a no-break space, a dash where there is no reading.

/// Shown where there is no reading.
pub const DASH: &str = "–";

/// A number with `places` decimals and a true minus. No reading, NaN and ∞ give a dash.
pub fn plain(value: Option<f64>, places: usize) -> String {
    number(value, places, false)
}

/// A number with `places` decimals, with a plus before positive numbers.
pub fn signed(value: Option<f64>, places: usize) -> String {
    number(value, places, true)
}

fn number(value: Option<f64>, places: usize, plus: bool) -> String {
    let Some(v) = value.filter(|v| v.is_finite()) else { return DASH.to_owned() };
    // Longer than any reading can be: say so, rather than break the column.
    if v.abs() >= 999_999_999.5 {
        return if v < 0.0 { "<−999999999".to_owned() } else { ">999999999".to_owned() };
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

/// A number with its unit, or a dash alone.
pub fn unit(number: String, unit: &str) -> String {
    if number == DASH || unit.is_empty() { number } else { format!("{number}\u{a0}{unit}") }
}

/// A share 0…1 as whole per cent.
pub fn percent(share: Option<f64>) -> String {
    unit(plain(share.map(|s| s * 100.0), 0), "%")
}

/// Decibels with one decimal.
pub fn db(value: Option<f64>) -> String {
    unit(plain(value, 1), "dB")
}

/// A count with its noun: "1 sample", "12 samples". NaN and ∞ give a dash.
pub fn count(value: f64, one: &str, many: &str) -> String {
    let number = plain(Some(value), 0);
    let noun = if number == "1" { one } else { many };
    unit(number, noun)
}

/// A loss in dB with one decimal; "gone" for −∞.
pub fn loss(value: Option<f64>) -> String {
    if value == Some(f64::NEG_INFINITY) { "gone".to_owned() } else { plain(value, 1) }
}

/// A balance in dB as a side and a size: "R 1.2", "L 0.4", "0.0".
pub fn balance(value: Option<f64>) -> String {
    let size = plain(value.map(f64::abs), 1);
    match value.filter(|v| v.is_finite()) {
        Some(v) if size != "0.0" => format!("{}\u{a0}{size}", if v < 0.0 { "L" } else { "R" }),
        _ => size,
    }
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

/// A frequency to three digits as number and unit: ("1.25", "kHz").
fn hz_parts(value: f64) -> (String, &'static str) {
    let (scaled, name) = if value < 999.5 { (value, "Hz") } else { (value / 1_000.0, "kHz") };
    let places = match scaled {
        s if s < 9.995 => 2,
        s if s < 99.95 => 1,
        _ => 0,
    };
    let digits = plain(Some(scaled), places);
    let digits =
        if digits.contains('.') { digits.trim_end_matches('0').trim_end_matches('.') } else { &digits };
    (digits.to_owned(), name)
}

/// A frequency to three digits: "63 Hz", "1.25 kHz", "16 kHz".
pub fn hz(value: f64) -> String {
    let (digits, name) = hz_parts(value);
    unit(digits, name)
}

/// A frequency range: "200–800 Hz", "800 Hz–2.5 kHz". Invalid edges give a dash.
pub fn hz_span(span: &plumbline_measure::Span) -> String {
    let ((low, low_unit), (high, high_unit)) = (hz_parts(span.low_hz), hz_parts(span.high_hz));
    if low == DASH || high == DASH {
        DASH.to_owned()
    } else if low_unit == high_unit {
        format!("{low}–{}", unit(high, high_unit))
    } else {
        format!("{}–{}", unit(low, low_unit), unit(high, high_unit))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::Span;

    #[test]
    fn no_reading_is_a_dash_and_never_a_number() {
        for none in [None, Some(f64::NAN), Some(f64::INFINITY), Some(f64::NEG_INFINITY)] {
            assert_eq!(plain(none, 1), DASH);
            assert_eq!(signed(none, 2), DASH);
            assert_eq!(percent(none), DASH);
        }
        assert_eq!(balance(Some(f64::NAN)), DASH);
        assert_eq!([duration(f64::NAN), loss(None)], [DASH, DASH]);
        assert_eq!(count(f64::NAN, "sample", "samples"), DASH);
        assert_eq!(hz(f64::INFINITY), DASH);
        assert_eq!(hz_span(&Span { low_hz: 20.0, high_hz: f64::NAN }), DASH);
    }

    #[test]
    fn numbers_carry_a_true_minus_and_no_minus_zero() {
        assert_eq!(plain(Some(-23.04), 1), "−23.0");
        assert_eq!(plain(Some(-0.04), 1), "0.0");
        assert_eq!(signed(Some(0.62), 2), "+0.62");
        assert_eq!(plain(Some(1e308), 1), ">999999999");
        assert_eq!(count(1.0, "sample", "samples"), "1\u{a0}sample");
        assert_eq!(count(48_000.0, "sample", "samples"), "48000\u{a0}samples");
    }

    #[test]
    fn losses_balances_and_durations_have_words_of_their_own() {
        assert_eq!(loss(Some(f64::NEG_INFINITY)), "gone");
        assert_eq!([1.23, -6.0, 0.01].map(|db| balance(Some(db))), ["R\u{a0}1.2", "L\u{a0}6.0", "0.0"]);
        assert_eq!([724.39, -1.0].map(duration), ["0:12:04.3", "−0:00:01.0"]);
    }

    #[test]
    fn frequencies_keep_three_digits() {
        let hertz = [20.0, 31.62, 999.0, 999.7, 1_258.9, 15_849.0].map(hz);
        let texts = ["20 Hz", "31.6 Hz", "999 Hz", "1 kHz", "1.26 kHz", "15.8 kHz"];
        assert_eq!(hertz, texts.map(|text| text.replace(' ', "\u{a0}")));
    }

    #[test]
    fn spans_name_a_unit_once_where_both_edges_share_it() {
        let span = |low_hz, high_hz| hz_span(&Span { low_hz, high_hz });
        assert_eq!(span(200.0, 800.0), "200–800\u{a0}Hz");
        assert_eq!(span(800.0, 2_500.0), "800\u{a0}Hz–2.5\u{a0}kHz");
        assert_eq!(span(2_500.0, 8_000.0), "2.5–8\u{a0}kHz");
        assert_eq!(span(354.81, 1_122.0), "355\u{a0}Hz–1.12\u{a0}kHz");
    }
}
