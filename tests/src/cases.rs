//! Named cases: each published value is checked under its own name, all failures are reported, and a suite that did not
//! run exactly the expected number of cases fails.

use std::fmt::Display;

/// Collects the cases of one suite. [`Cases::end`] reports all failures at once.
#[derive(Debug)]
pub struct Cases {
    suite: &'static str,
    ran: usize,
    failures: Vec<String>,
    ended: bool,
}

impl Cases {
    /// An empty suite. `suite` names the source: document and clause.
    pub fn new(suite: &'static str) -> Self {
        Self { suite, ran: 0, failures: Vec::new(), ended: false }
    }

    /// Checks that a reading is present and within `tolerance` of `expected`.
    pub fn near(&mut self, name: impl Display, got: impl Into<Option<f64>>, expected: f64, tolerance: f64) {
        let got = got.into();
        // Equal infinities count as near; NaN never does.
        let near = got.is_some_and(|g| g == expected || (g - expected).abs() <= tolerance);
        self.holds(format_args!("{name}: expected {expected} ± {tolerance}, got {got:?}"), near);
    }

    /// Checks that a reading is present and from `low` to `high`.
    pub fn within(&mut self, name: impl Display, got: impl Into<Option<f64>>, low: f64, high: f64) {
        let got = got.into();
        let inside = got.is_some_and(|g| (low..=high).contains(&g));
        self.holds(format_args!("{name}: expected {low} to {high}, got {got:?}"), inside);
    }

    /// Checks that a reading is absent.
    pub fn absent(&mut self, name: impl Display, got: Option<f64>) {
        self.holds(format_args!("{name}: expected no reading, got {got:?}"), got.is_none());
    }

    /// Checks a condition.
    pub fn holds(&mut self, name: impl Display, holds: bool) {
        self.ran += 1;
        if !holds {
            self.failures.push(name.to_string());
        }
    }

    /// Ends the suite.
    ///
    /// # Panics
    /// If a case failed, or if not exactly `expected` cases ran.
    pub fn end(mut self, expected: usize) {
        self.ended = true;
        let (suite, ran, failed) = (self.suite, self.ran, self.failures.len());
        assert!(
            self.failures.is_empty(),
            "{suite}: {failed} of {ran} cases failed:\n  {}",
            self.failures.join("\n  ")
        );
        assert_eq!(ran, expected, "{suite}: cases run, and cases expected");
    }
}

impl Drop for Cases {
    /// Fails if the suite was not ended, because it would check nothing.
    fn drop(&mut self) {
        if !self.ended && !std::thread::panicking() {
            panic!("{}: {} cases ran, but `end` was not called", self.suite, self.ran);
        }
    }
}
