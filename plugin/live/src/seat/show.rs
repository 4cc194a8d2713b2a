//! What a layer shows: views, made only while someone looks.

use super::Seat;
use crate::desk::lock;
use crate::guard::guarded;
use crate::measure::Measure;
use plumbline_measure::Averaging;
use plumbline_measure::Glance;
use plumbline_programme::delivery::DeliveryVerdict;
use plumbline_programme::verdict::Verdicts;
use plumbline_programme::{Health, View};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Shortest time between two views: about 60 a second.
pub(super) const VIEW_STEP: Duration = Duration::from_millis(16);
/// Tenths that a view carries along for the time lanes: 10 s. More is in the history.
const RECENT_TENTHS: usize = 100;

impl<M: Measure> Seat<M> {
    /// Makes a view when someone looks, something is new, and the last one is old enough.
    pub(super) fn show(&mut self, now: Duration) {
        let early = self.last_view.is_some_and(|t| now.saturating_sub(t) < VIEW_STEP);
        if !self.watched || !self.stale || early {
            return;
        }
        self.stale = false;
        self.last_view = Some(now);
        self.serial += 1;
        let view = guarded(|| self.view(now)).or_else(|words| {
            self.fail(&words);
            guarded(|| self.view(now))
        });
        let view =
            view.unwrap_or_else(|_| View { serial: self.serial, clock: self.clock, ..View::default() });
        *lock(&self.desk.view) = Arc::new(view);
        self.desk.serial.store(self.serial, Ordering::Release);
        let Some(notify) = self.desk.notify() else { return };
        if let Err(words) = guarded(|| notify()) {
            self.desk.order(|o| o.notify = None);
            *lock(&self.desk.trouble) = Some(format!(
                "the call that announces a new view failed ({words}) and will not be made again; the measurement \
                 goes on. Close and open the window"
            ));
        }
    }

    fn view(&mut self, now: Duration) -> View {
        let mut view = self.figures();
        self.verdicts = view.verdicts;
        view.serial = self.serial;
        view.session = Arc::clone(&self.company.session);
        view.recent = lock(&self.desk.history).newest(RECENT_TENTHS).copied().collect();
        self.show_time(&mut view, now);
        view
    }

    /// The readings and verdicts of now.
    pub(super) fn figures(&mut self) -> View {
        let mut glance = Glance::default();
        if let Some(measure) = &self.measure {
            measure.fill(&mut glance);
        }
        self.carried.add_to(&mut glance);
        let mut view = View::from(glance);
        view.clock = self.clock;
        view.band_edges = self.edges;
        self.programme.fill(&mut view.loudness);
        view.health = self.health(view.health.not_finite);
        let slow = view.spectral(Averaging::Slow);
        let quick = &view.spectral(Averaging::Fast).whole;
        let verdicts = self.verdicts.followed_by(slow, &self.edges, self.clock.channels);
        let verdicts = verdicts.with_silent_channel(quick);
        let delivery = DeliveryVerdict::of(&view.loudness, &view.meters, quick, &self.target);
        view.verdicts = Verdicts { delivery, ..verdicts };
        self.show_pairs(&mut view);
        view.trial = self.trial();
        view
    }

    /// What went wrong since reset: all that the audio thread counted, what has not come through yet included.
    fn health(&self, not_finite: u64) -> Health {
        let counts = &self.desk.counts;
        let since = |counter: &AtomicU64, before: u64| counter.load(Ordering::Relaxed).saturating_sub(before);
        Health {
            gaps: since(&counts.gaps, self.at_reset.gaps),
            lost_frames: since(&counts.lost_frames, self.at_reset.lost_frames),
            not_finite,
            jumps: since(&counts.jumps, self.at_reset.jumps),
        }
    }
}
