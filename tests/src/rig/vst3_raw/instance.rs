//! One instance: buses, activation, parameters, latency, state, the track's name.

use super::attributes::Track;
use super::frame::RunLoops;
use super::handler::{Application, Desk, Driven, Handler, Notes, OldHandler, Restarts};
use super::module::{Class, Module};
use super::processor::Processor;
use super::stream::Stream;
use super::text16;
use super::view::View;
use crate::rig::RigError;
use std::sync::{Arc, Mutex};
use vst3::Steinberg::Vst::BusDirections_::{kInput, kOutput};
use vst3::Steinberg::Vst::ChannelContext::{IInfoListener, IInfoListenerTrait};
use vst3::Steinberg::Vst::MediaTypes_::kAudio;
use vst3::Steinberg::Vst::ProcessModes_::{kOffline, kRealtime};
use vst3::Steinberg::Vst::SymbolicSampleSizes_::kSample32;
use vst3::Steinberg::Vst::{
    BusInfo, IAttributeList, IAudioProcessor, IAudioProcessorTrait, IComponent, IComponentHandler,
    IComponentTrait, IEditController, IEditControllerTrait, IHostApplication, ParameterInfo, ProcessSetup,
    SpeakerArrangement,
};
use vst3::Steinberg::{FUnknown, IPluginBaseTrait, kResultOk};
use vst3::{ComPtr, ComWrapper};

/// The behaviours of a host over the life of an instance.
#[derive(Clone, Copy, Debug)]
pub struct HostBehaviour {
    /// The moment when it serves a restart.
    pub restarts: Restarts,
    /// Whether it also asks for the latency of an inactive instance.
    pub asks_inactive: bool,
    /// Whether it sets a handler. A plug-in scanner may not.
    pub listens: bool,
    /// Whether its handler is of the second version, which has the call that marks a project as changed.
    pub second_handler: bool,
    /// Whether, and where, it offers a run loop.
    pub run_loops: RunLoops,
    /// The most bytes of a state that its streams read at once.
    pub stream_bytes: usize,
}

impl Default for HostBehaviour {
    fn default() -> Self {
        Self {
            restarts: Restarts::Later,
            asks_inactive: false,
            listens: true,
            second_handler: true,
            run_loops: RunLoops::OfTheFrame,
            stream_bytes: usize::MAX,
        }
    }
}

/// The setup that a host announces before it activates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// Sample rate in Hz.
    pub rate_hz: f64,
    /// The most frames of a block.
    pub largest_block: usize,
    /// Whether it renders instead of playing.
    pub offline: bool,
}

/// One parameter as the plug-in describes it.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Its number, which never changes.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// Its number of steps: 0 for a continuous one, 1 for a switch.
    pub steps: i32,
}

/// One instance of a class. Use it only on the thread that made it, except its [`Processor`].
pub struct Instance {
    driven: Arc<Driven>,
    controller: ComPtr<IEditController>,
    desk: Arc<Desk>,
    behaviour: HostBehaviour,
    setup: Setup,
    // Passed to the plug-in, which may not hold references.
    _handler: ComPtr<IComponentHandler>,
    _application: ComPtr<IHostApplication>,
    _module: Arc<Module>,
}

impl Instance {
    /// Creates and initialises an instance, and sets the host's handler.
    ///
    /// # Errors
    /// The call that the plug-in refused.
    pub fn create(module: &Arc<Module>, class: &Class, behaviour: HostBehaviour) -> Result<Self, RigError> {
        let component: ComPtr<IComponent> = module.create(class)?;
        let application: ComPtr<IHostApplication> =
            ComWrapper::new(Application).to_com_ptr().expect("an application is one");
        // SAFETY: the application is held as long as the instance.
        let done = unsafe { component.initialize(application.as_ptr().cast::<FUnknown>()) };
        accepted(done, "initialize")?;
        let processor =
            component.cast::<IAudioProcessor>().ok_or_else(|| RigError::new("it processes no audio"))?;
        let controller = component.cast::<IEditController>().ok_or_else(|| {
            RigError::new("its controller is a second object, which this rig does not make")
        })?;
        let desk = Desk::new(behaviour.restarts);
        let handler: ComPtr<IComponentHandler> = if behaviour.second_handler {
            ComWrapper::new(Handler(Arc::clone(&desk))).to_com_ptr().expect("a handler is one")
        } else {
            ComWrapper::new(OldHandler(Arc::clone(&desk))).to_com_ptr().expect("a handler is one")
        };
        if behaviour.listens {
            // SAFETY: the handler is held as long as the instance.
            accepted(unsafe { controller.setComponentHandler(handler.as_ptr()) }, "setComponentHandler")?;
        }
        let driven = Arc::new(Driven {
            component,
            processor,
            active: Arc::new(Mutex::new(false)),
            asks_inactive: behaviour.asks_inactive,
        });
        desk.drive(&driven);
        let setup = Setup { rate_hz: 48_000.0, largest_block: 512, offline: false };
        Ok(Self {
            driven,
            controller,
            desk,
            behaviour,
            setup,
            _handler: handler,
            _application: application,
            _module: Arc::clone(module),
        })
    }

