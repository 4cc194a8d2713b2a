//! Wind on the microphones: lows far above the rest that the channels do not share.

use super::Kind;
use super::cusum::Cusum;
use super::mono_loss::lows_over_rest_db;
use super::phase::thirds_of;
use super::signal_faults::cross_of;
use super::store::Store;
use plumbline_measure::Tenth;
use plumbline_measure::bands::{Span, THIRDS, third_span};
use plumbline_measure::reading::Gate;

/// Highest frequency of wind, Hz (common practice, no source).
const WIND_HZ: f64 = 200.0;
/// Coherence over which the lows are one sound in both channels: a rumble, a motor or a bell, not wind.
const SHARED: f64 = 0.3;
/// Level under which wind does not matter, dBFS.
const LEAST_DBFS: f64 = -60.0;

/// Evidence of lows without a coherence yet: it helps to date wind found later, and is too small to report wind by
/// itself.
const UNTOLD: f64 = 0.02;
/// Least share of the lows' energy that must have a coherence: quiet thirds do not represent loud ones.
const TELLING: f64 = 0.5;

/// State kept between tenths.
#[derive(Debug, Default)]
pub(super) struct Wind {
    track: Cusum,
    worst: (f64, i64),
}

impl Wind {
    pub(super) fn push(&mut self, store: &mut Store, tenth: &Tenth) {
        let rule = store.rules.get(Kind::Wind);
        let thirds = thirds_of(tenth);
        let whole = cross_of(tenth);
        let over = lows_over_rest_db(&thirds, WIND_HZ);
        let shared = coherence_of_lows(tenth);
        let loud = Gate::broadband().both_open(&whole) && whole.level_dbfs() >= LEAST_DBFS;
        let evidence = match (over, shared) {
            (Some(over), Some(shared)) if loud && shared < SHARED => {
                ((over - rule.limit) / 2.0).clamp(-1.0, 1.0)
            }
            // No coherence yet: neither for nor against.
            (Some(over), None) if loud && over >= rule.limit => UNTOLD,
            _ => -1.0,
        };
        if !self.track.gathers() {
            self.worst = (f64::NEG_INFINITY, tenth.index);
        }
        let step = self.track.step(evidence, tenth.index, rule.secs);
        if let Some(over) = over.filter(|o| *o > self.worst.0 && self.track.gathers()) {
            self.worst = (over, tenth.index);
        }
        self.tell(store, step);
    }

    pub(super) fn stop(&mut self, store: &mut Store) {
        let step = self.track.stop();
        self.tell(store, step);
        *self = Self::default();
    }

    fn tell(&self, store: &mut Store, step: super::cusum::Step) {
        let (worst, at) = self.worst;
        store.follow(Kind::Wind, step, |f| {
            f.worst = worst;
            f.at = at.clamp(f.start, f.end.saturating_sub(1).max(f.start));
            f.span = Some(Span { low_hz: third_span(0).low_hz, high_hz: WIND_HZ });
        });
    }
}

/// Coherence of the thirds under [`WIND_HZ`], weighted by energy; `None` while less than half of the energy has one.
fn coherence_of_lows(tenth: &Tenth) -> Option<f64> {
    let (mut sum, mut weight, mut all) = (0.0, 0.0, 0.0);
    for third in (0..THIRDS).filter(|t| third_span(*t).high_hz <= WIND_HZ * 1.01) {
        let energy = f64::from(tenth.thirds[third].ll) + f64::from(tenth.thirds[third].rr);
        all += energy;
        if let Some(coherence) = tenth.coherent_thirds[third].coherence.get() {
            sum += coherence * energy;
            weight += energy;
        }
    }
    (weight > 0.0 && weight.is_finite() && weight >= TELLING * all).then(|| sum / weight)
}
