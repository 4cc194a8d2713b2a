//! A VST3 host under the control of a test.

use super::{Moment, RigError, doing};
use std::path::Path;
use vst3_host::{Plugin, ProcessMode, TransportPosition, Vst3Host, get_detailed_plugin_info};

/// One audio class of a bundle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Class {
    /// Its id, 32 hexadecimal digits; it never changes.
    pub id: String,
    /// Its name.
    pub name: String,
}

/// The audio classes of a bundle, and the category of the first.
///
/// # Errors
/// The loader's error, or the factory's.
pub fn classes(bundle: &Path) -> Result<(Vec<Class>, String), RigError> {
    let info = get_detailed_plugin_info(bundle).map_err(doing("asking the bundle's factory"))?;
    let audio = info.classes.iter().filter(|class| class.category == "Audio Module Class");
    let classes = audio.map(|c| Class { id: c.class_id.clone(), name: c.name.clone() }).collect();
    Ok((classes, info.info.category))
}

/// One parameter as the plug-in describes it.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Its number, which never changes.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// Its value now, 0 to 1.
    pub value: f64,
    /// The texts for 0 and for 1.
    pub words: [String; 2],
}

/// One instance of a class.
pub struct Instance {
    plugin: Plugin,
    block: usize,
}

impl Instance {
    /// Creates an instance of a class for a rate and a largest block.
    ///
    /// # Errors
    /// If the plug-in or the host library refuses.
    pub fn create(bundle: &Path, class: &str, rate_hz: f64, block: usize) -> Result<Self, RigError> {
        let mut host = Vst3Host::builder()
            .sample_rate(rate_hz)
            .block_size(block)
            .build()
            .map_err(doing("starting the host library"))?;
        let plugin = host.load_plugin_class(bundle, class).map_err(doing("creating an instance"))?;
        Ok(Self { plugin, block })
    }

