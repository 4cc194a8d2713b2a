//! Out of step: found in the 2 s that coherence is averaged over, and dated by the tenths themselves.

use super::Kind;
use super::change_point::{self, Features, Known};
use super::cusum::Step;
use super::store::Store;
use crate::verdict::{OutOfStep, out_of_step};
use plumbline_measure::Tenth;
use plumbline_measure::bands::{THIRDS, third_centre_hz, third_span, window_for};
use plumbline_measure::cross::{StereoPower, db_power, power_db};
use plumbline_measure::reading::{Coherent, Gate, Readings};
use std::collections::VecDeque;

/// Drop under the limit at which the finding ends.
const HELD: f64 = 0.1;
/// Length of the average, tenths.
const AVERAGE: i64 = 20;
/// Tenths that a value must stay low, so that one tenth without a long frame does not end a finding.
const QUIET: i64 = 5;
/// Tenths kept for dating start and end.
const KEPT: usize = 64;
/// Share of a new tenth in the smoothed thirds: about 1 s.
const STEP: f64 = 0.1;
/// Difference in level, dB, that weighs as much as a correlation change from 0 to 1.
const DB_PER_CORRELATION: f64 = 12.0;
/// Largest difference between values that count as equally bad.
const ALIKE: f64 = 0.05;
/// Level under which thirds count as equal, dBFS.
const FLOOR_DBFS: f64 = -100.0;

/// State kept between tenths.
#[derive(Debug, Default)]
pub(super) struct Phase {
    smooth: Vec<StereoPower>,
    recent: VecDeque<(i64, [StereoPower; THIRDS])>,
    /// The first tenth at or over the limit, and the latest one not under it.
    over: Option<(i64, i64)>,
    worst: Option<(OutOfStep, i64)>,
    stands: bool,
}

/// Mean power of each third of a tenth.
pub(crate) fn thirds_of(tenth: &Tenth) -> [StereoPower; THIRDS] {
    std::array::from_fn(|third| {
        let frames = tenth.frames_of[window_for(third_centre_hz(third))];
        let cross = StereoPower::from(tenth.thirds[third]);
        let sane = cross.ll.is_finite() && cross.rr.is_finite() && cross.re.is_finite();
        if frames == 0 || !sane { StereoPower::default() } else { cross * (1.0 / f64::from(frames)) }
    })
}

impl Phase {
    pub(super) fn push(&mut self, store: &mut Store, tenth: &Tenth) {
        let rule = store.rules.get(Kind::OutOfStep);
        let index = tenth.index;
        let thirds = thirds_of(tenth);
        if self.smooth.len() == THIRDS {
            self.smooth.iter_mut().zip(&thirds).for_each(|(s, t)| *s = *s * (1.0 - STEP) + *t * STEP);
        } else {
            self.smooth = thirds.to_vec();
        }
        self.recent.push_back((index, thirds));
        if self.recent.len() > KEPT {
            self.recent.pop_front();
        }
        let limit = if self.over.is_some() { rule.limit - HELD } else { rule.limit };
        // A spaced pair is deliberate; a few thirds without a common cause are chance.
        let found = out_of_step(&self.readings(&tenth.coherent_thirds), limit, store.spaced_secs)
            .filter(|found| found.worst >= limit && found.is_worth_noting());
        match (found, self.over) {
            (Some(found), None) => {
                self.over = Some((index, index));
                self.worst = Some((found, index));
            }
            (Some(mut found), Some((first, _))) => {
                self.over = Some((first, index));
                // If equally bad, the wider one is kept: at first only a few thirds have a coherence.
                let width = |o: &OutOfStep| o.span.high_hz / o.span.low_hz;
                let tells_more = |worst: &OutOfStep| {
                    found.worst > worst.worst + ALIKE
                        || (found.worst >= worst.worst - ALIKE && width(&found) >= width(worst))
                };
                match &self.worst {
                    Some((worst, _)) if !tells_more(worst) => {}
                    Some((worst, at)) if found.worst < worst.worst => {
                        (found.worst, found.worst_hz) = (worst.worst, worst.worst_hz);
                        self.worst = Some((found, *at));
                    }
                    _ => self.worst = Some((found, index)),
                }
            }
            (None, Some((_, last))) if index.saturating_sub(last) >= QUIET => self.end(store),
            (None, _) => {}
        }
        let Some((first, last)) = self.over else { return };
        let lasted = last.saturating_sub(first).saturating_add(1) as f64 / 10.0;
        if self.stands {
            self.tell(store, Step::Goes { end: last.saturating_add(1) });
        } else if last == index && lasted >= rule.secs {
            self.stands = true;
            let start = self.edge(first, first.saturating_sub(AVERAGE / 2), Known::After);
            self.tell(store, Step::Began { start, end: last.saturating_add(1) });
        }
    }

