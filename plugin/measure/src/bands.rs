//! One-third-octave bands of IEC 61260-1, the six named bands, and the bins and window that measure each.
//!
//! ```
//! use plumbline_measure::bands::{THIRD_LABELS, third_at, third_centre_hz, third_span};
//!
//! let third = third_at(440.0).expect("between 20 Hz and 20 kHz");
//! assert_eq!(THIRD_LABELS[third], "400");
//! assert!((third_centre_hz(third) - 398.107).abs() < 0.001);
//! assert!(third_span(third).high_hz > 440.0);
//! assert_eq!(third_at(25_000.0), None);
//! ```

use crate::rate::SampleRate;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Octave ratio G = 10^(3/10), IEC 61260-1:2014 clause 5.2 (base ten; base two is no longer a design goal).
pub(crate) const OCTAVE_RATIO: f64 = 1.995_262_314_968_88;
/// Reference frequency fr in Hz, IEC 61260-1:2014 clause 5.3.
const REFERENCE_HZ: f64 = 1_000.0;
/// Number of thirds from 20 Hz to 20 kHz.
pub const THIRDS: usize = 31;
/// Number of named bands.
pub const BANDS: usize = 6;
/// Index x of the lowest third (20 Hz): fm = fr·G^(x/3).
const FIRST_THIRD_X: i32 = -17;

/// Nominal labels of the thirds in Hz, IEC 61260-1 Annex E / ISO 266 (labels from memory; the frequencies are
/// computed).
pub const THIRD_LABELS: [&str; THIRDS] = [
    "20", "25", "31.5", "40", "50", "63", "80", "100", "125", "160", "200", "250", "315", "400", "500",
    "630", "800", "1k", "1.25k", "1.6k", "2k", "2.5k", "3.15k", "4k", "5k", "6.3k", "8k", "10k", "12.5k",
    "16k", "20k",
];

/// Index of the third labelled 63 Hz: from here up the level accuracy applies; the thirds below are indicative, since
/// the longest window is too short for IEC filter limits there.
pub const FIRST_ACCURATE_THIRD: usize = 5;

/// A stretch of frequency, `low_hz` included, `high_hz` not.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// Lower edge in Hz.
    pub low_hz: f64,
    /// Upper edge in Hz.
    pub high_hz: f64,
}

/// Exact mid-band frequency of third `index` (0 is 20 Hz, 17 is 1 kHz, 30 is 20 kHz), in Hz.
pub fn third_centre_hz(index: usize) -> f64 {
    REFERENCE_HZ * OCTAVE_RATIO.powf(third_x(index) / 3.0)
}

/// Band edges of third `index`: fm·G^(∓1/6).
pub fn third_span(index: usize) -> Span {
    let x = third_x(index);
    Span {
        low_hz: REFERENCE_HZ * OCTAVE_RATIO.powf((2.0 * x - 1.0) / 6.0),
        high_hz: REFERENCE_HZ * OCTAVE_RATIO.powf((2.0 * x + 1.0) / 6.0),
    }
}

fn third_x(index: usize) -> f64 {
    f64::from(FIRST_THIRD_X) + index as f64
}

/// The third that holds `hz`, if any.
pub fn third_at(hz: f64) -> Option<usize> {
    (0..THIRDS).find(|&i| {
        let span = third_span(i);
        hz >= span.low_hz && hz < span.high_hz
    })
}

/// Names of the six bands, lowest first.
pub const BAND_NAMES: [&str; BANDS] = ["Sub", "Low", "Low mid", "Mid", "Presence", "Air"];

/// The seven edges of the six named bands in Hz, ascending.
///
/// # Errors
/// [`BandEdges::new`] refuses edges that are not finite, not ascending by at least a twelfth of an octave, or
/// outside 10 Hz to 22 kHz.
///
/// ```
/// use plumbline_measure::BandEdges;
///
/// assert_eq!(BandEdges::default().span(0).high_hz, 60.0);
/// let moved = BandEdges::new([20.0, 80.0, 200.0, 800.0, 2_500.0, 8_000.0, 20_000.0])?;
/// assert_eq!(moved.span(1).low_hz, 80.0);
/// assert!(BandEdges::new([20.0, 80.0, 80.0, 800.0, 2_500.0, 8_000.0, 20_000.0]).is_err());
/// # Ok::<(), plumbline_measure::bands::BandEdgesError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "[f64; 7]", into = "[f64; 7]")]
pub struct BandEdges([f64; BANDS + 1]);

