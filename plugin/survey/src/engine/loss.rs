//! Which layers cause the mono loss of the bus, asked every two seconds in which it loses.

use super::account::{Account, id_of};
use super::plan::Plan;
use super::unit::Unit;
use plumbline_measure::bands::BANDS;
use plumbline_measure::{Averaging, Glance, SampleRate};
use plumbline_programme::leave_out::{ASK_SECS, LayerAudio, LeaveOut, Passage};
use plumbline_programme::session::LossByLayer;
use plumbline_programme::verdict::{Mono, Verdicts};
use plumbline_report::survey::Loss;

/// The questions, and of each band the worst answer.
pub(super) struct Losses {
    leave_out: LeaveOut,
    step: u64,
    asked: u64,
    verdicts: Verdicts,
    glance: Glance,
    worst: [Option<Loss>; BANDS],
}

impl Losses {
    pub(super) fn new(rate: SampleRate) -> Self {
        Self {
            leave_out: LeaveOut::new(rate),
            step: u64::from(ASK_SECS) * u64::from(rate.hz()),
            asked: 0,
            verdicts: Verdicts::default(),
            glance: Glance::default(),
            worst: Default::default(),
        }
    }

    /// Asks when it is time and the bus loses; `end` is the first sample that was not measured yet.
    pub(super) fn ask(&mut self, units: &mut [Unit], account: &mut Account, plan: &Plan, end: u64) {
        let Some((bus, layers)) = units.split_last() else { return };
        if layers.is_empty() || end < self.asked.saturating_add(self.step) {
            return;
        }
        self.asked = end;
        bus.fill(&mut self.glance);
        let channels = u8::try_from(bus.channels()).unwrap_or(2);
        self.verdicts =
            self.verdicts.followed_by(self.glance.spectral(Averaging::Slow), &plan.band_edges, channels);
        let Mono::Loses { worst, .. } = self.verdicts.mono else { return };
        let span = plan.band_edges.span(worst.band);
        let tail = bus.tail();
        let [left, right] = tail[..] else { return };
        let sounds: Vec<(usize, Vec<&[f32]>)> =
            account.loudest(span).into_iter().filter_map(|at| Some((at, layers.get(at)?.tail()))).collect();
        let layers: Vec<LayerAudio<'_>> =
            sounds.iter().map(|(at, channels)| LayerAudio { id: id_of(*at), channels }).collect();
        let passage = Passage { band: worst.band, span, mix: [left, right], layers: &layers };
        let Some(answer) = self.leave_out.ask(&passage) else { return };
        account.blame(&answer);
        self.keep(answer, end);
    }

    fn keep(&mut self, loss: LossByLayer, end: u64) {
        let Some(slot) = self.worst.get_mut(loss.band) else { return };
        if slot.as_ref().is_none_or(|known| loss.loss_db < known.loss.loss_db) {
            let end = i64::try_from(end).unwrap_or(i64::MAX);
            let length = i64::try_from(self.step).unwrap_or(0);
            *slot = Some(Loss { start: end.saturating_sub(length).max(0), end, loss });
        }
    }

    /// The worst of each band that lost, lowest band first.
    pub(super) fn worst(self) -> Vec<Loss> {
        self.worst.into_iter().flatten().collect()
    }
}
