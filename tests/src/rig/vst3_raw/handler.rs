//! The plug-in's messages to its host, and the serving of restarts.

use std::cell::Cell;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, Weak};
use std::thread::ThreadId;
use vst3::Steinberg::Vst::RestartFlags_::{kIoChanged, kLatencyChanged, kParamValuesChanged};
use vst3::Steinberg::Vst::{
    IAudioProcessor, IAudioProcessorTrait, IComponent, IComponentHandler, IComponentHandler2,
    IComponentHandler2Trait, IComponentHandlerTrait, IComponentTrait, IHostApplication,
    IHostApplicationTrait, ParamID, ParamValue, String128,
};
use vst3::Steinberg::{FIDString, TBool, TUID, kNotImplemented, kResultOk, tresult};
use vst3::{Class, ComPtr};

/// Reactivations after which the rig gives up: a plug-in that requests another one each time would never stop.
pub(super) const MOST_RESTARTS: u32 = 40;

thread_local! {
    /// Whether this thread is inside a block.
    static PROCESSES: Cell<bool> = const { Cell::new(false) };
}

/// Runs `body` as a block: requests made by the plug-in during it are served only after it ends.
pub(super) fn in_a_block<T>(body: impl FnOnce() -> T) -> T {
    PROCESSES.set(true);
    let result = body();
    PROCESSES.set(false);
    result
}

/// The moment when a host serves a restart that the plug-in requests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Restarts {
    /// In the requesting call, on the requesting thread.
    AtOnce,
    /// In the host's next `idle`.
    Later,
    /// As `Later`, twice in a row.
    Twice,
    /// Never.
    Never,
}

/// A user's gesture in the editor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edit {
    /// A control was grabbed.
    Begin(u32),
    /// Its value changed, 0 to 1.
    Perform(u32, f64),
    /// It was released.
    End(u32),
}

/// The plug-in's messages to its host so far.
#[derive(Debug)]
pub struct Notes {
    main: ThreadId,
    edits: Mutex<Vec<Edit>>,
    dirty: AtomicU32,
    latency_changes: AtomicU32,
    io_changes: AtomicU32,
    value_changes: AtomicU32,
    reactivations: AtomicU32,
    open_requests: AtomicU32,
    strays: Mutex<Vec<&'static str>>,
}

impl Notes {
    fn new() -> Self {
        Self {
            main: std::thread::current().id(),
            edits: Mutex::default(),
            dirty: AtomicU32::new(0),
            latency_changes: AtomicU32::new(0),
            io_changes: AtomicU32::new(0),
            value_changes: AtomicU32::new(0),
            reactivations: AtomicU32::new(0),
            open_requests: AtomicU32::new(0),
            strays: Mutex::default(),
        }
    }

    /// The gestures, oldest first.
    pub fn edits(&self) -> Vec<Edit> {
        self.edits.lock().expect("no reader panics").clone()
    }

    /// How often the project was marked as changed.
    pub fn dirty(&self) -> u32 {
        self.dirty.load(Ordering::Acquire)
    }

    /// How often a change of latency was reported.
    pub fn latency_changes(&self) -> u32 {
        self.latency_changes.load(Ordering::Acquire)
    }

    /// How often a change of the buses was reported.
    pub fn io_changes(&self) -> u32 {
        self.io_changes.load(Ordering::Acquire)
    }

    /// How often a change of parameter values was reported.
    pub fn value_changes(&self) -> u32 {
        self.value_changes.load(Ordering::Acquire)
    }

    /// How often the host reactivated the instance on request.
    pub fn reactivations(&self) -> u32 {
        self.reactivations.load(Ordering::Acquire)
    }

    /// Calls from a thread other than the one that made the instance, where the format forbids that.
    pub fn strays(&self) -> Vec<&'static str> {
        self.strays.lock().expect("no reader panics").clone()
    }

    pub(super) fn heard(&self, call: &'static str) {
        if std::thread::current().id() != self.main {
            self.strays.lock().expect("no reader panics").push(call);
        }
    }
}

/// The parts of an instance that a restart needs.
pub(super) struct Driven {
    pub(super) component: ComPtr<IComponent>,
    pub(super) processor: ComPtr<IAudioProcessor>,
    /// Whether it is active. Locked while that changes and during a block.
    pub(super) active: Arc<Mutex<bool>>,
    pub(super) asks_inactive: bool,
}

impl Driven {
    /// Deactivates and activates again; asks for the latency in between if this host does. False if that is impossible
    /// now: inside an activation, or while another thread processes.
    fn restart(&self, notes: &Notes) -> bool {
        if notes.reactivations() >= MOST_RESTARTS {
            return true;
        }
        let Ok(active) = self.active.try_lock() else { return false };
        if !*active {
            return false;
        }
        notes.reactivations.fetch_add(1, Ordering::AcqRel);
        // SAFETY: the instance lives, and the lock keeps blocks and other changes out; the format prescribes this
        // order.
        unsafe {
            self.processor.setProcessing(0);
            self.component.setActive(0);
            if self.asks_inactive {
                self.processor.getLatencySamples();
            }
            self.component.setActive(1);
            self.processor.setProcessing(1);
            self.processor.getLatencySamples();
        }
        true
    }
}

