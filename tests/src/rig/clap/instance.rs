//! One instance, on the host's main thread.

use super::handlers::{Label, Main, Notes, Rig, Shared};
use super::processor::Processor;
use crate::rig::{RigError, doing};
use clack_extensions::audio_ports::{AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use clack_extensions::configurable_audio_ports::{
    AudioPortRequest, AudioPortRequestDetails, PluginConfigurableAudioPorts,
};
use clack_extensions::latency::PluginLatency;
use clack_extensions::params::{ParamInfoBuffer, PluginParams};
use clack_extensions::remote_controls::{PluginRemoteControls, RemoteControlsPageBuffer};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_extensions::track_info::PluginTrackInfo;
use clack_host::events::event_types::ParamValueEvent;
use clack_host::prelude::*;
use std::ffi::CStr;
use std::io::Cursor;
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// One layout that a class offers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Its name.
    pub name: String,
    /// Channels of the main input and output.
    pub channels: [u32; 2],
    /// Input ports besides the main one.
    pub side_ports: u32,
}

/// One parameter as the plug-in describes it.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Its number, which never changes.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// Lowest and highest value.
    pub range: [f64; 2],
    /// Its value in a new instance.
    pub default: f64,
    /// The texts of the lowest and the highest value.
    pub words: [String; 2],
    /// Whether it is flagged as a bypass.
    pub is_bypass: bool,
}

/// One instance of a class.
pub struct Instance {
    // The processor must be dropped before the plug-in.
    pub(super) inner: PluginInstance<Rig>,
    pub(super) notes: Arc<Notes>,
    channels: usize,
    side_channels: usize,
    pub(super) editor_open: bool,
}

impl Instance {
    pub(super) fn new(entry: &PluginEntry, id: &CStr, label: Label) -> Result<Self, RigError> {
        let info = HostInfo::new("Plumbline rig", "Plumbline", "", env!("CARGO_PKG_VERSION"))
            .map_err(doing("naming the host"))?;
        let notes = Arc::new(Notes::default());
        *notes.label.lock().expect("no holder panics") = label;
        let shared = Shared::new(notes.clone());
        let inner = PluginInstance::<Rig>::new(move |_| shared, |shared| Main::new(shared), entry, id, &info)
            .map_err(doing("creating an instance"))?;
        let mut instance = Self { inner, notes, channels: 0, side_channels: 0, editor_open: false };
        instance.select_layout(0)?;
        Ok(instance)
    }

    /// The plug-in's requests to the host.
    pub fn notes(&self) -> &Notes {
        &self.notes
    }

    pub(super) fn extension<
        E: clack_host::extensions::Extension<ExtensionSide = clack_host::extensions::PluginExtensionSide>,
    >(
        &mut self,
        name: &str,
    ) -> Result<E, RigError> {
        let found: Option<E> = self.inner.plugin_shared_handle().get_extension();
        found.ok_or_else(|| RigError::new(format!("the plug-in does not offer `{name}`")))
    }

    /// The layouts it offers.
    ///
    /// # Errors
    /// If the plug-in offers no choice of layouts.
    pub fn layouts(&mut self) -> Result<Vec<Layout>, RigError> {
        let configs: PluginAudioPortsConfig = self.extension("audio-ports-config")?;
        let plugin = self.inner.plugin_handle();
        let mut layouts = Vec::new();
        for index in 0..configs.count(&plugin) {
            let mut buffer = AudioPortsConfigBuffer::new();
            let config = configs
                .get(&plugin, index, &mut buffer)
                .ok_or_else(|| RigError::new(format!("layout {index} is announced but not given")))?;
            let count = |port: Option<clack_extensions::audio_ports_config::MainPortInfo>| {
                port.map_or(0, |p| p.channel_count)
            };
            layouts.push(Layout {
                name: String::from_utf8_lossy(config.name).into_owned(),
                channels: [count(config.main_input), count(config.main_output)],
                side_ports: config.input_port_count.saturating_sub(1),
            });
        }
        Ok(layouts)
    }

    /// Channels of the main bus in the layout that is selected.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Selects a layout by its index. Only while it is not active.
    ///
    /// # Errors
    /// If the index is unknown, or the plug-in refuses.
    pub fn select_layout(&mut self, index: usize) -> Result<(), RigError> {
        let layouts = self.layouts()?;
        let layout =
            layouts.get(index).ok_or_else(|| RigError::new(format!("there is no layout {index}")))?;
        let configs: PluginAudioPortsConfig = self.extension("audio-ports-config")?;
        let id = u32::try_from(index).ok().and_then(ClapId::from_raw);
        let id = id.ok_or_else(|| RigError::new("a layout number that CLAP reserves"))?;
        configs.select(&self.inner.plugin_handle(), id).map_err(doing("selecting a layout"))?;
        self.channels = layout.channels[0] as usize;
        // Side-chains of this plug-in are as wide as its main bus.
        self.side_channels = if layout.side_ports > 0 { self.channels } else { 0 };
        Ok(())
    }

