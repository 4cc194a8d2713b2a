//! Progress, shown on a terminal.

use super::output::Output;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::Duration;

/// A progress bar on stderr; none in a pipe or if the user asked for quiet.
pub(crate) struct Bar(ProgressBar);

impl Bar {
    /// A bar for named steps of unknown length.
    pub(crate) fn steps(output: &Output, verb: &str) -> Self {
        Self::styled(output, None, &format!("{{spinner}} {verb} {{msg}}, {{elapsed}}"))
    }

    /// A bar for samples: it shows the time left if their number is known, else how much is done.
    pub(crate) fn frames(output: &Output, frames: Option<u64>) -> Self {
        let template = if frames.is_some() {
            "{wide_bar} {percent:>3} %, {eta} left {msg}"
        } else {
            "{spinner} {elapsed} {msg}"
        };
        Self::styled(output, frames, template)
    }

    fn styled(output: &Output, length: Option<u64>, template: &str) -> Self {
        let shown = output.may_move();
        let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(length, target);
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        if shown {
            bar.enable_steady_tick(Duration::from_millis(120));
        }
        Self(bar)
    }

    /// Shows the step in progress.
    pub(crate) fn name(&self, step: &str) {
        self.0.set_message(step.to_owned());
    }

    /// Shows that this many samples are done.
    pub(crate) fn at(&self, frames: u64) {
        self.0.set_position(frames);
    }

    /// Removes the bar, so that the next message takes its place.
    pub(crate) fn clear(&self) {
        self.0.finish_and_clear();
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.clear();
    }
}
