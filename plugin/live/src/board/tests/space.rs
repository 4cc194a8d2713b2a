//! Folders on small file systems, mounted in a namespace of their own. Skipped where the system refuses namespaces.

use super::super::file_system::Space;
use super::super::folder::Folder;
use super::super::publisher::{Born, Publisher};
use super::super::usual_folder;
use super::{Scratch, ms};
use plumbline_measure::{Position, SampleRate};
use plumbline_programme::LayerId;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Environment variable that tells a test of this program that it runs in a namespace: the folder of its mounts.
const INSIDE: &str = "PLUMBLINE_TEST_MOUNTS";
const MIB: u64 = 1 << 20;

/// Runs a test of this program again in a namespace of mounts, after a line for the shell that mounts. `$D` in it is an
/// empty folder. The superuser needs no namespace of users, in which files cannot be given to others.
fn run_inside(name: &str, mounts: &str) {
    let scratch = Scratch::new();
    std::fs::create_dir(&scratch.0).unwrap();
    let inside = |flags: &str, then: &str| {
        let mut command = Command::new("unshare");
        command.args([flags, "sh", "-c", &format!("{{ {mounts}; }} && {then}")]);
        command.env("D", &scratch.0).env(INSIDE, &scratch.0).env("TEST", std::env::current_exe().unwrap());
        command.stdout(Stdio::null());
        command
    };
    let works =
        |flags: &&str| inside(flags, "true").stderr(Stdio::null()).status().is_ok_and(|s| s.success());
    let Some(flags) = ["-m", "-Urm"].into_iter().find(works) else {
        // Past the harness, which keeps the words of a test that passes.
        let _ = writeln!(std::io::stdout(), "not run: {name}, because these mounts are refused here");
        return;
    };
    let then = format!("exec \"$TEST\" board::tests::space::{name} --exact --test-threads=1");
    assert!(inside(flags, &then).status().unwrap().success(), "{name} failed");
}

fn mounts() -> Option<PathBuf> {
    std::env::var_os(INSIDE).map(PathBuf::from)
}

/// A layer at 192 kHz in stereo: a file of 6.2 MB.
fn layer(folder: &Folder, id: u64) -> Publisher {
    let mut publisher = Publisher::new(Ok(folder.clone()), Born { id: LayerId(id), at: id });
    publisher.open(SampleRate::new(192_000).unwrap(), 2, ms(0));
    publisher
}

/// In the namespace only.
#[test]
fn crowd() {
    let Some(path) = mounts() else { return };
    let folder = Folder::at(path.join("board")).unwrap();
    let mut layers: Vec<Publisher> = (1..=9).map(|id| layer(&folder, id)).collect();
    let alone: Vec<bool> = layers.iter().map(|layer| layer.alone().is_some()).collect();
    // 48 MiB hold eight files.
    assert_eq!(alone, [false, false, false, false, false, false, false, false, true]);
    assert!(Space::at(&path).free >= 16 * MIB, "{:?}", Space::at(&path));
    let words = layers[8].alone().unwrap();
    assert!(words.contains("but a file of 6.2 MB must leave 16.8 MB for other programs"), "{words}");
    layers.remove(0);
    layers[7].round((true, false, 0), Position::default(), ms(4_900));
    assert!(layers[7].alone().is_some(), "not tried again yet");
    layers[7].round((true, false, 0), Position::default(), ms(5_000));
    assert_eq!(layers[7].alone(), None);
}

#[test]
fn layers_leave_room_for_other_programs_and_take_what_becomes_free() {
    run_inside("crowd", "mount -t tmpfs -o size=64m none \"$D\"");
}

/// In the namespace only.
#[test]
fn chooser() {
    let Some(path) = mounts() else { return };
    let expected = std::fs::read_to_string(path.join("expected")).unwrap();
    let found = usual_folder::find().map(|path| path.to_string_lossy().into_owned());
    assert_eq!(found.unwrap_or_else(|words| words), expected.trim());
}

#[test]
fn the_usual_folder_is_the_first_large_one_in_memory() {
    let tmpfs = |mib: u32, at: &str| format!("mount -t tmpfs -o size={mib}m,mode=1777 none {at}");
    let runtime = |mib: u32| {
        format!("mkdir -p \"$D/r\" && export XDG_RUNTIME_DIR=\"$D/r\" && {}", tmpfs(mib, "\"$D/r\""))
    };
    let expect = |path: &str| format!("echo \"{path}\" > \"$D/expected\"");
    // The temporary folder is small and in memory, so that it is never the choice.
    let small = tmpfs(16, "\"$D/t\"");
    let temporary = format!("mkdir -p \"$D/t\" && export TMPDIR=\"$D/t\" && {small}");
    let cases = [
        [&runtime(600), "true", &tmpfs(700, "/dev/shm"), &expect("$D/r/plumbline")],
        [&runtime(100), "true", &tmpfs(700, "/dev/shm"), &expect("/dev/shm/plumbline-0")],
        [&runtime(100), "true", &tmpfs(64, "/dev/shm"), &expect("$D/r/plumbline")],
        ["unset XDG_RUNTIME_DIR", "true", &tmpfs(64, "/dev/shm"), &expect("/dev/shm/plumbline-0")],
        // Of another user: the folder itself, or the one that it would be in.
        [
            &runtime(600),
            "mkdir -p \"$D/r/plumbline\" && chown 12345 \"$D/r/plumbline\"",
            &tmpfs(64, "/dev/shm"),
            &expect("/dev/shm/plumbline-0"),
        ],
        [&runtime(600), "chown 12345 \"$D/r\"", &tmpfs(64, "/dev/shm"), &expect("/dev/shm/plumbline-0")],
    ];
    for case in cases {
        run_inside("chooser", &format!("{temporary} && {}", case.join(" && ")));
    }
}
