//! The editor.

use super::frame::{BareFrame, Frame, Resizing, RunLoops, Window};
use super::handler::Notes;
use super::instance::accepted;
use crate::rig::RigError;
use std::sync::Arc;
use vst3::Steinberg::{
    IPlugFrame, IPlugView, IPlugViewContentScaleSupport, IPlugViewContentScaleSupportTrait, IPlugViewTrait,
    ViewRect, kPlatformTypeX11EmbedWindowID, kResultOk,
};
use vst3::{ComPtr, ComWrapper};

/// An editor, shown or not. It closes when this is dropped.
pub struct View {
    view: ComPtr<IPlugView>,
    window: Arc<Window>,
    attached: bool,
    // Passed to the plug-in, which need not hold a reference.
    _frame: ComPtr<IPlugFrame>,
}

impl View {
    pub(super) fn new(view: ComPtr<IPlugView>, run_loops: RunLoops, notes: Arc<Notes>) -> Self {
        let window = Window::new(notes);
        let frame: ComPtr<IPlugFrame> = match run_loops {
            RunLoops::OfTheFrame => ComWrapper::new(Frame(Arc::clone(&window))).to_com_ptr(),
            RunLoops::None => ComWrapper::new(BareFrame(Arc::clone(&window))).to_com_ptr(),
        }
        .expect("a frame is one");
        // SAFETY: the frame is held as long as the view.
        unsafe { view.setFrame(frame.as_ptr()) };
        Self { view, window, attached: false, _frame: frame }
    }

    /// Sets the host's answer from now on when the editor requests another size.
    pub fn resizing(&self, resizing: Resizing) {
        *self.window.resizing.lock().expect("no reader panics") = resizing;
    }

    /// The sizes that the editor requested, oldest first.
    pub fn requests(&self) -> Vec<[i32; 2]> {
        self.window.requests.lock().expect("no reader panics").clone()
    }

    /// Whether it supports X11 windows.
    pub fn fits_x11(&self) -> bool {
        // SAFETY: the text is the format's own.
        unsafe { self.view.isPlatformTypeSupported(kPlatformTypeX11EmbedWindowID) == kResultOk }
    }

    /// Its size in pixels, shown or not.
    ///
    /// # Errors
    /// If the plug-in does not report it.
    pub fn size(&self) -> Result<[i32; 2], RigError> {
        let mut rect = ViewRect { left: 0, top: 0, right: 0, bottom: 0 };
        // SAFETY: the rectangle outlives the call.
        accepted(unsafe { self.view.getSize(&raw mut rect) }, "getSize")?;
        Ok([rect.right - rect.left, rect.bottom - rect.top])
    }

    /// Attaches it to an X11 window.
    ///
    /// # Errors
    /// If the plug-in refuses.
    pub fn attach(&mut self, parent: u32) -> Result<(), RigError> {
        let parent = std::ptr::without_provenance_mut(parent as usize);
        // SAFETY: on X11 the parent is a window id, not a pointer; the text is the format's own.
        accepted(unsafe { self.view.attached(parent, kPlatformTypeX11EmbedWindowID) }, "attached")?;
        self.attached = true;
        Ok(())
    }

    /// Whether the user may resize it.
    pub fn can_resize(&self) -> bool {
        // SAFETY: the view lives.
        unsafe { self.view.canResize() == kResultOk }
    }

    /// The nearest size that the editor accepts.
    pub fn constrained(&self, size: [i32; 2]) -> [i32; 2] {
        let mut rect = ViewRect { left: 0, top: 0, right: size[0], bottom: size[1] };
        // SAFETY: the rectangle outlives the call.
        unsafe { self.view.checkSizeConstraint(&raw mut rect) };
        [rect.right - rect.left, rect.bottom - rect.top]
    }

    /// Sets its size. True if it accepts.
    pub fn set_size(&self, size: [i32; 2]) -> bool {
        let mut rect = ViewRect { left: 0, top: 0, right: size[0], bottom: size[1] };
        // SAFETY: the rectangle outlives the call.
        unsafe { self.view.onSize(&raw mut rect) == kResultOk }
    }

    /// Sets its scale in pixels per point. True if it accepts.
    pub fn scale(&self, factor: f32) -> bool {
        let scaling = self.view.cast::<IPlugViewContentScaleSupport>();
        // SAFETY: the view lives.
        scaling.is_some_and(|scaling| unsafe { scaling.setContentScaleFactor(factor) == kResultOk })
    }

    /// Tells it whether it has the keyboard focus.
    pub fn focus(&self, focused: bool) {
        // SAFETY: the view lives.
        unsafe { self.view.onFocus(u8::from(focused)) };
    }

    /// Passes it a key of the host. True if it uses it.
    pub fn key(&self, character: char) -> bool {
        let unit = u16::try_from(u32::from(character)).unwrap_or(0);
        // SAFETY: the view lives.
        unsafe {
            let down = self.view.onKeyDown(unit, 0, 0);
            self.view.onKeyUp(unit, 0, 0);
            down == kResultOk
        }
    }

    /// The number of timers and files that the run loop serves for it.
    pub fn served(&self) -> usize {
        self.window.serves()
    }

    /// One turn of the run loop.
    pub fn idle(&self) {
        self.window.turn();
    }

    /// Removes it from its window. It may be attached to another one.
    pub fn remove(&mut self) {
        if std::mem::take(&mut self.attached) {
            // SAFETY: it is attached.
            unsafe { self.view.removed() };
        }
    }
}

impl Drop for View {
    fn drop(&mut self) {
        self.remove();
        // SAFETY: the frame is removed while both live.
        unsafe { self.view.setFrame(std::ptr::null_mut()) };
    }
}
