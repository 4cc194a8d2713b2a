//! The worker's priority.
//!
//! Measuring must never take processor time from the audio thread. A host may insert a plug-in from a real-time thread,
//! and on Linux new threads inherit that priority. A queue holds seconds of audio, so the worker can wait; a user
//! watches its readings, so it must not wait long.

/// Gives the calling thread ordinary priority. If the system refuses, the priority stays as it was; no reading depends
/// on it.
#[cfg(target_os = "linux")]
#[expect(unsafe_code, reason = "the scheduling of a thread has no safe form in a library that is here")]
pub(crate) fn settle() {
    // SAFETY: all zeros is a valid value of this C structure of numbers.
    let none: libc::sched_param = unsafe { std::mem::zeroed() };
    // SAFETY: 0 means the calling thread, and the parameter outlives the call.
    unsafe { libc::sched_setscheduler(0, libc::SCHED_OTHER, &raw const none) };
}

/// Gives the calling thread the quality-of-service class of work that a user waits for, below drawing and audio.
#[cfg(target_os = "macos")]
#[expect(unsafe_code, reason = "the scheduling of a thread has no safe form in a library that is here")]
pub(crate) fn settle() {
    // SAFETY: takes numbers only, and acts on the calling thread.
    unsafe { libc::pthread_set_qos_class_self_np(libc::qos_class_t::QOS_CLASS_USER_INITIATED, 0) };
}

/// Puts the calling thread below the host's ordinary ones. Windows runs threads of higher priority first, and boosts
/// one that has waited a long time.
#[cfg(windows)]
#[expect(unsafe_code, reason = "the priority of a thread has no safe form in a library that is here")]
pub(crate) fn settle() {
    use windows_sys::Win32::System::Threading::{
        GetCurrentThread, SetThreadPriority, THREAD_PRIORITY_BELOW_NORMAL,
    };
    // SAFETY: the pseudo-handle means the calling thread, and needs no closing.
    unsafe { SetThreadPriority(GetCurrentThread(), THREAD_PRIORITY_BELOW_NORMAL) };
}

/// Does nothing: other systems start threads at ordinary priority.
#[cfg(not(any(target_os = "linux", target_os = "macos", windows)))]
pub(crate) fn settle() {}

#[cfg(test)]
mod tests {
    /// The scheduling policy of the calling thread.
    #[cfg(target_os = "linux")]
    #[expect(unsafe_code, reason = "as above")]
    fn policy() -> i32 {
        // SAFETY: 0 means the calling thread.
        unsafe { libc::sched_getscheduler(0) }
    }

    #[test]
    #[cfg(target_os = "linux")]
    #[expect(unsafe_code, reason = "as above")]
    fn a_thread_does_not_stay_as_it_was_started() {
        std::thread::spawn(|| {
            // Any user may set the batch policy, and new threads inherit it; a real-time policy would need rights.
            // SAFETY: as in `settle`.
            let none: libc::sched_param = unsafe { std::mem::zeroed() };
            // SAFETY: as in `settle`.
            assert_eq!(unsafe { libc::sched_setscheduler(0, libc::SCHED_BATCH, &raw const none) }, 0);
            let (before, after) = std::thread::spawn(|| {
                let before = policy();
                super::settle();
                (before, policy())
            })
            .join()
            .unwrap();
            assert_eq!((before, after), (libc::SCHED_BATCH, libc::SCHED_OTHER));
        })
        .join()
        .unwrap();
    }

    #[test]
    #[cfg(windows)]
    #[expect(unsafe_code, reason = "as above")]
    fn a_thread_stands_behind_the_hosts_own() {
        use windows_sys::Win32::System::Threading::{
            GetCurrentThread, GetThreadPriority, THREAD_PRIORITY_BELOW_NORMAL, THREAD_PRIORITY_NORMAL,
        };
        std::thread::spawn(|| {
            // SAFETY: the pseudo-handle means the calling thread, and needs no closing.
            let priority = || unsafe { GetThreadPriority(GetCurrentThread()) };
            assert_eq!(priority(), THREAD_PRIORITY_NORMAL);
            super::settle();
            assert_eq!(priority(), THREAD_PRIORITY_BELOW_NORMAL);
        })
        .join()
        .unwrap();
    }
}
