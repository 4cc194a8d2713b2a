//! Which layers cause the mono loss of a band of the mix. Each is left out in turn, and the rest is summed to mono.
//!
//! [`LossAttribution`] asks repeatedly, while audio plays or a file is read.
//!
//! # Usage
//! One [`LeaveOut`] per rate, kept because it plans its transform once; one [`Passage`] per question:
//! - **Which band**: the one that [`Mono::Loses`](crate::verdict::Mono::Loses) names as `worst.band`, with
//!   [`BandEdges::span`](plumbline_measure::BandEdges::span) of the mix's own edges. No question with any other
//!   verdict.
//! - **Which samples**: the last 2 s that the mix *and* every layer asked about have in full on one grid. Slice all
//!   of them at the same song sample: index 0 of every channel is the same moment, and all end together. The end is
//!   the earliest of the layers' latest positions. Leave out a layer that is stopped, or whose ring has no such
//!   stretch without a jump. More than 2 s is allowed; the last 2 s of the mix count. With less than half a second
//!   there is no answer.
//! - **Which layers**: all of the session except those of role Mix, as they sound where the plug-in sits. The fit
//!   finds the faders, pans and polarities between there and the mix. Of more than [`MOST_FITTED`] the loudest in the
//!   band are used, but all of them are transformed first. Give a stereo layer two channels even when one is silent:
//!   its side is useful.
//! - **How often**: every [`ASK_SECS`] is enough. For a worker thread: it allocates, and takes milliseconds.
//!
//! The answer goes into [`Session::loss`](crate::Session::loss) unchanged.
//!
//! # Definition
//! One spectrum of the 2 s for every channel, limited to the bins of the band. A real gain that is constant over time
//! and over the band only needs the real part of the cross power summed over both. By Parseval's theorem one long
//! spectrum gives the same sum as many short ones, with narrower skirts at the edges of the band. All channels of all
//! layers together are fitted to the mix's left and right (least squares, real gains: a mono layer has one gain to
//! each side, a stereo layer four, so a balance, a pan or a width control all fit). The fit is a ridge regression
//! whose constant follows from the residual (Hoerl, Kennard, Baldwin, Communications in Statistics 4, 1975): layers
//! with nearly the same sound share what they explain instead of taking opposite gains, and a fit without residual is
//! not biased. Gains from one side to the other are held back more ([`CROSSING`]): if two layers hold the same sound,
//! each on its own side, each is assumed to stay there. A layer that is some samples late or early is shifted if that
//! clearly improves the fit ([`LARGEST_SHIFT`]). The part of a layer is its channels times their gains; leaving it
//! out subtracts that part from the mix. Mono loss as in
//! [`StereoPower::mono_loss_db`](plumbline_measure::StereoPower::mono_loss_db).
//!
//! `explained` is 1 minus the residual power over the mix's power, each divided by its own degrees of freedom
//! (adjusted R²), so that many layers do not explain a few bins merely by their number.
//!
//! # Accuracy
//! In the two upper bands, the loss without a layer is within 0.1 dB of the closed form for any faders, pans and
//! polarities, and within 0.2 dB with an unknown layer or one some samples off. Lower bands have fewer degrees of
//! freedom and are less accurate in proportion. `reference::loss_attribution`, `property::loss_attribution`.
//!
//! # Limits
//! Processing between a layer and the mix beyond gain, pan, polarity and a small shift (an equaliser, a reverb, a
//! compressor) is only explained in part, as `explained` shows. Two mono layers with the same sound cannot be told
//! apart and share equally. If three or more layers cause a loss equally, none may be named: each alone wins too
//! little.

use crate::session::{LayerId, LossByLayer};
use plumbline_measure::rate::SampleRate;
use plumbline_measure::reading::BAND_GATE_DBFS;

use super::fit::Fit;
use super::gram::Gram;
use super::passage::{MOST_FITTED, Part, Passage};
use super::rank::ranked;
use super::shift::align;
use super::spectra::{Spectra, Spectrum};

/// Finds the layers that cause a mono loss, at one rate.
pub struct LeaveOut {
    spectra: Spectra,
}

impl LeaveOut {
    /// Plans the transform for a rate.
    pub fn new(rate: SampleRate) -> Self {
        Self { spectra: Spectra::new(rate) }
    }

    /// Answers a question. `None` if there is too little to go by: under half a second, a band that does not exist at
    /// this rate, a mix under −105 dBFS in it, or more channels than the band's few bins can tell apart.
    pub fn ask(&mut self, passage: &Passage<'_>) -> Option<LossByLayer> {
        self.spectra.prepare(passage)?;
        let mix = passage.mix.map(|channel| self.spectra.of(channel));
        let gate = plumbline_measure::cross::db_power(BAND_GATE_DBFS);
        let mix_power = mix[0].power() + mix[1].power();
        // Written so that NaN is rejected as well.
        if mix_power.is_nan() || mix_power < gate {
            return None;
        }
        let (mut columns, parts) = self.columns(passage, gate / 2.0);
        let freedom = self.spectra.freedom();
        let mut gram = Gram::new(&mix, &columns);
        let mut fit = Fit::new(&gram, freedom)?;
        align(&mix, &mut columns, &parts, &mut gram, &mut fit, freedom, self.spectra.length());
        Some(ranked(passage, &gram, &fit, &parts))
    }

    /// Spectra of all layer channels that sound in the band, and the columns of each layer.
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