    /// The plug-in's messages to its host so far.
    pub fn notes(&self) -> &Notes {
        &self.desk.notes
    }

    /// The behaviours of its host.
    pub fn behaviour(&self) -> HostBehaviour {
        self.behaviour
    }

    /// Requests arrangements of the buses. True if the plug-in accepts them.
    pub fn arrange(&self, inputs: &[u64], outputs: &[u64]) -> bool {
        let mut inputs: Vec<SpeakerArrangement> = inputs.to_vec();
        let mut outputs: Vec<SpeakerArrangement> = outputs.to_vec();
        // SAFETY: the counts are those of the arrangements, which outlive the call.
        let done = unsafe {
            self.driven.processor.setBusArrangements(
                inputs.as_mut_ptr(),
                i32::try_from(inputs.len()).unwrap_or(i32::MAX),
                outputs.as_mut_ptr(),
                i32::try_from(outputs.len()).unwrap_or(i32::MAX),
            )
        };
        done == kResultOk
    }

    /// The arrangement of each input bus and each output bus.
    pub fn arrangements(&self) -> [Vec<u64>; 2] {
        [kInput, kOutput].map(|direction| {
            let direction = direction.cast_signed();
            let of = |index| {
                let mut arrangement = 0;
                // SAFETY: the result variable outlives the call.
                let done = unsafe {
                    self.driven.processor.getBusArrangement(direction, index, &raw mut arrangement)
                };
                if done == kResultOk { arrangement } else { 0 }
            };
            (0..self.count(direction)).map(of).collect()
        })
    }

    fn count(&self, direction: i32) -> i32 {
        // SAFETY: the instance lives.
        unsafe { self.driven.component.getBusCount(kAudio.cast_signed(), direction) }
    }

    /// Channels of each input bus and each output bus.
    pub fn buses(&self) -> [Vec<usize>; 2] {
        [kInput, kOutput].map(|direction| {
            let direction = direction.cast_signed();
            let of = |index| {
                // SAFETY: plain data, for which all zeros are valid; the variable outlives the call.
                let info = unsafe {
                    let mut info: BusInfo = std::mem::zeroed();
                    self.driven.component.getBusInfo(kAudio.cast_signed(), direction, index, &raw mut info);
                    info
                };
                usize::try_from(info.channelCount).unwrap_or(0)
            };
            (0..self.count(direction)).map(of).collect()
        })
    }

