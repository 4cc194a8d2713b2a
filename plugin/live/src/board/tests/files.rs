use super::super::file;
use super::super::folder::Folder;
use super::super::reader::BoardReader;
use super::{Scratch, head, ms, own};
use std::fs::{self, File};
use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime};

/// Environment variable that passes the folder to the process to be killed.
const VICTIM: &str = "PLUMBLINE_TEST_VICTIM";

/// Not a test: the process that the next test kills.
#[test]
fn victim() {
    let Some(path) = std::env::var_os(VICTIM) else { return };
    let folder = Folder::at(path.into()).unwrap();
    let _layers: Vec<_> = (1..4).map(|id| own(&folder, head(id))).collect();
    std::thread::sleep(Duration::from_secs(60));
}

#[test]
fn the_files_of_a_killed_process_are_swept_and_its_layers_are_gone() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder));
    let name = "board::tests::files::victim";
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([name, "--exact", "--test-threads=1"])
        .env(VICTIM, &scratch.0)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let mut now = ms(0);
    while board.session('A').count() < 3 {
        std::thread::sleep(ms(10));
        now += ms(100);
        assert!(now < Duration::from_secs(600), "the other process made no layers");
        board.round(now, true);
    }
    now += ms(1_000);
    board.round(now, true);
    assert_eq!((board.session('A').count(), scratch.files()), (3, 3), "alive");
    child.kill().unwrap();
    child.wait().unwrap();
    board.round(now + ms(500), true);
    assert_eq!((board.session('A').count(), scratch.files()), (0, 0));
}

#[test]
fn a_process_that_wants_to_know_nothing_sweeps_all_the_same() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let alive = own(&folder, head(1));
    // A dead layer's file: complete, and unlocked.
    let dead = own(&folder, head(2));
    let left = fs::read_dir(&scratch.0).unwrap().flatten().map(|e| e.path());
    let left = left.filter(|p| p.to_string_lossy().contains("0002-")).last().unwrap();
    dead.unlock();
    let bytes = fs::read(&left).unwrap();
    drop(dead);
    fs::write(&left, bytes).unwrap();
    let mut board = BoardReader::new(Ok(folder));
    assert!(!board.round(ms(0), false));
    assert_eq!((left.exists(), scratch.files()), (false, 1));
    drop(alive);
}

#[test]
fn a_file_without_magic_is_left_alone_while_young_and_swept_when_old() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut cases = 0;
    for bytes in [0, 100, 500_000] {
        let path = scratch.0.join("x.layer");
        fs::write(&path, vec![0; bytes]).unwrap();
        fs::write(scratch.0.join("note.txt"), "not ours").unwrap();
        let mut board = BoardReader::new(Ok(folder.clone()));
        board.round(ms(0), true);
        assert!(path.exists(), "{bytes}");
        let old = SystemTime::now() - Duration::from_secs(11);
        File::options().write(true).open(&path).unwrap().set_modified(old).unwrap();
        board.round(ms(600), true);
        assert!(!path.exists(), "{bytes}");
        assert_eq!(scratch.files(), 1, "what is not of the board stays");
        cases += 1;
    }
    assert_eq!(cases, 3);
}

#[test]
fn a_lock_is_held_for_life_and_no_longer() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let made = file::make(&folder, "a.layer", 100_000).unwrap();
    let path = scratch.0.join("a.layer");
    let seen = file::open(&path).unwrap();
    assert_eq!(seen.metadata().unwrap().len(), 100_000);
    assert!(file::lives(&path, &seen, true) && path.exists());
    assert!(file::make(&folder, "a.layer", 1).is_err(), "never over another one's file");
    drop(made);
    assert!(!file::lives(&path, &seen, true));
    // On Windows before 10, and in Wine, a file stays until its last handle is closed.
    drop(seen);
    assert!(!path.exists());
}

/// Windows does not remove a mapped file, so the last reader has to.
#[test]
fn a_layer_that_leaves_while_others_look_leaves_no_file() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut boards = [(); 2].map(|()| BoardReader::new(Ok(folder.clone())));
    let layer = own(&folder, head(1));
    for board in &mut boards {
        board.round(ms(0), true);
        assert_eq!(board.session('A').count(), 1);
    }
    drop(layer);
    for board in &mut boards {
        board.round(ms(10), true);
        assert_eq!(board.session('A').count(), 0);
    }
    assert_eq!(scratch.files(), 0);
}

