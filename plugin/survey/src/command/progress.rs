//! How far it is, for whoever looks at a terminal.

use super::output::Output;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::Duration;

/// A bar on stderr; none in a pipe, and none where quiet was asked for.
pub(crate) struct Bar(ProgressBar);

impl Bar {
    /// Steps with names, of which nobody knows how long each takes.
    pub(crate) fn steps(output: &Output, verb: &str) -> Self {
        Self::styled(output, None, &format!("{{spinner}} {verb} {{msg}}, {{elapsed}}"))
    }

    /// A length that is known tells the time left; one that is not tells how much is done.
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

    /// What is being done.
    pub(crate) fn name(&self, step: &str) {
        self.0.set_message(step.to_owned());
    }

    /// So much of the length is done.
    pub(crate) fn at(&self, frames: u64) {
        self.0.set_position(frames);
    }

    /// Takes the bar away: what is said next stands in its place.
    pub(crate) fn clear(&self) {
        self.0.finish_and_clear();
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.clear();
    }
}
