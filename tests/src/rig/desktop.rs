//! A window of the host on Windows for an editor, and its messages.

use super::RigError;
use std::ffi::c_void;
use std::ptr::{null, null_mut};
use std::time::{Duration, Instant};
use windows_sys::Win32::Foundation::{HWND, RECT};
use windows_sys::Win32::System::LibraryLoader::GetModuleHandleW;
use windows_sys::Win32::UI::Input::KeyboardAndMouse::{MAPVK_VK_TO_VSC, MapVirtualKeyW, SetFocus};
use windows_sys::Win32::UI::WindowsAndMessaging::{
    CreateWindowExW, DestroyWindow, DispatchMessageW, GW_CHILD, GetClientRect, GetWindow, MSG, PM_REMOVE,
    PeekMessageW, PostMessageW, SWP_NOMOVE, SWP_NOZORDER, SetWindowPos, TranslateMessage, WM_KEYDOWN,
    WM_KEYUP, WS_CLIPCHILDREN, WS_POPUP, WS_VISIBLE,
};

/// A window without a frame, as large as its content.
pub struct HostWindow(HWND);

impl HostWindow {
    /// Opens a window.
    ///
    /// # Errors
    /// If the system refuses, for example without a display.
    pub fn open(size: [u32; 2]) -> Result<Self, RigError> {
        let [width, height] = pixels(size)?;
        let name = |text: &str| text.encode_utf16().chain([0]).collect::<Vec<u16>>();
        // A class of the system, which need not be registered.
        let (class, title) = (name("STATIC"), name("Plumbline rig"));
        // SAFETY: both names are zero-terminated and outlive the call; a null module is this program.
        let window = unsafe {
            CreateWindowExW(
                0,
                class.as_ptr(),
                title.as_ptr(),
                WS_POPUP | WS_VISIBLE | WS_CLIPCHILDREN,
                0,
                0,
                width,
                height,
                null_mut(),
                null_mut(),
                GetModuleHandleW(null()),
                null(),
            )
        };
        if window.is_null() {
            return Err(RigError::new(format!("creating a window: {}", std::io::Error::last_os_error())));
        }
        Ok(Self(window))
    }

    /// The window's handle.
    pub fn id(&self) -> *mut c_void {
        self.0
    }

    /// Resizes the window.
    ///
    /// # Errors
    /// If the system refuses.
    pub fn resize(&self, size: [u32; 2]) -> Result<(), RigError> {
        let [width, height] = pixels(size)?;
        // SAFETY: the window lives as long as this value.
        let done =
            unsafe { SetWindowPos(self.0, null_mut(), 0, 0, width, height, SWP_NOMOVE | SWP_NOZORDER) };
        if done == 0 {
            return Err(RigError::new(format!("resizing a window: {}", std::io::Error::last_os_error())));
        }
        Ok(())
    }

    /// The editor's own window inside this one; `None` while there is none.
    fn inner(&self) -> Option<HWND> {
        // SAFETY: the window lives as long as this value.
        let inner = unsafe { GetWindow(self.0, GW_CHILD) };
        (!inner.is_null()).then_some(inner)
    }

    /// The size of the editor's own window inside this one; `None` while there is none.
    pub fn inner_size(&self) -> Option<[u32; 2]> {
        let mut shape = RECT::default();
        // SAFETY: the window was just found, on its own thread, and the shape is ours.
        let told = unsafe { GetClientRect(self.inner()?, &raw mut shape) };
        let side = |from: i32, to: i32| u32::try_from(to - from).ok();
        (told != 0).then_some([side(shape.left, shape.right)?, side(shape.top, shape.bottom)?])
    }

    /// Presses and releases a key in the editor, with the system's messages.
    ///
    /// # Errors
    /// If the window has no editor.
    pub fn press(&self, key: u8) -> Result<(), RigError> {
        let inner = self.inner().ok_or_else(|| RigError::new("there is no editor to press a key in"))?;
        // SAFETY: the window was just found, on its own thread; the other call takes only numbers.
        let place = unsafe {
            SetFocus(inner);
            MapVirtualKeyW(u32::from(key), MAPVK_VK_TO_VSC)
        };
        // Pressed once, then released, which sets the bits of previous state and transition.
        let pressed = 1 | isize::try_from(place << 16).expect("a scan code");
        for (message, about) in [(WM_KEYDOWN, pressed), (WM_KEYUP, pressed | 0xC000_0000)] {
            // SAFETY: the window was just found; the message carries only numbers.
            if unsafe { PostMessageW(inner, message, usize::from(key), about) } == 0 {
                return Err(RigError::new(format!("pressing a key: {}", std::io::Error::last_os_error())));
            }
        }
        Ok(())
    }

    /// Dispatches messages until `lasting` has passed. A host does this continuously.
    pub fn serve(&self, lasting: Duration) {
        let start = Instant::now();
        loop {
            let mut message = MSG::default();
            // SAFETY: the message is ours; a null window means all windows of this thread.
            while unsafe { PeekMessageW(&raw mut message, null_mut(), 0, 0, PM_REMOVE) } != 0 {
                // SAFETY: the message just came from the system.
                unsafe {
                    TranslateMessage(&raw const message);
                    DispatchMessageW(&raw const message);
                }
            }
            if start.elapsed() >= lasting {
                return;
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

impl Drop for HostWindow {
    fn drop(&mut self) {
        // SAFETY: made by this value on this thread, and destroyed once.
        unsafe { DestroyWindow(self.0) };
    }
}

fn pixels(size: [u32; 2]) -> Result<[i32; 2], RigError> {
    let side = |side: u32| i32::try_from(side).map_err(|_| RigError::new("a window's size"));
    Ok([side(size[0])?, side(size[1])?])
}
