//! Threads of this process.

use std::time::{Duration, Instant};

/// How long a thread that was joined may still be listed by the system.
const PATIENCE: Duration = Duration::from_secs(5);

/// Names of all threads of this process, sorted; `None` where the system does not tell.
pub fn names() -> Option<Vec<String>> {
    let tasks = std::fs::read_dir("/proc/self/task").ok()?;
    let mut names: Vec<String> = tasks
        .flatten()
        .filter_map(|task| std::fs::read_to_string(task.path().join("comm")).ok())
        .map(|name| name.trim_end().to_owned())
        .collect();
    names.sort();
    Some(names)
}

/// Waits until the threads are those of `before`; the last list otherwise.
///
/// # Errors
/// The threads that are there instead.
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
