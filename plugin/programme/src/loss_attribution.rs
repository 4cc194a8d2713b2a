//! Which layers cause the mono loss of a mix, asked every [`ASK_SECS`] while there is one.

mod fit;
mod gram;
mod leave_out;
mod passage;
mod rank;
mod shift;
mod spectra;
#[cfg(test)]
mod tests;

pub use leave_out::LeaveOut;
pub use passage::{
    ASK_SECS, CANCELLED_DB, CROSSING, DEEPEST_DB, LARGEST_SHIFT, LEAST_WIN_DB, LayerAudio, MOST_ASKED,
    MOST_FITTED, NOTHING_LEFT_DB, Passage,
};

use crate::role::Role;
use crate::session::{LayerId, LayerLine, LossByLayer, Session};
use crate::verdict::{Channels, Mono, Verdicts};
use plumbline_measure::bands::{BandEdges, Span, THIRDS, third_centre_hz};
use plumbline_measure::cross::db_power;
use plumbline_measure::{SampleRate, Spectral};
use std::borrow::{Borrow, Cow};

/// The mix at the time of a question.
#[derive(Clone, Copy, Debug)]
pub struct Mix<'a> {
    /// Seconds on any steady clock.
    pub secs: f64,
    /// Sample rate.
    pub rate: SampleRate,
    /// Its slow averages.
    pub slow: &'a Spectral,
    /// Edges of the named bands.
    pub edges: &'a BandEdges,
    /// Number of channels, 1 or 2.
    pub channels: u8,
}

/// The same two seconds of the mix and of the layers asked about.
#[derive(Clone, Debug, Default)]
pub struct Sounds<'a> {
    /// Left and right of the mix.
    pub mix: [Cow<'a, [f32]>; 2],
    /// Each layer with its one or two channels.
    pub layers: Vec<(LayerId, Vec<Cow<'a, [f32]>>)>,
}

/// Asks the question, and keeps the answer while it is valid.
#[derive(Debug, Default)]
pub struct LossAttribution {
    leave_out: Option<(SampleRate, LeaveOut)>,
    verdicts: Verdicts,
    asked_secs: Option<f64>,
    answer: Option<LossByLayer>,
}

impl LossAttribution {
    /// The current answer, and whether it is new; `None` while the mix loses nothing. When a question is due,
    /// `sounds` is called with the layers it concerns. If it returns `None`, as right after a jump, the previous
    /// answer stays.
    pub fn follow<'a, S: Borrow<Session>>(
        &mut self,
        mix: &Mix<'_>,
        session: impl FnOnce() -> S,
        sounds: impl FnOnce(&[LayerId]) -> Option<Sounds<'a>>,
    ) -> (Option<&LossByLayer>, bool) {
        self.verdicts = self.verdicts.followed_by(mix.slow, mix.edges, Channels::of(mix.channels));
        let Mono::Loses { worst, .. } = self.verdicts.mono else {
            self.answer = None;
            return (None, false);
        };
        let (band, span) = (worst.band, mix.edges.span(worst.band));
        let session = session();
        let session = session.borrow();
        self.answer = self.answer.take().filter(|answer| {
            let here = |id: &LayerId| session.layer(*id).is_some();
            (answer.band, answer.span) == (band, span)
                && answer.left_out.iter().flat_map(|left_out| &left_out.layers).all(here)
        });
        let early = |asked: f64| (0.0..f64::from(ASK_SECS)).contains(&(mix.secs - asked));
        if self.asked_secs.is_some_and(early) {
            return (self.answer.as_ref(), false);
        }
        self.asked_secs = Some(mix.secs);
        let answer =
            sounds(&loudest(session, span)).and_then(|sounds| self.ask(mix.rate, band, span, &sounds));
        let new = answer.is_some();
        if new {
            self.answer = answer;
        }
        (self.answer.as_ref(), new)
    }

    fn ask(&mut self, rate: SampleRate, band: usize, span: Span, sounds: &Sounds<'_>) -> Option<LossByLayer> {
        let slices: Vec<(LayerId, Vec<&[f32]>)> = sounds
            .layers
            .iter()
            .map(|(id, channels)| (*id, channels.iter().map(|channel| &**channel).collect()))
            .collect();
        let layers: Vec<LayerAudio<'_>> =
            slices.iter().map(|(id, channels)| LayerAudio { id: *id, channels }).collect();
        let leave_out = match &mut self.leave_out {
            Some((planned, leave_out)) if *planned == rate => leave_out,
            other => &mut other.insert((rate, LeaveOut::new(rate))).1,
        };
        let [left, right] = &sounds.mix;
        leave_out.ask(&Passage { band, span, mix: [left, right], layers: &layers })
    }
}

/// The layers with the most power in a span over the last 3 s, loudest first, without mixes and without layers that
/// the mix does not contain.
fn loudest(session: &Session, span: Span) -> Vec<LayerId> {
    let inside = |third: &usize| (span.low_hz..span.high_hz).contains(&third_centre_hz(*third));
    let power = |line: &LayerLine| -> f64 {
        let thirds = (0..THIRDS).filter(inside).filter_map(|third| line.thirds_dbfs[third].get());
        thirds.map(db_power).sum()
    };
    let parts = session.layers.iter().filter(|line| line.identity.role != Role::Mix && !line.absent);
    let mut layers: Vec<(f64, LayerId)> = parts.map(|line| (power(line), line.id)).collect();
    layers.sort_by(|a, b| b.0.total_cmp(&a.0));
    layers.iter().take(MOST_ASKED).map(|(_, id)| *id).collect()
}