    /// Announces rate, block and mode. Only while it is not active.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn set_up(&mut self, setup: Setup) -> Result<(), RigError> {
        let mode = if setup.offline { kOffline } else { kRealtime };
        let mut told = ProcessSetup {
            processMode: mode.cast_signed(),
            symbolicSampleSize: kSample32.cast_signed(),
            maxSamplesPerBlock: i32::try_from(setup.largest_block).unwrap_or(i32::MAX),
            sampleRate: setup.rate_hz,
        };
        // SAFETY: the setup outlives the call.
        accepted(unsafe { self.driven.processor.setupProcessing(&raw mut told) }, "setupProcessing")?;
        self.setup = setup;
        Ok(())
    }

    /// Activates or deactivates all buses.
    pub fn activate_buses(&self, active: bool) {
        for direction in [kInput.cast_signed(), kOutput.cast_signed()] {
            for index in 0..self.count(direction) {
                // SAFETY: the instance lives, and has this many buses.
                unsafe {
                    self.driven.component.activateBus(
                        kAudio.cast_signed(),
                        direction,
                        index,
                        u8::from(active),
                    );
                }
            }
        }
    }

    /// Activates it and starts processing; first asks for the latency if this host does.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn activate(&self) -> Result<Processor, RigError> {
        if self.behaviour.asks_inactive {
            self.latency();
        }
        // SAFETY: the instance lives and is not active. The lock is not held: the plug-in may request a restart during
        // this call, and a host that serves it at once takes the lock.
        accepted(unsafe { self.driven.component.setActive(1) }, "setActive")?;
        *self.driven.active.lock().expect("no block panics") = true;
        // SAFETY: as above.
        accepted(unsafe { self.driven.processor.setProcessing(1) }, "setProcessing")?;
        Ok(Processor::new(
            self.driven.processor.clone(),
            Arc::clone(&self.driven.active),
            self.setup,
            self.buses(),
        ))
    }

    /// Stops processing and deactivates it. Earlier [`Processor`]s fail from then on.
    pub fn deactivate(&self) {
        let mut active = self.driven.active.lock().expect("no block panics");
        if std::mem::take(&mut *active) {
            // SAFETY: the instance lives and is active, and the lock keeps blocks out.
            unsafe {
                self.driven.processor.setProcessing(0);
                self.driven.component.setActive(0);
            }
        }
    }

    /// Stops or restarts processing while it stays active.
    pub fn set_processing(&self, processing: bool) {
        let _active = self.driven.active.lock().expect("no block panics");
        // SAFETY: the instance lives, and the lock keeps blocks out.
        unsafe { self.driven.processor.setProcessing(u8::from(processing)) };
    }

    /// The latency in frames, as reported now.
    pub fn latency(&self) -> u32 {
        // SAFETY: the instance lives.
        unsafe { self.driven.processor.getLatencySamples() }
    }

    /// The tail in frames, as reported now.
    pub fn tail(&self) -> u32 {
        // SAFETY: the instance lives.
        unsafe { self.driven.processor.getTailSamples() }
    }

    /// Its parameters.
    pub fn parameters(&self) -> Vec<Parameter> {
        // SAFETY: the instance lives.
        let count = unsafe { self.controller.getParameterCount() };
        let describe = |index| {
            // SAFETY: plain data, for which all zeros are valid; the variable outlives the call.
            let info = unsafe {
                let mut info: ParameterInfo = std::mem::zeroed();
                self.controller.getParameterInfo(index, &raw mut info);
                info
            };
            Parameter { number: info.id, name: text16(&info.title), steps: info.stepCount }
        };
        (0..count).map(describe).collect()
    }

    /// A parameter's value in the controller, 0 to 1.
    pub fn value(&self, parameter: u32) -> f64 {
        // SAFETY: the instance lives.
        unsafe { self.controller.getParamNormalized(parameter) }
    }

    /// Sets a value in the controller, 0 to 1. The processor gets changes only with blocks.
    pub fn set_value(&self, parameter: u32, value: f64) {
        // SAFETY: the instance lives.
        unsafe { self.controller.setParamNormalized(parameter, value) };
    }

    /// Its state.
    ///
    /// # Errors
    /// If the plug-in fails to save.
    pub fn save(&self) -> Result<Vec<u8>, RigError> {
        let stream = Stream::new(Vec::new(), self.behaviour.stream_bytes);
        // SAFETY: the stream outlives the call.
        accepted(unsafe { self.driven.component.getState(Stream::given(&stream).as_ptr()) }, "getState")?;
        Ok(stream.bytes())
    }

    /// Loads a state into processor and controller, as a host does when it opens a project.
    ///
    /// # Errors
    /// If the plug-in refuses it.
    pub fn load(&self, bytes: &[u8]) -> Result<(), RigError> {
        let stream = Stream::new(bytes.to_vec(), self.behaviour.stream_bytes);
        // SAFETY: the stream outlives both calls.
        let done = unsafe { self.driven.component.setState(Stream::given(&stream).as_ptr()) };
        stream.rewind();
        // A single component may have nothing to do here, and may return an error.
        // SAFETY: as above.
        unsafe { self.controller.setComponentState(Stream::given(&stream).as_ptr()) };
        accepted(done, "setState")
    }

    /// Sets the name and the colour of the track, or neither.
    pub fn label(&self, name: Option<&str>, colour: Option<[u8; 3]>) {
        let track = Track::new(name, colour);
        let list: ComPtr<IAttributeList> = track.to_com_ptr().expect("a list is one");
        if let Some(listener) = self.controller.cast::<IInfoListener>() {
            // SAFETY: the list outlives the call.
            unsafe { listener.setChannelContextInfos(list.as_ptr()) };
        }
    }

    /// Makes the editor's view, which is not shown yet.
    ///
    /// # Errors
    /// If the plug-in has none.
    pub fn view(&self) -> Result<View, RigError> {
        // SAFETY: the name is the format's and zero-terminated; the caller owns the result.
        let view = unsafe { ComPtr::from_raw(self.controller.createView(c"editor".as_ptr())) };
        let view = view.ok_or_else(|| RigError::new("it has no editor"))?;
        Ok(View::new(view, self.behaviour.run_loops, Arc::clone(&self.desk.notes)))
    }

    /// Serves pending restarts, as a host's main thread does between events.
    pub fn idle(&self) {
        self.desk.serve();
    }
}

impl Drop for Instance {
    fn drop(&mut self) {
        self.deactivate();
        // SAFETY: terminated once, before the last reference goes, with no block running.
        unsafe {
            self.controller.setComponentHandler(std::ptr::null_mut());
            self.driven.component.terminate();
        }
    }
}

/// Turns a refusal into an error.
pub(super) fn accepted(result: i32, call: &str) -> Result<(), RigError> {
    if result == kResultOk { Ok(()) } else { Err(RigError::new(format!("{call} was refused: {result}"))) }
}
