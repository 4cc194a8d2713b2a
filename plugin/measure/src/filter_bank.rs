//! The filter bank: which bins of which window make up the thirds, the bands, the whole range and the line spectrum.

use crate::bands::{
    BANDS, BandEdges, BinSpan, LONG, THIRDS, WHOLE, WINDOWS, third_span, thirds_at, window_for,
};
use crate::cells::Cells;
use crate::glance::SPANS;
use crate::rate::SampleRate;
use crate::window::HANN_NOISE_BANDWIDTH;
use std::ops::Range;

/// The filter bank for one rate and one set of band edges.
pub(crate) struct FilterBank {
    /// Window lengths, longest first.
    pub(crate) lengths: [usize; WINDOWS],
    /// The bins that each window must compute.
    pub(crate) used: [Range<usize>; WINDOWS],
    /// Thirds, bands, whole range: the bins of each, in the window that measures it.
    pub(crate) spans: Vec<BinSpan>,
    /// The same spans in bins of the longest window, which coherence needs.
    pub(crate) long_spans: Vec<BinSpan>,
    /// The thirds in bins of the shortest window that still resolves them (the middle one for narrow thirds), which
    /// show how long sounds last.
    pub(crate) short_spans: Vec<BinSpan>,
    /// Samples per second.
    pub(crate) rate_hz: f64,
    /// Cells of the line spectrum.
    pub(crate) cells: Cells,
}

impl FilterBank {
    pub(crate) fn new(rate: SampleRate, edges: BandEdges) -> Self {
        let lengths = rate.window_lengths();
        let thirds = thirds_at(rate);
        let span_of = |window: usize, span| BinSpan::new(window, lengths[window], rate, span);
        let nothing = |window| BinSpan { window, first: 0, weights: Vec::new() };

        let mut spans = Vec::with_capacity(SPANS);
        let mut long_spans = Vec::with_capacity(SPANS);
        let mut short_spans = Vec::with_capacity(THIRDS);
        for third in 0..THIRDS {
            let span = third_span(third);
            let window = window_for(span.low_hz);
            let exists = third < thirds;
            spans.push(if exists { span_of(window, span) } else { nothing(window) });
            long_spans.push(if exists { span_of(LONG, span) } else { nothing(LONG) });
            let shortest = rate.as_f64() / lengths[WINDOWS - 1] as f64 * HANN_NOISE_BANDWIDTH;
            let window = if span.high_hz - span.low_hz >= shortest { WINDOWS - 1 } else { WINDOWS - 2 };
            short_spans.push(if exists { span_of(window, span) } else { nothing(window) });
        }
        for band in 0..BANDS {
            let span = edges.span(band);
            spans.push(span_of(window_for(span.low_hz), span));
            long_spans.push(span_of(LONG, span));
        }
        spans.push(span_of(LONG, WHOLE));
        long_spans.push(span_of(LONG, WHOLE));

        let cells = Cells::new(rate, lengths);
        let used = std::array::from_fn(|w| {
            let all = spans.iter().chain(&long_spans).chain(&short_spans);
            let all = all.filter(|s| s.window == w && !s.weights.is_empty());
            let first = all.clone().map(|s| s.first).chain([cells.bins[w].start]).min().unwrap_or(0);
            let end = all.map(BinSpan::end).chain([cells.bins[w].end]).max().unwrap_or(0);
            first..end
        });
        Self { lengths, used, spans, long_spans, short_spans, rate_hz: rate.as_f64(), cells }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_share_out_every_bin_exactly_once() {
        for hz in [22_050, 44_100, 48_000, 96_000, 192_000, 384_000] {
            let rate = SampleRate::new(hz).unwrap();
            let bank = FilterBank::new(rate, BandEdges::default());
            let counted: f64 = bank.long_spans[..THIRDS].iter().flat_map(|s| &s.weights).sum();
            let top = third_span(thirds_at(rate) - 1).high_hz.min(rate.as_f64() / 2.0);
            let bins = (top - third_span(0).low_hz) * bank.lengths[LONG] as f64 / rate.as_f64();
            assert!((counted - bins).abs() < 0.51, "{hz}: {counted} of {bins}");
        }
    }

    #[test]
    fn each_third_comes_from_the_designed_window() {
        let windows: Vec<usize> = (0..THIRDS).map(|t| window_for(third_span(t).low_hz)).collect();
        assert_eq!(windows.iter().filter(|w| **w == 0).count(), 11);
        assert_eq!(windows.iter().filter(|w| **w == 1).count(), 10);
        assert!(windows.is_sorted());
    }
}