#[cfg(unix)]
mod rights {
    use super::*;
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown, symlink};

    #[test]
    fn the_folder_and_its_files_are_this_users_alone() {
        let scratch = Scratch::new();
        fs::create_dir(&scratch.0).unwrap();
        fs::set_permissions(&scratch.0, fs::Permissions::from_mode(0o777)).unwrap();
        let folder = scratch.folder();
        assert_eq!(fs::metadata(&scratch.0).unwrap().mode() & 0o777, 0o700);
        let _layer = own(&folder, head(1));
        for entry in fs::read_dir(&scratch.0).unwrap().flatten() {
            assert_eq!(entry.metadata().unwrap().mode() & 0o777, 0o600);
        }
        assert_eq!(scratch.files(), 1);
    }

    #[test]
    fn a_folder_that_the_user_names_keeps_its_rights() {
        let mode = |path: &std::path::Path| fs::metadata(path).unwrap().mode() & 0o777;
        let mut cases = 0;
        for (rights, inside) in [(0o755, true), (0o1777, true), (0o710, true), (0o700, false)] {
            let scratch = Scratch::new();
            fs::create_dir(&scratch.0).unwrap();
            fs::set_permissions(&scratch.0, fs::Permissions::from_mode(rights)).unwrap();
            let folder = Folder::named(scratch.0.clone()).unwrap();
            let board = if inside { scratch.0.join("plumbline") } else { scratch.0.clone() };
            assert_eq!((folder.path(), mode(folder.path())), (board.as_path(), 0o700));
            assert_eq!(Folder::named(scratch.0.clone()).unwrap(), folder, "the same for the next process");
            let _layer = own(&folder, head(1));
            assert_eq!((mode(&scratch.0), scratch.files()), (rights & 0o777, 1));
            if !inside {
                // Changed by the user meanwhile.
                fs::set_permissions(&scratch.0, fs::Permissions::from_mode(0o755)).unwrap();
                let _layer = own(&folder, head(2));
                assert_eq!((mode(&scratch.0), scratch.files()), (0o755, 2));
            }
            cases += 1;
        }
        assert_eq!(cases, 4);
        let scratch = Scratch::new();
        assert_eq!(
            (Folder::named(scratch.0.clone()).unwrap().path(), mode(&scratch.0)),
            (&*scratch.0, 0o700)
        );
    }

    #[test]
    fn a_link_a_file_and_a_relative_path_are_no_folder() {
        let scratch = Scratch::new();
        let _ = scratch.folder();
        let (link, file) = (scratch.0.join("link"), scratch.0.join("file"));
        symlink(std::env::temp_dir(), &link).unwrap();
        fs::write(&file, "").unwrap();
        for (path, words) in [(link, "a link"), (file, "could not be made"), ("here".into(), "absolute")] {
            let refused = Folder::at(path).unwrap_err();
            assert!(refused.contains(words), "{refused}");
        }
    }

    #[test]
    fn links_pipes_and_folders_are_no_files_of_the_board() {
        let scratch = Scratch::new();
        let folder = scratch.folder();
        let good = own(&folder, head(1));
        let path = fs::read_dir(&scratch.0).unwrap().next().unwrap().unwrap().path();
        symlink(&path, scratch.0.join("l.layer")).unwrap();
        fs::create_dir(scratch.0.join("d.layer")).unwrap();
        let made = Command::new("mkfifo").arg(scratch.0.join("p.layer")).status();
        let pipes = u32::from(made.is_ok_and(|s| s.success()));
        let mut board = BoardReader::new(Ok(folder));
        board.round(ms(0), true);
        board.round(ms(600), true);
        assert_eq!((board.session('A').count(), board.unreadable(ms(600))), (1, 2 + pipes));
        drop(good);
    }

    #[test]
    fn what_belongs_to_somebody_else_is_refused() {
        let scratch = Scratch::new();
        let folder = scratch.folder();
        let mut theirs = own(&folder, head(1));
        let path = fs::read_dir(&scratch.0).unwrap().next().unwrap().unwrap().path();
        if chown(&path, Some(12_345), None).is_err() {
            // Only the superuser can change the owner of a file; without those rights there is nothing to test.
            return;
        }
        theirs.live(Default::default());
        let mut board = BoardReader::new(Ok(folder));
        board.round(ms(0), true);
        board.round(ms(600), true);
        assert_eq!((board.session('A').count(), board.unreadable(ms(600))), (0, 1));
        chown(&scratch.0, Some(12_345), None).unwrap();
        let refused = Folder::at(scratch.0.clone()).unwrap_err();
        assert!(refused.contains("belongs to user 12345"), "{refused}");
    }
}
