//! Blocks of audio, from any thread.

use super::changes::Changes;
use super::handler::in_a_block;
use super::instance::Setup;
#[cfg(all(target_env = "gnu", target_arch = "x86_64"))]
use crate::rig::watch::call as watched;
use crate::rig::{Moment, RigError};
use std::sync::{Arc, Mutex};
use vst3::ComPtr;
use vst3::Steinberg::Vst::ProcessContext_::StatesAndFlags_::{kPlaying, kTempoValid};
use vst3::Steinberg::Vst::ProcessModes_::{kOffline, kRealtime};
use vst3::Steinberg::Vst::SymbolicSampleSizes_::kSample32;
use vst3::Steinberg::Vst::{
    AudioBusBuffers, AudioBusBuffers__type0, IAudioProcessor, IAudioProcessorTrait, IParameterChanges,
    ProcessContext, ProcessData,
};
use vst3::Steinberg::kResultOk;

#[cfg(not(all(target_env = "gnu", target_arch = "x86_64")))]
fn watched<T>(of: impl FnOnce() -> T) -> T {
    of()
}

/// The content of each buffer before a block: none of it may be left in the output, and all of it past the end.
const UNTOUCHED: u32 = 0x7fa5_5a5a;
/// Guard samples past the end of each buffer, which the plug-in may not write.
const FENCE: usize = 8;

/// The way in which a host passes its buffers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Buffers {
    /// Input and output are separate buffers.
    Apart,
    /// Input and output are the same buffer.
    Same,
    /// Separate buffers, misaligned by one float for vector arithmetic.
    Odd,
}

/// One block.
#[derive(Clone, Copy, Debug)]
pub struct Block<'a> {
    /// The transport; without a song position the host passes no context at all.
    pub moment: Moment,
    /// The way in which the buffers are passed.
    pub buffers: Buffers,
    /// Frame, parameter and value from 0 to 1.
    pub changes: &'a [(i32, u32, f64)],
}

impl Block<'_> {
    /// A block at a moment, with separate buffers and no changes.
    pub fn at(moment: Moment) -> Self {
        Self { moment, buffers: Buffers::Apart, changes: &[] }
    }
}

/// The audio side of an active instance.
pub struct Processor {
    processor: ComPtr<IAudioProcessor>,
    active: Arc<Mutex<bool>>,
    setup: Setup,
    buses: [Vec<usize>; 2],
}

impl Processor {
    pub(super) fn new(
        processor: ComPtr<IAudioProcessor>,
        active: Arc<Mutex<bool>>,
        setup: Setup,
        buses: [Vec<usize>; 2],
    ) -> Self {
        Self { processor, active, setup, buses }
    }

    /// The setup announced before activation.
    pub fn setup(&self) -> Setup {
        self.setup
    }

    /// Processes one block of the main bus and returns the output. A block without frames carries only changes.
    ///
    /// # Errors
    /// If the plug-in fails, writes past the end of a buffer, or leaves frames unwritten.
    pub fn process(&mut self, input: &[&[f32]], block: Block<'_>) -> Result<Vec<Vec<f32>>, RigError> {
        let active = self.active.lock().expect("no block panics");
        if !*active {
            return Err(RigError::new("a block for an instance that is not active"));
        }
        let frames = input.first().map_or(0, |channel| channel.len());
        let lead = usize::from(block.buffers == Buffers::Odd);
        let padded = |of: &dyn Fn(usize) -> u32| -> Vec<f32> {
            (0..lead + frames + FENCE).map(|place| f32::from_bits(of(place))).collect()
        };
        let inside = lead..lead + frames;
        let mut ins: Vec<Vec<f32>> = input
            .iter()
            .map(|channel| {
                let bits = |place: usize| {
                    if inside.contains(&place) { channel[place - lead].to_bits() } else { UNTOUCHED }
                };
                padded(&bits)
            })
            .collect();
        let width = self.buses[1].first().copied().unwrap_or(0);
        let mut outs: Vec<Vec<f32>> = (0..width).map(|_| padded(&|_| UNTOUCHED)).collect();
        let same = block.buffers == Buffers::Same && ins.len() == outs.len();
        self.call(&mut ins, &mut outs, lead, frames, same, &block)?;
        drop(active);
        let written = if same { ins } else { outs };
        for channel in &written {
            let ends = [&channel[..lead], &channel[lead + frames..]].concat();
            if ends.iter().any(|sample| sample.to_bits() != UNTOUCHED) {
                return Err(RigError::new("the plug-in wrote outside its buffer"));
            }
        }
        Ok(written.into_iter().map(|channel| channel[inside.clone()].to_vec()).collect())
    }

