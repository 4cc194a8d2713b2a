//! The framework's editor calls, the thread that opened the editor, and another thread's request to close it.

use clap_sys::ext::gui::clap_plugin_gui;
use clap_sys::plugin::clap_plugin;
use std::sync::{Mutex, PoisonError};
use std::thread::ThreadId;

/// The state of an editor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Opened {
    /// The thread that opened it, while it is open.
    pub(super) by: Option<ThreadId>,
    /// Whether another thread asked to close it.
    pub(super) to_close: bool,
}

/// The framework's editor calls, and the thread to which they are bound.
pub(super) struct Gui {
    table: clap_plugin_gui,
    pub(super) inner: clap_plugin_gui,
    opened: Mutex<Opened>,
}

impl Gui {
    /// Puts our table in front of the framework's.
    pub(super) fn new(table: clap_plugin_gui, inner: clap_plugin_gui) -> Self {
        Self { table, inner, opened: Mutex::default() }
    }

    /// The table for the host.
    pub(super) fn table(&self) -> *const clap_plugin_gui {
        &raw const self.table
    }

    pub(super) fn opened(&self) -> Opened {
        *self.opened.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn set_opened(&self, opened: Opened) {
        *self.opened.lock().unwrap_or_else(PoisonError::into_inner) = opened;
    }

    /// Whether this thread may make the framework's editor calls: no editor is open, or this thread opened it. An
    /// editor that another thread asked to close is closed first.
    pub(super) fn is_of_this_thread(&self, plugin: *const clap_plugin) -> bool {
        let opened = self.opened();
        let ours = opened.by.is_none_or(|thread| thread == std::thread::current().id());
        if ours && opened.to_close {
            self.close(plugin);
        }
        ours
    }

    pub(super) fn close(&self, plugin: *const clap_plugin) {
        self.set_opened(Opened::default());
        // SAFETY: the framework's function, on the thread that its editor is bound to.
        unsafe {
            if let Some(destroy) = self.inner.destroy {
                destroy(plugin);
            }
        }
    }
}
