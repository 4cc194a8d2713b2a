//! The file system of the board's folder: whether a write in memory can fail there, and how much is free.
//!
//! A failed write in memory ends the process (SIGBUS). On a file system that copies on write, every write needs new
//! blocks, also one over zeros that were written before, so it fails when the disk is full.

use rustix::fs::{statfs, statvfs};
use std::path::Path;

/// The least and the most that must stay free for other programs, in bytes. The share between them is an eighth: much of
/// a small file system in memory, but not tens of gigabytes of a disk.
const HEADROOM: [u64; 2] = [16 << 20, 256 << 20];

/// How a file system writes to a file that is mapped into memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// The file is in memory, and stays where it is.
    Memory,
    /// The file is on a disk, and is written in place.
    InPlace,
    /// It may copy on write, or is not known.
    Unsure,
}

impl Kind {
    /// The kind by `f_type`. Source of the numbers: statfs(2), Linux man-pages.
    pub(super) fn of(magic: u64) -> Self {
        const TMPFS: u64 = 0x0102_1994;
        const RAMFS: u64 = 0x8584_58F6;
        /// Shared by ext2, ext3 and ext4.
        const EXT: u64 = 0xEF53;
        /// Copies on write only where a file shares its blocks with a copy; board files are never copied.
        const XFS: u64 = 0x5846_5342;
        match magic {
            TMPFS | RAMFS => Self::Memory,
            EXT | XFS => Self::InPlace,
            _ => Self::Unsure,
        }
    }

    /// The kind of the file system at a path; unsure if the system does not say.
    pub(super) fn at(path: &Path) -> Self {
        statfs(path).map_or(Self::Unsure, |found| Self::of(u64::try_from(found.f_type).unwrap_or(0)))
    }
}

/// Size of a file system, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Space {
    /// `u64::MAX` if it has no limit.
    pub(super) total: u64,
    /// What this user may still write.
    pub(super) free: u64,
}

impl Space {
    /// The space at a path; without limit if the system does not say.
    pub(super) fn at(path: &Path) -> Self {
        // Memory without a limit states a size of 0: `simple_statfs` in the Linux kernel, for tmpfs and ramfs.
        match statvfs(path) {
            Ok(found) if found.f_blocks > 0 => Self {
                total: found.f_blocks.saturating_mul(found.f_frsize),
                free: found.f_bavail.saturating_mul(found.f_frsize),
            },
            _ => Self { total: u64::MAX, free: u64::MAX },
        }
    }

    /// What must stay free, in bytes.
    pub(super) fn headroom(self) -> u64 {
        let [least, most] = HEADROOM;
        (self.total / 8).clamp(least, most)
    }

    /// Whether a new file leaves the headroom.
    pub(super) fn has_room(self, bytes: u64) -> bool {
        self.free >= bytes.saturating_add(self.headroom())
    }
}

/// Checks that a new file leaves room for other programs.
///
/// # Errors
/// A text that says what is missing, and where.
pub(super) fn require_room(folder: &Path, bytes: u64) -> Result<(), String> {
    let space = Space::at(folder);
    if space.has_room(bytes) {
        return Ok(());
    }
    let megabytes = |bytes: u64| {
        let tenths = bytes.saturating_add(50_000) / 100_000;
        format!("{}.{} MB", tenths / 10, tenths % 10)
    };
    Err(format!(
        "{} has {} free, but a file of {} must leave {} for other programs. Free some space there",
        folder.display(),
        megabytes(space.free),
        megabytes(bytes),
        megabytes(space.headroom())
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MIB: u64 = 1 << 20;

    /// The numbers are those of statfs(2), Linux man-pages.
    #[test]
    fn only_memory_and_file_systems_that_write_in_place_are_taken_as_such() {
        let kinds = [
            ("tmpfs", 0x0102_1994, Kind::Memory),
            ("ramfs", 0x8584_58f6, Kind::Memory),
            ("ext4", 0xef53, Kind::InPlace),
            ("XFS", 0x5846_5342, Kind::InPlace),
            ("btrfs", 0x9123_683e, Kind::Unsure),
            ("F2FS", 0xf2f5_2010, Kind::Unsure),
            ("NFS", 0x6969, Kind::Unsure),
            ("overlay", 0x794c_7630, Kind::Unsure),
            ("none", 0, Kind::Unsure),
        ];
        for (name, magic, kind) in kinds {
            assert_eq!(Kind::of(magic), kind, "{name}");
        }
    }

    #[test]
    fn a_file_leaves_an_eighth_within_16_and_256_mib() {
        let cases = [
            // Total and free in MiB, and the largest file that may be made.
            (24, 24, Some(8)),
            (64, 64, Some(48)),
            (64, 16, Some(0)),
            (64, 15, None),
            (400, 400, Some(350)),
            (400, 50, Some(0)),
            (400, 49, None),
            (12 << 10, 300, Some(44)),
            (4 << 20, 257, Some(1)),
            (4 << 20, 255, None),
        ];
        for (total, free, most) in cases {
            let space = Space { total: total * MIB, free: free * MIB };
            let most = most.map(|most: u64| most * MIB);
            assert_eq!(space.has_room(most.unwrap_or(0)), most.is_some(), "{total} and {free} MiB");
            assert!(!space.has_room(most.map_or(0, |most| most + 1)), "{total} and {free} MiB");
        }
        let endless = Space { total: u64::MAX, free: u64::MAX };
        assert!(endless.has_room(MIB));
    }

    #[test]
    fn what_a_folder_lacks_is_stated_in_megabytes() {
        let folder = std::env::temp_dir();
        assert_eq!(require_room(&folder, 1), Ok(()), "the tests need some space themselves");
        let refused = require_room(&folder, 1 << 60).unwrap_err();
        assert!(refused.contains("a file of 1152921504606.8 MB must leave "), "{refused}");
    }
}
