//! The board with several layers in one process, each with its file, and a clock set by the tests.

mod files;
mod hostile;
mod layer_numbers;
mod layers;
mod own_files;
mod readers;
#[cfg(target_os = "linux")]
mod space;

use super::folder::Folder;
use super::identity::Head;
use super::writer::BoardWriter;
use plumbline_measure::SampleRate;
use plumbline_programme::{Identity, LayerId, Role};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;

/// The folder of one test, removed when the test ends.
struct Scratch(PathBuf);

impl Scratch {
    fn new() -> Self {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let name = format!("plumbline-live-{}-{}", std::process::id(), MADE.fetch_add(1, Ordering::Relaxed));
        Self(std::env::temp_dir().join(name))
    }

    fn folder(&self) -> Folder {
        Folder::at(self.0.clone()).unwrap()
    }

    fn files(&self) -> usize {
        std::fs::read_dir(&self.0).unwrap().count()
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A head for the smallest possible file.
fn head(id: u64) -> Head {
    Head {
        id: LayerId(id),
        joined: id,
        generation: 1,
        rate: SampleRate::new(22_050).unwrap(),
        channels: 1,
        letter: 'A',
        number: 0,
        identity: Identity { name: format!("stone {id}"), role: Role::Foley, colour: Some([1, 2, 3]) },
    }
}

/// A layer whose file is read as if it were another process's.
fn own(folder: &Folder, head: Head) -> BoardWriter {
    let mut layer = offered(folder, head);
    layer.estrange();
    layer
}

/// A layer of this process.
fn offered(folder: &Folder, head: Head) -> BoardWriter {
    BoardWriter::make(folder, head, 0, None).unwrap()
}

/// Ends a test's thread even if the test fails, which would hang otherwise.
struct Stop<'a>(&'a AtomicBool);

impl Drop for Stop<'_> {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

fn ms(n: u64) -> Duration {
    Duration::from_millis(n)
}
