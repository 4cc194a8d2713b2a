//! An export writes a whole set or nothing, even when the disk fails.

use super::*;
use plumbline_measure::Grid;
use plumbline_programme::findings::{Finding, Grade, Kind};
use plumbline_programme::{Clock, Log};
use std::fs;
use std::io::{self, Error, ErrorKind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

/// A folder that is removed after the test.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("plumbline-export-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).expect("a temporary folder");
        Self(path)
    }

    /// The names in the folder, including hidden ones, sorted.
    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("the folder").flatten();
        let mut names: Vec<String> =
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn five() -> [(&'static str, String); 5] {
    ["-findings.csv", "-joins.csv", "-passages.csv", ".json", ".html"]
        .map(|end| (end, format!("text of {end}\n").repeat(99)))
}

fn job(layer: &str) -> Job {
    let finding = Finding {
        id: 1,
        kind: Kind::Gap,
        grid: Grid::Song,
        start: 20,
        end: 21,
        open: false,
        span: None,
        worst: 512.0,
        at: 20,
        grade: Grade::Clear,
        cause: None,
        right: None,
        role: None,
        layers: Vec::new(),
        follows: None,
        seen: false,
    };
    let log = Arc::new(Log { findings: vec![finding], ..Log::default() });
    let view = View { clock: Clock { rate_hz: 48_000, ..Clock::default() }, log, ..View::default() };
    Job { view: Arc::new(view), settings: Settings::default(), layer: layer.to_owned(), role: Role::Natural }
}

fn evening() -> DateTime {
    jiff::civil::date(2026, 11, 25).at(21, 40, 33, 0)
}

#[test]
fn a_set_has_the_layer_and_the_date_in_its_names() {
    let folder = Folder::new("names");
    let said = export_into(&job("Bell tower"), &folder.0, &evening());
    assert!(!said.failed, "{}", said.words);
    assert!(said.words.contains(&folder.0.display().to_string()), "{}", said.words);
    let ends = ["-findings.csv", "-joins.csv", "-passages.csv", ".html", ".json"];
    let expected = ends.map(|end| format!("Bell tower-2026-11-25-214033{end}"));
    assert_eq!(folder.names(), expected);
    let read =
        |end: &str| fs::read_to_string(folder.0.join(format!("Bell tower-2026-11-25-214033{end}"))).unwrap();
    assert!(read("-findings.csv").contains(",512.00,samples,512 samples,"));
    let json: serde_json::Value = serde_json::from_str(&read(".json")).unwrap();
    assert_eq!(json["date"], "2026-11-25 21:40:33");
    assert_eq!(json["findings"][0]["start"]["sample"], 96_000);
    assert!(read(".html").contains("512\u{a0}samples did not reach the analyser"));
}

#[test]
fn a_second_set_of_the_same_second_counts_up_as_a_whole() {
    let folder = Folder::new("collision");
    let taken = folder.0.join("Tower.json");
    fs::write(&taken, "mine").unwrap();
    assert_eq!(set::write(&folder.0, "Tower", &five(), &set::put).unwrap(), "Tower-2");
    assert_eq!(set::write(&folder.0, "Tower", &five(), &set::put).unwrap(), "Tower-3");
    assert_eq!(fs::read_to_string(&taken).unwrap(), "mine");
    let names = folder.names();
    assert_eq!(names.len(), 1 + 5 + 5, "{names:?}");
    for (end, text) in five() {
        for stem in ["Tower-2", "Tower-3"] {
            assert_eq!(fs::read_to_string(folder.0.join(format!("{stem}{end}"))).unwrap(), text);
        }
    }
}

#[test]
#[cfg(unix)]
fn a_link_in_the_way_is_neither_followed_nor_replaced() {
    let folder = Folder::new("link");
    std::os::unix::fs::symlink(folder.0.join("elsewhere"), folder.0.join("Tower.html")).unwrap();
    assert_eq!(set::write(&folder.0, "Tower", &five(), &set::put).unwrap(), "Tower-2");
    assert!(!folder.0.join("elsewhere").exists());
    assert!(folder.0.join("Tower.html").is_symlink());
}

#[test]
fn a_disk_that_fills_up_at_any_file_leaves_nothing_behind() {
    for (kind, word) in
        [(ErrorKind::StorageFull, "No space left"), (ErrorKind::QuotaExceeded, "No space left")]
    {
        for full_at in 0..5 {
            let folder = Folder::new(&format!("full-{full_at}"));
            fs::write(folder.0.join("Tower.json"), "mine").unwrap();
            let put_so_far = AtomicUsize::new(0);
            let put = |path: &Path, bytes: &[u8]| -> io::Result<()> {
                if put_so_far.fetch_add(1, Ordering::Relaxed) < full_at {
                    return set::put(path, bytes);
                }
                // As on a full disk, only part of the file fits.
                fs::write(path, &bytes[..bytes.len() / 2])?;
                Err(Error::from(kind))
            };
            let error = set::write(&folder.0, "Tower", &five(), &put).expect_err("the disk is full");
            assert_eq!(put_so_far.load(Ordering::Relaxed), full_at + 1);
            assert_eq!(folder.names(), ["Tower.json"]);
            let words = folder::words(&folder.0, &error);
            assert!(words.contains(word) && words.contains(&folder.0.display().to_string()), "{words}");
        }
    }
}

/// Uses a file system of 16 KiB, if the tests may mount one.
#[test]
#[cfg(target_os = "linux")]
fn a_disk_that_is_really_full_keeps_nothing_of_a_set() {
    struct Disk(Folder);
    impl Drop for Disk {
        fn drop(&mut self) {
            let _ = std::process::Command::new("umount").arg(&self.0.0).output();
        }
    }
    let folder = Folder::new("small");
    let mount = std::process::Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=16k", "tmpfs"])
        .arg(&folder.0)
        .output();
    if !mount.is_ok_and(|mount| mount.status.success()) {
        println!("not run: no file system can be mounted here; the test above simulates a full disk");
        return;
    }
    let disk = Disk(folder);
    let said = export_into(&job("Tower"), &disk.0.0, &evening());
    assert!(said.failed && said.words.contains("No space left for"), "{}", said.words);
    assert_eq!(disk.0.names(), [""; 0]);
}

#[test]
fn a_file_that_cannot_be_moved_takes_the_moved_ones_back() {
    for lost in 0..5 {
        let folder = Folder::new(&format!("moved-{lost}"));
        let parts = Mutex::new(Vec::new());
        let put = |path: &Path, bytes: &[u8]| -> io::Result<()> {
            let mut parts = parts.lock().unwrap();
            set::put(path, bytes)?;
            parts.push(path.to_owned());
            if parts.len() == 5 { fs::remove_file(&parts[lost]) } else { Ok(()) }
        };
        let error = set::write(&folder.0, "Tower", &five(), &put).expect_err("a part is gone");
        assert_eq!(error.kind(), ErrorKind::NotFound);
        assert_eq!(folder.names(), [""; 0], "part {lost} was lost");
    }
}

#[test]
fn a_folder_that_goes_meanwhile_is_not_made_again() {
    let folder = Folder::new("gone");
    let parts = AtomicUsize::new(0);
    let put = |path: &Path, bytes: &[u8]| -> io::Result<()> {
        if parts.fetch_add(1, Ordering::Relaxed) == 2 {
            fs::remove_dir_all(&folder.0)?;
        }
        set::put(path, bytes)
    };
    let error = set::write(&folder.0, "Tower", &five(), &put).expect_err("the folder is gone");
    assert!(!folder.0.exists());
    let words = folder::words(&folder.0, &error);
    assert!(words.contains("does not exist: nothing was written"), "{words}");
}

#[test]
fn folders_that_cannot_be_used_are_refused_in_words() {
    let folder = Folder::new("refused");
    let file = folder.0.join("file");
    fs::write(&file, "").unwrap();
    let refused = |named: &str| folder::ready(named).expect_err(named);
    let gone = folder.0.join("gone");
    assert!(refused(&gone.display().to_string()).contains("does not exist"));
    assert!(!gone.exists(), "a folder that the user named is not made");
    assert!(refused(&file.display().to_string()).contains("is not a folder"));
    assert!(refused(&file.join("in it").display().to_string()).contains("is not a folder"));
    assert!(refused("exports").contains("not a full path"));
    assert!(refused(&folder.0.join("x".repeat(300)).display().to_string()).contains("too long"));
    assert_eq!(folder::ready(&format!(" {} ", folder.0.display())), Ok(folder.0.clone()));
    assert_eq!(folder.names(), ["file"]);
}

/// The kernel's own folders refuse new files even to the superuser.
#[test]
#[cfg(target_os = "linux")]
fn a_folder_that_may_not_be_written_to_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let own = Folder::new("unwritable");
    fs::set_permissions(&own.0, fs::Permissions::from_mode(0o555)).unwrap();
    let bound = fs::File::create(own.0.join("probe")).is_err();
    let mut tried = 0;
    for folder in [bound.then_some(own.0.as_path()), Some(Path::new("/sys/kernel"))].into_iter().flatten() {
        let said = export_into(&job("Tower"), folder, &evening());
        assert!(said.failed && said.words.contains("No permission to write to"), "{}", said.words);
        assert!(said.words.contains(&folder.display().to_string()), "{}", said.words);
        tried += 1;
    }
    assert!(tried >= 1);
    fs::set_permissions(&own.0, fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn a_path_that_is_too_long_is_said_to_be() {
    let folder = Folder::new("long");
    let error = set::write(&folder.0, &"x".repeat(300), &five(), &set::put).expect_err("too long a name");
    assert!(folder::words(&folder.0, &error).contains("too long"), "{error:?}");
    assert_eq!(folder.names(), [""; 0]);
}

#[test]
fn names_of_layers_become_names_of_files() {
    let cases = [
        ("Bell tower", "Bell tower"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\Windows\\x", "C-Windows-x"),
        ("NUL.txt", "NUL-txt"),
        ("a<b>:\"c|d?*e", "a-b-c-d-e"),
        ("\0\n\u{202e}evil", "evil"),
        ("  - . ", "Natural"),
        ("", "Natural"),
        ("Glocke, groß & näher", "Glocke, groß & näher"),
        ("鐘楼", "鐘楼"),
    ];
    for (layer, name) in cases {
        assert_eq!(
            names::stem(layer, Role::Natural, "2026-11-25-214033"),
            format!("{name}-2026-11-25-214033")
        );
    }
    let long = names::stem(&"鐘".repeat(400), Role::Natural, "D");
    assert_eq!(long, format!("{}-D", "鐘".repeat(32)));
    let folder = Folder::new("hostile");
    for (layer, _) in cases {
        let said = export_into(&job(layer), &folder.0, &evening());
        assert!(!said.failed, "{layer:?}: {}", said.words);
    }
    assert_eq!(folder.names().len(), 5 * cases.len());
}

#[test]
fn exports_go_to_the_documents_else_to_those_of_the_home_folder() {
    let home = std::env::temp_dir().join("mason");
    let [papers, documents] = ["Papers", "Documents"].map(|name| home.join(name));
    let ours = |folder: &Path| Some(folder.join("Plumbline"));
    assert_eq!(folder::inside(Some(papers.clone()), Some(home.clone())), ours(&papers));
    assert_eq!(folder::inside(None, Some(home)), ours(&documents));
    assert_eq!(folder::inside(None, None), None);
    assert_eq!(folder::inside(Some("papers".into()), None), None);
}

#[test]
fn nothing_measured_is_said_and_writes_nothing() {
    let folder = Folder::new("nothing");
    let said = export_into(&Job { view: Arc::default(), ..job("Tower") }, &folder.0, &evening());
    assert!(said.failed && said.words.contains("nothing has been measured yet"), "{}", said.words);
    assert_eq!(folder.names(), [""; 0]);
}

#[test]
fn an_instance_that_goes_waits_for_its_export() {
    let folder = Folder::new("waits");
    let told = Arc::new(AtomicBool::new(false));
    let mut job = job("Tower");
    job.settings.export_folder = folder.0.display().to_string();
    let exports = Exports::default();
    assert_eq!(exports.last(), None);
    let last = exports.last.clone();
    // The export is blocked, so the instance cannot be gone. On a slow computer the check comes later but still holds.
    let (release, held) = channel();
    exports.start(job, {
        let told = told.clone();
        move || {
            held.recv().expect("released");
            told.store(true, Ordering::Release);
        }
    });
    let (tell, gone) = channel();
    thread::spawn(move || {
        drop(exports);
        tell.send(()).expect("the test waits");
    });
    let soon = gone.recv_timeout(Duration::from_millis(50));
    assert_eq!(soon, Err(RecvTimeoutError::Timeout), "the thread outlived the instance");
    release.send(()).expect("the export waits");
    gone.recv_timeout(Duration::from_secs(60)).expect("the instance goes after its export");
    assert!(told.load(Ordering::Acquire), "the export ended before the instance");
    let said = last.lock().unwrap().clone().expect("a word on the export");
    assert!(!said.failed, "{}", said.words);
    assert_eq!(folder.names().len(), 5);
}