    /// Sets the number of channels of the main bus by `clap.configurable-audio-ports`, as hosts do to fit a plug-in to
    /// a track. Returns whether the plug-in accepted it; `None` if it lacks the extension. Only while it is not active.
    ///
    /// # Errors
    /// If the instance is active, or ports are announced but not described.
    pub fn push_channels(&mut self, channels: usize) -> Result<Option<bool>, RigError> {
        let handle = self.inner.plugin_shared_handle();
        let Some(ports) = handle.get_extension::<PluginConfigurableAudioPorts>() else { return Ok(None) };
        let details =
            if channels == 1 { AudioPortRequestDetails::mono() } else { AudioPortRequestDetails::stereo() };
        let wish = [AudioPortRequest::new(true, 0, details), AudioPortRequest::new(false, 0, details)];
        let mut plugin = self
            .inner
            .inactive_plugin_handle()
            .ok_or_else(|| RigError::new("the instance is active: its ports stay as they are"))?;
        let can = ports.can_apply_configuration(&mut plugin, &wish);
        let done = ports.apply_configuration(&mut plugin, &wish);
        if can != done {
            return Err(RigError::new(format!(
                "the plug-in said {can} of {channels} channels when it was asked, and {done} when they came"
            )));
        }
        if done {
            [self.channels, self.side_channels] = self.port_channels()?;
        }
        Ok(Some(done))
    }

    /// Channels of the main input and of the side input, as the ports report them now.
    fn port_channels(&mut self) -> Result<[usize; 2], RigError> {
        let ports: PluginAudioPorts = self.extension("audio-ports")?;
        let plugin = self.inner.plugin_handle();
        let mut channels = [0; 2];
        for (index, channels) in (0..ports.count(&plugin, true)).zip(&mut channels) {
            let mut buffer = AudioPortInfoBuffer::new();
            let port = ports.get(&plugin, index, true, &mut buffer);
            let port =
                port.ok_or_else(|| RigError::new(format!("port {index} is announced but not given")))?;
            *channels = port.channel_count as usize;
        }
        Ok(channels)
    }

