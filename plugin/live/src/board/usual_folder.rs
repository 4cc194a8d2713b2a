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
//! A folder that belongs to another user, or that cannot be made, is passed over. On any other file system a full disk
//! could end the host ([`file_system`](super::file_system)): there the layer stays alone.

use super::file_system::{Kind, Space};
use super::rights;
use rustix::fs::{Access, access};
use std::path::{Path, PathBuf};
use std::{env, fs};

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
    let candidates = [
        runtime.map(|parent| look_in_runtime(&parent)),
        Some(look(Path::new("/dev/shm"), &own)),
        Some(look(&env::temp_dir(), &own)),
    ];
    of_these(candidates.into_iter().flatten())
}

/// The preferred one of what was found, or the reasons why there is none.
fn of_these(found: impl Iterator<Item = Result<Candidate, String>>) -> Result<PathBuf, String> {
    let (mut candidates, mut reasons) = (Vec::new(), Vec::new());
    for look in found {
        match look {
            Ok(candidate) => candidates.push(candidate),
            Err(reason) => reasons.push(reason),
        }
    }
    if let Some(chosen) = choose(&candidates) {
        return Ok(chosen.path.clone());
    }
    reasons.extend(candidates.iter().map(|candidate| {
        format!(
            "{} would be on a file system where a full disk could end the host (btrfs, ZFS, overlay or an unknown one)",
            candidate.path.display()
        )
    }));
    Err(format!("no usable folder: {}. Name one in PLUMBLINE_BOARD_DIR", reasons.join("; ")))
}

/// Looks at the runtime folder. It must be the user's own, by the XDG Base Directory Specification; it is another's where
/// a program was started as another user with this one's environment.
fn look_in_runtime(parent: &Path) -> Result<Candidate, String> {
    match fs::metadata(parent).ok().as_ref().and_then(rights::stranger) {
        Some(owner) => Err(format!("{} belongs to user {owner}", parent.display())),
        None => look(parent, "plumbline"),
    }
}

/// Looks at a folder in `parent`. It cannot be used if it is another's, or if it is missing and may not be made. Every
/// process of the user finds the same.
fn look(parent: &Path, name: &str) -> Result<Candidate, String> {
    let path = parent.join(name);
    match fs::symlink_metadata(&path) {
        Ok(found) => {
            if let Some(owner) = rights::stranger(&found) {
                return Err(format!("{} belongs to user {owner}", path.display()));
            }
            if !found.is_dir() {
                return Err(format!("{} is not a folder", path.display()));
            }
        }
        Err(_) => access(parent, Access::WRITE_OK | Access::EXEC_OK)
            .map_err(|error| format!("{} cannot be written to ({error})", parent.display()))?,
    }
    Ok(Candidate { path, kind: Kind::at(parent), total: Space::at(parent).total })
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

    #[test]
    fn without_a_usable_folder_each_reason_is_stated() {
        let file = std::env::temp_dir().join(format!("plumbline-usual-{}", std::process::id()));
        fs::write(&file, "").unwrap();
        let (parent, name) = (file.parent().unwrap(), file.file_name().unwrap().to_str().unwrap());
        let unsure = Candidate { path: "/bell".into(), kind: Kind::Unsure, total: 9 };
        let looks = [look(Path::new("/no such tower"), "board"), look(parent, name), Ok(unsure)];
        let words = of_these(looks.into_iter()).unwrap_err();
        fs::remove_file(&file).unwrap();
        for part in [
            "/no such tower cannot be written to (No such file or directory",
            &format!("; {} is not a folder; ", file.display()),
            "/bell would be on a file system where a full disk could end the host",
        ] {
            assert!(words.contains(part), "{words}");
        }
    }

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
