//! The running threads of this process.

#[cfg(windows)]
mod windows;

#[cfg(not(windows))]
use std::path::Path;
use std::time::{Duration, Instant};

/// The longest time that a thread without a join may take to end.
const PATIENCE: Duration = Duration::from_secs(5);
/// Linux's flag for a thread that has begun to end (`PF_EXITING` in `include/linux/sched.h`).
#[cfg(not(windows))]
const EXITING: u64 = 0x4;

/// Names of all running threads of this process, sorted; `None` if the system does not list them.
///
/// A joined thread may stay on the system's list for a moment: the join returns when the kernel clears the thread's id,
/// and the list is updated after that. Before either, the thread gets the flag of an ending thread and runs no more of
/// our code; such threads are left out.
pub fn names() -> Option<Vec<String>> {
    #[cfg(windows)]
    return windows::names();
    #[cfg(not(windows))]
    listed()
}

#[cfg(not(windows))]
fn listed() -> Option<Vec<String>> {
    let tasks = std::fs::read_dir("/proc/self/task").ok()?;
    let mut names: Vec<String> = tasks.flatten().filter_map(|task| running_name(&task.path())).collect();
    names.sort();
    Some(names)
}

/// The name of a thread, unless it has ended or is ending.
#[cfg(not(windows))]
fn running_name(task: &Path) -> Option<String> {
    // proc(5): "tid (name) state ppid pgrp session tty tpgid flags …"; a name may contain brackets.
    let stat = std::fs::read_to_string(task.join("stat")).ok()?;
    let (head, rest) = stat.rsplit_once(") ")?;
    let flags: u64 = rest.split(' ').nth(6).and_then(|f| f.parse().ok()).expect("flags are the ninth field");
    let (_, name) = head.split_once(" (")?;
    (flags & EXITING == 0).then(|| name.to_owned())
}

/// Waits until the running threads are those of `before`.
///
/// # Errors
/// If they still differ at the end of the wait: the running threads.
pub fn wait_for(before: &[String]) -> Result<(), Vec<String>> {
    let start = Instant::now();
    loop {
        let now = names().unwrap_or_default();
        if now == before {
            return Ok(());
        }
        if start.elapsed() > PATIENCE {
            return Err(now);
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}
