//! Pairs of microphones, compared over the whole time line.

use super::block::{Block, empty_blocks};
use super::error::{Progress, SurveyError};
use super::layer_meter::StemSum;
use super::plan::Plan;
use super::source::{Files, Source};
use plumbline_audio::Stems;
use plumbline_measure::{FrameRate, Grid, Position, SampleRate, Timecode};
use plumbline_programme::mics::{MOST_MICS, PairTracker, WholePair};
use plumbline_programme::pair::Correlator;
use plumbline_programme::survey::{Pair, Pairs as PairReport};
use plumbline_programme::{LayerId, Mic, PairLine, Role};
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// Older sound is dropped once the kept sound is this many times what the next window needs: each drop moves memory.
const HOARDED: usize = 2;

/// The latest sound of one microphone.
struct Sound {
    mic: Mic,
    /// The stem that it comes from; `None` for a channel of the bus.
    stem: Option<usize>,
    channels: Vec<Vec<f32>>,
}

/// All pairs.
pub(super) struct Pairs {
    rate: SampleRate,
    correlator: Correlator,
    tracker: PairTracker,
    names: BTreeMap<Mic, String>,
    sounds: Vec<Sound>,
    bus: Option<StemSum>,
    uncompared: usize,
    /// Ends of the latest window and of the next one.
    ends: [u64; 2],
}

impl Pairs {
    /// The pairs of a survey: all stems of natural sound and voices with each other, since they come from microphones
    /// on set; and left with right of the bus.
    pub(super) fn of_plan(source: &impl Source, plan: &Plan) -> Self {
        let mut stems: Vec<(usize, String)> = Vec::new();
        let miked = plan.layers.iter().filter(|layer| matches!(layer.role, Role::Natural | Role::Voice));
        for layer in miked {
            for stem in &layer.stems {
                if stems.iter().all(|(known, _)| known != stem) {
                    let name =
                        if layer.stems.len() == 1 { layer.name.clone() } else { stem_name(source, *stem) };
                    stems.push((*stem, name));
                }
            }
        }
        let bus = StemSum::new(source, plan, &plan.bus_stems(), plan.mix.is_none());
        Self::new(source, stems, Some(bus))
    }

    fn new(source: &impl Source, mut stems: Vec<(usize, String)>, bus: Option<StemSum>) -> Self {
        let rate = source.rate();
        let uncompared = stems.len().saturating_sub(MOST_MICS);
        stems.truncate(MOST_MICS);
        if stems.len() < 2 {
            stems.clear();
        }
        let bus = bus.filter(|bus| bus.channels() == 2);
        let channels = source.channels();
        let mut sounds = Vec::new();
        let mut names = BTreeMap::new();
        let mut pairs: Vec<[Mic; 2]> = Vec::new();
        for (stem, name) in stems {
            let mic = Mic::Layer(LayerId(stem as u64));
            pairs.extend(names.keys().map(|earlier| [*earlier, mic]));
            names.insert(mic, name);
            let of = channels.get(stem).copied().unwrap_or(1);
            sounds.push(Sound { mic, stem: Some(stem), channels: vec![Vec::new(); of] });
        }
        if bus.is_some() {
            pairs.push([Mic::Left, Mic::Right]);
            for (mic, name) in [(Mic::Left, "Left"), (Mic::Right, "Right")] {
                names.insert(mic, name.to_owned());
                sounds.push(Sound { mic, stem: None, channels: vec![Vec::new()] });
            }
        }
        let mut tracker = PairTracker::new(rate, true);
        tracker.set_pairs(&pairs);
        let correlator = Correlator::new(rate);
        let first = (correlator.window_samples() as u64).next_multiple_of(u64::from(tracker.hop()));
        Self { rate, correlator, tracker, names, sounds, bus, uncompared, ends: [0, first] }
    }

    /// Takes a block whose first frame is sample `at` of the time line.
    pub(super) fn run(&mut self, block: &Block, at: u64, count: usize) {
        let Self { sounds, bus, .. } = self;
        let bus = bus.as_mut().map(|bus| bus.sum(block, count));
        for sound in sounds {
            match (sound.stem.map(|stem| block.get(stem)), bus) {
                (Some(Some(sides)), _) => {
                    for (channel, side) in sound.channels.iter_mut().zip(sides) {
                        channel.extend_from_slice(&side[..count]);
                    }
                }
                (None, Some([left, right])) => {
                    let side = if sound.mic == Mic::Left { left } else { right };
                    sound.channels[0].extend_from_slice(side);
                }
                _ => {}
            }
        }
        let end = at + count as u64;
        while self.ends[1] <= end {
            self.compare(usize::try_from(end - self.ends[1]).unwrap_or(usize::MAX));
            self.ends = [self.ends[1], self.ends[1] + u64::from(self.tracker.step())];
        }
        // The next window still needs this much.
        let kept = self.correlator.window_samples() + self.tracker.step() as usize;
        for sound in self.sounds.iter_mut().flat_map(|sound| &mut sound.channels) {
            if sound.len() > HOARDED * kept {
                sound.drain(..sound.len() - kept);
            }
        }
    }

