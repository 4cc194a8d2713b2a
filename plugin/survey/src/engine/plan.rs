//! The plan of a survey: what to measure, and the targets.

use super::source::Source;
use plumbline_measure::{BandEdges, FrameRate, SampleRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::session::MOST_LAYERS;
use plumbline_programme::survey::Mark;
use plumbline_programme::{BalanceTarget, Recording, Role, Rules};
use std::num::NonZeroUsize;
use thiserror::Error;

/// Gain of a mono stem into either channel of a stereo sum: panned to the centre by the equal-power law, −3.01 dB
/// (common practice, no source). Its K-weighted energy on the bus then equals that of the stem alone, since BS.1770
/// counts a single channel once.
pub const EQUAL_POWER: f32 = std::f32::consts::FRAC_1_SQRT_2;

/// One layer: the sum of its stems.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Its name.
    pub name: String,
    /// Its role; not [`Role::Mix`].
    pub role: Role,
    /// Indices of its stems, at least one.
    pub stems: Vec<usize>,
    /// The recording technique.
    pub recording: Recording,
}

/// The plan of a survey.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The layers; may be empty if there is a mix.
    pub layers: Vec<Layer>,
    /// Indices of the stems of the mix; without a mix, the bus is the sum of the layers.
    pub mix: Option<Vec<usize>>,
    /// Name of the bus in the report.
    pub bus_name: String,
    /// Linear gain of each stem, by index; 1 if missing.
    pub gains: Vec<f32>,
    /// Linear gain of a mono stem into either channel of a stereo sum: [`EQUAL_POWER`], or the gain of the desk's own
    /// pan law.
    pub mono_gain: f32,
    /// Delivery target of the programme.
    pub target: Target,
    /// Name of the delivery target.
    pub target_name: Option<String>,
    /// Target shares.
    pub balance: BalanceTarget,
    /// Limits of findings.
    pub rules: Rules,
    /// Frame rate of timecode.
    pub frames: FrameRate,
    /// Timecode of the first sample; `None` means the time of day in the files, or 00:00:00:00 if they have none.
    pub start: Option<Timecode>,
    /// Marks at which joins are also measured, and from which the balance is judged afresh.
    pub marks: Vec<Mark>,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Air temperature for path lengths in metres, °C.
    pub celsius: f64,
    /// Number of threads; `None` means as many as the system offers.
    pub threads: Option<NonZeroUsize>,
    /// Date on the report, as text; `None` omits it.
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
            marks: Vec::new(),
            band_edges: BandEdges::default(),
            celsius: 20.0,
            threads: None,
            date: None,
        }
    }
}

/// The reason why a plan cannot be carried out. Nothing was read.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PlanError {
    /// Neither a layer nor a mix.
    #[error("there is nothing to measure: name a layer or a mix")]
    Nothing,
    /// More layers than a session can have.
    #[error("{got} layers, and {most} are counted at most; sum some of them: several files of one layer are added up", most = MOST_LAYERS - 1)]
    TooMany {
        /// Number of layers.
        got: usize,
    },
    /// A layer or a mix without a stem.
    #[error("{name}: no file; give it one")]
    NoStem {
        /// Name of the layer, or "the mix".
        name: String,
    },
    /// A stem that does not exist.
    #[error("{name}: there is no stem {stem}; {got} are open")]
    NoSuchStem {
        /// Name of the layer, or "the mix".
        name: String,
        /// Index of the stem.
        stem: usize,
        /// Number of stems.
        got: usize,
    },
    /// A layer with the role of the mix.
    #[error("{name}: a layer is a part of the mix; name the mix as such")]
    MixAmongLayers {
        /// Name of the layer.
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

    /// Gain of a stem; 1 if missing, NaN or infinite.
    pub(super) fn gain(&self, stem: usize) -> f32 {
        self.gains.get(stem).copied().filter(|gain| gain.is_finite()).unwrap_or(1.0)
    }

    /// Timecode of the first sample.
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

    /// Indices of the stems of the bus.
    pub(super) fn bus_stems(&self) -> Vec<usize> {
        match &self.mix {
            Some(stems) => stems.clone(),
            None => self.layers.iter().flat_map(|layer| layer.stems.iter().copied()).collect(),
        }
    }
}
