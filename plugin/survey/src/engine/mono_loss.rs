//! The layers that cause the mono loss of the bus, and the worst stretch of each band.

use super::joint_tenths::Joint;
use super::layer_meter::LayerMeter;
use super::plan::Plan;
use plumbline_measure::bands::BANDS;
use plumbline_measure::{Averaging, Glance, SampleRate};
use plumbline_programme::loss_attribution::{ASK_SECS, LossAttribution, Mix, Sounds};
use plumbline_programme::session::LossByLayer;
use plumbline_programme::survey::Loss;

/// The attribution of mono loss, and the worst answer for each band.
pub(super) struct Losses {
    attribution: LossAttribution,
    rate: SampleRate,
    step: u64,
    asked: u64,
    glance: Glance,
    worst: [Option<Loss>; BANDS],
}

impl Losses {
    pub(super) fn new(rate: SampleRate) -> Self {
        Self {
            attribution: LossAttribution::default(),
            rate,
            step: u64::from(ASK_SECS) * u64::from(rate.hz()),
            asked: 0,
            glance: Glance::default(),
            worst: Default::default(),
        }
    }

    /// Attributes the mono loss, if an answer is due and the bus has a loss; `end` is the first sample not measured
    /// yet.
    pub(super) fn ask(&mut self, meters: &[LayerMeter], joint: &mut Joint, plan: &Plan, end: u64) {
        let Some((bus, layers)) = meters.split_last() else { return };
        if layers.is_empty() || bus.channels() != 2 || end < self.asked.saturating_add(self.step) {
            return;
        }
        self.asked = end;
        bus.fill(&mut self.glance);
        let mix = Mix {
            secs: end as f64 / self.rate.as_f64(),
            rate: self.rate,
            slow: self.glance.spectral(Averaging::Slow),
            edges: &plan.band_edges,
            channels: 2,
        };
        let sounds = |ids: &[_]| {
            let tail = |id| layers.get(Joint::place_of(id)).map(LayerMeter::tail);
            let layers =
                ids.iter().filter_map(|id| Some((*id, tail(*id)?.into_iter().map(Into::into).collect())));
            let [left, right] = bus.tail()[..] else { return None };
            Some(Sounds { mix: [left.into(), right.into()], layers: layers.collect() })
        };
        let (Some(answer), true) = self.attribution.follow(&mix, || joint.session(), sounds) else { return };
        joint.attribute_loss(answer);
        let answer = answer.clone();
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

    /// The worst loss of each band that had any, lowest band first.
    pub(super) fn worst(self) -> Vec<Loss> {
        self.worst.into_iter().flatten().collect()
    }
}
