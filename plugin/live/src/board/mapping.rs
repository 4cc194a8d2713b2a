//! A board file in memory: with [`priority`](crate::priority), the only unsafe code of the crate.

use super::layout::{SHEET_BYTES, Sheet};
use crate::sync::AtomicF32;
use memmap2::{MmapOptions, MmapRaw};
use std::fs::File;
use std::io::{self, Seek, SeekFrom};

#[cfg(not(target_pointer_width = "64"))]
compile_error!(
    "the board reads 64-bit atomics from memory mapped read-only, which 32-bit targets do not allow"
);

/// A mapped board file.
///
/// # Length
/// On Unix, touching a page beyond the end of the file ends the process (SIGBUS). So the length is taken from the open
/// handle before mapping, and [`is_whole`](Self::is_whole) must be called before each burst of access. One risk
/// remains: the same user truncates the file between that check and the access, some microseconds a round.
#[derive(Debug)]
pub(super) struct Mapping {
    raw: MmapRaw,
    file: File,
    bytes: usize,
}

impl Mapping {
    /// Maps a file at its present length.
    ///
    /// # Errors
    /// If the file is shorter than a sheet or longer than memory, or the system reports an error.
    pub(super) fn new(file: File, writable: bool) -> io::Result<Self> {
        let bytes = usize::try_from(file.metadata()?.len()).unwrap_or(usize::MAX);
        if bytes < SHEET_BYTES || bytes > isize::MAX as usize {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "not the length of a board file"));
        }
        let mut options = MmapOptions::new();
        options.len(bytes);
        let raw = if writable { options.map_raw(&file)? } else { options.map_raw_read_only(&file)? };
        Ok(Self { raw, file, bytes })
    }

    /// The handle of the mapped file.
    pub(super) fn file(&self) -> &File {
        &self.file
    }

    /// Length of the file in bytes when it was mapped.
    pub(super) fn bytes(&self) -> u64 {
        self.bytes as u64
    }

    /// Whether the file still has its length.
    pub(super) fn is_whole(&self) -> bool {
        // The cheapest system call for this; the handle's position is not used.
        (&self.file).seek(SeekFrom::End(0)).is_ok_and(|len| len == self.bytes())
    }

    /// The fixed part.
    pub(super) fn sheet(&self) -> &Sheet {
        #[expect(unsafe_code, reason = "viewing mapped memory as atomics has no safe form")]
        // SAFETY: the mapping starts on a page and so is aligned; it holds at least SHEET_BYTES (checked when it was
        // made) and lives as long as the reference. Sheet consists of atomics only, so every bit pattern is a valid
        // value and other processes may write meanwhile. No exclusive or plain reference to this memory is ever made.
        // A read-only mapping sees only relaxed loads of at most 64 bits (`peer`, `seqlock`, `ring`).
        unsafe {
            &*self.raw.as_ptr().cast::<Sheet>()
        }
    }

    /// All whole samples of the audio ring.
    pub(super) fn audio(&self) -> &[AtomicF32] {
        let samples = (self.bytes - SHEET_BYTES) / size_of::<AtomicF32>();
        #[expect(unsafe_code, reason = "viewing mapped memory as atomics has no safe form")]
        // SAFETY: as above; SHEET_BYTES is a multiple of the alignment of AtomicF32, and that many samples fit between
        // there and the end of the mapping.
        unsafe {
            std::slice::from_raw_parts(self.raw.as_ptr().add(SHEET_BYTES).cast::<AtomicF32>(), samples)
        }
    }
}
