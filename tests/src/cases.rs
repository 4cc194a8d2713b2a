//! Named cases: each published value is checked under its own name, every failure is told, and a suite that ran
//! fewer cases than it should fails.

use std::fmt::Display;

/// Collects the cases of one suite. [`Cases::end`] tells all failures at once.
#[derive(Debug)]
pub struct Cases {
    suite: &'static str,
    ran: usize,
    failures: Vec<String>,
    ended: bool,
}

impl Cases {
    /// No case yet. `suite` names the source: document and clause.
    pub fn new(suite: &'static str) -> Self {
        Self { suite, ran: 0, failures: Vec::new(), ended: false }
    }

    /// A reading that must be there, within `tolerance` of `expected`.
    pub fn near(&mut self, name: impl Display, got: impl Into<Option<f64>>, expected: f64, tolerance: f64) {
        let got = got.into();
        // Equal infinities are near; NaN is near nothing.
        let near = got.is_some_and(|g| g == expected || (g - expected).abs() <= tolerance);
        self.holds(format_args!("{name}: expected {expected} ± {tolerance}, got {got:?}"), near);
    }

    /// A reading that must be there, from `low` to `high`.
    pub fn within(&mut self, name: impl Display, got: impl Into<Option<f64>>, low: f64, high: f64) {
        let got = got.into();
        let inside = got.is_some_and(|g| (low..=high).contains(&g));
        self.holds(format_args!("{name}: expected {low} to {high}, got {got:?}"), inside);
    }

    /// A reading that must be absent.
    pub fn absent(&mut self, name: impl Display, got: Option<f64>) {
        self.holds(format_args!("{name}: expected no reading, got {got:?}"), got.is_none());
    }

    /// A statement that must hold.
    pub fn holds(&mut self, name: impl Display, holds: bool) {
        self.ran += 1;
        if !holds {
            self.failures.push(name.to_string());
        }
    }

    /// Ends the suite.
    ///
    /// # Panics
    /// When a case failed, or when not exactly `expected` cases ran.
    pub fn end(mut self, expected: usize) {
        self.ended = true;
        let (suite, ran, failed) = (self.suite, self.ran, self.failures.len());
        assert!(
            self.failures.is_empty(),
            "{suite}: {failed} of {ran} cases failed:\n  {}",
            self.failures.join("\n  ")
        );
        assert_eq!(ran, expected, "{suite}: cases that ran, and cases that should");
    }
}

impl Drop for Cases {
    /// A suite that is never ended would check nothing.
    fn drop(&mut self) {
        if !self.ended && !std::thread::panicking() {
            panic!("{}: {} cases ran, but nobody looked at the outcome", self.suite, self.ran);
        }
    }
}
