//! How often the worker may start over after a failure.

use std::collections::VecDeque;
use std::time::Duration;

/// The most restarts within [`SPAN`]. A fault that comes more often than this comes with every round.
pub(crate) const MOST: usize = 3;
/// The time over which restarts are counted.
pub(crate) const SPAN: Duration = Duration::from_secs(10);

/// The latest restarts.
#[derive(Debug, Default)]
pub(crate) struct Restarts(VecDeque<Duration>);

impl Restarts {
    /// Whether another restart is allowed at `now`; if so, counts it.
    pub(crate) fn allows(&mut self, now: Duration) -> bool {
        while self.0.front().is_some_and(|at| now.saturating_sub(*at) >= SPAN) {
            self.0.pop_front();
        }
        let allowed = self.0.len() < MOST;
        if allowed {
            self.0.push_back(now);
        }
        allowed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_restarts_in_ten_seconds_and_the_fourth_once_the_first_is_older() {
        let mut restarts = Restarts::default();
        let answers = [0, 4_000, 9_000, 9_999, 10_000, 13_999, 14_000];
        let answers = answers.map(|ms| restarts.allows(Duration::from_millis(ms)));
        assert_eq!(answers, [true, true, true, false, true, false, true]);
    }
}