    /// Compares the window that ends `back` samples before the latest sample.
    fn compare(&mut self, back: usize) {
        let Self { correlator, tracker, sounds, ends, rate, .. } = self;
        let sample = i64::try_from(ends[1]).unwrap_or(i64::MAX);
        tracker.begin(Position { grid: Grid::Song, sample }, (ends[1] - ends[0]) as f64 / rate.as_f64());
        let window = correlator.window_samples();
        for sound in sounds {
            let stretch = |channel: &'_ Vec<f32>| {
                let end = channel.len().checked_sub(back)?;
                Some(end.checked_sub(window)?..end)
            };
            let channels: Vec<&[f32]> =
                sound.channels.iter().filter_map(|channel| channel.get(stretch(channel)?)).collect();
            tracker.hear(correlator, sound.mic, &channels);
        }
        let pairs: Vec<[Mic; 2]> = tracker.pairs().collect();
        pairs.into_iter().for_each(|pair| tracker.compare(correlator, pair));
    }

    /// The results at the end, the pair with the highest cost first.
    pub(super) fn report(&self) -> PairReport {
        let name = |mic: Mic| self.names.get(&mic).cloned().unwrap_or_default();
        let pair = |(line, whole): (PairLine, WholePair)| Pair {
            names: line.mics.map(name),
            read_at_secs: whole.best.as_ref().map(|best| best.end_secs),
            delays: whole.delays,
            windows: whole.windows,
            line,
        };
        let pairs = self.tracker.whole().into_iter().map(pair).collect();
        PairReport { pairs, uncompared: u32::try_from(self.uncompared).unwrap_or(u32::MAX) }
    }
}

/// Name of a stem: its channel names if the recorder wrote any, else the file name.
fn stem_name(source: &impl Source, stem: usize) -> String {
    let file = source.file(stem);
    let of_channels = file.channel_names.join(" ");
    if of_channels.trim().is_empty() { file.name() } else { of_channels }
}

/// Plan of a comparison of microphones alone.
#[derive(Clone, Debug)]
pub struct MicsPlan {
    /// Names of the stems, by index; a missing or empty name is taken from the file.
    pub names: Vec<String>,
    /// Frame rate of timecode, and of delays in frames.
    pub frames: FrameRate,
    /// Timecode of the first sample; `None` means the same as in [`Plan::start`].
    pub start: Option<Timecode>,
    /// Air temperature for path lengths in metres, °C.
    pub celsius: f64,
}

impl Default for MicsPlan {
    fn default() -> Self {
        Self { names: Vec::new(), frames: FrameRate::default(), start: None, celsius: 20.0 }
    }
}

/// Compares all stems with each other, as the plug-in does, and measures nothing else. Only the first [`MOST_MICS`] are
/// compared; the result gives the number of the others.
///
/// # Errors
/// See [`SurveyError`].
pub fn mics(
    stems: Stems,
    plan: &MicsPlan,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<plumbline_programme::survey::Mics, SurveyError> {
    compare_all(&mut Files::new(stems)?, plan, progress)
}

pub(super) fn compare_all(
    source: &mut impl Source,
    plan: &MicsPlan,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<plumbline_programme::survey::Mics, SurveyError> {
    let name = |stem: usize| {
        let given = plan.names.get(stem).filter(|name| !name.trim().is_empty());
        given.cloned().unwrap_or_else(|| stem_name(source, stem))
    };
    let stems = (0..source.channels().len()).map(|stem| (stem, name(stem))).collect();
    let mut pairs = Pairs::new(source, stems, None);
    let mut block = empty_blocks(source);
    let (mut at, of) = (0_u64, source.frames());
    loop {
        let count = source.read(&mut block)?;
        if count == 0 {
            break;
        }
        pairs.run(&block, at, count);
        at += count as u64;
        if progress(Progress { frames: at, of }).is_break() {
            return Err(SurveyError::Stopped);
        }
    }
    if at == 0 {
        return Err(SurveyError::Empty);
    }
    let survey = Plan { frames: plan.frames, start: plan.start, ..Plan::default() };
    Ok(plumbline_programme::survey::Mics {
        rate: source.rate(),
        frames: at,
        start: survey.start(source.origin(), source.rate()),
        celsius: plan.celsius,
        pairs: pairs.report(),
    })
}
