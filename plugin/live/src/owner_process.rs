//! The process that owns something: a forked child has copies of its memory, but neither its threads nor a right to
//! its files.

/// The process in which this was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct OwnerProcess(u32);

impl OwnerProcess {
    /// This process.
    pub(crate) fn current() -> Self {
        Self(std::process::id())
    }

    /// Whether this process is the owner. In a child that its owner forked it is not.
    pub(crate) fn is_current(self) -> bool {
        self == Self::current()
    }
}

#[cfg(all(test, unix))]
pub(crate) mod tests {
    use super::*;
    use crate::Layer;
    use crate::board::{BoardReader, Born, Folder, Publisher};
    use plumbline_measure::SampleRate;
    use std::time::{Duration, Instant};

    /// Runs `work` in a forked child, and returns whether it ended well within ten seconds.
    #[expect(unsafe_code, reason = "a fork has no safe form")]
    pub(crate) fn ends_well_in_a_child(work: impl FnOnce() -> bool) -> bool {
        // SAFETY: the child allocates and locks, which is sound but may hang: the parent ends it then.
        let child = unsafe { libc::fork() };
        if child == 0 {
            let good = crate::guarded(work) == Ok(true);
            // SAFETY: ends the child without running what belongs to the parent.
            unsafe { libc::_exit(i32::from(!good)) };
        }
        assert!(child > 0, "no child");
        let start = Instant::now();
        loop {
            let mut status = 1;
            // SAFETY: waits for our own child, and writes into a number of ours.
            if unsafe { libc::waitpid(child, &raw mut status, libc::WNOHANG) } == child {
                return status == 0;
            }
            if start.elapsed() > Duration::from_secs(10) {
                // SAFETY: our own child, not waited for yet, so the number is still its own.
                unsafe { libc::kill(child, libc::SIGKILL) };
                // SAFETY: as above.
                unsafe { libc::waitpid(child, &raw mut status, 0) };
                return false;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    #[test]
    fn a_child_owns_nothing_of_its_parent() {
        let here = OwnerProcess::current();
        assert!(here.is_current());
        assert!(ends_well_in_a_child(|| !here.is_current()));
        assert!(!ends_well_in_a_child(|| here.is_current()), "a child that fails is noticed");
    }

    #[test]
    fn a_child_that_drops_a_layer_ends_and_the_parents_goes_on() {
        let mut layer = Some(Layer::join());
        assert!(ends_well_in_a_child(|| layer.take().map(drop).is_some()));
        let layer = layer.unwrap();
        assert_eq!(layer.trouble(), None);
        let start = Instant::now();
        layer.change(|settings| settings.session = 'H');
        while !layer.is_settled() {
            assert!(start.elapsed() < Duration::from_secs(20), "the worker goes on");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    #[test]
    fn a_file_stays_when_a_child_drops_it_and_goes_with_its_parent() {
        let path = std::env::temp_dir().join(format!("plumbline-fork-{}", std::process::id()));
        let folder = Folder::at(path.clone()).unwrap();
        let mut publisher = Some(Publisher::new(Ok(folder.clone()), Born::now()));
        let rate = SampleRate::new(22_050).unwrap();
        publisher.as_mut().unwrap().open(rate, 1, Duration::ZERO);
        let mut board = BoardReader::new(Ok(folder));
        let files = || std::fs::read_dir(&path).unwrap().count();
        board.round(Duration::ZERO, true);
        assert_eq!((board.session('A').count(), files()), (1, 1));
        assert!(ends_well_in_a_child(|| publisher.take().map(drop).is_some()));
        board.round(Duration::from_secs(1), true);
        assert_eq!((board.session('A').count(), files()), (1, 1), "the parent's file");
        drop(publisher.take());
        board.round(Duration::from_secs(2), true);
        assert_eq!((board.session('A').count(), files()), (0, 0));
        std::fs::remove_dir_all(&path).unwrap();
    }
}
