//! The plug-in: the methods that the host calls.

use crate::editor::BusEditor;
use crate::identity::{Class, DESCRIPTION, VENDOR};
use crate::readings_port;
use crate::saved_state;
use crate::shared::Shared;
use nice_plug::prelude::*;
use plumbline_live::guarded;
use plumbline_live::{Format, Stamp, Tap};
use std::marker::PhantomData;
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// One instance of the plug-in on one track or bus.
pub struct Bus<C: Class> {
    shared: Arc<Shared>,
    tap: Option<Tap>,
    /// Loads of a state by the last block; `None` before the first. Automation that is on at the first block of a
    /// state is no rise.
    loads: Option<u32>,
    /// Set by a panic while measuring: the instance passes audio unmeasured until it is activated again.
    broken: bool,
    class: PhantomData<C>,
}

impl<C: Class> Default for Bus<C> {
    fn default() -> Self {
        let shared = Arc::new(Shared::new());
        readings_port::announce(&shared);
        Self { shared, tap: None, loads: None, broken: false, class: PhantomData }
    }
}

impl<C: Class> Bus<C> {
    /// Opens the tap for a format. Not for the audio thread.
    fn open(&mut self, layout: &AudioIOLayout, config: &BufferConfig) {
        // The previous tap is dropped first, so that its last samples are measured at their own rate.
        self.tap = None;
        let format = Format {
            rate_hz: f64::from(config.sample_rate),
            channels: channels_of(layout.main_input_channels),
            side_channels: channels_of(layout.aux_input_ports.first().copied()),
            offline: config.process_mode == ProcessMode::Offline,
        };
        match self.shared.layer.open(format) {
            Ok(tap) => {
                self.tap = Some(tap);
                self.shared.set_trouble(None);
            }
            Err(error) => self.shared.set_trouble(Some(error.to_string())),
        }
    }

    /// Alters a block if a trial is on, and copies it to the worker.
    ///
    /// # Realtime Safety
    /// As [`Tap::alter`] and [`Tap::push`].
    fn measure(&mut self, main: &mut Buffer, side: Option<&Buffer>, transport: &Transport) {
        let Some(tap) = self.tap.as_mut().filter(|_| !self.broken) else { return };
        let parameters = &self.shared.parameters;
        let (reset, mark) = (parameters.reset_asked.take(), parameters.mark_asked.take());
        let loads = Some(parameters.memory.loads());
        if std::mem::replace(&mut self.loads, loads) == loads {
            if reset {
                tap.reset();
                self.shared.requests.blocks.unfit.store(0, Ordering::Relaxed);
            }
            if mark {
                tap.mark();
            }
        }
        if self.shared.requests.blocks.slept.swap(false, Ordering::Relaxed) {
            tap.clear_delayed();
        }
        tap.alter(main.as_slice());
        let stamp = Stamp { song: song_sample(transport), playing: transport.playing };
        let (main, main_count) = slices(main);
        let (side, side_count) = side.map_or(([&[] as &[f32]; 2], 0), slices);
        tap.push(stamp, &main[..main_count], &side[..side_count]);
    }
}

fn channels_of(count: Option<NonZeroU32>) -> u8 {
    count.map_or(0, |n| u8::try_from(n.get()).unwrap_or(u8::MAX))
}

/// The first two channels of a buffer, and their number.
fn slices<'b>(buffer: &'b Buffer) -> ([&'b [f32]; 2], usize) {
    let mut out: [&[f32]; 2] = [&[]; 2];
    let channels = buffer.as_slice_immutable();
    for (slot, channel) in out.iter_mut().zip(channels) {
        *slot = channel;
    }
    (out, channels.len().min(2))
}

/// The song position in samples, if the host gives one.
///
/// A position in beats alone is ignored: with a changing tempo it does not determine a sample.
fn song_sample(transport: &Transport) -> Option<i64> {
    if transport.pos_samples.is_some() || transport.pos_seconds.is_some() {
        transport.pos_samples()
    } else {
        None
    }
}

impl<C: Class> Plugin for Bus<C> {
    const NAME: &'static str = C::NAME;
    const VENDOR: &'static str = VENDOR;
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = C::LAYOUTS;

    type Editor = BusEditor;
    type SysExMessage = ();
    // No tasks: the framework's shared thread for tasks stops with the instance whose task it runs.
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.shared.parameters.clone()
    }

    fn editor(&mut self, _async_executor: AsyncExecutor<Self>) -> Option<BusEditor> {
        Some(BusEditor::new(self.shared.clone(), C::NAME))
    }

    fn filter_state(state: &mut PluginState) {
        saved_state::sieve(state);
    }

    fn activate(
        &mut self,
        layout: &AudioIOLayout,
        config: &BufferConfig,
        _context: &mut impl ActivateContext<Self>,
    ) -> bool {
        self.broken = false;
        if let Err(panic) = guarded(|| self.open(layout, config)) {
            self.tap = None;
            self.shared.set_trouble(Some(format!("measuring could not start: {panic}; audio passes")));
        }
        // Audio passes in any case: a rate that cannot be measured must not silence a track.
        true
    }

    fn deactivate(&mut self) {
        let tap = self.tap.take();
        // A failure to close loses at most the last samples; it must not reach the host.
        let _ = guarded(|| drop(tap));
    }

    fn reset(&mut self) {
        let _ = guarded(|| {
            if let Some(tap) = &mut self.tap {
                tap.restart();
            }
        });
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let measured = guarded(|| self.measure(buffer, aux.inputs.first(), context.transport()));
        self.broken |= measured.is_err();
        // A host that suspends plug-ins on silence waits until a trial's delay has run out.
        match self.tap.as_ref().filter(|_| !self.broken).map_or(0, Tap::tail_frames) {
            0 => ProcessStatus::Normal,
            frames => ProcessStatus::Tail(frames),
        }
    }

    fn setup_logger() -> Option<bool> {
        crate::logging::choice()
    }
}

impl<C: Class> ClapPlugin for Bus<C> {
    const CLAP_ID: &'static str = C::ID;
    const CLAP_DESCRIPTION: Option<&'static str> = Some(DESCRIPTION);
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = C::FEATURES;

    fn remote_controls(&self, context: &mut impl RemoteControlsContext) {
        self.shared.parameters.remote_controls(context);
    }
}
