//! Mono loss, over the whole range and by band.

use super::Kind;
use super::cusum::{Cusum, Step};
use super::phase::thirds_of;
use super::signal_faults::cross_of;
use super::store::Store;
use crate::audibility::{SUB, heard};
use crate::verdict::{VERDICT_RANGE_DB, run_around};
use plumbline_measure::bands::{BANDS, FIRST_ACCURATE_THIRD, Span, THIRDS, third_span, window_for};
use plumbline_measure::cross::{StereoPower, db_power, power_db};
use plumbline_measure::reading::Gate;
use plumbline_measure::{BandEdges, Coherent, Tenth};

/// Loss beyond the limit that a single band needs, dB: 6 dB if the whole range loses 3.5.
pub(super) const BAND_MORE_DB: f64 = 2.5;
/// Coherence under which channels are unrelated. They lose about 3 dB in mono by chance, which is no fault.
const UNRELATED: f64 = 0.25;
/// Excess over the limit from which the loss of an unrelated pair is more than chance, dB: whole range, band.
const CHANCE_DB: [f64; 2] = [1.5, 3.0];
/// Evidence per dB over the limit.
const PER_DB: f64 = 1.0;
/// Loss that counts as total, dB.
const ALL_DB: f64 = 100.0;

/// State kept between tenths.
#[derive(Debug, Default)]
pub(super) struct Loss {
    track: Cusum,
    /// Sums since the evidence began, and the sums at its highest point.
    sums: Sums,
    highest: Sums,
    at: (f64, i64),
}

#[derive(Clone, Debug)]
struct Sums {
    thirds: [StereoPower; THIRDS],
    whole: StereoPower,
}

impl Default for Sums {
    fn default() -> Self {
        Self { thirds: [StereoPower::default(); THIRDS], whole: StereoPower::default() }
    }
}

/// Mono loss in dB, positive; infinite from [`ALL_DB`].
fn loss_db(cross: &StereoPower) -> f64 {
    cross.mono_loss_db().map_or(0.0, |loss| if -loss >= ALL_DB { f64::INFINITY } else { (-loss).max(0.0) })
}

impl Loss {
    pub(super) fn push(&mut self, store: &mut Store, tenth: &Tenth, edges: &BandEdges) {
        let rule = store.rules.get(Kind::MonoLoss);
        let whole = cross_of(tenth);
        let (evidence, worst) = evidence(tenth, &whole, rule.limit, edges);
        if !self.track.gathers() {
            (self.sums, self.at) = (Sums::default(), (0.0, tenth.index));
        }
        let step = self.track.step(evidence, tenth.index, rule.secs);
        if self.track.gathers() {
            for (sum, third) in self.sums.thirds.iter_mut().zip(thirds_of(tenth)) {
                *sum += third;
            }
            self.sums.whole += whole;
            if worst > self.at.0 {
                self.at = (worst, tenth.index);
            }
            if self.track.is_highest(tenth.index) {
                self.highest = self.sums.clone();
            }
        }
        self.tell(store, step, rule.limit);
    }

    /// Closes what is open, where the audio stops being contiguous.
    pub(super) fn stop(&mut self, store: &mut Store) {
        let limit = store.rules.get(Kind::MonoLoss).limit;
        let step = self.track.stop();
        self.tell(store, step, limit);
        *self = Self::default();
    }

    fn tell(&self, store: &mut Store, step: Step, limit: f64) {
        let (span, worst) = where_lost(&self.highest, limit);
        let at = self.at.1;
        store.follow(Kind::MonoLoss, step, |f| {
            (f.span, f.worst) = (span, worst);
            f.at = at.clamp(f.start, f.end.saturating_sub(1).max(f.start));
        });
    }
}

/// Evidence of a tenth for a loss, −1…1, and the largest loss in it, dB.
fn evidence(tenth: &Tenth, whole: &StereoPower, limit: f64, edges: &BandEdges) -> (f64, f64) {
    let gate = Gate::broadband();
    if !gate.open(whole) {
        return (-0.25, 0.0);
    }
    if !gate.both_open(whole) {
        return (-1.0, 0.0);
    }
    let speak = |loss: f64, limit: f64, chance: f64, coherent: &Coherent| {
        let past = loss - limit;
        let unrelated = coherent.coherence.get().is_some_and(|c| c < UNRELATED);
        if past > 0.0 && past < chance && unrelated { -0.25 } else { (past * PER_DB).clamp(-1.0, 1.0) }
    };
    let all = loss_db(whole);
    let mut most = (speak(all, limit, CHANCE_DB[0], &tenth.coherent_whole), all);
    let bands: [StereoPower; BANDS] = std::array::from_fn(|band| {
        let frames = tenth.frames_of[window_for(edges.span(band).low_hz)];
        if frames == 0 {
            StereoPower::default()
        } else {
            StereoPower::from(tenth.bands[band]) * (1.0 / f64::from(frames))
        }
    });
    let loudest = bands.iter().map(StereoPower::total).fold(0.0, f64::max);
    let level = |cross: &StereoPower| (cross.total() > 0.0).then(|| power_db(cross.total()));
    let heard = heard(&bands.each_ref().map(level), edges);
    // No phone reproduces the lowest band.
    for (band, cross) in bands.iter().enumerate().skip(SUB + 1) {
        let counts = heard[band] && Gate::bands(loudest).both_open(cross);
        if !counts || !cross.re.is_finite() {
            continue;
        }
        let loss = loss_db(cross);
        let speaks = speak(loss, limit + BAND_MORE_DB, CHANCE_DB[1], &tenth.coherent_bands[band]);
        most = (f64::max(most.0, speaks), if speaks > 0.0 { f64::max(most.1, loss) } else { most.1 });
    }
    most
}

/// Where sound is lost, and the loss there in dB: the run of thirds around the one that loses most energy, or `None`
/// for the whole range if every loud third loses.
fn where_lost(sums: &Sums, limit: f64) -> (Option<Span>, f64) {
    let loudest = sums.thirds.iter().map(StereoPower::total).fold(0.0, f64::max);
    let counts = |third: usize| sums.thirds[third].total() > loudest * db_power(-VERDICT_RANGE_DB);
    let loses = |third: usize| counts(third) && loss_db(&sums.thirds[third]) >= limit;
    let lost = |third: usize| sums.thirds[third].side() * 2.0;
    let worst =
        (FIRST_ACCURATE_THIRD..THIRDS).filter(|t| loses(*t)).max_by(|a, b| lost(*a).total_cmp(&lost(*b)));
    let Some(worst) = worst else { return (None, loss_db(&sums.whole)) };
    let (low, high) = run_around(worst, loses);
    let all = (0..THIRDS).filter(|t| counts(*t)).all(|t| (low..=high).contains(&t));
    let run: StereoPower = sums.thirds[low..=high].iter().copied().sum();
    let span = Span { low_hz: third_span(low).low_hz, high_hz: third_span(high).high_hz };
    ((!all).then_some(span), if all { loss_db(&sums.whole) } else { loss_db(&run) })
}

/// Energy of the lows over the rest, dB. `None` without lows.
pub(super) fn lows_over_rest_db(thirds: &[StereoPower; THIRDS], below_hz: f64) -> Option<f64> {
    let sum = |low: bool| -> f64 {
        (0..THIRDS)
            .filter(|t| (third_span(*t).high_hz <= below_hz * 1.01) == low)
            .map(|t| thirds[t].total())
            .sum()
    };
    let (lows, rest) = (sum(true), sum(false));
    (lows > 0.0).then(|| if rest > 0.0 { power_db(lows / rest) } else { f64::INFINITY })
}
