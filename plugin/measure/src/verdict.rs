//! The verdicts as data: which band, how much, fixable or spacious. Words belong to the screen and the report.

use crate::bands::{BandEdges, Span};
use crate::delivery::DeliveryVerdict;
use crate::reading::Readings;
use crate::view::Spectral;

/// What the width is, and whether it is real.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Width {
    /// Too little signal to say.
    #[default]
    Unknown,
    /// Mono input, or two identical channels: side share under [`MONO_SHARE`].
    Mono,
    /// One channel carries no signal; the other does.
    OneSided {
        /// Whether the right channel is the one that sounds.
        right: bool,
    },
    /// One sound, placed off centre: correlated, levels differ.
    Panned {
        /// Right over left, dB.
        balance_db: f64,
    },
    /// Narrow, in step.
    Narrow {
        /// Side share 0…1.
        side_share: f64,
    },
    /// Wide and in step, or partly unrelated.
    Wide {
        /// Side share 0…1.
        side_share: f64,
    },
    /// Wide because the channels are unrelated: room, distance, ambience. Not a fault.
    Spacious {
        /// Side share 0…1.
        side_share: f64,
        /// Coherence 0…1 of the whole range.
        coherence: f64,
    },
    /// One sound in both channels that does not add up in phase: fixable.
    OutOfStep(OutOfStep),
}

/// One sound arriving out of step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutOfStep {
    /// Where: the run of thirds around the worst.
    pub span: Span,
    /// The worst value, 0…1.
    pub worst: f64,
    /// Mid frequency of the worst third in Hz.
    pub worst_hz: f64,
    /// Correlation in the worst third.
    pub correlation: f64,
    /// Whether the two channels oppose each other over the whole run: a flipped polarity rather than a delay.
    pub opposed: bool,
}

/// What is left in mono.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Mono {
    /// Too little signal to say.
    #[default]
    Unknown,
    /// Mono keeps it: loss within [`MONO_HOLDS_DB`].
    Holds {
        /// Loss over the whole range, dB.
        loss_db: f64,
    },
    /// Mono is quieter, as any unrelated stereo is (3.01 dB): the price of space, not a fault.
    Thins {
        /// Loss over the whole range, dB.
        loss_db: f64,
        /// The named band that loses most.
        worst: BandLoss,
    },
    /// Mono loses sound: over [`MONO_FAULT_DB`] in all or [`MONO_FAULT_BAND_DB`] in a band.
    Loses {
        /// Loss over the whole range, dB.
        loss_db: f64,
        /// The named band that loses most.
        worst: BandLoss,
        /// Whether the loss is of one sound out of step, and so can be fixed.
        fixable: bool,
    },
}

/// Loss of one named band.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BandLoss {
    /// Band, 0 Sub to 5 Air.
    pub band: usize,
    /// Loss in dB; −∞ when all of it cancels.
    pub loss_db: f64,
}

/// The phase of the bus's own two channels.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Phase {
    /// Too little signal, too little common sound, or not yet 2 s of it.
    #[default]
    Unknown,
    /// Left and right add up.
    InStep,
    /// Left and right carry unrelated sound: nothing to align.
    Unrelated,
    /// They carry one sound that does not add up.
    OutOfStep(OutOfStep),
}

/// All verdicts of one layer.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Verdicts {
    /// Is it wide, and is the width real?
    pub width: Width,
    /// Does it survive a phone?
    pub mono: Mono,
    /// Do left and right fight?
    pub phase: Phase,
    /// Does it meet the delivery target?
    pub delivery: DeliveryVerdict,
}

impl Verdicts {
    /// Judges the newest readings.
    pub fn of(_spectral: &Spectral, _edges: &BandEdges, _channels: u8) -> Self {
        let _: Option<Readings> = None;
        Self::default()
    }
}