/// Edges that cannot be used. Nothing was changed.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error(
    "band edges {got:?} must rise by at least a twelfth of an octave each, from 10 Hz to 22 kHz; nothing was changed"
)]
pub struct BandEdgesError {
    /// The edges asked for.
    pub got: [f64; BANDS + 1],
}

impl BandEdges {
    /// Smallest ratio between neighbouring edges: a twelfth of an octave.
    pub const CLOSEST_RATIO: f64 = 1.059;

    /// Takes seven edges in Hz.
    pub fn new(edges: [f64; BANDS + 1]) -> Result<Self, BandEdgesError> {
        let inside = edges.iter().all(|e| (10.0..=22_000.0).contains(e));
        let rising = edges.windows(2).all(|pair| pair[1] >= pair[0] * Self::CLOSEST_RATIO);
        if inside && rising { Ok(Self(edges)) } else { Err(BandEdgesError { got: edges }) }
    }

    /// All seven edges in Hz.
    pub fn edges(&self) -> [f64; BANDS + 1] {
        self.0
    }

    /// Band `index`, 0 Sub to 5 Air.
    pub fn span(&self, index: usize) -> Span {
        Span { low_hz: self.0[index], high_hz: self.0[index + 1] }
    }
}

impl Default for BandEdges {
    /// Sub 20–60, Low 60–200, Low mid 200–800, Mid 800–2.5k, Presence 2.5–8k, Air 8–20k Hz.
    fn default() -> Self {
        Self([20.0, 60.0, 200.0, 800.0, 2_500.0, 8_000.0, 20_000.0])
    }
}

impl TryFrom<[f64; BANDS + 1]> for BandEdges {
    type Error = BandEdgesError;
    fn try_from(edges: [f64; BANDS + 1]) -> Result<Self, BandEdgesError> {
        Self::new(edges)
    }
}

impl From<BandEdges> for [f64; BANDS + 1] {
    fn from(edges: BandEdges) -> Self {
        edges.0
    }
}

/// The whole measured range: the span of the broadband spectral readings.
pub const WHOLE: Span = Span { low_hz: 20.0, high_hz: 20_000.0 };

/// Number of analysis windows.
pub const WINDOWS: usize = 3;
/// Index of the longest window, the one coherence and the broadband readings come from.
pub const LONG: usize = 0;
/// Index of the shortest window, the one onsets come from.
pub(crate) const SHORT: usize = WINDOWS - 1;

/// Third from which the 4096-sample window takes over (250 Hz; change-over at its lower edge, 223.9 Hz).
const FIRST_MIDDLE_THIRD: usize = 11;
/// Third from which the 1024-sample window takes over (2.5 kHz; change-over at its lower edge, 2 239 Hz).
const FIRST_SHORT_THIRD: usize = 21;

/// Frequencies in Hz at which the window changes from long to middle and from middle to short. They are edges of
/// thirds, so that each third comes from one window.
fn change_overs_hz() -> [f64; WINDOWS - 1] {
    [third_span(FIRST_MIDDLE_THIRD).low_hz, third_span(FIRST_SHORT_THIRD).low_hz]
}

/// The window for a span that starts at `low_hz`. A third or band comes from one window as a whole, so that a
/// change-over inside it does no harm. If two spans have different windows, a steady tone close to their common edge
/// may be counted partly twice or not at all.
pub fn window_for(low_hz: f64) -> usize {
    // Edges are computed as powers; a margin of a millionth keeps a third's own edge on the right side.
    change_overs_hz().iter().filter(|&&edge| low_hz >= edge * (1.0 - 1e-6)).count()
}

