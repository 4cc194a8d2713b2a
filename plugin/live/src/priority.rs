//! How urgent the worker is to the system.
//!
//! Measuring must never take a processor from the audio thread, and a host may insert a plug-in from a thread that is as
//! urgent as that: on Linux the threads that such a thread starts are as urgent themselves. A queue holds seconds, so the
//! worker can wait; its readings are looked at, so it must not wait for long.

/// Makes the calling thread an ordinary one, whatever the thread was that started it. A system that refuses leaves it as it
/// was: nothing that is measured depends on it.
#[cfg(target_os = "linux")]
#[expect(unsafe_code, reason = "the scheduling of a thread has no safe form in a library that is here")]
pub(crate) fn settle() {
    // SAFETY: all zeros is a value of this C structure of numbers.
    let none: libc::sched_param = unsafe { std::mem::zeroed() };
    // SAFETY: 0 means the calling thread, and the parameter is a variable that outlives the call.
    unsafe { libc::sched_setscheduler(0, libc::SCHED_OTHER, &raw const none) };
}

/// Makes the calling thread one whose results a user waits for, behind what is drawn and behind audio.
#[cfg(target_os = "macos")]
#[expect(unsafe_code, reason = "the scheduling of a thread has no safe form in a library that is here")]
pub(crate) fn settle() {
    // SAFETY: takes numbers alone, and concerns the calling thread.
    unsafe { libc::pthread_set_qos_class_self_np(libc::qos_class_t::QOS_CLASS_USER_INITIATED, 0) };
}

/// Puts the calling thread behind the host's own ordinary ones: on Windows a thread gives way at once to any that is more
/// urgent, and is let in all the same when it has waited for long.
#[cfg(windows)]
#[expect(unsafe_code, reason = "the priority of a thread has no safe form in a library that is here")]
pub(crate) fn settle() {
    use windows_sys::Win32::System::Threading::{
        GetCurrentThread, SetThreadPriority, THREAD_PRIORITY_BELOW_NORMAL,
    };
    // SAFETY: the handle publishers for the calling thread, and needs no closing.
    unsafe { SetThreadPriority(GetCurrentThread(), THREAD_PRIORITY_BELOW_NORMAL) };
}

/// Other systems start a thread as an ordinary one.
#[cfg(not(any(target_os = "linux", target_os = "macos", windows)))]
pub(crate) fn settle() {}

#[cfg(test)]
mod tests {
    /// The scheduling policy and priority of the calling thread.
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
            // What every user may have, and what the threads of it inherit: a host's real-time thread would need rights.
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
            // SAFETY: the handle publishers for the calling thread, and needs no closing.
            let priority = || unsafe { GetThreadPriority(GetCurrentThread()) };
            assert_eq!(priority(), THREAD_PRIORITY_NORMAL);
            super::settle();
            assert_eq!(priority(), THREAD_PRIORITY_BELOW_NORMAL);
        })
        .join()
        .unwrap();
    }
}
