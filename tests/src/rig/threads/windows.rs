//! The list of threads on Windows.

use std::ffi::c_void;
use windows_sys::Win32::Foundation::{CloseHandle, INVALID_HANDLE_VALUE, LocalFree};
use windows_sys::Win32::System::Diagnostics::ToolHelp::{
    CreateToolhelp32Snapshot, TH32CS_SNAPTHREAD, THREADENTRY32, Thread32First, Thread32Next,
};
use windows_sys::Win32::System::Threading::{
    GetThreadDescription, OpenThread, THREAD_QUERY_LIMITED_INFORMATION,
};

/// Names of the named threads of this process, sorted. All of ours are named; those of the system's pools, which come
/// and go, are not.
pub(super) fn names() -> Option<Vec<String>> {
    // SAFETY: takes only numbers; the handle is closed below.
    let list = unsafe { CreateToolhelp32Snapshot(TH32CS_SNAPTHREAD, 0) };
    if list == INVALID_HANDLE_VALUE {
        return None;
    }
    let mut names = Vec::new();
    let mut entry = THREADENTRY32 {
        dwSize: u32::try_from(size_of::<THREADENTRY32>()).unwrap_or(0),
        ..THREADENTRY32::default()
    };
    // SAFETY: the handle is a list of threads, and the entry has its size set, as the functions require.
    let mut more = unsafe { Thread32First(list, &raw mut entry) } != 0;
    while more {
        if entry.th32OwnerProcessID == std::process::id() {
            names.extend(name(entry.th32ThreadID).filter(|name| !name.is_empty()));
        }
        // SAFETY: as above.
        more = unsafe { Thread32Next(list, &raw mut entry) } != 0;
    }
    // SAFETY: opened above, and not used after this.
    unsafe { CloseHandle(list) };
    names.sort();
    Some(names)
}

/// The name of a thread, unless it has ended.
fn name(thread: u32) -> Option<String> {
    // SAFETY: takes only numbers; the handle is closed below.
    let handle = unsafe { OpenThread(THREAD_QUERY_LIMITED_INFORMATION, 0, thread) };
    if handle.is_null() {
        return None;
    }
    let mut wide: *mut u16 = std::ptr::null_mut();
    // SAFETY: the handle is a thread's, and the result variable is ours.
    let outcome = unsafe { GetThreadDescription(handle, &raw mut wide) };
    // SAFETY: opened above, and not used after this.
    unsafe { CloseHandle(handle) };
    if outcome < 0 || wide.is_null() {
        return None;
    }
    // SAFETY: the system returned a zero-terminated text; nothing past the zero is read.
    let length = (0..).take_while(|&at| unsafe { *wide.add(at) } != 0).count();
    // SAFETY: the length was just counted, and the text lives until it is freed below.
    let name = String::from_utf16_lossy(unsafe { std::slice::from_raw_parts(wide, length) });
    // SAFETY: the text is ours to free.
    unsafe { LocalFree(wide.cast::<c_void>()) };
    Some(name)
}