/// The bins of one window that make up a span, with the part of each bin that is inside.
#[derive(Clone, Debug, PartialEq)]
pub struct BinSpan {
    /// Window, 0 the longest.
    pub window: usize,
    /// First bin.
    pub first: usize,
    /// Share of bin `first + i` inside the span, 0…1: bin k covers (k ± ½)·rate/length.
    pub weights: Vec<f64>,
}

impl BinSpan {
    /// Bins of `window` (of `length` samples) inside `span`, cut off at half the sample rate. Empty if the span is
    /// above that.
    pub fn new(window: usize, length: usize, rate: SampleRate, span: Span) -> Self {
        let bin_hz = rate.as_f64() / length as f64;
        let nyquist_bin = length / 2;
        let low = span.low_hz / bin_hz;
        let high = (span.high_hz / bin_hz).min(nyquist_bin as f64);
        if high <= low {
            return Self { window, first: 0, weights: Vec::new() };
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 65536")]
        let (first, last) = ((low + 0.5).floor() as usize, ((high + 0.5).floor() as usize).min(nyquist_bin));
        let weights = (first..=last)
            .map(|bin| {
                let (from, to) = (bin as f64 - 0.5, bin as f64 + 0.5);
                (to.min(high) - from.max(low)).clamp(0.0, 1.0)
            })
            .collect();
        Self { window, first, weights }
    }

    /// One past the last bin.
    pub fn end(&self) -> usize {
        self.first + self.weights.len()
    }

    /// Sum of the squares of per-bin values inside the span. `values` starts at bin `first_bin`.
    pub(crate) fn weigh_squares(&self, values: &[f32], first_bin: usize) -> f64 {
        let Some(start) = self.first.checked_sub(first_bin) else { return 0.0 };
        let values = values.get(start..).unwrap_or_default();
        let values = &values[..values.len().min(self.weights.len())];
        match (self.weights.as_slice(), values) {
            ([first, .., last], [low, inner @ .., high]) => {
                let square = |value: f32, weight: f64| (f64::from(value) * weight).powi(2);
                square(*low, *first) + square(*high, *last) + in_lanes(inner, |v| v * v)
            }
            ([weight], [value]) => (f64::from(*value) * weight).powi(2),
            _ => 0.0,
        }
    }

    /// Weighted sum of per-bin values inside the span. `values` starts at bin `first_bin`; missing bins count as 0. The
    /// order of summation is fixed.
    pub fn weigh<T: Copy + Into<f64>>(&self, values: &[T], first_bin: usize) -> f64 {
        let Some(start) = self.first.checked_sub(first_bin) else { return 0.0 };
        let values = values.get(start..).unwrap_or_default();
        let values = &values[..values.len().min(self.weights.len())];
        let edge = |i: usize| values.get(i).map_or(0.0, |v| (*v).into() * self.weights[i]);
        match self.weights.len() {
            0 => 0.0,
            1 => edge(0),
            // Only the first and the last bin can be partly outside; all others count in full.
            count => {
                let inner = values.get(1..count - 1).unwrap_or_default();
                edge(0) + edge(count - 1) + in_lanes(inner, |v| v)
            }
        }
    }
}

/// Sum in eight lanes: quick, and always in the same order.
pub fn in_lanes<T: Copy + Into<f64>>(values: &[T], of: impl Fn(f64) -> f64) -> f64 {
    let mut lanes = [0.0_f64; 8];
    let chunks = values.chunks_exact(8);
    let rest: f64 = chunks.remainder().iter().map(|v| of((*v).into())).sum();
    for chunk in chunks {
        for (lane, value) in lanes.iter_mut().zip(chunk) {
            *lane += of((*value).into());
        }
    }
    lanes.iter().sum::<f64>() + rest
}

/// Thirds that can be measured at a rate: those whose mid frequency is below half of it. A third that extends beyond
/// half the rate holds only the part below.
pub(crate) fn thirds_at(rate: SampleRate) -> usize {
    (0..THIRDS).filter(|&i| third_centre_hz(i) < rate.as_f64() / 2.0).count()
}
