//! Watches what a thread asks of the C library and of the kernel while a plug-in processes: allocations, locks, system
//! calls, of everything that is loaded, the VST3 wrapper's C++ included. Locks are those of the C library: others are
//! seen only when they wait, as system calls. Linux on x86-64 with glibc only.
//!
//! `watch.c` is compiled when it is needed and loaded before every other library ([`preloaded`]); in a process without
//! it, [`call`] only calls.

use super::{RigError, doing};
use libloading::os::unix::{Library, Symbol};
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

/// What one thread asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Calls of the allocator, freeing included.
    pub allocations: u64,
    /// Locks taken, or tried.
    pub locks: u64,
    /// System calls.
    pub system_calls: u64,
    /// The number of the last system call.
    pub last_system_call: u64,
}

struct Watch {
    begin: Symbol<unsafe extern "C" fn() -> i32>,
    end: Symbol<unsafe extern "C" fn()>,
    counts: Symbol<unsafe extern "C" fn(*mut [u64; 4])>,
}

fn watch() -> Option<&'static Watch> {
    static WATCH: OnceLock<Option<Watch>> = OnceLock::new();
    WATCH
        .get_or_init(|| {
            let program = Library::this();
            // SAFETY: the names and types are those of `watch.c`; nothing else exports them.
            unsafe {
                Some(Watch {
                    begin: program.get(b"watch_begin\0").ok()?,
                    end: program.get(b"watch_end\0").ok()?,
                    counts: program.get(b"watch_counts\0").ok()?,
                })
            }
        })
        .as_ref()
}

/// Compiles the watch into `folder`, and returns the variable with which a process loads it.
///
/// # Errors
/// If there is no C compiler, or it refuses.
pub fn preloaded(folder: &Path) -> Result<(&'static str, String), RigError> {
    let (source, library) = (folder.join("watch.c"), folder.join("watch.so"));
    std::fs::write(&source, include_str!("watch.c")).map_err(doing("writing the watch"))?;
    let compiler = Command::new("cc")
        .args(["-shared", "-fPIC", "-O1", "-fno-builtin", "-ftls-model=initial-exec", "-o"])
        .args([&library, &source])
        .arg("-ldl")
        .output()
        .map_err(doing("running cc"))?;
    if !compiler.status.success() {
        let words = String::from_utf8_lossy(&compiler.stderr);
        return Err(RigError::new(format!("the watch could not be compiled: {words}")));
    }
    Ok(("LD_PRELOAD", library.to_string_lossy().into_owned()))
}

/// Calls `of` under watch, if this process has one.
///
/// # Panics
/// If the kernel has no switch for system calls of a thread.
pub fn call<T>(of: impl FnOnce() -> T) -> T {
    let Some(watch) = watch() else { return of() };
    // SAFETY: the functions of `watch.c`, on one thread.
    unsafe {
        assert_eq!((watch.begin)(), 0, "Linux 5.11 or later can watch the system calls of a thread");
        let done = of();
        (watch.end)();
        done
    }
}

/// What this thread has asked for under watch so far; `None` in a process without a watch.
pub fn counts() -> Option<Counts> {
    let mut counts = [0; 4];
    // SAFETY: the function of `watch.c`, with room for its four numbers.
    watch().map(|watch| unsafe { (watch.counts)(&raw mut counts) })?;
    let [allocations, locks, system_calls, last_system_call] = counts;
    Some(Counts { allocations, locks, system_calls, last_system_call })
}