    fn call(
        &self,
        ins: &mut [Vec<f32>],
        outs: &mut [Vec<f32>],
        lead: usize,
        frames: usize,
        same: bool,
        block: &Block<'_>,
    ) -> Result<(), RigError> {
        let pointers = |channels: &mut [Vec<f32>]| -> Vec<*mut f32> {
            channels.iter_mut().map(|channel| channel[lead..].as_mut_ptr()).collect()
        };
        let mut ins = pointers(ins);
        let mut outs = if same { ins.clone() } else { pointers(outs) };
        let bus = |channels: &mut Vec<*mut f32>| AudioBusBuffers {
            numChannels: i32::try_from(channels.len()).unwrap_or(i32::MAX),
            silenceFlags: 0,
            __field0: AudioBusBuffers__type0 { channelBuffers32: channels.as_mut_ptr() },
        };
        let (mut inputs, mut outputs) = ([bus(&mut ins)], [bus(&mut outs)]);
        let (given, asked) = (Changes::new(block.changes), Changes::new(&[]));
        let given = given.to_com_ptr::<IParameterChanges>().expect("changes are");
        let asked = asked.to_com_ptr::<IParameterChanges>().expect("changes are");
        let mut context = self.context(block.moment);
        let mode = if self.setup.offline { kOffline } else { kRealtime };
        let mut data = ProcessData {
            processMode: mode.cast_signed(),
            symbolicSampleSize: kSample32.cast_signed(),
            numSamples: i32::try_from(frames).unwrap_or(i32::MAX),
            numInputs: 1,
            numOutputs: 1,
            inputs: inputs.as_mut_ptr(),
            outputs: outputs.as_mut_ptr(),
            inputParameterChanges: given.as_ptr(),
            outputParameterChanges: asked.as_ptr(),
            inputEvents: std::ptr::null_mut(),
            outputEvents: std::ptr::null_mut(),
            processContext: context.as_mut().map_or(std::ptr::null_mut(), |context| &raw mut *context),
        };
        // SAFETY: everything that `data` points at lives in this function or its caller, longer than the call.
        let done = in_a_block(|| watched(|| unsafe { self.processor.process(&raw mut data) }));
        if done == kResultOk { Ok(()) } else { Err(RigError::new(format!("process failed: {done}"))) }
    }

    fn context(&self, moment: Moment) -> Option<ProcessContext> {
        let position = moment.song_frame?;
        // SAFETY: plain data, for which all zeros are valid.
        let mut context: ProcessContext = unsafe { std::mem::zeroed() };
        context.state = kTempoValid | if moment.playing { kPlaying } else { 0 };
        context.sampleRate = self.setup.rate_hz;
        context.projectTimeSamples = position;
        context.tempo = 120.0;
        Some(context)
    }

    /// Processes a whole signal from `start` on, in blocks of the given `lengths`, each limited to the largest block,
    /// and returns the output.
    ///
    /// # Errors
    /// As [`Processor::process`].
    pub fn play(
        &mut self,
        signal: &[Vec<f32>],
        start: Moment,
        buffers: Buffers,
        mut lengths: impl FnMut() -> usize,
    ) -> Result<Vec<Vec<f32>>, RigError> {
        let length = signal.first().map_or(0, Vec::len);
        let mut out = vec![Vec::with_capacity(length); self.buses[1].first().copied().unwrap_or(0)];
        let mut from = 0;
        while from < length {
            let to = (from + lengths().clamp(1, self.setup.largest_block)).min(length);
            let part: Vec<&[f32]> = signal.iter().map(|channel| &channel[from..to]).collect();
            let moved = i64::try_from(from).unwrap_or(i64::MAX);
            let moment = match start {
                Moment { song_frame: Some(frame), playing: true } => Moment::playing_at(frame + moved),
                still => still,
            };
            let came = self.process(&part, Block { moment, buffers, changes: &[] })?;
            for (whole, part) in out.iter_mut().zip(came) {
                whole.extend(part);
            }
            from = to;
        }
        Ok(out)
    }
}
