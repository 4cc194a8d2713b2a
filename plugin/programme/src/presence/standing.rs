//! What is thought of one layer from passage to passage.

use super::{Evidence, LEAST_SECS};

/// Seconds of passages that are summed at most: what is older says little of now.
const MOST_SECS: f64 = 12.0;
/// Passages without a word on the layer after which nothing is known any more.
const MOST_SILENT: u32 = 5;

/// Whether a layer is in the mix.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Told {
    /// Not known: too little was heard of it, or what was found may be chance.
    #[default]
    Unknown,
    /// It is found in the mix.
    In,
    /// It is not.
    Out,
}

/// What is thought of one layer.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    told: Told,
    /// Passages in which it was not found, together.
    unfound: Option<Evidence>,
    silent: u32,
}

impl Standing {
    /// Takes what the newest passage says; none where it says nothing. So does one in which the layer is so quiet that it
    /// would not be found either way.
    pub fn take(&mut self, newest: Option<Evidence>) {
        let Some(newest) = newest.filter(|newest| newest.is_found() || newest.could_find()) else {
            self.silent = self.silent.saturating_add(1);
            if self.silent >= MOST_SILENT {
                *self = Self::default();
            }
            return;
        };
        self.silent = 0;
        if newest.is_found() {
            // A mute that is lifted is seen with the first passage.
            *self = Self { told: Told::In, ..Self::default() };
            return;
        }
        let sum = match self.unfound.take() {
            Some(mut sum) if sum.secs < MOST_SECS => {
                sum.add(newest);
                sum
            }
            _ => newest,
        };
        if sum.is_found() {
            // Faint, but there.
            *self = Self { told: Told::In, ..Self::default() };
            return;
        }
        let enough = sum.secs >= LEAST_SECS;
        self.told = match self.told {
            Told::Out => Told::Out,
            _ if enough && sum.is_out() => Told::Out,
            // Once found it is not lost because it plays softly.
            before if !enough => before,
            _ => Told::Unknown,
        };
        self.unfound = Some(sum);
    }

    /// Whether the layer is in the mix.
    pub fn told(&self) -> Told {
        self.told
    }
}
