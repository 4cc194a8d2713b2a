//! Microphones, compared pair by pair over the whole time line.

mod follow;

use super::plan::Plan;
use super::source::{Files, Source};
use super::unit::Voice;
use super::{Block, Progress, SurveyError, empty_blocks};
use follow::Followed;
use plumbline_audio::Stems;
use plumbline_measure::{FrameRate, SampleRate, Timecode};
use plumbline_programme::mics::{MOST_MICS, SlowPower};
use plumbline_programme::pair::{Correlator, HOP_SECS, Spectrum, fold};
use plumbline_programme::{LayerId, Mic, Role};
use plumbline_report::survey::{Pair, Pairs as Told};
use std::ops::ControlFlow;

/// Seconds between two windows of a survey: a quarter of what the plug-in compares. Windows are 2 s long, so each sound
/// is still in two of them.
const SURVEY_HOP_SECS: f64 = 1.0;

/// Sound is let go once there is this many times what a window to come needs: what stays is moved each time.
const HOARDED: usize = 2;

/// One of those compared.
struct Heard {
    name: String,
    mic: Mic,
    /// Its newest sound, a list a channel.
    sound: Vec<Vec<f32>>,
    folded: Vec<f32>,
    spectrum: Spectrum,
    power: SlowPower,
}

/// All pairs.
pub(super) struct Pairs {
    rate: SampleRate,
    correlator: Correlator,
    window: usize,
    hop: u64,
    /// Microphones: a stem each.
    mics: Vec<(usize, Heard)>,
    /// The two channels of the bus.
    bus: Option<(Voice, [Heard; 2])>,
    followed: Vec<([usize; 2], Followed)>,
    bus_followed: Option<Followed>,
    uncompared: usize,
    next_end: u64,
}

impl Heard {
    fn new(name: String, mic: Mic, channels: usize) -> Self {
        Self {
            name,
            mic,
            sound: vec![Vec::new(); channels],
            folded: Vec::new(),
            spectrum: Spectrum::default(),
            power: SlowPower::default(),
        }
    }
}

impl Pairs {
    /// The pairs of a survey: the stems of natural sound and of voices with each other, since these come from microphones
    /// on a set, and left with right of the bus.
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
        let bus = Voice::new(source, plan, &plan.bus_stems(), plan.mix.is_none());
        Self::new(source, stems, Some(bus), SURVEY_HOP_SECS)
    }

    fn new(source: &impl Source, mut stems: Vec<(usize, String)>, bus: Option<Voice>, hop_secs: f64) -> Self {
        let rate = source.rate();
        let uncompared = stems.len().saturating_sub(MOST_MICS);
        stems.truncate(MOST_MICS);
        let channels = source.channels();
        let mics: Vec<(usize, Heard)> = stems
            .into_iter()
            .map(|(stem, name)| {
                let of = channels.get(stem).copied().unwrap_or(1);
                (stem, Heard::new(name, Mic::Layer(LayerId(stem as u64)), of))
            })
            .collect();
        let followed = (0..mics.len())
            .flat_map(|first| (first + 1..mics.len()).map(move |second| [first, second]))
            .map(|pair| (pair, Followed::default()))
            .collect();
        let bus = bus.filter(|voice| voice.channels() == 2).map(|voice| {
            let side = |name: &str, mic| Heard::new(name.to_owned(), mic, 1);
            (voice, [side("Left", Mic::Left), side("Right", Mic::Right)])
        });
        let correlator = Correlator::new(rate);
        let window = correlator.window_samples();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a part of a rate")]
        let hop = (rate.as_f64() * hop_secs).round().max(1.0) as u64;
        Self {
            rate,
            correlator,
            window,
            hop,
            mics,
            bus_followed: bus.as_ref().map(|_| Followed::default()),
            bus,
            followed,
            uncompared,
            next_end: (window as u64).next_multiple_of(hop),
        }
    }

    /// Takes a block whose first frame is sample `at` of the line.
    pub(super) fn run(&mut self, block: &Block, at: u64, count: usize) {
        if self.mics.len() < 2 {
            self.mics.clear();
        }
        for (stem, heard) in &mut self.mics {
            let Some(sides) = block.get(*stem) else { continue };
            for (sound, side) in heard.sound.iter_mut().zip(sides) {
                sound.extend_from_slice(&side[..count]);
            }
        }
        if let Some((voice, heard)) = &mut self.bus {
            for (heard, side) in heard.iter_mut().zip(voice.sum(block, count)) {
                heard.sound[0].extend_from_slice(side);
            }
        }
        let end = at + count as u64;
        while self.next_end <= end {
            self.compare(usize::try_from(end - self.next_end).unwrap_or(usize::MAX));
            self.next_end += self.hop;
        }
        // What a window to come still needs.
        let kept = self.window + usize::try_from(self.hop).unwrap_or(0);
        for sound in self.all_mut().flat_map(|heard| &mut heard.sound) {
            if sound.len() > HOARDED * kept {
                sound.drain(..sound.len() - kept);
            }
        }
    }

    fn all_mut(&mut self) -> impl Iterator<Item = &mut Heard> {
        let bus = self.bus.iter_mut().flat_map(|(_, heard)| heard);
        self.mics.iter_mut().map(|(_, heard)| heard).chain(bus)
    }

    /// Compares the window that ends `back` samples before the newest one.
    fn compare(&mut self, back: usize) {
        let hop_secs = self.hop as f64 / self.rate.as_f64();
        let Self { correlator, window, mics, bus, followed, bus_followed, next_end, rate, .. } = self;
        let bus_heard = bus.iter_mut().flat_map(|(_, heard)| heard);
        for heard in mics.iter_mut().map(|(_, heard)| heard).chain(bus_heard) {
            let stretches: Vec<&[f32]> = heard
                .sound
                .iter()
                .filter_map(|sound| {
                    let end = sound.len().checked_sub(back)?;
                    sound.get(end.checked_sub(*window)?..end)
                })
                .collect();
            let one = if let [one] = stretches[..] {
                one
            } else {
                fold(&stretches, &mut heard.folded);
                &heard.folded
            };
            correlator.spectrum(one, &mut heard.spectrum);
            heard.power.take(heard.spectrum.mean_square(), hop_secs);
        }
        let end_secs = *next_end as f64 / rate.as_f64();
        let total: f64 = mics.iter().map(|(_, heard)| heard.power.get()).sum();
        for ([first, second], followed) in followed {
            let two = [*first, *second].map(|at| mics.get(at).map(|(_, heard)| heard));
            let [Some(a), Some(b)] = two else { continue };
            let seen = correlator.compare(&a.spectrum, &b.spectrum);
            let part = SlowPower::part([a.power, b.power], total);
            followed.take(&seen, correlator, end_secs, hop_secs, part);
        }
        if let (Some((_, [left, right])), Some(followed)) = (bus, bus_followed) {
            let seen = correlator.compare(&left.spectrum, &right.spectrum);
            followed.take(&seen, correlator, end_secs, hop_secs, 1.0);
        }
    }

    /// What is known at the end: who costs most first.
    pub(super) fn told(&self) -> Told {
        let of = |two: [&Heard; 2], followed: &Followed| -> Pair {
            followed.pair(two.map(|heard| heard.name.clone()), two.map(|heard| heard.mic), self.rate)
        };
        let mics = self.followed.iter().filter_map(|([first, second], followed)| {
            let two = [&self.mics.get(*first)?.1, &self.mics.get(*second)?.1];
            Some(of(two, followed))
        });
        let own = self.bus.iter().zip(&self.bus_followed).map(|((_, [left, right]), f)| of([left, right], f));
        let mut pairs: Vec<Pair> = mics.chain(own).collect();
        pairs.sort_by(|a, b| a.line.rank().total_cmp(&b.line.rank()));
        Told { pairs, uncompared: u32::try_from(self.uncompared).unwrap_or(u32::MAX) }
    }
}

