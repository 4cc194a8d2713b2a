//! One open window. The layer is watched exactly while the window is open.

use super::ending::Ending;
use super::repaint::Repaint;
use crate::shared::Shared;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{EditorHandle, Modifiers, ParentWindowHandle, VirtualKeyCode};
use nice_plug_egui::EguiEditorHandle;
use std::sync::Arc;

/// The framework's window.
type Inner = <EguiEditorHandle as EditorHandle>::Window;
/// The framework's error.
type Error = <EguiEditorHandle as EditorHandle>::Error;

/// A window that ends with its thread when it is dropped.
pub struct Window {
    /// `None` only while it is being dropped or handed over.
    inner: Option<Inner>,
    ending: Arc<Ending>,
    #[cfg(target_os = "linux")]
    shared: Arc<Shared>,
}

/// A window to drop on a different thread from the one that made it.
#[cfg(target_os = "linux")]
struct Handed(Inner);

// SAFETY: on X11 the windowing library's window (baseview 0.4.2, `WindowThreadHandle`) is a handle to the thread that
// draws: channels, a join handle and the host's callbacks. It is only dropped, which calls none of the callbacks; they
// hold a weak count of the framework's instance and a pointer that is not followed.
#[cfg(target_os = "linux")]
unsafe impl Send for Handed {}

#[cfg(target_os = "linux")]
impl Handed {
    /// Closes the window, and waits for its thread, which ends between two frames.
    fn close(self) {
        drop(self.0);
    }
}

impl Window {
    #[cfg_attr(
        not(target_os = "linux"),
        expect(unused_variables, reason = "only X11 closes beside the host")
    )]
    pub(super) fn new(inner: Inner, ending: Arc<Ending>, shared: &Arc<Shared>) -> Self {
        Self {
            inner: Some(inner),
            ending,
            #[cfg(target_os = "linux")]
            shared: shared.clone(),
        }
    }

    fn with(&self, act: impl FnOnce(&Inner) -> Result<(), Error>) -> Result<(), Error> {
        self.inner.as_ref().map_or(Ok(()), act)
    }
}

impl Drop for Window {
    fn drop(&mut self) {
        let Some(inner) = self.inner.take() else { return };
        self.ending.begin();
        #[cfg(target_os = "linux")]
        {
            let (handed, ending) = (Handed(inner), self.ending.clone());
            self.shared.closings.run(move || {
                handed.close();
                ending.wait();
            });
        }
        // On other systems a window belongs to the thread that made it and closes at once.
        #[cfg(not(target_os = "linux"))]
        {
            drop(inner);
            self.ending.wait();
        }
    }
}

/// An open editor window. Dropping it ends the watch: a closed editor costs nothing.
pub struct BusWindow {
    inner: EguiEditorHandle,
    shared: Arc<Shared>,
    repaint: Repaint,
}

impl BusWindow {
    pub(super) fn new(inner: EguiEditorHandle, shared: Arc<Shared>, repaint: Repaint) -> Self {
        let on_view = repaint.clone();
        shared.layer.set_notify(Some(Box::new(move || on_view.request())));
        shared.watch(true);
        Self { inner, shared, repaint }
    }
}

impl Drop for BusWindow {
    fn drop(&mut self) {
        self.shared.watch(false);
        self.shared.layer.set_notify(None);
        self.repaint.gone();
    }
}

impl EditorHandle for BusWindow {
    type Window = Window;
    type Error = Error;

    fn run_until_closed(mut window: Window) -> Result<(), Error> {
        window.inner.take().map_or(Ok(()), EguiEditorHandle::run_until_closed)
    }

    fn set_parent(&self, parent: ParentWindowHandle, window: &Window) -> Result<(), Error> {
        window.with(|inner| self.inner.set_parent(parent, inner))
    }

    fn show(&self, window: &Window) -> Result<(), Error> {
        window.with(|inner| self.inner.show(inner))?;
        self.repaint.shown();
        Ok(())
    }

    fn hide(&self, window: &Window) -> Result<(), Error> {
        self.repaint.hidden();
        window.with(|inner| self.inner.hide(inner))
    }

    fn set_size(&self, new_size: NativeSize<u32>, window: &Window) -> Result<(), Error> {
        window.with(|inner| self.inner.set_size(new_size, inner))
    }

    fn host_main_thread_callback(&self, window: &Window) {
        if let Some(inner) = &window.inner {
            self.inner.host_main_thread_callback(inner);
        }
    }

    fn adjust_size(&self, new_size: NativeSize<u32>, window: &Window) -> Option<NativeSize<u32>> {
        self.inner.adjust_size(new_size, window.inner.as_ref()?)
    }

    fn set_fallback_scale_factor(&self, scale_factor: f64, window: &Window) -> Result<(), Error> {
        window.with(|inner| self.inner.set_fallback_scale_factor(scale_factor, inner))
    }

    fn on_virtual_key_from_host(&self, key: VirtualKeyCode, is_down: bool, modifiers: Modifiers) -> bool {
        self.inner.on_virtual_key_from_host(key, is_down, modifiers)
    }

    fn state_changed(&self) {
        self.repaint.request();
    }

    fn param_value_changed(&self, _id: &str, _normalized_value: f32) {
        self.repaint.request();
    }

    fn param_modulation_changed(&self, _id: &str, _modulation_offset: f32) {
        self.repaint.request();
    }
}
