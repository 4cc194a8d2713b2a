//! The board's folder on Linux if none is named.
//!
//! All processes of a user must choose the same one, so nothing counts that changes meanwhile, such as free space. In
//! order of preference:
//! 1. In memory, because a write there cannot fail and wears out no disk. Of `$XDG_RUNTIME_DIR` (private to the user, and
//!    cleared after the session), `/dev/shm` and the temporary folder, the first that holds at least 512 MiB, otherwise
//!    the largest. A container may have 64 MiB in `/dev/shm` and nothing else in memory: that is enough for 32 stereo
//!    layers at 48 kHz.
//! 2. On a disk, in the first of the same folders whose file system writes in place.
//!
//! On any other file system a full disk could end the host ([`file_system`](super::file_system)): there the layer stays
//! alone.

use super::file_system::{Kind, Space};
use std::env;
use std::path::{Path, PathBuf};

/// Size of a file system in memory that is always enough: 12 stereo layers at 192 kHz take 74 MB.
const ROOMY: u64 = 512 << 20;

/// A folder that may be the board's, and its file system.
#[derive(Clone, Debug)]
struct Candidate {
    path: PathBuf,
    kind: Kind,
    /// Size of its file system in bytes.
    total: u64,
}

/// Finds the folder; it may not exist yet.
///
/// # Errors
/// A text that says why there is none.
pub(super) fn find() -> Result<PathBuf, String> {
    let own = format!("plumbline-{}", rustix::process::geteuid().as_raw());
    let runtime = env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from).filter(|path| path.is_absolute());
    let temporary = env::temp_dir();
    let parents = [
        runtime.map(|path| (path, "plumbline")),
        Some((PathBuf::from("/dev/shm"), own.as_str())),
        Some((temporary.clone(), own.as_str())),
    ];
    let candidates: Vec<Candidate> =
        parents.into_iter().flatten().filter_map(|(parent, name)| look(&parent, name)).collect();
    choose(&candidates).map(|chosen| chosen.path.clone()).ok_or_else(|| {
        format!(
            "{} is on a file system where a full disk could end the host (btrfs, ZFS, overlay and others), and no \
             folder in memory was found. Name a folder on tmpfs, ext4 or XFS in PLUMBLINE_BOARD_DIR",
            temporary.display()
        )
    })
}

/// Looks at the parent of a candidate; `None` if it is no folder.
fn look(parent: &Path, name: &str) -> Option<Candidate> {
    parent.is_dir().then(|| Candidate {
        path: parent.join(name),
        kind: Kind::at(parent),
        total: Space::at(parent).total,
    })
}

/// The preferred one of the candidates, which are in order.
fn choose(candidates: &[Candidate]) -> Option<&Candidate> {
    let memory = || candidates.iter().filter(|candidate| candidate.kind == Kind::Memory);
    memory()
        .find(|candidate| candidate.total >= ROOMY)
        // Of equal ones, `max_by_key` returns the last.
        .or_else(|| memory().rev().max_by_key(|candidate| candidate.total))
        .or_else(|| candidates.iter().find(|candidate| candidate.kind == Kind::InPlace))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MIB: u64 = 1 << 20;

    /// Index of the chosen one among candidates with these kinds, and sizes in MiB.
    fn chosen(candidates: &[(Kind, u64)]) -> Option<usize> {
        let made: Vec<Candidate> = candidates
            .iter()
            .enumerate()
            .map(|(k, (kind, mib))| Candidate {
                path: k.to_string().into(),
                kind: *kind,
                total: mib.saturating_mul(MIB),
            })
            .collect();
        let path = choose(&made)?.path.to_string_lossy().into_owned();
        Some(path.parse().unwrap())
    }

    #[test]
    fn memory_comes_first_then_the_order_then_the_size() {
        use Kind::{InPlace, Memory, Unsure};
        type Case<'a> = (&'a str, &'a [(Kind, u64)], Option<usize>);
        let cases: [Case<'_>; 10] = [
            ("a desktop", &[(Memory, 1_600), (Memory, 8_000), (InPlace, 900_000)], Some(0)),
            ("a desktop with 4 GB", &[(Memory, 400), (Memory, 2_000), (Memory, 2_000)], Some(1)),
            ("small ones only", &[(Memory, 100), (Memory, 64), (InPlace, 900_000)], Some(0)),
            ("a tie", &[(Memory, 64), (Memory, 64)], Some(0)),
            ("a container", &[(Memory, 64), (Unsure, 900_000)], Some(0)),
            ("a container with its runtime folder on overlay", &[(Unsure, 9_000), (Memory, 64)], Some(1)),
            ("no memory", &[(Unsure, 9_000), (InPlace, 64), (InPlace, 9_000)], Some(1)),
            ("without a limit", &[(Memory, 64), (Memory, u64::MAX)], Some(1)),
            ("btrfs only", &[(Unsure, 900_000)], None),
            ("nothing", &[], None),
        ];
        for (name, candidates, index) in cases {
            assert_eq!(chosen(candidates), index, "{name}");
        }
    }
}