/// Name of a stem: that of its channel where the recorder wrote one, else of its file.
fn stem_name(source: &impl Source, stem: usize) -> String {
    let file = source.file(stem);
    let of_channels = file.channel_names.join(" ");
    if of_channels.trim().is_empty() { file.name() } else { of_channels }
}

/// What is asked of pairs alone.
#[derive(Clone, Debug)]
pub struct MicsPlan {
    /// Names of the stems, by their place; those that are not named, or empty, go by what their file says.
    pub names: Vec<String>,
    /// How timecode is counted, and for the delay in frames.
    pub frames: FrameRate,
    /// Label of the first sample; `None` as in [`Plan::start`].
    pub start: Option<Timecode>,
    /// Air temperature for metres of path, °C.
    pub celsius: f64,
}

impl Default for MicsPlan {
    fn default() -> Self {
        Self { names: Vec::new(), frames: FrameRate::default(), start: None, celsius: 20.0 }
    }
}

/// Compares all stems with each other, as closely as the plug-in does, and measures nothing else. Of more than
/// [`MOST_MICS`] the first count, and the answer says how many did not.
///
/// # Errors
/// See [`SurveyError`].
pub fn mics(
    stems: Stems,
    plan: &MicsPlan,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<plumbline_report::survey::Mics, SurveyError> {
    compare_all(&mut Files::new(stems)?, plan, progress)
}

pub(super) fn compare_all(
    source: &mut impl Source,
    plan: &MicsPlan,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<plumbline_report::survey::Mics, SurveyError> {
    let name = |stem: usize| {
        let told = plan.names.get(stem).filter(|name| !name.trim().is_empty());
        told.cloned().unwrap_or_else(|| stem_name(source, stem))
    };
    let stems = (0..source.channels().len()).map(|stem| (stem, name(stem))).collect();
    let mut pairs = Pairs::new(source, stems, None, HOP_SECS);
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
    Ok(plumbline_report::survey::Mics {
        rate: source.rate(),
        frames: at,
        start: survey.start(source.origin(), source.rate()),
        celsius: plan.celsius,
        pairs: pairs.told(),
    })
}
