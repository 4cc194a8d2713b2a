//! Which layers cause the mono loss of a band of the mix: each is left out in turn, and what is left is folded.
//!
//! [`LossAttribution`] asks while audio plays or a file is read.
//!
//! # How to ask
//! One [`LeaveOut`] for each rate, kept (it plans its transform once); one [`Passage`] a question:
//! - **Which band**: the one that [`Mono::Loses`](crate::verdict::Mono::Loses) names as `worst.band`, with
//!   [`BandEdges::span`](plumbline_measure::BandEdges::span) of the mix's own edges. No question while the verdict is another.
//! - **Which samples**: the newest 2 s that the mix *and* every layer asked about have in full on one grid. Slice
//!   all of them at the same song sample: index 0 of every channel is the same moment, and all end together. Take
//!   the end as the least of the layers' newest positions; a layer that stands, or whose ring has no such stretch
//!   without a jump, is left out of the question. More than 2 s is allowed; the last 2 s of the mix count. With
//!   less than half a second there is no answer.
//! - **Which layers**: all of the session but those of role Mix, as they sound where the plug-in sits. Faders, pans
//!   and polarity between there and the mix are found by the fit. More than [`MOST_FITTED`] are cut down to the
//!   loudest in the band, after the cost of transforming all of them. A stereo layer is given with two channels
//!   even when one is silent: its side is worth knowing.
//! - **How often**: once a second is plenty. Worker thread only: it allocates, and takes milliseconds.
//!
//! The answer goes to [`Session::loss`](crate::Session::loss) as it is.
//!
//! # Definition
//! One spectrum of the 2 s for every channel, only the bins of the band. A real gain that holds for all times and
//! frequencies of the band only needs the real part of the cross power summed over them, which by Parseval's
//! theorem is the same from one long spectrum as from many short ones, with narrower skirts at the band's edges.
//! The mix's left and right are fitted by all channels of all layers together (least squares, real gains: a mono
//! layer has one to each side, a stereo layer four, so a balance, a pan or a width control all fit). The fit is a
//! ridge regression: its constant follows from the residual (Hoerl, Kennard, Baldwin, Communications in Statistics
//! 4, 1975), so that layers that are nearly the same sound share what they explain, instead of taking it in
//! opposite directions, and a fit without residual is not bent. Gains from one side to the other are held back more
//! ([`CROSSING`]): where two layers hold the same sound, each on a side of its own, each is taken to stay there. A
//! layer that comes some samples late or early is shifted where this makes the fit markedly better
//! ([`LARGEST_SHIFT`]). The part of a layer is what its gains make of it; leaving it out is the mix less that part.
//! Mono loss as in [`StereoPower::mono_loss_db`](plumbline_measure::StereoPower::mono_loss_db).
//!
//! `explained` is one less residual power over the mix's power, each by its own degrees of freedom (adjusted R²),
//! so that many layers do not explain a few bins by their number.
//!
//! # Accuracy
//! In the two upper bands, loss without a layer within 0.1 dB of the closed form for any faders, pans and
//! polarities, and within 0.2 dB with a layer unknown or some samples off; lower bands have fewer degrees of
//! freedom and are as much wider. `reference::loss_attribution`, `property::loss_attribution`.
//!
//! # Limits
//! Processing between a layer and the mix that is more than gain, pan, polarity and a small shift (an equaliser, a
//! reverb, a compressor) is explained in part only, and `explained` says how far. Two mono layers that hold the
//! same sound cannot be told apart and share alike. A loss that three or more layers cause in equal parts may name
//! none: each alone wins too little.

use crate::session::{LayerId, LossByLayer};
use plumbline_measure::bands::Span;
use plumbline_measure::rate::SampleRate;
use plumbline_measure::reading::BAND_GATE_DBFS;

mod attribution;
mod fit;
mod gram;
mod rank;
mod shift;
mod spectra;
#[cfg(test)]
mod tests;

pub use attribution::{LossAttribution, Mix, Sounds};
use fit::Fit;
use gram::Gram;
use spectra::{Spectra, Spectrum};

/// Most layers that are fitted at once: the loudest in the band.
pub const MOST_FITTED: usize = 16;

/// Seconds from one question to the next, and of the sound that one compares.
pub const ASK_SECS: u32 = 2;

/// Most layers that one question is asked about: the loudest of the band.
pub const MOST_ASKED: usize = 8;

/// How many samples early or late a layer may be and still be fitted: a block of the smallest size that hosts are
/// commonly run at (common practice, no source).
pub const LARGEST_SHIFT: usize = 64;

