//! Calls of a host from any thread. The host library forbids them off the main thread, so they bypass it.

use crate::rig::RigError;
use clack_host::plugin::PluginMainThreadHandle;
use clap_sys::ext::gui::{CLAP_EXT_GUI, clap_plugin_gui};
use clap_sys::plugin::clap_plugin;
use std::ptr::NonNull;

/// The editor's calls of one instance, for any thread. Only the rig makes one, and the instance outlives it.
pub struct Foreign {
    plugin: NonNull<clap_plugin>,
    gui: NonNull<clap_plugin_gui>,
}

// SAFETY: the format allows these calls on the main thread only; the tests check that a plug-in survives a host that
// ignores that. The pointers are addresses of objects that outlive this value.
unsafe impl Send for Foreign {}
// SAFETY: as above.
unsafe impl Sync for Foreign {}

impl Foreign {
    pub(super) fn of(plugin: &PluginMainThreadHandle<'_>) -> Result<Self, RigError> {
        let raw = plugin.as_raw();
        let find = raw.get_extension.ok_or_else(|| RigError::new("the plug-in has no extensions"))?;
        // SAFETY: the plug-in is alive, and the name ends with a zero.
        let gui = unsafe { find(raw, CLAP_EXT_GUI.as_ptr()) };
        let gui = NonNull::new(gui.cast_mut().cast::<clap_plugin_gui>());
        let gui = gui.ok_or_else(|| RigError::new("the plug-in has no editor"))?;
        Ok(Self { plugin: NonNull::from(raw), gui })
    }

    fn table(&self) -> &clap_plugin_gui {
        // SAFETY: a plug-in's table lives as long as the plug-in, which outlives this value.
        unsafe { self.gui.as_ref() }
    }

    /// Hides the editor. True if the plug-in reports success.
    pub fn hide(&self) -> bool {
        // SAFETY: the plug-in is alive, as this value is.
        self.table().hide.is_some_and(|hide| unsafe { hide(self.plugin.as_ptr()) })
    }

    /// Shows the editor. True if the plug-in reports success.
    pub fn show(&self) -> bool {
        // SAFETY: the plug-in is alive, as this value is.
        self.table().show.is_some_and(|show| unsafe { show(self.plugin.as_ptr()) })
    }

    /// Sets the editor's size. True if the plug-in reports success.
    pub fn set_size(&self, [width, height]: [u32; 2]) -> bool {
        // SAFETY: the plug-in is alive, as this value is.
        self.table().set_size.is_some_and(|set| unsafe { set(self.plugin.as_ptr(), width, height) })
    }

    /// Sets the editor's scale. True if the plug-in accepts it.
    pub fn set_scale(&self, scale: f64) -> bool {
        // SAFETY: the plug-in is alive, as this value is.
        self.table().set_scale.is_some_and(|set| unsafe { set(self.plugin.as_ptr(), scale) })
    }

    /// The editor's size, as the plug-in reports it.
    pub fn size(&self) -> Option<[u32; 2]> {
        let (mut width, mut height) = (0, 0);
        let get = self.table().get_size?;
        // SAFETY: the plug-in is alive, as this value is, and both numbers are ours.
        unsafe { get(self.plugin.as_ptr(), &raw mut width, &raw mut height) }.then_some([width, height])
    }

    /// Closes the editor.
    pub fn destroy(&self) {
        if let Some(destroy) = self.table().destroy {
            // SAFETY: the plug-in is alive, as this value is.
            unsafe { destroy(self.plugin.as_ptr()) };
        }
    }
}
