//! Typed values: how they are written, how they are read, and what is wrong with them.

use crate::fields::Field;
use plumbline_measure::{BandEdges, FrameRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_report::figures;

/// The texts being typed; `None` shows the value in use.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Forms {
    pub(crate) start: Field,
    pub(crate) edges: Field,
    pub(crate) target: [Field; 5],
}

/// Reads a start timecode.
pub(crate) fn start(rate: FrameRate, text: &str) -> Result<Timecode, String> {
    Timecode::parse(rate, text).map_err(|error| sentence(&error.to_string()))
}

/// The label of a start at another frame rate: the same digits if that label exists there, else the same seconds.
pub(crate) fn at_rate(start: Timecode, rate: FrameRate) -> Timecode {
    let [h, m, s, f] = start.fields();
    [[h, m, s, f], [h, m, s, 0], [h, m, 0, 0], [h, 0, 0, 0]]
        .into_iter()
        .find_map(|fields| Timecode::from_fields(rate, fields).ok())
        .unwrap_or(Timecode::zero(rate))
}

/// Seven edges in Hz as one line of text.
pub(crate) fn edges_text(edges: &BandEdges) -> String {
    edges.edges().map(plain_number).join("  ")
}

/// Reads seven edges in Hz, separated by spaces, commas or semicolons; "2.5k" is 2500.
pub(crate) fn edges(text: &str) -> Result<BandEdges, String> {
    let words: Vec<&str> =
        text.split(|c: char| c.is_whitespace() || c == ';' || c == ',').filter(|w| !w.is_empty()).collect();
    let numbers: Option<Vec<f64>> = words.iter().map(|word| hertz(word)).collect();
    let Some(numbers) = numbers else {
        return Err(
            "Expected seven frequencies in Hz, such as 20 60 200 800 2.5k 8k 20k. Nothing was changed."
                .to_owned(),
        );
    };
    let got = numbers.len();
    let numbers: [f64; 7] = numbers
        .try_into()
        .map_err(|_| format!("Expected seven edges for six bands, got {got}. Nothing was changed."))?;
    BandEdges::new(numbers).map_err(|error| sentence(&error.to_string()))
}

fn hertz(word: &str) -> Option<f64> {
    let word = word.to_ascii_lowercase();
    let (digits, factor) = match word.strip_suffix('k') {
        Some(digits) => (digits, 1_000.0),
        None => (word.as_str(), 1.0),
    };
    digits.parse::<f64>().ok().filter(|hz| hz.is_finite()).map(|hz| hz * factor)
}

/// Names, units and tooltips of the target's values, in the order of [`Forms::target`].
pub(crate) const TARGET_FIELDS: [(&str, &str); 5] = [
    ("Integrated loudness", "LUFS"),
    ("Tolerance above", "LU"),
    ("Tolerance below", "LU"),
    ("Maximum true peak", "dBTP"),
    ("Maximum short-term", "LUFS"),
];

/// A value of the target as text; empty if the target does not have it.
pub(crate) fn target_text(target: &Target, field: usize) -> String {
    let value = match field {
        0 => Some(target.integrated_lufs),
        1 => Some(target.above_lu),
        2 => Some(target.below_lu),
        3 => Some(target.true_peak_dbtp),
        _ => target.max_short_term_lufs,
    };
    value.map_or(String::new(), |v| figures::plain(Some(v), 1))
}

/// A target with one value replaced by the typed one.
pub(crate) fn target(target: Target, field: usize, text: &str) -> Result<Target, String> {
    let text = text.trim().replace(['−', '–'], "-").replace(',', ".");
    let number = text.parse::<f64>().ok().filter(|v| v.is_finite());
    let expected =
        |range: &str| format!("Expected a number {range}, such as {}. Nothing was changed.", example(field));
    let mut changed = target;
    match (field, number) {
        (4, None) if text.is_empty() => changed.max_short_term_lufs = None,
        (_, None) => return Err(expected(bounds(field))),
        (0, Some(v)) => changed.integrated_lufs = v,
        (1, Some(v)) => changed.above_lu = v,
        (2, Some(v)) => changed.below_lu = v,
        (3, Some(v)) => changed.true_peak_dbtp = v,
        (_, Some(v)) => changed.max_short_term_lufs = Some(v),
    }
    // The bounds are those of the measurement.
    if changed.sane() == changed { Ok(changed) } else { Err(expected(bounds(field))) }
}

