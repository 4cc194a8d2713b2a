//! The host's side of an editor: sizes that it grants or refuses, and a run loop.

use super::handler::Notes;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use vst3::Steinberg::Linux::{
    FileDescriptor, IEventHandler, IEventHandlerTrait, IRunLoop, IRunLoopTrait, ITimerHandler,
    ITimerHandlerTrait, TimerInterval,
};
use vst3::Steinberg::{
    IPlugFrame, IPlugFrameTrait, IPlugView, IPlugViewTrait, ViewRect, kInvalidArgument, kResultFalse,
    kResultOk, tresult,
};
use vst3::{Class, ComPtr, ComRef};

/// Whether a host offers a run loop, without which the plug-in gets no time on the main thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunLoops {
    /// The editor's frame has one, as the format requires.
    OfTheFrame,
    /// None.
    None,
}

/// A host's answer when an editor requests another size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Resizing {
    /// It grants the size.
    Accepts,
    /// It keeps the old one.
    Refuses,
    /// It grants the next smaller size that is a multiple of this many pixels each way.
    Rounds(i32),
}

/// A timer that the plug-in registered.
struct Timer {
    handler: ComPtr<ITimerHandler>,
    period: Duration,
    next: Instant,
}

/// The timers and files of a run loop.
#[derive(Default)]
struct Served {
    timers: Vec<Timer>,
    files: Vec<(ComPtr<IEventHandler>, FileDescriptor)>,
}

/// The requests to a frame, and its answers.
pub(super) struct Window {
    pub(super) resizing: Mutex<Resizing>,
    pub(super) requests: Mutex<Vec<[i32; 2]>>,
    served: Mutex<Served>,
    notes: Arc<Notes>,
}

impl Window {
    pub(super) fn new(notes: Arc<Notes>) -> Arc<Self> {
        Arc::new(Self {
            resizing: Mutex::new(Resizing::Accepts),
            requests: Mutex::default(),
            served: Mutex::default(),
            notes,
        })
    }

    /// The number of timers and files it serves.
    pub(super) fn serves(&self) -> usize {
        let served = self.served.lock().expect("no handler panics");
        served.timers.len() + served.files.len()
    }

    /// Calls every timer that is due and every readable file once.
    pub(super) fn turn(&self) {
        let now = Instant::now();
        let due: Vec<ComPtr<ITimerHandler>> = {
            let mut served = self.served.lock().expect("no handler panics");
            let due = served.timers.iter_mut().filter(|timer| timer.next <= now);
            due.map(|timer| {
                timer.next = now + timer.period;
                timer.handler.clone()
            })
            .collect()
        };
        for handler in due {
            // A timer may remove another one that is due in the same turn.
            let stays = self
                .served
                .lock()
                .expect("no handler panics")
                .timers
                .iter()
                .any(|t| t.handler.as_ptr() == handler.as_ptr());
            if stays {
                // SAFETY: the handler is held here.
                unsafe { handler.onTimer() };
            }
        }
        let files = self.served.lock().expect("no handler panics").files.clone();
        for (handler, file) in files {
            if readable(file) {
                // SAFETY: the handler is held here.
                unsafe { handler.onFDIsSet(file) };
            }
        }
    }

    fn resize(&self, view: *mut IPlugView, wanted: *mut ViewRect) -> tresult {
        self.notes.heard("resizeView");
        // SAFETY: the plug-in passes its view and a rectangle that outlive this call.
        let (Some(view), Some(rect)) = (unsafe { ComRef::from_raw(view) }, unsafe { wanted.as_mut() }) else {
            return kInvalidArgument;
        };
        let size = [rect.right - rect.left, rect.bottom - rect.top];
        self.requests.lock().expect("no reader panics").push(size);
        let granted = match *self.resizing.lock().expect("no reader panics") {
            Resizing::Refuses => return kResultFalse,
            Resizing::Accepts => size,
            Resizing::Rounds(to) => size.map(|pixels| pixels / to * to),
        };
        let mut told = ViewRect { left: 0, top: 0, right: granted[0], bottom: granted[1] };
        // SAFETY: the rectangle outlives the call, which the format requires here.
        unsafe { view.onSize(&raw mut told) };
        kResultOk
    }
}

/// Whether a file is readable; does not block.
fn readable(file: FileDescriptor) -> bool {
    let mut asked = libc::pollfd { fd: file, events: libc::POLLIN, revents: 0 };
    // SAFETY: one entry, which outlives the call.
    unsafe { libc::poll(&raw mut asked, 1, 0) == 1 }
}

/// A frame with a run loop.
pub(super) struct Frame(pub(super) Arc<Window>);

/// A frame without a run loop.
pub(super) struct BareFrame(pub(super) Arc<Window>);

impl Class for Frame {
    type Interfaces = (IPlugFrame, IRunLoop);
}

impl Class for BareFrame {
    type Interfaces = (IPlugFrame,);
}

impl IPlugFrameTrait for Frame {
    unsafe fn resizeView(&self, view: *mut IPlugView, size: *mut ViewRect) -> tresult {
        self.0.resize(view, size)
    }
}

impl IPlugFrameTrait for BareFrame {
    unsafe fn resizeView(&self, view: *mut IPlugView, size: *mut ViewRect) -> tresult {
        self.0.resize(view, size)
    }
}

impl IRunLoopTrait for Frame {
    unsafe fn registerEventHandler(&self, handler: *mut IEventHandler, file: FileDescriptor) -> tresult {
        self.0.notes.heard("registerEventHandler");
        // SAFETY: the plug-in passes its own handler, which is held from here on.
        let Some(handler) = (unsafe { ComRef::from_raw(handler) }) else { return kInvalidArgument };
        self.0.served.lock().expect("no handler panics").files.push((handler.to_com_ptr(), file));
        kResultOk
    }

    unsafe fn unregisterEventHandler(&self, handler: *mut IEventHandler) -> tresult {
        self.0.notes.heard("unregisterEventHandler");
        self.0.served.lock().expect("no handler panics").files.retain(|(held, _)| held.as_ptr() != handler);
        kResultOk
    }

    unsafe fn registerTimer(&self, handler: *mut ITimerHandler, milliseconds: TimerInterval) -> tresult {
        self.0.notes.heard("registerTimer");
        // SAFETY: the plug-in passes its own handler, which is held from here on.
        let Some(handler) = (unsafe { ComRef::from_raw(handler) }) else { return kInvalidArgument };
        let period = Duration::from_millis(milliseconds);
        let timer = Timer { handler: handler.to_com_ptr(), period, next: Instant::now() + period };
        self.0.served.lock().expect("no handler panics").timers.push(timer);
        kResultOk
    }

    unsafe fn unregisterTimer(&self, handler: *mut ITimerHandler) -> tresult {
        self.0.notes.heard("unregisterTimer");
        self.0.served.lock().expect("no handler panics").timers.retain(|t| t.handler.as_ptr() != handler);
        kResultOk
    }
}
