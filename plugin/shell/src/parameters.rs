//! The parameters that a host sees. They are few on purpose: everything else is in the state.

use crate::saved_state::Memory;
use nice_plug::prelude::*;
use std::sync::Arc;

/// Parameters and persistent state of one instance.
///
/// The ids (`hold`, `reset`, `mark`) and the key `memory` never change: hosts keep them in projects and automation.
#[derive(Params)]
pub struct Parameters {
    /// Freezes what the screen shows. Measuring goes on.
    #[id = "hold"]
    pub hold: BoolParam,
    /// Resets the measurement on a change from off to on.
    #[id = "reset"]
    pub reset: BoolParam,
    /// Begins a new passage on a change from off to on.
    #[id = "mark"]
    pub mark: BoolParam,
    /// The rest of the state that a project keeps.
    #[persist = "memory"]
    pub memory: Arc<Memory>,
}

impl Parameters {
    /// Parameters at their defaults.
    pub fn new(memory: Arc<Memory>) -> Self {
        Self {
            hold: switch("Hold", "Frozen", "Live"),
            reset: switch("Reset", "Reset", "Ready"),
            mark: switch("Mark", "Mark", "Ready"),
            memory,
        }
    }

    /// Pages for the knobs of a controller.
    pub fn remote_controls(&self, context: &mut impl RemoteControlsContext) {
        context.add_section("Plumbline", |section| {
            section.add_page("Measure", |page| {
                page.add_param(&self.hold);
                page.add_param(&self.reset);
                page.add_param(&self.mark);
            });
        });
    }
}

fn switch(name: &'static str, on: &'static str, off: &'static str) -> BoolParam {
    BoolParam::new(name, false)
        .with_value_to_string(Arc::new(move |value| (if value { on } else { off }).to_owned()))
        .with_string_to_value(Arc::new(move |text| {
            let text = text.trim();
            let is = |word: &str| text.eq_ignore_ascii_case(word);
            if is(on) || is("on") || is("1") {
                Some(true)
            } else if is(off) || is("off") || is("0") {
                Some(false)
            } else {
                None
            }
        }))
}