    /// Sets whether the next render is offline. Only while it is not active.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn set_offline(&mut self, offline: bool) -> Result<(), RigError> {
        let render: PluginRender = self.extension("render")?;
        let mode = if offline { RenderMode::Offline } else { RenderMode::Realtime };
        render.set(&self.inner.plugin_handle(), mode).map_err(doing("setting the render mode"))
    }

    /// Activates it for a rate and a largest block, and starts processing.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn activate(&mut self, rate_hz: f64, block: usize) -> Result<Processor, RigError> {
        let frames = u32::try_from(block).map_err(doing("the block size"))?;
        let config =
            PluginAudioConfiguration { sample_rate: rate_hz, min_frames_count: 1, max_frames_count: frames };
        let stopped = self.inner.activate(|_, _| (), config).map_err(doing("activating"))?;
        let started = stopped.start_processing().map_err(doing("starting to process"))?;
        Ok(Processor {
            started,
            notes: self.notes.clone(),
            channels: self.channels,
            side_channels: self.side_channels,
            rate_hz,
            block,
        })
    }

    /// Stops processing and deactivates it.
    pub fn deactivate(&mut self, processor: Processor) {
        self.inner.deactivate(processor.started.stop_processing());
    }

    /// Latency in frames.
    ///
    /// # Errors
    /// If the plug-in does not report it.
    pub fn latency(&mut self) -> Result<u32, RigError> {
        let latency: PluginLatency = self.extension("latency")?;
        Ok(latency.get(&self.inner.plugin_handle()))
    }

    /// Its state, as a project would keep it.
    ///
    /// # Errors
    /// If the plug-in fails to save.
    pub fn save(&mut self) -> Result<Vec<u8>, RigError> {
        let state: PluginState = self.extension("state")?;
        let mut bytes = Vec::new();
        state.save(&self.inner.plugin_handle(), &mut bytes).map_err(doing("saving the state"))?;
        Ok(bytes)
    }

    /// Loads a state.
    ///
    /// # Errors
    /// If the plug-in refuses it.
    pub fn load(&mut self, bytes: &[u8]) -> Result<(), RigError> {
        let state: PluginState = self.extension("state")?;
        let loaded = state.load(&self.inner.plugin_handle(), &mut Cursor::new(bytes));
        self.idle();
        loaded.map_err(doing("loading the state"))
    }

    /// Its parameters.
    ///
    /// # Errors
    /// If a parameter is announced but not described.
    pub fn parameters(&mut self) -> Result<Vec<Parameter>, RigError> {
        let params: PluginParams = self.extension("params")?;
        let plugin = self.inner.plugin_handle();
        let mut all = Vec::new();
        for index in 0..params.count(&plugin) {
            let mut buffer = ParamInfoBuffer::new();
            let info = params
                .get_info(&plugin, index, &mut buffer)
                .ok_or_else(|| RigError::new(format!("parameter {index} is announced but not described")))?;
            let words = |value: f64| {
                let mut text = [0; 128];
                params
                    .value_to_text(&plugin, info.id, value, &mut text)
                    .map(|t| String::from_utf8_lossy(t).into_owned())
                    .map_err(doing("asking for a value's words"))
            };
            all.push(Parameter {
                number: info.id.get(),
                name: String::from_utf8_lossy(info.name).into_owned(),
                range: [info.min_value, info.max_value],
                default: info.default_value,
                words: [words(info.min_value)?, words(info.max_value)?],
                is_bypass: info.flags.contains(clack_extensions::params::ParamInfoFlags::IS_BYPASS),
            });
        }
        Ok(all)
    }

    /// A parameter's value.
    ///
    /// # Errors
    /// If the parameter is unknown.
    pub fn value(&mut self, number: u32) -> Result<f64, RigError> {
        let params: PluginParams = self.extension("params")?;
        ClapId::from_raw(number)
            .and_then(|id| params.get_value(&self.inner.plugin_handle(), id))
            .ok_or_else(|| RigError::new(format!("there is no parameter {number}")))
    }

    /// Sets a parameter while the instance is not active; an active one takes a [`Change`](super::Change) with a block.
    ///
    /// # Errors
    /// If the instance is active, or CLAP reserves the number.
    pub fn set_value(&mut self, number: u32, value: f64) -> Result<(), RigError> {
        let params: PluginParams = self.extension("params")?;
        let id =
            ClapId::from_raw(number).ok_or_else(|| RigError::new("a parameter number that CLAP reserves"))?;
        let mut events = EventBuffer::with_capacity(1);
        events.push(&ParamValueEvent::new(0, id, Pckn::match_all(), value));
        let mut plugin = self
            .inner
            .inactive_plugin_handle()
            .ok_or_else(|| RigError::new("the instance is active: send the change with a block"))?;
        params.flush(&mut plugin, &events.as_input(), &mut EventBuffer::new().as_output());
        Ok(())
    }

    /// The name of each remote-control page and the parameters on it, without empty slots.
    ///
    /// # Errors
    /// If the plug-in has no pages.
    pub fn remote_pages(&mut self) -> Result<Vec<(String, Vec<u32>)>, RigError> {
        let remote: PluginRemoteControls = self.extension("remote-controls")?;
        let plugin = self.inner.plugin_handle();
        let mut pages = Vec::new();
        for index in 0..remote.count(&plugin) {
            let mut buffer = RemoteControlsPageBuffer::new();
            let page = remote
                .get(&plugin, index, &mut buffer)
                .ok_or_else(|| RigError::new(format!("page {index} is announced but not given")))?;
            let numbers = page.param_ids.iter().flatten().map(|id| id.get()).collect();
            pages.push((String::from_utf8_lossy(page.page_name).into_owned(), numbers));
        }
        Ok(pages)
    }

    /// Renames or recolours the track.
    ///
    /// # Errors
    /// If the plug-in lacks the extension.
    pub fn relabel(&mut self, label: Label) -> Result<(), RigError> {
        *self.notes.label.lock().expect("no holder panics") = label;
        let track: PluginTrackInfo = self.extension("track-info")?;
        track.changed(&self.inner.plugin_handle());
        Ok(())
    }

    /// Serves the plug-in's requests to the main thread. A host does this continuously.
    pub fn idle(&mut self) {
        if self.notes.callback.swap(false, Ordering::AcqRel) {
            self.inner.call_on_main_thread_callback();
        }
    }
}

impl Drop for Instance {
    fn drop(&mut self) {
        self.serve_restarts(None);
        if self.editor_open {
            // A host closes the editor before it destroys the instance; so does a failing test.
            let _ = self.close_editor();
        }
    }
}
