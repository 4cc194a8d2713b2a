//! The processing side of an instance.

use super::handlers::{Notes, Rig};
use crate::rig::{Moment, RigError, doing};
use clack_host::events::EventFlags;
use clack_host::events::event_types::{ParamValueEvent, TransportEvent, TransportFlags};
use clack_host::prelude::*;
use clack_host::utils::{BeatTime, SecondsTime};
use std::sync::Arc;

/// The content of an output buffer before the plug-in writes it: a value that no test signal contains.
const UNTOUCHED: f32 = f32::from_bits(0x7fa5_5a5a);

/// A parameter change inside a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Frame of the block at which it happens.
    pub frame: u32,
    /// The parameter's number.
    pub parameter: u32,
    /// The new value, in the plug-in's range.
    pub value: f64,
}

/// An instance that processes. May move to another thread.
pub struct Processor {
    pub(super) started: StartedPluginAudioProcessor<Rig>,
    pub(super) notes: Arc<Notes>,
    pub(super) channels: usize,
    pub(super) side_channels: usize,
    pub(super) rate_hz: f64,
    pub(super) block: usize,
}

impl Processor {
    /// Processes one block and returns the output by channel.
    ///
    /// `main` has one slice per channel, all of the same length, at most the agreed block; so has `side`, for which
    /// `None` is silence.
    ///
    /// # Errors
    /// If the slices do not fit, or the plug-in fails.
    pub fn process(
        &mut self,
        main: &[&[f32]],
        side: Option<&[&[f32]]>,
        moment: Moment,
        changes: &[Change],
    ) -> Result<Vec<Vec<f32>>, RigError> {
        let frames = main.first().map_or(0, |channel| channel.len());
        if main.len() != self.channels || main.iter().any(|c| c.len() != frames) || frames > self.block {
            return Err(RigError::new(format!(
                "expected {} channels of up to {} frames, got {} of {frames}; nothing was processed",
                self.channels,
                self.block,
                main.len()
            )));
        }
        let mut main_in: Vec<Vec<f32>> = main.iter().map(|c| c.to_vec()).collect();
        let mut side_in: Vec<Vec<f32>> = (0..self.side_channels)
            .map(|i| side.and_then(|s| s.get(i)).map_or_else(|| vec![0.0; frames], |c| c.to_vec()))
            .collect();
        let mut out = vec![vec![UNTOUCHED; frames]; self.channels];

        let mut input_ports = AudioPorts::with_capacity(self.channels + self.side_channels, 2);
        let mut output_ports = AudioPorts::with_capacity(self.channels, 1);
        let ports: Vec<&mut Vec<Vec<f32>>> =
            if self.side_channels > 0 { vec![&mut main_in, &mut side_in] } else { vec![&mut main_in] };
        let inputs = input_ports.with_input_buffers(ports.into_iter().map(|channels| AudioPortBuffer {
            latency: 0,
            channels: AudioPortBufferType::f32_input_only(channels.iter_mut().map(InputChannel::variable)),
        }));
        let mut outputs = output_ports.with_output_buffers([AudioPortBuffer {
            latency: 0,
            channels: AudioPortBufferType::f32_output_only(out.iter_mut().map(Vec::as_mut_slice)),
        }]);

        let mut events = EventBuffer::with_capacity(changes.len());
        for change in changes {
            let id = ClapId::from_raw(change.parameter)
                .ok_or_else(|| RigError::new("a parameter number that CLAP reserves"))?;
            events.push(&ParamValueEvent::new(change.frame, id, Pckn::match_all(), change.value));
        }
        let mut told = EventBuffer::new();
        let transport = self.transport(moment);
        *self.notes.audio_thread.lock().expect("no holder panics") = Some(std::thread::current().id());
        let done = self.started.process(
            &inputs,
            &mut outputs,
            &events.as_input(),
            &mut told.as_output(),
            None,
            Some(&transport),
        );
        *self.notes.audio_thread.lock().expect("no holder panics") = None;
        done.map_err(doing("processing a block"))?;
        Ok(out)
    }

    /// Processes a whole signal in blocks from `start` on; a running transport advances.
    ///
    /// # Errors
    /// As [`Processor::process`].
    pub fn play(&mut self, signal: &[Vec<f32>], start: Moment) -> Result<Vec<Vec<f32>>, RigError> {
        let length = signal.first().map_or(0, Vec::len);
        let mut out = vec![Vec::with_capacity(length); self.channels];
        let mut from = 0;
        while from < length {
            let to = (from + self.block).min(length);
            let block: Vec<&[f32]> = signal.iter().map(|channel| &channel[from..to]).collect();
            let moved = if start.playing { i64::try_from(from).unwrap_or(i64::MAX) } else { 0 };
            let moment = Moment { song_frame: start.song_frame.map(|f| f + moved), ..start };
            for (whole, part) in out.iter_mut().zip(self.process(&block, None, moment, &[])?) {
                whole.extend(part);
            }
            from = to;
        }
        Ok(out)
    }

    /// Stops processing and starts again at once, as a host that suspends silent plug-ins does.
    ///
    /// # Errors
    /// If the plug-in does not start again.
    pub fn nap(mut self) -> Result<Self, RigError> {
        self.started = self.started.stop_processing().start_processing().map_err(doing("waking up"))?;
        Ok(self)
    }

    /// Tells the plug-in to drop its buffered audio, as a host does on a jump.
    pub fn reset(&mut self) {
        self.started.reset();
    }

    fn transport(&self, moment: Moment) -> TransportEvent {
        let mut flags = TransportFlags::empty();
        flags.set(TransportFlags::IS_PLAYING, moment.playing);
        flags.set(TransportFlags::HAS_SECONDS_TIMELINE, moment.song_frame.is_some());
        let seconds = moment.song_frame.unwrap_or(0) as f64 / self.rate_hz;
        TransportEvent {
            header: EventHeader::new_core(0, EventFlags::empty()),
            flags,
            song_pos_beats: BeatTime::from_int(0),
            song_pos_seconds: SecondsTime::from_float(seconds),
            tempo: 0.0,
            tempo_inc: 0.0,
            loop_start_beats: BeatTime::from_int(0),
            loop_end_beats: BeatTime::from_int(0),
            loop_start_seconds: SecondsTime::from_int(0),
            loop_end_seconds: SecondsTime::from_int(0),
            bar_start: BeatTime::from_int(0),
            bar_number: 0,
            time_signature_numerator: 0,
            time_signature_denominator: 0,
        }
    }
}
