//! The parameters that a host sees. There are few on purpose: everything else is in the state.

use crate::saved_state::Memory;
use nice_plug::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Parameters and persistent state of one instance.
///
/// The ids (`hold`, `reset`, `mark`) and the key `memory` never change: hosts keep them in projects and automation.
#[derive(Params)]
pub struct Parameters {
    /// Freezes the display. Measuring goes on.
    #[id = "hold"]
    pub hold: BoolParam,
    /// Resets the measurement on a change from off to on.
    #[id = "reset"]
    pub reset: BoolParam,
    /// Begins a new passage on a change from off to on.
    #[id = "mark"]
    pub mark: BoolParam,
    /// Rises of `reset` that were not carried out yet.
    pub reset_asked: Pulse,
    /// Rises of `mark` that were not carried out yet.
    pub mark_asked: Pulse,
    /// The rest of the state that a project keeps.
    #[persist = "memory"]
    pub memory: Arc<Memory>,
}

impl Parameters {
    /// Parameters at their defaults.
    pub fn new(memory: Arc<Memory>) -> Self {
        let (reset_asked, mark_asked) = (Pulse::default(), Pulse::default());
        Self {
            hold: switch("Hold", "Frozen", "Live"),
            reset: reset_asked.of(switch("Reset", "Reset", "Ready")),
            mark: mark_asked.of(switch("Mark", "Mark", "Ready")),
            reset_asked,
            mark_asked,
            memory,
        }
    }

    /// Pages for the knobs on a controller.
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

/// Whether a switch went on since it was last asked about. A host may set it on and off again within one block, or
/// between two blocks.
#[derive(Clone, Debug, Default)]
pub struct Pulse(Arc<AtomicBool>);

impl Pulse {
    fn of(&self, switch: BoolParam) -> BoolParam {
        let rose = self.0.clone();
        switch.with_callback(Arc::new(move |on| {
            if on {
                rose.store(true, Ordering::Relaxed);
            }
        }))
    }

    /// Whether the switch went on. The question clears the answer.
    ///
    /// # Realtime Safety
    /// Reads an atomic flag, and writes it if it is set.
    #[must_use]
    pub fn take(&self) -> bool {
        self.0.load(Ordering::Relaxed) && self.0.swap(false, Ordering::Relaxed)
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