/// How much more the ridge holds back what crosses from one side of a stereo layer to the other side of the mix than
/// what stays: the sound must ask for it (common practice, no source).
pub const CROSSING: f64 = 30.0;

/// What leaving out must win to be told, dB: a smaller step is not heard as a step (common practice, no source).
pub const LEAST_WIN_DB: f64 = 1.0;

/// How far under the band's level in the mix what is left counts as nothing, dB (common practice, no source).
pub const NOTHING_LEFT_DB: f64 = -40.0;

/// Loss from which on a deeper one is no worse, dB: losses are compared down to here (common practice, no source).
pub const DEEPEST_DB: f64 = -60.0;

/// Loss from which on what is left counts as cancelled altogether, dB: the fit of single-precision samples is no finer.
pub const CANCELLED_DB: f64 = -100.0;

/// One layer of a [`Passage`].
#[derive(Clone, Copy, Debug)]
pub struct LayerAudio<'a> {
    /// Which layer.
    pub id: LayerId,
    /// One or two channels. None counts as silence; a third is not looked at.
    pub channels: &'a [&'a [f32]],
}

/// What is asked about.
///
/// # Shape
/// All channels start at the same song sample. The length is that of the shorter channel of the mix; a layer that ends
/// before counts as silent from there. Samples that are NaN or infinite count as silence.
#[derive(Clone, Copy, Debug)]
pub struct Passage<'a> {
    /// Named band, 0 Sub to 5 Air; goes into the answer as it is.
    pub band: usize,
    /// Its edges.
    pub span: Span,
    /// The mix, left and right.
    pub mix: [&'a [f32]; 2],
    /// The layers, none of role Mix.
    pub layers: &'a [LayerAudio<'a>],
}

/// Finds the layers that cause a mono loss, at one rate.
pub struct LeaveOut {
    spectra: Spectra,
}

/// A layer that takes part: which, and which of the fitted columns are its own.
struct Part {
    id: LayerId,
    columns: std::ops::Range<usize>,
}

impl LeaveOut {
    /// Plans for a rate.
    pub fn new(rate: SampleRate) -> Self {
        Self { spectra: Spectra::new(rate) }
    }

    /// Answers. `None` when there is too little to say anything: under half a second, a band that does not exist at
    /// this rate, a mix under −105 dBFS in it, or more channels than the band's few bins can tell apart.
    pub fn ask(&mut self, passage: &Passage<'_>) -> Option<LossByLayer> {
        self.spectra.prepare(passage)?;
        let mix = passage.mix.map(|channel| self.spectra.of(channel));
        let gate = plumbline_measure::cross::db_power(BAND_GATE_DBFS);
        let mix_power = mix[0].power() + mix[1].power();
        // Written so that NaN is refused as well.
        if mix_power.is_nan() || mix_power < gate {
            return None;
        }
        let (mut columns, parts) = self.columns(passage, gate / 2.0);
        let freedom = self.spectra.freedom();
        let mut gram = Gram::new(&mix, &columns);
        let mut fit = Fit::new(&gram, freedom)?;
        shift::align(&mix, &mut columns, &parts, &mut gram, &mut fit, freedom, self.spectra.length());
        Some(rank::ranked(passage, &gram, &fit, &parts))
    }

    /// Spectra of all layers' channels that sound in the band, and whose they are.
    fn columns(&mut self, passage: &Passage<'_>, gate: f64) -> (Vec<Spectrum>, Vec<Part>) {
        let mut layers: Vec<(LayerId, Vec<Spectrum>)> = passage
            .layers
            .iter()
            .map(|layer| {
                let stereo = layer.channels.len() > 1;
                let channels = layer.channels.iter().take(2).enumerate().map(|(side, channel)| Spectrum {
                    home: stereo.then_some(side),
                    ..self.spectra.of(channel)
                });
                (layer.id, channels.filter(|s| s.power() >= gate).collect::<Vec<_>>())
            })
            .filter(|(_, spectra)| !spectra.is_empty())
            .collect();
        if layers.len() > MOST_FITTED {
            let power = |spectra: &[Spectrum]| spectra.iter().map(Spectrum::power).sum::<f64>();
            layers.sort_by(|a, b| power(&b.1).total_cmp(&power(&a.1)));
            layers.truncate(MOST_FITTED);
        }
        let mut columns = Vec::new();
        let parts = layers
            .into_iter()
            .map(|(id, spectra)| {
                let start = columns.len();
                columns.extend(spectra);
                Part { id, columns: start..columns.len() }
            })
            .collect();
        (columns, parts)
    }
}

impl std::fmt::Debug for LeaveOut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LeaveOut").finish_non_exhaustive()
    }
}
