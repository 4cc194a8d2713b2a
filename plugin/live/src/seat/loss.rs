//! Which layers cause the mono loss of a mix, from the newest two seconds of all of them on the board.

use crate::board::{Board, Neighbour};
use plumbline_measure::cross::db_power;
use plumbline_measure::{BandEdges, Position, SampleRate, Span};
use plumbline_programme::leave_out::{ASK_SECS, LayerAudio, LeaveOut, Passage, asked_about, power_inside};
use plumbline_programme::session::{LayerLine, LossByLayer};
use plumbline_programme::verdict::Mono;
use plumbline_programme::{LayerId, Role, Session};
use std::time::Duration;

/// Pause between two questions: an answer takes milliseconds of the worker.
const ASK_STEP: Duration = Duration::from_secs(ASK_SECS as u64);
/// A layer whose newest sample lies this far behind that of the mix stands. Half of what a file holds beyond the
/// compared seconds.
const STANDS_BEHIND_SECS: i64 = 1;

/// The question after the layers behind a mono loss, asked now and then.
#[derive(Default)]
pub(super) struct Loss {
    planned: Option<(SampleRate, LeaveOut)>,
    asked: Option<Duration>,
    answer: Option<LossByLayer>,
}

impl Loss {
    /// The newest answer; none while the mix loses nothing, which `mono` tells, or is no mix.
    pub(super) fn ask(
        &mut self,
        mono: Option<&Mono>,
        own: LayerId,
        session: &Session,
        board: &Board,
        edges: &BandEdges,
        now: Duration,
    ) -> Option<LossByLayer> {
        let Some(Mono::Loses { worst, .. }) = mono else {
            self.answer = None;
            return None;
        };
        let band = worst.band;
        let span = edges.span(band);
        let early = self.asked.is_some_and(|t| now.saturating_sub(t) < ASK_STEP);
        let stands = self.answer.as_ref().is_some_and(|a| {
            (a.band, a.span) == (band, span)
                && a.left_out.iter().flat_map(|l| &l.layers).all(|id| session.layer(*id).is_some())
        });
        if !stands {
            self.answer = None;
        }
        if !early {
            self.asked = Some(now);
            // Where there is no audio to ask about, as right after a jump, the answer that stands is kept.
            if let Some(answer) = self.compare(band, span, own, session, board) {
                self.answer = Some(answer);
            }
        }
        self.answer.clone()
    }

    fn compare(
        &mut self,
        band: usize,
        span: Span,
        own: LayerId,
        session: &Session,
        board: &Board,
    ) -> Option<LossByLayer> {
        let mix = board.layer(own)?;
        let rate = mix.head.rate;
        let frames = i64::from(rate.hz() * ASK_SECS);
        let chosen: Vec<&Neighbour> = loudest(session, span)
            .into_iter()
            .filter_map(|id| board.layer(id))
            .filter(|n| plays_with(n, mix))
            .collect();
        let newest = chosen.iter().map(|n| n.newest.sample).fold(mix.newest.sample, i64::min);
        let start = newest.saturating_add(1).saturating_sub(frames);
        let read = |layer: &Neighbour, channels: u8| {
            let mut audio = vec![vec![0.0; usize::try_from(frames).ok()?]; usize::from(channels)];
            let at = Position { sample: start, ..mix.newest };
            board.read_audio(layer.head.id, at.grid, at.sample, &mut audio).then_some((layer.head.id, audio))
        };
        let (_, sum) = read(mix, 2)?;
        let audio: Vec<_> = chosen.iter().filter_map(|layer| read(layer, layer.head.channels)).collect();
        let slices: Vec<(LayerId, Vec<&[f32]>)> =
            audio.iter().map(|(id, channels)| (*id, channels.iter().map(Vec::as_slice).collect())).collect();
        let layers: Vec<LayerAudio<'_>> =
            slices.iter().map(|(id, channels)| LayerAudio { id: *id, channels }).collect();
        let [left, right] = &sum[..] else { return None };
        let leave_out = match &mut self.planned {
            Some((planned, leave_out)) if *planned == rate => leave_out,
            other => &mut other.insert((rate, LeaveOut::new(rate))).1,
        };
        leave_out.ask(&Passage { band, span, mix: [left, right], layers: &layers })
    }
}

/// Whether a layer has the same two seconds as the mix.
pub(super) fn plays_with(layer: &Neighbour, mix: &Neighbour) -> bool {
    let behind = mix.newest.sample.saturating_sub(layer.newest.sample);
    layer.running
        && layer.head.rate == mix.head.rate
        && layer.newest.grid == mix.newest.grid
        && behind <= STANDS_BEHIND_SECS * i64::from(mix.head.rate.hz())
}

/// The layers with most power in a band over the newest 3 s, none of them a mix.
fn loudest(session: &Session, span: Span) -> Vec<LayerId> {
    let power = |line: &LayerLine| power_inside(span, |third| line.thirds_dbfs[third].get().map(db_power));
    let parts = session.layers.iter().filter(|line| line.identity.role != Role::Mix && !line.absent);
    asked_about(parts.map(|line| (power(line), line.id)))
}