fn bounds(field: usize) -> &'static str {
    match field {
        0 => "from −60 to 0 LUFS",
        1 | 2 => "from 0 to 20 LU",
        3 => "from −20 to +6 dBTP",
        _ => "from −60 to 0 LUFS, or nothing",
    }
}

fn example(field: usize) -> &'static str {
    ["−23", "0.2", "0.2", "−1", "−18"][field.min(4)]
}

fn plain_number(value: f64) -> String {
    let text = format!("{value:.1}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// An error's text as a sentence: capital first, full stop last.
fn sentence(text: &str) -> String {
    let dot = if text.ends_with('.') { "" } else { "." };
    format!("{}{dot}", crate::words::capital(text))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn edges_are_read_in_hertz_and_kilohertz_and_refused_in_words() {
        let read = edges("20 60, 200;800 2.5k 8K 20000").expect("seven rising edges");
        assert_eq!(read, BandEdges::default());
        assert_eq!(edges(&edges_text(&read)), Ok(read));
        assert!(edges("20 60").expect_err("two").contains("got 2"));
        assert!(edges("20 60 x 800 2500 8000 20000").expect_err("a letter").contains("such as"));
        assert!(edges("20 60 50 800 2500 8000 20000").expect_err("falling").contains("must rise"));
        for text in ["", "nan nan nan nan nan nan nan", "1e308k 2 3 4 5 6 7"] {
            assert!(edges(text).expect_err(text).contains("Nothing was changed") || !text.is_empty());
        }
    }

    #[test]
    fn targets_are_typed_with_any_minus_and_bounded() {
        let base = Target::default();
        for text in ["-16", "−16", " –16,0 "] {
            assert_eq!(target(base, 0, text).map(|t| t.integrated_lufs), Ok(-16.0), "{text}");
        }
        assert_eq!(target(base, 4, "").map(|t| t.max_short_term_lufs), Ok(None));
        assert_eq!(target(base, 4, "-18").map(|t| t.max_short_term_lufs), Ok(Some(-18.0)));
        for (field, text) in [(0, "5"), (1, "-1"), (2, "nan"), (3, "1e308"), (4, "x"), (0, "")] {
            let error = target(base, field, text).expect_err(text);
            assert!(
                error.starts_with("Expected a number from") && error.ends_with("Nothing was changed."),
                "{error}"
            );
        }
        for field in 0..5 {
            let text = target_text(&base, field);
            assert_eq!(target(base, field, &text), Ok(base), "field {field}");
        }
    }

    #[test]
    fn a_start_keeps_its_digits_across_frame_rates() {
        let at = |rate, text| Timecode::parse(rate, text).expect("a label that exists");
        let moved = at_rate(at(FrameRate::F25, "10:00:00:24"), FrameRate::F24);
        assert_eq!(moved.to_string(), "10:00:00:00");
        let moved = at_rate(at(FrameRate::F25, "01:01:00:00"), FrameRate::F29_97Drop);
        assert_eq!(moved.to_string(), "01:00:00;00");
        assert!(start(FrameRate::F25, "1:2").expect_err("two fields").starts_with("Expected a timecode"));
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn any_typing_is_survived(text in ".{0,80}", field in 0_usize..7) {
            let _ = edges(&text);
            let _ = start(FrameRate::F29_97Drop, &text);
            let _ = target(Target::default(), field, &text);
        }
    }
}
