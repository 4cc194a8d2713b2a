//! Files of the board: making, locking, opening, and removing those of dead owners.

use super::folder::Folder;
use super::rights;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Ending of every board file; other files in the folder are left alone.
pub(super) const ENDING: &str = ".layer";
/// A file without magic that is younger than this may still be incomplete.
const YOUNG: Duration = Duration::from_secs(10);
/// How many times the maker tries to lock its new file, a millisecond apart: a sweep may hold the lock for a moment.
const LOCK_TRIES: u32 = 50;

/// A file's place on the board. Declare it after the mapping of the file, so that it is dropped later: Windows does not
/// remove a file that is still mapped
/// ([`FILE_DISPOSITION_INFORMATION_EX`](https://learn.microsoft.com/windows-hardware/drivers/ddi/ntddk/ns-ntddk-_file_disposition_information_ex),
/// under `STATUS_CANNOT_DELETE`).
#[derive(Debug)]
pub(super) struct Place {
    pub(super) path: PathBuf,
    /// Whether dropping this removes the file.
    pub(super) goes: bool,
}

impl Drop for Place {
    fn drop(&mut self) {
        if self.goes {
            // It may be gone already, or mapped by another process: then the last process to unmap it removes it.
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// Makes a file of `bytes` zeros that only this user may read, and locks it while it is open.
///
/// Other processes may open and remove the file meanwhile: on Windows the standard library's sharing modes allow that.
///
/// The zeros are really written: in a sparse file on a full disk, a store into the mapping would end the process.
pub(super) fn make(folder: &Folder, name: &str, bytes: u64) -> io::Result<File> {
    let path = folder.path().join(name);
    let mut options = OpenOptions::new();
    options.read(true).write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let file = options.open(&path)?;
    match lock(&file).and_then(|()| fill(&file, bytes)) {
        Ok(()) => Ok(file),
        Err(error) => {
            // The file holds nothing yet.
            let _ = fs::remove_file(&path);
            Err(error)
        }
    }
}

fn lock(file: &File) -> io::Result<()> {
    for _ in 0..LOCK_TRIES {
        match file.try_lock() {
            Ok(()) => return Ok(()),
            Err(fs::TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(1)),
            Err(fs::TryLockError::Error(error)) => return Err(error),
        }
    }
    Err(io::Error::new(io::ErrorKind::WouldBlock, "another process has locked the new file"))
}

fn fill(mut file: &File, bytes: u64) -> io::Result<()> {
    static BLOCK: [u8; 1 << 16] = [0; 1 << 16];
    let mut left = bytes;
    while left > 0 {
        let n = usize::try_from(left).unwrap_or(BLOCK.len()).min(BLOCK.len());
        file.write_all(&BLOCK[..n])?;
        left -= n as u64;
    }
    Ok(())
}

/// Opens a file for reading if it is a regular file of this user; follows no links and never blocks.
pub(super) fn open(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true);
    #[cfg(unix)]
    {
        use rustix::fs::OFlags;
        let flags = OFlags::NOFOLLOW | OFlags::NONBLOCK | OFlags::NOCTTY;
        let flags = i32::try_from(flags.bits()).unwrap_or(0);
        std::os::unix::fs::OpenOptionsExt::custom_flags(&mut options, flags);
    }
    #[cfg(windows)]
    {
        /// `FILE_FLAG_OPEN_REPARSE_POINT` of `CreateFileW`: opens a link itself, which is then not a regular file.
        const NO_LINKS: u32 = 0x0020_0000;
        std::os::windows::fs::OpenOptionsExt::custom_flags(&mut options, NO_LINKS);
    }
    let file = options.open(path)?;
    let found = file.metadata()?;
    if found.is_file() && rights::stranger(&found).is_none() {
        Ok(file)
    } else {
        Err(io::Error::new(io::ErrorKind::PermissionDenied, "not a regular file of this user"))
    }
}

/// Whether the owner of a file is alive; if not, removes the file. `ready`: the file has its magic. Windows does not
/// remove a file while it is mapped here: [`Place`] removes it later.
pub(super) fn lives(path: &Path, file: &File, ready: bool) -> bool {
    if !ready && !is_old(file) {
        return true;
    }
    match file.try_lock() {
        Ok(()) => {
            // Two sweeps may meet here; the second finds the file gone.
            let _ = fs::remove_file(path);
            let _ = file.unlock();
            false
        }
        // A file system without locks cannot tell: only layers that close normally are removed, and dead ones stay.
        Err(_) => true,
    }
}

fn is_old(file: &File) -> bool {
    let changed = file.metadata().and_then(|m| m.modified());
    let age = changed.ok().and_then(|at| SystemTime::now().duration_since(at).ok());
    age.is_some_and(|age| age >= YOUNG)
}
