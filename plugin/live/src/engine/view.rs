//! Views of a layer, made only while it is watched.

use super::intake::Readings;
use plumbline_measure::{Averaging, BandEdges};
use plumbline_programme::Recording;
use plumbline_programme::delivery::{DeliveryVerdict, Target};
use plumbline_programme::session::BalanceVerdict;
use plumbline_programme::verdict::{Channels, Verdicts};
use plumbline_programme::{Clock, Mic, Mics, Programme, Trial, View};
use std::sync::Arc;
use std::time::Duration;

/// Shortest time between two views: about 60 a second.
pub(super) const VIEW_STEP: Duration = Duration::from_millis(16);

/// The context of a view besides the analyser's readings.
pub(super) struct Context<'a> {
    pub(super) edges: BandEdges,
    pub(super) delivery: &'a Target,
    pub(super) programme: &'a mut Programme,
    pub(super) mics: Arc<Mics>,
    /// The recording technique, as the user states it.
    pub(super) recording: Recording,
    pub(super) trial: Option<Trial>,
    pub(super) balance: BalanceVerdict,
}

/// Makes views, at most one in [`VIEW_STEP`].
#[derive(Debug, Default)]
pub(super) struct ViewBuilder {
    made: Option<Duration>,
    pub(super) serial: u64,
    /// The latest verdicts, on which the hysteresis of the next ones depends.
    pub(super) verdicts: Verdicts,
}

impl ViewBuilder {
    /// A builder whose views follow the one with this serial.
    pub(super) fn after(serial: u64) -> Self {
        Self { serial, ..Self::default() }
    }

    /// Whether the last view is old enough for another; if so, counts the next one as made.
    pub(super) fn is_due(&mut self, now: Duration) -> bool {
        let early = self.made.is_some_and(|t| now.saturating_sub(t) < VIEW_STEP);
        if !early {
            self.made = Some(now);
            self.serial += 1;
        }
        !early
    }

    /// Clears the verdicts, for the user's reset.
    pub(super) fn clear(&mut self) {
        self.verdicts = Verdicts::default();
    }

    /// A view of readings and verdicts.
    pub(super) fn figures(&self, readings: Readings, context: Context<'_>) -> View {
        let Readings { glance, clock, health } = readings;
        let mut view = View::from(glance);
        view.clock = clock;
        view.band_edges = context.edges;
        context.programme.fill(&mut view.loudness);
        view.health = health;
        let slow = view.spectral(Averaging::Slow);
        let quick = &view.spectral(Averaging::Fast).whole;
        let left_right = context.mics.line([Mic::Left, Mic::Right]);
        let channels = Channels { count: clock.channels, left_right, recording: context.recording };
        let verdicts = self.verdicts.followed_by(slow, &context.edges, channels);
        let verdicts = verdicts.with_silent_channel(quick);
        let delivery = DeliveryVerdict::of(&view.loudness, &view.meters, quick, context.delivery);
        view.mics = context.mics;
        view.verdicts =
            Verdicts { delivery, mics: view.mics.verdict(), balance: context.balance, ..verdicts };
        view.trial = context.trial;
        view
    }

    /// A view without readings, for use after a failure.
    pub(super) fn empty(&self, clock: Clock) -> View {
        View { serial: self.serial, clock, ..View::default() }
    }
}