    /// Sets whether the next render is offline. Only while it does not process.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn set_offline(&mut self, offline: bool) -> Result<(), RigError> {
        let mode = if offline { ProcessMode::Offline } else { ProcessMode::Realtime };
        self.plugin.set_process_mode(mode).map_err(doing("setting the process mode"))
    }

    /// Changes rate and block. Only while it does not process.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn reconfigure(&mut self, rate_hz: f64, block: usize) -> Result<(), RigError> {
        self.plugin.reconfigure(rate_hz, block).map_err(doing("changing rate and block"))?;
        self.block = block;
        Ok(())
    }

    /// Starts processing.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn start(&mut self) -> Result<(), RigError> {
        self.plugin.start_processing().map_err(doing("starting to process"))
    }

    /// Stops processing.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn stop(&mut self) -> Result<(), RigError> {
        self.plugin.stop_processing().map_err(doing("stopping"))
    }

    /// Channels of each input bus and each output bus.
    ///
    /// # Errors
    /// If the plug-in does not report them.
    pub fn buses(&self) -> Result<[Vec<usize>; 2], RigError> {
        let layout = self.plugin.audio_bus_layout().map_err(doing("asking for the buses"))?;
        Ok([layout.inputs, layout.outputs].map(|buses| buses.iter().map(|b| b.channel_count).collect()))
    }

    /// Processes a whole signal in blocks from `start` on, and returns the output.
    ///
    /// # Errors
    /// If the signal does not fit the main bus, or the plug-in fails.
    pub fn play(&mut self, signal: &[Vec<f32>], start: Moment) -> Result<Vec<Vec<f32>>, RigError> {
        let length = signal.first().map_or(0, Vec::len);
        let mut out = vec![Vec::with_capacity(length); signal.len()];
        self.plugin.set_playing(start.playing).map_err(doing("starting the transport"))?;
        let mut from = 0;
        while from < length {
            let to = (from + self.block).min(length);
            let moved = if start.playing { i64::try_from(from).unwrap_or(i64::MAX) } else { 0 };
            let position =
                TransportPosition { samples: start.song_frame.unwrap_or(0) + moved, quarter_notes: 0.0 };
            self.plugin.set_transport_position(position).map_err(doing("moving the transport"))?;
            let mut buffers =
                self.plugin.create_bus_audio_buffers(to - from).map_err(doing("making buffers"))?;
            for (bus, channel) in buffers.inputs[0].channels.iter_mut().zip(signal) {
                bus.copy_from_slice(&channel[from..to]);
            }
            for channel in buffers.outputs[0].channels.iter_mut() {
                channel.fill(f32::from_bits(0x7fa5_5a5a));
            }
            self.plugin.process_bus_audio(&mut buffers).map_err(doing("processing a block"))?;
            if buffers.outputs[0].channels.len() != signal.len() {
                return Err(RigError::new("the main output is not as wide as the signal"));
            }
            for (whole, part) in out.iter_mut().zip(&buffers.outputs[0].channels) {
                whole.extend(part);
            }
            from = to;
        }
        Ok(out)
    }

    /// Latency in frames.
    pub fn latency(&self) -> u32 {
        self.plugin.latency_samples()
    }

    /// Its parameters.
    ///
    /// # Errors
    /// If the plug-in does not report them.
    pub fn parameters(&self) -> Result<Vec<Parameter>, RigError> {
        let all = self.plugin.get_parameters().map_err(doing("asking for the parameters"))?;
        all.into_iter()
            .map(|p| {
                let words = |value| {
                    self.plugin.format_parameter(p.id, value).map_err(doing("asking for a value's words"))
                };
                Ok(Parameter {
                    number: p.id,
                    name: p.name.clone(),
                    value: p.value,
                    words: [words(0.0)?, words(1.0)?],
                })
            })
            .collect()
    }

    /// Sets a parameter, 0 to 1.
    ///
    /// # Errors
    /// If the parameter is unknown.
    pub fn set_parameter(&mut self, number: u32, value: f64) -> Result<(), RigError> {
        self.plugin.set_parameter(number, value).map_err(doing("setting a parameter"))
    }

    /// Its state, in the host library's format.
    ///
    /// # Errors
    /// If the plug-in fails to save.
    pub fn save(&self) -> Result<Vec<u8>, RigError> {
        self.plugin.save_state().map_err(doing("saving the state"))
    }

    /// Loads a state from [`Instance::save`], or the bare bytes for the plug-in.
    ///
    /// # Errors
    /// If the plug-in refuses it.
    pub fn load(&mut self, bytes: &[u8]) -> Result<(), RigError> {
        self.plugin.load_state(bytes).map_err(doing("loading the state"))
    }

    /// Opens the editor inside an X11 window and returns its size in pixels.
    ///
    /// # Errors
    /// If the plug-in refuses.
    #[cfg(target_os = "linux")]
    pub fn open_editor(&mut self, parent: u32) -> Result<[i32; 2], RigError> {
        let parent = vst3_host::WindowHandle::from_x11(parent);
        self.plugin.open_editor(parent).map_err(doing("opening the editor"))?;
        let size = self.plugin.attached_editor_size().map_err(doing("asking for the editor's size"))?;
        let (width, height) = size.ok_or_else(|| RigError::new("the open editor has no size"))?;
        Ok([width, height])
    }

    /// Resizes the editor and returns the size that the plug-in accepted.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn resize_editor(&mut self, size: [i32; 2]) -> Result<[i32; 2], RigError> {
        let (width, height) =
            self.plugin.resize_editor(size[0], size[1]).map_err(doing("resizing the editor"))?;
        Ok([width, height])
    }

    /// Closes the editor.
    ///
    /// # Errors
    /// If the instance has no editor.
    pub fn close_editor(&mut self) -> Result<(), RigError> {
        self.plugin.close_editor().map_err(doing("closing the editor"))
    }

    /// Serves the plug-in's requests to the main thread. A host does this continuously.
    pub fn idle(&mut self) {
        self.plugin.service_run_loop();
        // The result (restart flags) is for hosts that cache; the rig reads everything each time.
        let _ = self.plugin.service_host_requests();
    }
}
