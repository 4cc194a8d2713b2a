//! Numbers as the formats carry them: rounded, and finite or absent.

/// Decimals of readings.
const READING: i32 = 4;

/// A value rounded; absent when NaN, infinite or overflowing.
pub(crate) fn round_to(value: f64, places: i32) -> Option<f64> {
    let scale = 10_f64.powi(places);
    let rounded = (value * scale).round() / scale;
    // Adding zero turns −0 into 0.
    rounded.is_finite().then_some(rounded + 0.0)
}

/// A reading.
pub(crate) fn rounded(value: Option<f64>) -> Option<f64> {
    round_to(value?, READING)
}

/// A share 0…1 in per cent.
pub(crate) fn percent(share: Option<f64>) -> Option<f64> {
    rounded(share.map(|share| share * 100.0))
}

/// A value that is finite by contract; anything else is replaced by 0.
pub(crate) fn or_zero(value: f64) -> f64 {
    rounded(Some(value)).unwrap_or(0.0)
}
