//! The editor of an instance, as a host opens, resizes and closes it.

use super::foreign::Foreign;
use super::handlers::Served;
use super::instance::Instance;
use crate::rig::{RigError, doing};
use clack_extensions::gui::{GuiConfiguration, GuiSize, PluginGui, Window};
use std::sync::Arc;
use std::time::Duration;

/// The system's handle of the window in which an editor opens.
#[cfg(windows)]
pub type Parent = *mut std::ffi::c_void;
/// The system's handle of the window in which an editor opens.
#[cfg(not(windows))]
pub type Parent = u32;

impl Instance {
    /// Opens the editor inside a window.
    ///
    /// # Errors
    /// The step that failed.
    pub fn open_editor(&mut self, parent: Parent) -> Result<[u32; 2], RigError> {
        self.open(parent, Duration::ZERO, None)
    }

    /// As [`Instance::open_editor`], but sets the scale before it asks for the size, as the format requires. Returns
    /// the size in pixels.
    ///
    /// # Errors
    /// The step that failed.
    pub fn open_editor_scaled(&mut self, parent: Parent, scale: f64) -> Result<[u32; 2], RigError> {
        self.open(parent, Duration::ZERO, Some(scale))
    }

    /// As [`Instance::open_editor`], with a pause before each step, as in slow hosts.
    ///
    /// # Errors
    /// The step that failed.
    pub fn open_editor_taking(&mut self, parent: Parent, pause: Duration) -> Result<[u32; 2], RigError> {
        self.open(parent, pause, None)
    }

    fn open(&mut self, parent: Parent, pause: Duration, scale: Option<f64>) -> Result<[u32; 2], RigError> {
        let gui: PluginGui = self.extension("gui")?;
        let plugin = self.inner.plugin_handle();
        #[cfg(windows)]
        // SAFETY: the caller keeps the parent window until `close_editor`.
        let parent = unsafe { Window::from_win32_hwnd(parent) };
        #[cfg(not(windows))]
        let parent = Window::from_x11_handle(parent.into());
        let config = GuiConfiguration { api_type: parent.api_type(), is_floating: false };
        gui.create(&plugin, config).map_err(doing("creating the editor"))?;
        if let Some(scale) = scale {
            gui.set_scale(&plugin, scale).map_err(doing("telling the editor its scale"))?;
        }
        let size = gui.get_size(&plugin).ok_or_else(|| RigError::new("the editor has no size"))?;
        std::thread::sleep(pause);
        // SAFETY: the caller keeps the parent window until `close_editor`.
        unsafe { gui.set_parent(&plugin, parent) }.map_err(doing("setting the editor's parent"))?;
        std::thread::sleep(pause);
        gui.show(&plugin).map_err(doing("showing the editor"))?;
        self.editor_open = true;
        Ok([size.width, size.height])
    }

    /// Sets the scale of the open editor, as a host on a high-density display does.
    ///
    /// # Errors
    /// If the plug-in refuses it.
    pub fn scale_editor(&mut self, scale: f64) -> Result<(), RigError> {
        let gui: PluginGui = self.extension("gui")?;
        gui.set_scale(&self.inner.plugin_handle(), scale).map_err(doing("telling the editor its scale"))
    }

    /// The editor's size in pixels, as the plug-in reports it.
    ///
    /// # Errors
    /// If the plug-in does not report it.
    pub fn editor_size(&mut self) -> Result<[u32; 2], RigError> {
        let gui: PluginGui = self.extension("gui")?;
        let size = gui.get_size(&self.inner.plugin_handle());
        size.map(|s| [s.width, s.height]).ok_or_else(|| RigError::new("the editor has no size"))
    }

    /// Resizes the editor like a host: asks for the nearest size that fits, then sets it.
    ///
    /// # Errors
    /// If the plug-in cannot do that.
    pub fn resize_editor(&mut self, size: [u32; 2]) -> Result<[u32; 2], RigError> {
        let gui: PluginGui = self.extension("gui")?;
        let plugin = self.inner.plugin_handle();
        if !gui.can_resize(&plugin) {
            return Err(RigError::new("the editor says that it cannot be resized"));
        }
        let fits = gui
            .adjust_size(&plugin, GuiSize { width: size[0], height: size[1] })
            .ok_or_else(|| RigError::new("the editor does not say which size fits"))?;
        gui.set_size(&plugin, fits).map_err(doing("resizing the editor"))?;
        Ok([fits.width, fits.height])
    }

    /// Closes the editor.
    ///
    /// # Errors
    /// If the instance has no editor.
    pub fn close_editor(&mut self) -> Result<(), RigError> {
        let gui: PluginGui = self.extension("gui")?;
        gui.destroy(&self.inner.plugin_handle());
        self.editor_open = false;
        Ok(())
    }

    /// Hides the open editor.
    ///
    /// # Errors
    /// If the plug-in cannot do that.
    pub fn hide_editor(&mut self) -> Result<(), RigError> {
        let gui: PluginGui = self.extension("gui")?;
        gui.hide(&self.inner.plugin_handle()).map_err(doing("hiding the editor"))
    }

    /// Shows the open editor again.
    ///
    /// # Errors
    /// If the plug-in cannot do that.
    pub fn show_editor(&mut self) -> Result<(), RigError> {
        let gui: PluginGui = self.extension("gui")?;
        gui.show(&self.inner.plugin_handle()).map_err(doing("showing the editor"))
    }

    /// Sets a size without asking whether it fits.
    ///
    /// # Errors
    /// If the plug-in refuses it.
    pub fn force_editor_size(&mut self, [width, height]: [u32; 2]) -> Result<(), RigError> {
        let gui: PluginGui = self.extension("gui")?;
        gui.set_size(&self.inner.plugin_handle(), GuiSize { width, height })
            .map_err(doing("resizing the editor"))
    }

    /// Runs `act` on a thread other than the host's main thread, with the editor's calls. The format forbids that, but
    /// some hosts do it.
    ///
    /// # Errors
    /// If the plug-in has no editor.
    ///
    /// # Panics
    /// If `act` panics.
    pub fn from_another_thread<T: Send>(
        &mut self,
        act: impl FnOnce(&Foreign) -> T + Send,
    ) -> Result<T, RigError> {
        // The plug-in outlives the thread, which this method waits for.
        let foreign = Foreign::of(&self.inner.plugin_handle())?;
        Ok(std::thread::scope(|scope| scope.spawn(|| act(&foreign)).join().expect("the thread ends well")))
    }

    /// From now on serves a request for a restart at once, on the requesting thread: closes the editor there, as
    /// hosts do before they deactivate. The notes record whether a request came.
    ///
    /// # Errors
    /// If the plug-in has no editor.
    pub fn serve_restarts_at_once(&mut self) -> Result<(), RigError> {
        let foreign = Foreign::of(&self.inner.plugin_handle())?;
        // Reset when the instance is dropped.
        self.serve_restarts(Some(Arc::new(move || {
            foreign.hide();
            foreign.destroy();
        })));
        Ok(())
    }

    pub(super) fn serve_restarts(&mut self, serve: Option<Served>) {
        *self.notes.on_restart.lock().expect("no holder panics") = serve;
    }
}
