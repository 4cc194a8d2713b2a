//! A question: a passage of the mix and its layers, and the limits of an answer.

use crate::session::LayerId;
use plumbline_measure::bands::Span;

/// Most layers fitted at once: the loudest in the band.
pub const MOST_FITTED: usize = 16;

/// Seconds from one question to the next; also the length of sound compared.
pub const ASK_SECS: u32 = 2;

/// Most layers in one question: the loudest in the band.
pub const MOST_ASKED: usize = 8;

/// Most samples that a layer may be early or late and still be fitted: the smallest block size commonly used in hosts
/// (common practice, no source).
pub const LARGEST_SHIFT: usize = 64;

/// How much more the ridge holds back a gain from one side of a stereo layer to the other side of the mix than a gain
/// to the same side (common practice, no source).
pub const CROSSING: f64 = 30.0;

/// Smallest win, in dB, for which leaving out is reported: a smaller step is hardly audible (common practice, no
/// source).
pub const LEAST_WIN_DB: f64 = 1.0;

/// Level of the rest under that of the band in the mix at which it counts as nothing, dB (common practice, no source).
pub const NOTHING_LEFT_DB: f64 = -40.0;

/// Deepest loss compared, dB: anything below is no worse (common practice, no source).
pub const DEEPEST_DB: f64 = -60.0;

/// Loss from which the rest counts as fully cancelled, dB: the accuracy of a fit to single-precision samples.
pub const CANCELLED_DB: f64 = -100.0;

/// One layer of a [`Passage`].
#[derive(Clone, Copy, Debug)]
pub struct LayerAudio<'a> {
    /// Which layer.
    pub id: LayerId,
    /// One or two channels. No channels count as silence; a third channel is ignored.
    pub channels: &'a [&'a [f32]],
}

/// A question: the mix and its layers over one stretch.
///
/// # Shape
/// All channels start at the same song sample. The length is that of the shorter channel of the mix; a layer that
/// ends earlier counts as silent from there. Samples that are NaN or infinite count as silence.
#[derive(Clone, Copy, Debug)]
pub struct Passage<'a> {
    /// Named band, 0 Sub to 5 Air; copied into the answer.
    pub band: usize,
    /// Its edges.
    pub span: Span,
    /// The mix, left and right.
    pub mix: [&'a [f32]; 2],
    /// The layers; none of role Mix.
    pub layers: &'a [LayerAudio<'a>],
}

/// A layer that takes part, and the fitted columns that belong to it.
pub(super) struct Part {
    pub(super) id: LayerId,
    pub(super) columns: std::ops::Range<usize>,
}
