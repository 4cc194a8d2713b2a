//! A board file in memory. Apart from [`priority`](crate::priority), the only place of the crate that holds unsafe code.

use super::layout::{SHEET_BYTES, Sheet};
use atomic_float::AtomicF32;
use memmap2::{MmapOptions, MmapRaw};
use std::fs::File;
use std::io::{self, Seek, SeekFrom};

#[cfg(not(target_pointer_width = "64"))]
compile_error!(
    "the board reads 64-bit atomics from memory mapped read-only, which 32-bit targets do not allow"
);

/// A mapped board file.
///
/// # Lengths
/// Touching a page that lies beyond the end of its file ends the process on Unix (SIGBUS). So the length is taken
/// from the open handle before mapping, and [`is_whole`](Self::is_whole) must be asked before each burst of access.
/// What is left is the time between that question and the access, some microseconds a round, in which somebody of the
/// same user would have to cut the file.
#[derive(Debug)]
pub(super) struct Mapping {
    raw: MmapRaw,
    file: File,
    bytes: usize,
}

impl Mapping {
    /// Maps a file as long as it is now.
    ///
    /// # Errors
    /// A file shorter than a sheet, or longer than memory; what the system says.
    pub(super) fn new(file: File, writable: bool) -> io::Result<Self> {
        let bytes = usize::try_from(file.metadata()?.len()).unwrap_or(usize::MAX);
        if bytes < SHEET_BYTES || bytes > isize::MAX as usize {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "no board file has this length"));
        }
        let mut options = MmapOptions::new();
        options.len(bytes);
        let raw = if writable { options.map_raw(&file)? } else { options.map_raw_read_only(&file)? };
        Ok(Self { raw, file, bytes })
    }

    /// The handle that the mapping was made from.
    pub(super) fn file(&self) -> &File {
        &self.file
    }

    /// Length of the file in bytes when it was mapped.
    pub(super) fn bytes(&self) -> u64 {
        self.bytes as u64
    }

    /// Whether the file is still as long as it was.
    pub(super) fn is_whole(&self) -> bool {
        // The shortest question that a system has: nobody minds where the handle then publishers.
        (&self.file).seek(SeekFrom::End(0)).is_ok_and(|len| len == self.bytes())
    }

    /// The fixed part.
    pub(super) fn sheet(&self) -> &Sheet {
        #[expect(unsafe_code, reason = "viewing mapped memory as atomics has no safe form")]
        // SAFETY: the mapping starts on a page and so is aligned; it holds at least SHEET_BYTES (checked when it was
        // made) and lives as long as the reference. Sheet is made of atomics only, so every bit pattern is a value
        // and other processes may write meanwhile. Nobody makes an exclusive or a plain reference to this memory.
        // On a read-only mapping nothing but relaxed loads of at most 64 bits is done (`peer`, `seqlock`, `ring`).
        unsafe {
            &*self.raw.as_ptr().cast::<Sheet>()
        }
    }

    /// All samples of the audio ring, whole ones only.
    pub(super) fn audio(&self) -> &[AtomicF32] {
        let samples = (self.bytes - SHEET_BYTES) / size_of::<AtomicF32>();
        #[expect(unsafe_code, reason = "viewing mapped memory as atomics has no safe form")]
        // SAFETY: as above; SHEET_BYTES is a multiple of the alignment of AtomicF32, and that many samples lie
        // between there and the end of the mapping.
        unsafe {
            std::slice::from_raw_parts(self.raw.as_ptr().add(SHEET_BYTES).cast::<AtomicF32>(), samples)
        }
    }
}