    /// Ends what is open, where the audio stops being contiguous.
    pub(super) fn stop(&mut self, store: &mut Store) {
        if self.over.is_some() {
            self.end(store);
        }
        *self = Self::default();
    }

    fn end(&mut self, store: &mut Store) {
        if let (true, Some((_, last))) = (self.stands, self.over) {
            let newest = self.recent.back().map_or(last, |(index, _)| *index);
            // With no tenth after it, the fault ended with the audio.
            let end = if newest > last {
                let crossed = last.saturating_add(1);
                self.edge(crossed, crossed.saturating_sub(AVERAGE / 2), Known::Before)
            } else {
                last.saturating_add(1)
            };
            let start = store.open(Kind::OutOfStep, |_| true).map_or(end, |f| f.start);
            self.tell(store, Step::Ended { end: end.max(start.saturating_add(1)) });
        }
        (self.over, self.worst, self.stands) = (None, None, false);
    }

    fn tell(&self, store: &mut Store, step: Step) {
        let Some((worst, at)) = self.worst else { return };
        store.follow(Kind::OutOfStep, step, |f| {
            (f.worst, f.span, f.cause) = (worst.worst, Some(worst.span), Some(worst.cause));
            f.at = at.clamp(f.start, f.end.saturating_sub(1).max(f.start));
        });
    }

    fn readings(&self, coherent: &[Coherent; THIRDS]) -> [Readings; THIRDS] {
        let loudest = self.smooth.iter().map(StereoPower::total).fold(0.0, f64::max);
        let gate = Gate::bands(loudest);
        std::array::from_fn(|third| Readings::of(&self.smooth[third], coherent[third], gate))
    }

    /// The tenth at which the thirds of the run change most, near the one at which the average crossed the limit;
    /// `middle` if none stands out.
    fn edge(&self, crossed: i64, middle: i64, known: Known) -> i64 {
        let Some((worst, _)) = self.worst else { return middle };
        let run: Vec<usize> = (0..THIRDS)
            .filter(|t| {
                let span = third_span(*t);
                span.low_hz >= worst.span.low_hz - 0.5 && span.high_hz <= worst.span.high_hz + 0.5
            })
            .collect();
        let from = crossed.saturating_sub(AVERAGE + AVERAGE / 2);
        let part: Vec<&(i64, [StereoPower; THIRDS])> = self
            .recent
            .iter()
            .filter(|(index, _)| *index >= from && *index <= crossed.saturating_add(AVERAGE / 2))
            .collect();
        let Some((first, _)) = part.first() else { return middle };
        let features: Vec<Features> = part.iter().map(|(_, thirds)| looks(thirds, &run)).collect();
        let place = |index: i64| usize::try_from(index.saturating_sub(*first)).unwrap_or(0);
        match change_point::change(
            &features,
            place(crossed.saturating_sub(AVERAGE + 2)),
            place(crossed.saturating_add(2)),
            known,
        ) {
            Some(at) => part[at].0,
            None => middle,
        }
    }
}

/// Correlation and level of some thirds, in numbers of comparable weight.
fn looks(thirds: &[StereoPower; THIRDS], run: &[usize]) -> Features {
    let floor = db_power(FLOOR_DBFS);
    run.iter()
        .flat_map(|third| {
            let cross = &thirds[*third];
            let correlation = cross.correlation().unwrap_or(0.0);
            [correlation, power_db(cross.total().max(floor)) / DB_PER_CORRELATION]
        })
        .collect()
}
