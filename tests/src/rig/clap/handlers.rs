//! The host's side of the callbacks: records the plug-in's requests.

use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::latency::{HostLatency, HostLatencyImpl};
use clack_extensions::log::{HostLog, HostLogImpl, LogSeverity};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamRescanFlags,
};
use clack_extensions::state::{HostState, HostStateImpl};
use clack_extensions::thread_check::{HostThreadCheck, HostThreadCheckImpl};
use clack_extensions::track_info::{HostTrackInfo, HostTrackInfoImpl, TrackInfo, TrackInfoWriter};
use clack_host::prelude::*;
use clack_host::utils::Color;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::ThreadId;

/// The track as described by the host.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    /// Its name; `None` if the host gives none. The host library requires it to outlive the instance.
    pub name: Option<&'static str>,
    /// Its colour.
    pub colour: Option<[u8; 3]>,
}

impl Label {
    /// A track with a name and a colour.
    pub fn new(name: &'static str, colour: [u8; 3]) -> Self {
        Self { name: Some(name), colour: Some(colour) }
    }
}

/// A host's action during a request.
pub(super) type Served = Arc<dyn Fn() + Send + Sync>;

/// The plug-in's requests since it was created.
#[derive(Default)]
pub struct Notes {
    /// Whether it requested a call on the main thread.
    pub callback: AtomicBool,
    /// Whether it requested a flush of parameters.
    pub flush: AtomicBool,
    /// Whether it requested a restart.
    pub restart: AtomicBool,
    /// How often it asked the host to reread the parameters' values.
    pub value_rescans: AtomicU32,
    /// How often it reported a change of its latency.
    pub latency_changes: AtomicU32,
    /// How often it marked its state as changed.
    pub dirty: AtomicU32,
    /// Main-thread calls that came from another thread.
    pub astray: Mutex<Vec<&'static str>>,
    /// How often it requested a restart.
    pub restarts: AtomicU32,
    /// This host's action during a request for a restart, on the requesting thread.
    pub(super) on_restart: Mutex<Option<Served>>,
    /// Whether this host refuses the sizes that the editor requests.
    pub refuses_sizes: AtomicBool,
    /// Whether the editor's window was lost.
    pub window_lost: AtomicBool,
    /// The size that the editor requested, width and height in pixels.
    pub wanted_size: Mutex<Option<[u32; 2]>>,
    /// Its log messages to the host.
    pub log: Mutex<Vec<String>>,
    /// The track's label.
    pub label: Mutex<Label>,
    /// The thread that processes, if any.
    pub audio_thread: Mutex<Option<ThreadId>>,
}

/// The rig's handlers, for clack.
pub(super) struct Rig;

impl HostHandlers for Rig {
    type Shared<'a> = Shared;
    type MainThread<'a> = Main<'a>;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _shared: &Shared) {
        builder
            .register::<HostGui>()
            .register::<HostLatency>()
            .register::<HostLog>()
            .register::<HostParams>()
            .register::<HostState>()
            .register::<HostThreadCheck>()
            .register::<HostTrackInfo>();
    }
}

/// Callbacks for any thread.
pub(super) struct Shared {
    notes: Arc<Notes>,
    main_thread: ThreadId,
}

impl Shared {
    pub(super) fn new(notes: Arc<Notes>) -> Self {
        Self { notes, main_thread: std::thread::current().id() }
    }

    /// Records a main-thread call that came from another thread.
    fn on_main_thread(&self, call: &'static str) {
        if std::thread::current().id() != self.main_thread {
            self.notes.astray.lock().expect("no holder panics").push(call);
        }
    }
}

impl SharedHandler<'_> for Shared {
    fn request_restart(&self) {
        self.notes.restart.store(true, Ordering::Release);
        self.notes.restarts.fetch_add(1, Ordering::AcqRel);
        let serve = self.notes.on_restart.lock().expect("no holder panics").clone();
        if let Some(serve) = serve {
            serve();
        }
    }

    fn request_process(&self) {}

    fn request_callback(&self) {
        self.notes.callback.store(true, Ordering::Release);
    }
}

impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}

    fn request_resize(&self, new_size: GuiSize) -> Result<(), HostError> {
        *self.notes.wanted_size.lock().expect("no holder panics") = Some([new_size.width, new_size.height]);
        if self.notes.refuses_sizes.load(Ordering::Acquire) {
            return Err(HostError::Message("this host keeps the sizes of its windows"));
        }
        Ok(())
    }

    fn request_show(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn request_hide(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn closed(&self, _was_destroyed: bool) {
        self.notes.window_lost.store(true, Ordering::Release);
    }
}

impl HostLogImpl for Shared {
    fn log(&self, severity: LogSeverity, message: &str) {
        self.notes.log.lock().expect("no holder panics").push(format!("{severity}: {message}"));
    }
}

impl HostParamsImplShared for Shared {
    fn request_flush(&self) {
        self.notes.flush.store(true, Ordering::Release);
    }
}

impl HostThreadCheckImpl for Shared {
    fn is_main_thread(&self) -> bool {
        std::thread::current().id() == self.main_thread
    }

    fn is_audio_thread(&self) -> bool {
        *self.notes.audio_thread.lock().expect("no holder panics") == Some(std::thread::current().id())
    }
}

/// Callbacks for the main thread.
pub(super) struct Main<'a> {
    shared: &'a Shared,
}

impl<'a> Main<'a> {
    pub(super) fn new(shared: &'a Shared) -> Self {
        Self { shared }
    }
}

impl<'a> MainThreadHandler<'a> for Main<'a> {}

impl HostLatencyImpl for Main<'_> {
    fn changed(&self) {
        self.shared.on_main_thread("latency.changed");
        self.shared.notes.latency_changes.fetch_add(1, Ordering::AcqRel);
    }
}

impl HostParamsImplMainThread for Main<'_> {
    fn rescan(&self, flags: ParamRescanFlags) {
        self.shared.on_main_thread("params.rescan");
        if flags.contains(ParamRescanFlags::VALUES) {
            self.shared.notes.value_rescans.fetch_add(1, Ordering::AcqRel);
        }
    }

    fn clear(&self, _param_id: ClapId, _flags: ParamClearFlags) {}
}

impl HostStateImpl for Main<'_> {
    fn mark_dirty(&self) {
        self.shared.on_main_thread("state.mark_dirty");
        self.shared.notes.dirty.fetch_add(1, Ordering::AcqRel);
    }
}

impl HostTrackInfoImpl for Main<'_> {
    fn get<'a>(&'a self, writer: &mut TrackInfoWriter<'_, 'a>) {
        self.shared.on_main_thread("track_info.get");
        let label = self.shared.notes.label.lock().expect("no holder panics").clone();
        let colour = label.colour.map(|[red, green, blue]| Color { alpha: 255, red, green, blue });
        let name = label.name.map(str::as_bytes);
        writer.set(&TrackInfo::new().with_name(name).with_color(colour));
    }
}
