//! One open window: tells the layer that somebody looks, for exactly as long as it is open.

use super::ending::Ending;
use super::repaint::Repaint;
use crate::bus::Shared;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{EditorHandle, Modifiers, ParentWindowHandle, VirtualKeyCode};
use nice_plug_egui::EguiEditorHandle;
use std::sync::Arc;

/// The framework's window.
type Inner = <EguiEditorHandle as EditorHandle>::Window;
/// Its error.
type Error = <EguiEditorHandle as EditorHandle>::Error;

/// A window that is gone with its thread when it is dropped.
pub struct Window {
    /// `None` only while it is being dropped or handed over.
    inner: Option<Inner>,
    ending: Arc<Ending>,
}

impl Window {
    pub(super) fn new(inner: Inner, ending: Arc<Ending>) -> Self {
        Self { inner: Some(inner), ending }
    }

    fn with(&self, act: impl FnOnce(&Inner) -> Result<(), Error>) -> Result<(), Error> {
        self.inner.as_ref().map_or(Ok(()), act)
    }
}

impl Drop for Window {
    fn drop(&mut self) {
        drop(self.inner.take());
        // A thread that does not end in time is left alone: the host's patience is shorter than ours.
        let _ = self.ending.wait();
    }
}

/// An open editor window. Dropping it ends the watching: a closed editor costs nothing.
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