/// The host's end of the plug-in's messages.
pub(super) struct Desk {
    pub(super) notes: Arc<Notes>,
    restarts: Restarts,
    driven: Mutex<Weak<Driven>>,
    waiting: AtomicU32,
}

impl Desk {
    pub(super) fn new(restarts: Restarts) -> Arc<Self> {
        let (driven, waiting) = (Mutex::new(Weak::new()), AtomicU32::new(0));
        Arc::new(Self { notes: Arc::new(Notes::new()), restarts, driven, waiting })
    }

    /// Sets the instance to restart.
    pub(super) fn drive(&self, driven: &Arc<Driven>) {
        *self.driven.lock().expect("no reader panics") = Arc::downgrade(driven);
    }

    fn restart(&self) -> bool {
        let driven = self.driven.lock().expect("no reader panics").upgrade();
        driven.is_some_and(|driven| driven.restart(&self.notes))
    }

    /// Serves pending restarts. A restart that is impossible now stays pending.
    pub(super) fn serve(&self) {
        for _ in 0..self.waiting.swap(0, Ordering::AcqRel) {
            if !self.restart() {
                self.waiting.fetch_add(1, Ordering::AcqRel);
            }
        }
    }

    fn begin_edit(&self, id: ParamID) -> tresult {
        self.edited("beginEdit", Edit::Begin(id))
    }

    fn perform_edit(&self, id: ParamID, value: ParamValue) -> tresult {
        self.edited("performEdit", Edit::Perform(id, value))
    }

    fn end_edit(&self, id: ParamID) -> tresult {
        self.edited("endEdit", Edit::End(id))
    }

    fn edited(&self, call: &'static str, edit: Edit) -> tresult {
        self.notes.heard(call);
        self.notes.edits.lock().expect("no reader panics").push(edit);
        kResultOk
    }

    fn restart_component(&self, flags: i32) -> tresult {
        self.notes.heard("restartComponent");
        let count = |flag: i32, counter: &AtomicU32| {
            if flags & flag != 0 {
                counter.fetch_add(1, Ordering::AcqRel);
            }
        };
        count(kLatencyChanged, &self.notes.latency_changes);
        count(kIoChanged, &self.notes.io_changes);
        count(kParamValuesChanged, &self.notes.value_changes);
        if flags & (kLatencyChanged | kIoChanged) != 0 {
            match self.restarts {
                Restarts::Never => {}
                Restarts::AtOnce if !PROCESSES.get() && self.restart() => {}
                Restarts::AtOnce | Restarts::Later => _ = self.waiting.fetch_add(1, Ordering::AcqRel),
                Restarts::Twice => _ = self.waiting.fetch_add(2, Ordering::AcqRel),
            }
        }
        kResultOk
    }

    fn set_dirty(&self, dirty: TBool) -> tresult {
        self.notes.heard("setDirty");
        if dirty != 0 {
            self.notes.dirty.fetch_add(1, Ordering::AcqRel);
        }
        kResultOk
    }

    fn request_open(&self) -> tresult {
        self.notes.heard("requestOpenEditor");
        self.notes.open_requests.fetch_add(1, Ordering::AcqRel);
        kNotImplemented
    }
}

/// The handler of a host that implements both versions.
pub(super) struct Handler(pub(super) Arc<Desk>);

/// The handler of a host that implements only the first version.
pub(super) struct OldHandler(pub(super) Arc<Desk>);

impl Class for Handler {
    type Interfaces = (IComponentHandler, IComponentHandler2);
}

impl Class for OldHandler {
    type Interfaces = (IComponentHandler,);
}

macro_rules! handles {
    ($handler:ty) => {
        impl IComponentHandlerTrait for $handler {
            unsafe fn beginEdit(&self, id: ParamID) -> tresult {
                self.0.begin_edit(id)
            }

            unsafe fn performEdit(&self, id: ParamID, value: ParamValue) -> tresult {
                self.0.perform_edit(id, value)
            }

            unsafe fn endEdit(&self, id: ParamID) -> tresult {
                self.0.end_edit(id)
            }

            unsafe fn restartComponent(&self, flags: i32) -> tresult {
                self.0.restart_component(flags)
            }
        }
    };
}

handles!(Handler);
handles!(OldHandler);

impl IComponentHandler2Trait for Handler {
    unsafe fn setDirty(&self, dirty: TBool) -> tresult {
        self.0.set_dirty(dirty)
    }

    unsafe fn requestOpenEditor(&self, _: FIDString) -> tresult {
        self.0.request_open()
    }

    unsafe fn startGroupEdit(&self) -> tresult {
        kResultOk
    }

    unsafe fn finishGroupEdit(&self) -> tresult {
        kResultOk
    }
}

/// The host's application object, which gives its name.
pub(super) struct Application;

impl Class for Application {
    type Interfaces = (IHostApplication,);
}

impl IHostApplicationTrait for Application {
    unsafe fn getName(&self, name: *mut String128) -> tresult {
        // SAFETY: the pointer is the caller's own.
        super::put16("The bell tower's own host", unsafe { &mut *name });
        kResultOk
    }

    unsafe fn createInstance(
        &self,
        _: *mut TUID,
        _: *mut TUID,
        object: *mut *mut std::ffi::c_void,
    ) -> tresult {
        // SAFETY: the pointer is the caller's own.
        unsafe { object.write(std::ptr::null_mut()) };
        kNotImplemented
    }
}
