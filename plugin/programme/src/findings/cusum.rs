//! Dates the start and end of something by a running sum of the evidence of the tenths.

/// Evidence needed before something is reported, per second that it must last: half of what full evidence gives, so
/// that a value just over the limit is also found and dated as exactly.
const ON_PER_SEC: f64 = 5.0;
/// Evidence against it that ends it: half a second of full evidence.
const OFF: f64 = 5.0;

/// The effect of a tenth on a track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Step {
    /// Nothing to report.
    Nothing,
    /// Confirmed at this tenth: it began at `start`, and `end` is the tenth after the last.
    Began { start: i64, end: i64 },
    /// It continues; `end` is the tenth after the last that supported it.
    Goes { end: i64 },
    /// It ended.
    Ended { end: i64 },
}

/// A cumulative sum of evidence (E. S. Page, "Continuous inspection schemes", Biometrika 41, 1954). The sum never
/// falls under 0. The point where it last left 0 dates the start, and its highest point dates the end.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Cusum {
    sum: f64,
    start: i64,
    highest: f64,
    end: i64,
    stands: bool,
}

impl Cusum {
    /// Takes the evidence of a tenth, from −1 (against) to +1 (for). `secs` is how long it must last.
    pub(super) fn step(&mut self, evidence: f64, index: i64, secs: f64) -> Step {
        let evidence = if evidence.is_nan() { -1.0 } else { evidence.clamp(-1.0, 1.0) };
        if self.sum <= 0.0 {
            if evidence <= 0.0 {
                return self.stop();
            }
            (self.start, self.highest) = (index, 0.0);
        }
        self.sum = (self.sum + evidence).max(0.0);
        if self.sum > self.highest {
            (self.highest, self.end) = (self.sum, index.saturating_add(1));
        }
        if self.sum <= 0.0 || self.highest - self.sum >= OFF {
            return self.stop();
        }
        let long = self.end.saturating_sub(self.start) as f64 >= 10.0 * secs - 1e-6;
        match self.stands {
            true => Step::Goes { end: self.end },
            false if long && self.highest >= (ON_PER_SEC * secs).min(10.0 * secs) && self.highest > 0.0 => {
                self.stands = true;
                Step::Began { start: self.start, end: self.end }
            }
            false => Step::Nothing,
        }
    }

    /// Ends the track, for example where the audio stops being contiguous.
    pub(super) fn stop(&mut self) -> Step {
        let step = if self.stands { Step::Ended { end: self.end } } else { Step::Nothing };
        *self = Self::default();
        step
    }

    /// Whether evidence is being gathered, for sums that run alongside.
    pub(super) fn gathers(&self) -> bool {
        self.sum > 0.0
    }

    /// Whether the sum reached its highest point at this tenth.
    pub(super) fn is_highest(&self, index: i64) -> bool {
        self.sum > 0.0 && self.end == index.saturating_add(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(evidence: impl IntoIterator<Item = f64>, secs: f64) -> Vec<(i64, Step)> {
        let mut track = Cusum::default();
        (0..)
            .zip(evidence)
            .map(|(i, e)| (i, track.step(e, i, secs)))
            .filter(|s| s.1 != Step::Nothing)
            .collect()
    }

    #[test]
    fn a_change_is_dated_to_its_tenths() {
        let evidence = (0..60).map(|i| if (20..45).contains(&i) { 1.0 } else { -1.0 });
        let steps = run(evidence, 1.0);
        assert_eq!(steps[0], (29, Step::Began { start: 20, end: 30 }));
        assert_eq!(steps.last(), Some(&(49, Step::Ended { end: 45 })));
    }

    #[test]
    fn what_is_too_short_or_too_weak_is_none() {
        assert!(run((0..60).map(|i| if (20..29).contains(&i) { 1.0 } else { -1.0 }), 1.0).is_empty());
        assert!(run((0..600).map(|i| if i % 2 == 0 { 1.0 } else { -1.0 }), 1.0).is_empty());
        assert!(run([f64::NAN; 60], 1.0).is_empty());
        let weak = run((0..80).map(|i| if i >= 20 { 0.2 } else { -1.0 }), 1.0);
        assert_eq!(
            weak[0].1,
            Step::Began { start: 20, end: 45 },
            "weak evidence takes longer and is dated as well"
        );
    }

    #[test]
    fn a_short_break_is_bridged_and_a_long_one_is_not() {
        let with_break = |length: i64| {
            run(
                (0..80).map(move |i| {
                    if (40..40 + length).contains(&i) || !(20..70).contains(&i) { -1.0 } else { 1.0 }
                }),
                1.0,
            )
        };
        let ends = |steps: &[(i64, Step)]| steps.iter().filter(|s| matches!(s.1, Step::Ended { .. })).count();
        assert_eq!(ends(&with_break(4)), 1);
        assert_eq!(ends(&with_break(5)), 2);
    }

    #[test]
    fn an_event_stands_at_once() {
        let steps = run((0..20).map(|i| if i == 7 { 1.0 } else { -1.0 }), 0.0);
        assert_eq!(steps[0], (7, Step::Began { start: 7, end: 8 }));
        assert_eq!(steps[1], (8, Step::Ended { end: 8 }));
    }
}
