//! What is to be measured, and against what.

use super::source::Source;
use plumbline_measure::{BandEdges, FrameRate, SampleRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::session::MOST_LAYERS;
use plumbline_programme::{BalanceTarget, Role, Rules};
use std::num::NonZeroUsize;
use thiserror::Error;

/// Gain of a mono stem into either side of two channels: panned to the middle by the equal-power law, −3.01 dB (common
/// practice, no source). So it has the same K-weighted energy there as by itself, where BS.1770 counts one channel once.
pub const EQUAL_POWER: f32 = std::f32::consts::FRAC_1_SQRT_2;

/// One layer: the sum of its stems.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layer {
    /// Its name.
    pub name: String,
    /// What it holds; not [`Role::Mix`].
    pub role: Role,
    /// Places of its stems, at least one.
    pub stems: Vec<usize>,
}

/// What is to be measured, and against what.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The layers. May be none where there is a mix.
    pub layers: Vec<Layer>,
    /// Places of the stems of the mix; without one the sum of the layers is the bus.
    pub mix: Option<Vec<usize>>,
    /// Name of the bus in the report.
    pub bus_name: String,
    /// Linear gain of each stem, by its place; 1 for those that are not named.
    pub gains: Vec<f32>,
    /// Linear gain of a mono stem into either side of a sum of two channels: [`EQUAL_POWER`], or 1 where the desk has
    /// another law.
    pub mono_gain: f32,
    /// What the programme is delivered to.
    pub target: Target,
    /// What that target is called.
    pub target_name: Option<String>,
    /// The shares that are aimed at.
    pub balance: BalanceTarget,
    /// From where on something is a finding.
    pub rules: Rules,
    /// How timecode is counted.
    pub frames: FrameRate,
    /// Label of the first sample; `None` takes the time of day that the files tell, and 00:00:00:00 where they tell none.
    pub start: Option<Timecode>,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Air temperature for metres of path, °C.
    pub celsius: f64,
    /// Threads; `None` takes as many as the system offers.
    pub threads: Option<NonZeroUsize>,
    /// When the report is made, as it is to be shown; without it none is shown.
    pub date: Option<String>,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            layers: Vec::new(),
            mix: None,
            bus_name: String::new(),
            gains: Vec::new(),
            mono_gain: EQUAL_POWER,
            target: Target::default(),
            target_name: None,
            balance: BalanceTarget::default(),
            rules: Rules::default(),
            frames: FrameRate::default(),
            start: None,
            band_edges: BandEdges::default(),
            celsius: 20.0,
            threads: None,
            date: None,
        }
    }
}

/// Why a plan cannot be carried out. Nothing was read.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PlanError {
    /// Neither layer nor mix.
    #[error("there is nothing to measure: name a layer or a mix")]
    Nothing,
    /// More layers than are counted.
    #[error("{got} layers, and {most} are counted at most; sum some of them: several files of one layer are added up", most = MOST_LAYERS - 1)]
    TooMany {
        /// How many.
        got: usize,
    },
    /// A layer, or the mix, without a stem.
    #[error("{name}: no file; give it one")]
    NoStem {
        /// Which.
        name: String,
    },
    /// A stem that is not there.
    #[error("{name}: there is no stem {stem}; {got} are open")]
    NoSuchStem {
        /// Which layer.
        name: String,
        /// The place asked for.
        stem: usize,
        /// How many stems there are.
        got: usize,
    },
    /// A layer that says it is the mix.
    #[error("{name}: a layer is a part of the mix; name the mix as such")]
    MixAmongLayers {
        /// Which.
        name: String,
    },
}

impl Plan {
    pub(super) fn check(&self, source: &impl Source) -> Result<(), PlanError> {
        let got = source.channels().len();
        if self.layers.is_empty() && self.mix.is_none() {
            return Err(PlanError::Nothing);
        }
        if self.layers.len() >= MOST_LAYERS {
            return Err(PlanError::TooMany { got: self.layers.len() });
        }
        if let Some(layer) = self.layers.iter().find(|layer| layer.role == Role::Mix) {
            return Err(PlanError::MixAmongLayers { name: layer.name.clone() });
        }
        let layers = self.layers.iter().map(|layer| (layer.name.as_str(), &layer.stems));
        for (name, stems) in layers.chain(self.mix.iter().map(|stems| ("the mix", stems))) {
            if stems.is_empty() {
                return Err(PlanError::NoStem { name: name.to_owned() });
            }
            if let Some(stem) = stems.iter().find(|stem| **stem >= got) {
                return Err(PlanError::NoSuchStem { name: name.to_owned(), stem: *stem, got });
            }
        }
        Ok(())
    }

    pub(super) fn threads(&self) -> usize {
        self.threads.or_else(|| std::thread::available_parallelism().ok()).map_or(1, NonZeroUsize::get)
    }

    /// Gain of a stem; one that is no number is 1.
    pub(super) fn gain(&self, stem: usize) -> f32 {
        self.gains.get(stem).copied().filter(|gain| gain.is_finite()).unwrap_or(1.0)
    }

    /// Label of the first sample.
    pub fn start(&self, origin: Option<u64>, rate: SampleRate) -> Timecode {
        let of_day = || {
            let sample = i64::try_from(origin?).ok()?;
            Some(Timecode::at(Timecode::zero(self.frames), sample, rate))
        };
        self.start.or_else(of_day).unwrap_or_else(|| Timecode::zero(self.frames))
    }

    /// Name of the bus.
    pub(super) fn bus_name(&self) -> String {
        let usual = if self.mix.is_some() { "Mix" } else { "Sum of the layers" };
        let name = self.bus_name.trim();
        if name.is_empty() { usual.to_owned() } else { name.to_owned() }
    }

    /// Stems of the bus.
    pub(super) fn bus_stems(&self) -> Vec<usize> {
        match &self.mix {
            Some(stems) => stems.clone(),
            None => self.layers.iter().flat_map(|layer| layer.stems.iter().copied()).collect(),
        }
    }
}
