//! Whether one layer is in the mix, from passage to passage.

use super::{Evidence, LEAST_SECS};

/// Most seconds of passages that are summed: older ones say little about the present.
const MOST_SECS: f64 = 12.0;
/// Passages without evidence after which the result becomes unknown.
const MOST_SILENT: u32 = 5;

/// Whether a layer is in the mix.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Told {
    /// Not known: too little was heard, or the result may be chance.
    #[default]
    Unknown,
    /// The layer is in the mix.
    In,
    /// The layer is not in the mix.
    Out,
}

/// The standing of one layer.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    told: Told,
    /// Sum of the passages in which it was not found.
    unfound: Option<Evidence>,
    silent: u32,
}

impl Standing {
    /// Takes the evidence of the latest passage; `None` if there is none. A passage in which the layer is too quiet
    /// to be found also counts as none.
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
            // An unmuted layer is found with the first passage.
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
            // Faint, but present.
            *self = Self { told: Told::In, ..Self::default() };
            return;
        }
        let enough = sum.secs >= LEAST_SECS;
        self.told = match self.told {
            Told::Out => Told::Out,
            _ if enough && sum.is_out() => Told::Out,
            // A layer found before is not lost because it plays softly.
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
