//! One open window: tells the layer that somebody looks, for exactly as long as it is open.

use crate::bus::Shared;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{EditorHandle, Modifiers, ParentWindowHandle, VirtualKeyCode};
use nice_plug_egui::{EguiEditorHandle, RepaintNotifier};
use std::sync::Arc;

/// The framework's window of ours.
type Window = <EguiEditorHandle as EditorHandle>::Window;
/// Its error.
type Error = <EguiEditorHandle as EditorHandle>::Error;

/// An open editor window. Dropping it ends the watching: a closed editor costs nothing.
pub struct BusWindow {
    inner: EguiEditorHandle,
    shared: Arc<Shared>,
}

impl BusWindow {
    pub(super) fn new(inner: EguiEditorHandle, shared: Arc<Shared>, repaint: RepaintNotifier) -> Self {
        shared.layer.set_notify(Some(Box::new(move || repaint.request_repaint())));
        shared.watch(true);
        Self { inner, shared }
    }
}

impl Drop for BusWindow {
    fn drop(&mut self) {
        self.shared.watch(false);
        self.shared.layer.set_notify(None);
    }
}

impl EditorHandle for BusWindow {
    type Window = Window;
    type Error = Error;

    fn run_until_closed(window: Window) -> Result<(), Error> {
        EguiEditorHandle::run_until_closed(window)
    }

    fn set_parent(&self, parent: ParentWindowHandle, window: &Window) -> Result<(), Error> {
        self.inner.set_parent(parent, window)
    }

    fn show(&self, window: &Window) -> Result<(), Error> {
        self.inner.show(window)
    }

    fn hide(&self, window: &Window) -> Result<(), Error> {
        self.inner.hide(window)
    }

    fn set_size(&self, new_size: NativeSize<u32>, window: &Window) -> Result<(), Error> {
        self.inner.set_size(new_size, window)
    }

    fn host_main_thread_callback(&self, window: &Window) {
        self.inner.host_main_thread_callback(window);
    }

    fn adjust_size(&self, new_size: NativeSize<u32>, window: &Window) -> Option<NativeSize<u32>> {
        self.inner.adjust_size(new_size, window)
    }

    fn set_fallback_scale_factor(&self, scale_factor: f64, window: &Window) -> Result<(), Error> {
        self.inner.set_fallback_scale_factor(scale_factor, window)
    }

    fn on_virtual_key_from_host(&self, key: VirtualKeyCode, is_down: bool, modifiers: Modifiers) -> bool {
        self.inner.on_virtual_key_from_host(key, is_down, modifiers)
    }

    fn state_changed(&self) {
        self.inner.state_changed();
    }

    fn param_value_changed(&self, id: &str, normalized_value: f32) {
        self.inner.param_value_changed(id, normalized_value);
    }

    fn param_modulation_changed(&self, id: &str, modulation_offset: f32) {
        self.inner.param_modulation_changed(id, modulation_offset);
    }
}
