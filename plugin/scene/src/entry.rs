//! Entries of planted values.

use super::plan::Stretch;
use super::truth::{Place, Planted, Quantity, Stand, Value};

/// An entry for a value on the mix; the other fields have the usual values.
pub(crate) fn on_mix(name: &str, quantity: Quantity, stretch: Stretch, value: f64, unit: &str) -> Planted {
    Planted {
        name: name.to_owned(),
        place: Place::Mix,
        quantity,
        start_secs: stretch.start,
        end_secs: stretch.end,
        band_hz: None,
        stem: None,
        value: Value::Number(value),
        unit: unit.to_owned(),
        tolerance: 0.0,
        stand: Stand::Near,
        because: String::new(),
    }
}

impl Planted {
    pub(crate) fn within(mut self, tolerance: f64, because: &str) -> Self {
        self.tolerance = tolerance;
        self.because = because.to_owned();
        self
    }

    pub(crate) fn at_most(mut self, because: &str) -> Self {
        self.stand = Stand::AtMost;
        self.because = because.to_owned();
        self
    }

    pub(crate) fn in_band(mut self, low: f64, high: f64) -> Self {
        self.band_hz = Some([low, high]);
        self
    }

    pub(crate) fn word(mut self, word: &str) -> Self {
        self.value = Value::Word(word.to_owned());
        self
    }

    pub(crate) fn between_stems(mut self) -> Self {
        self.place = Place::Stems;
        self
    }
}
