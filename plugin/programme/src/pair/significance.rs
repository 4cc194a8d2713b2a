//! Coherence by chance: its bias and its thresholds, for a number of independent averages.

/// Coherence that unrelated Gaussian signals stay under with probability `confidence`, over `averages` independent
/// averages: 1 − (1 − p)^(1/(N − 1)).
///
/// # Definition
/// G. C. Carter, C. H. Knapp, A. H. Nuttall, IEEE Trans. AU-21(4) 337–344, 1973 (from memory).
///
/// # Errors
/// None. One average reads a coherence of 1 for any signals, so `averages` ≤ 1 gives 1.
pub fn coherence_threshold(averages: f64, confidence: f64) -> f64 {
    if averages > 1.0 { 1.0 - (1.0 - confidence.clamp(0.0, 1.0)).powf(1.0 / (averages - 1.0)) } else { 1.0 }
}

/// Mean of the estimate for a true coherence of `true_coherence`: γ² + (1 − γ²)²/N·(1 + 2γ²/N).
///
/// # Accuracy
/// An approximation, within 0.0035 of the exact mean from N = 8 up (`reference::pair`).
pub fn expected_coherence(true_coherence: f64, averages: f64) -> f64 {
    let (c, n) = (true_coherence.clamp(0.0, 1.0), averages.max(1.0));
    (c + (1.0 - c).powi(2) / n * (1.0 + 2.0 * c / n)).min(1.0)
}

/// The true coherence whose estimates have the mean `estimate`: the inverse of γ² + (1 − γ²)²/N. May be negative, so
/// that a mean over many estimates stays unbiased.
///
/// The affine form (γ² − 1/N)/(1 − 1/N) would read 0.23 for 0.25 over the seven averages of a cell.
pub(crate) fn without_chance(estimate: f64, averages: f64) -> f64 {
    if averages <= 2.0 {
        return 0.0;
    }
    let slope = 1.0 - 2.0 / averages;
    let root = (slope * slope - 4.0 / averages * (1.0 / averages - estimate)).max(0.0).sqrt();
    (root - slope) * averages / 2.0
}
