//! The folder of a report: either all files of the set get their names, or none does.
//!
//! Files are first written to a hidden folder. If the report's folder does not exist yet, the hidden one is created
//! beside it and then renamed; otherwise it is inside it. The files of an earlier report are moved aside before the new
//! ones get their names, and are moved back if one of these fails.

use super::error::CommandError;
use super::interrupt::Stop;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Every file that a report can hold. Files that a new report lacks are removed with the old report.
pub(crate) const SET: [&str; 6] =
    ["report.json", "findings.csv", "joins.csv", "tenths.csv", "report.html", "mix-cues.wav"];
/// The folder for the earlier files, inside the hidden one.
const ASIDE: &str = "earlier";
/// Names tried for the hidden folder: some may be taken by folders that killed processes left.
const TRIES: u32 = 100;

/// A report that is being written.
#[derive(Debug)]
pub(crate) struct Draft {
    out: PathBuf,
    /// The hidden folder to which it is written.
    room: PathBuf,
    /// Whether `room` as a whole is renamed to `out`.
    becomes_out: bool,
    /// Whether `room` holds the only copy of an earlier report.
    keeps_room: bool,
    stop: Stop,
}

impl Draft {
    /// Makes sure that the report can be written, before anything is measured.
    ///
    /// `inputs` are files that must not change.
    pub(crate) fn begin(
        out: &Path,
        replace: bool,
        inputs: &[&Path],
        stop: &Stop,
    ) -> Result<Self, CommandError> {
        if out.as_os_str().is_empty() {
            return Err(CommandError::Usage("--out wants the name of a folder; nothing was done".to_owned()));
        }
        let there = match fs::metadata(out) {
            Ok(meta) if meta.is_dir() => true,
            Ok(_) => {
                return Err(CommandError::Output(format!(
                    "{}: is a file, and the report is a folder; choose another name with --out. Nothing was done",
                    out.display()
                )));
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => false,
            Err(error) => return Err(CommandError::output("look at", out, &error)),
        };
        if there {
            refuse(out, replace, inputs)?;
        }
        let room = make_room(out, there)?;
        stop.unfinished(Some(&room));
        Ok(Self { out: out.to_owned(), room, becomes_out: !there, keeps_room: false, stop: stop.clone() })
    }

    /// The path at which a file of the set is written.
    pub(crate) fn place(&self, name: &str) -> PathBuf {
        self.room.join(name)
    }

    /// The error of a write to a file of the set, under the file's final name.
    pub(crate) fn failed(&self, name: &str, cause: &io::Error) -> CommandError {
        CommandError::output("write", &self.out.join(name), cause)
    }

    /// Writes a file of the set and syncs it: on some systems a full disk reports only then.
    pub(crate) fn write(&self, name: &str, content: &[u8]) -> Result<(), CommandError> {
        let written = File::create_new(self.place(name)).and_then(|mut file| {
            file.write_all(content)?;
            file.sync_all()
        });
        written.map_err(|cause| self.failed(name, &cause))
    }

    /// Gives all files their names. A stop waits until this is done, which takes hardly any time.
    pub(crate) fn publish(self) -> Result<(), CommandError> {
        self.publish_by(|from, to| fs::rename(from, to))
    }

    fn publish_by(mut self, rename: impl Fn(&Path, &Path) -> io::Result<()>) -> Result<(), CommandError> {
        let stop = self.stop.clone();
        stop.hold_off(|unfinished| {
            let named = if self.becomes_out {
                rename(&self.room, &self.out).map_err(Unswapped::Undone)
            } else {
                swap(&self.room, &self.out, rename)
            };
            named.map_err(|unswapped| match unswapped {
                Unswapped::Undone(cause) => {
                    CommandError::output("put the report into", &self.out, &cause)
                }
                Unswapped::Stranded(cause) => {
                    self.keeps_room = true;
                    *unfinished = None;
                    CommandError::Output(format!(
                        "{}: could not put the report there, nor put the earlier one back: {cause}. The earlier files \
                         are in {}; move them back by hand",
                        self.out.display(),
                        self.room.join(ASIDE).display()
                    ))
                }
            })
        })
    }
}

impl Drop for Draft {
    /// Removes the files that did not get their final names.
    fn drop(&mut self) {
        if !self.keeps_room {
            let _ = fs::remove_dir_all(&self.room);
        }
        self.stop.unfinished(None);
    }
}

/// Refuses a folder that already holds a report, or an input whose name the report needs.
fn refuse(out: &Path, replace: bool, inputs: &[&Path]) -> Result<(), CommandError> {
    let taken: Vec<&str> =
        SET.into_iter().filter(|name| fs::symlink_metadata(out.join(name)).is_ok()).collect();
    if let Some(first) = taken.first()
        && !replace
    {
        return Err(CommandError::Output(format!(
            "{}: a report is there already; --replace replaces it, or choose another folder with --out. Nothing was done",
            out.join(first).display()
        )));
    }
    for input in inputs {
        if let Some(name) = taken.iter().find(|name| is_same_place(input, &out.join(name))) {
            return Err(CommandError::Output(format!(
                "{}: is an input, and the report would replace it; choose another folder with --out. Nothing was done",
                out.join(name).display()
            )));
        }
    }
    Ok(())
}

/// Whether two paths are the same file, or would be once it exists.
pub(crate) fn is_same_place(a: &Path, b: &Path) -> bool {
    let known_as = |path: &Path| [fs::canonicalize(path).ok(), in_its_folder(path)];
    let [a, b] = [known_as(a), known_as(b)];
    a.iter().flatten().any(|a| b.iter().flatten().any(|b| a == b))
}

/// The path of a file through the real path of its folder; the last part may still be a link.
fn in_its_folder(path: &Path) -> Option<PathBuf> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    Some(fs::canonicalize(folder).ok()?.join(path.file_name()?))
}

/// Makes the hidden folder.
fn make_room(out: &Path, there: bool) -> Result<PathBuf, CommandError> {
    let mut last = io::Error::from(io::ErrorKind::AlreadyExists);
    for attempt in 0..TRIES {
        let suffix = format!("plumbline-{}-{attempt}", std::process::id());
        let room = if there {
            out.join(format!(".{suffix}"))
        } else {
            let name = out.file_name().ok_or_else(|| {
                CommandError::output("make the folder", out, &io::Error::from(io::ErrorKind::NotFound))
            })?;
            let mut beside = OsString::from(".");
            beside.push(name);
            beside.push(format!(".{suffix}"));
            out.with_file_name(beside)
        };
        match fs::create_dir(&room) {
            Ok(()) => return Ok(room),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => last = error,
            Err(error) => {
                let doing = if there { "write into" } else { "make the folder" };
                return Err(CommandError::output(doing, out, &error));
            }
        }
    }
    Err(CommandError::output("write into", out, &last))
}

/// Why a report did not get its names.
enum Unswapped {
    /// Everything is as it was.
    Undone(io::Error),
    /// Files of the earlier report are still aside.
    Stranded(io::Error),
}

/// Puts the files of `room` into `out`, in place of an earlier report; all of them or none.
fn swap(room: &Path, out: &Path, rename: impl Fn(&Path, &Path) -> io::Result<()>) -> Result<(), Unswapped> {
    let aside = room.join(ASIDE);
    fs::create_dir(&aside).map_err(Unswapped::Undone)?;
    // The moves so far, to undo them: from, to.
    let mut moved: Vec<(PathBuf, PathBuf)> = Vec::new();
    let mut step = |from: PathBuf, to: PathBuf| -> io::Result<()> {
        match rename(&from, &to) {
            Ok(()) => {
                moved.push((from, to));
                Ok(())
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            Err(error) => Err(error),
        }
    };
    let earlier = SET.iter().map(|name| (out.join(name), aside.join(name)));
    let new = SET.iter().map(|name| (room.join(name), out.join(name)));
    earlier.chain(new).try_for_each(|(from, to)| step(from, to)).map_err(|cause| {
        // Every move is tried, whether or not one fails. A new file that stays is only a leftover.
        let stays = |(from, to): &&(PathBuf, PathBuf)| rename(to, from).is_err() && to.starts_with(&aside);
        let stranded = moved.iter().rev().filter(stays).count();
        if stranded == 0 { Unswapped::Undone(cause) } else { Unswapped::Stranded(cause) }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder that is removed when the test ends.
    struct Ground(PathBuf);

    impl Ground {
        fn new(name: &str) -> Self {
            let path = std::env::temp_dir().join(format!("plumbline-folder-{}-{name}", std::process::id()));
            let _ = fs::remove_dir_all(&path);
            fs::create_dir_all(&path).expect("a folder to test in");
            Self(path)
        }

        fn names(&self, below: &str) -> Vec<String> {
            let mut names: Vec<String> = fs::read_dir(self.0.join(below))
                .expect("a folder")
                .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
                .collect();
            names.sort();
            names
        }

        fn text(&self, below: &str) -> String {
            fs::read_to_string(self.0.join(below)).expect("a file")
        }
    }

    impl Drop for Ground {
        fn drop(&mut self) {
            let _ = fs::remove_dir_all(&self.0);
        }
    }

    fn begin(out: &Path, replace: bool, inputs: &[&Path]) -> Result<Draft, CommandError> {
        Draft::begin(out, replace, inputs, &Stop::default())
    }

    #[test]
    fn a_set_that_is_not_published_leaves_nothing() {
        let ground = Ground::new("dropped");
        let out = ground.0.join("report");
        let draft = begin(&out, false, &[]).expect("a new folder");
        draft.write("report.json", b"{}").expect("room");
        assert_eq!(ground.names("").len(), 1, "it is written beside");
        drop(draft);
        assert!(ground.names("").is_empty());
        fs::create_dir(&out).expect("ours");
        let draft = begin(&out, false, &[]).expect("an empty folder");
        draft.write("report.json", b"{}").expect("room");
        drop(draft);
        assert!(ground.names("report").is_empty());
    }

    #[test]
    fn a_published_set_is_there_and_nothing_else() {
        let ground = Ground::new("published");
        let out = ground.0.join("report");
        let draft = begin(&out, false, &[]).expect("a new folder");
        draft.write("report.json", b"1").expect("room");
        draft.publish().expect("room");
        assert_eq!(
            (ground.names(""), ground.names("report")),
            (vec!["report".into()], vec!["report.json".into()])
        );
    }

    #[test]
    fn an_earlier_report_stays_unless_it_is_to_be_replaced_and_then_goes_whole() {
        let ground = Ground::new("replaced");
        let out = ground.0.join("report");
        fs::create_dir(&out).expect("ours");
        for name in ["report.json", "tenths.csv", "notes.txt"] {
            fs::write(out.join(name), "old").expect("ours");
        }
        let refused = begin(&out, false, &[]).expect_err("a report is there");
        assert_eq!(refused.exit_code(), 4);
        assert!(
            refused.to_string().contains("--replace") && refused.to_string().contains("report.json"),
            "{refused}"
        );
        let draft = begin(&out, true, &[]).expect("it may go");
        draft.write("report.json", b"new").expect("room");
        draft.write("findings.csv", b"new").expect("room");
        draft.publish().expect("room");
        assert_eq!(ground.names("report"), ["findings.csv", "notes.txt", "report.json"]);
        assert_eq!(
            (ground.text("report/report.json").as_str(), ground.text("report/notes.txt").as_str()),
            ("new", "old")
        );
    }

    #[test]
    fn where_one_file_cannot_get_its_name_the_earlier_report_comes_back() {
        let ground = Ground::new("undone");
        let out = ground.0.join("report");
        fs::create_dir(&out).expect("ours");
        fs::write(out.join("report.json"), "old").expect("ours");
        let draft = begin(&out, true, &[]).expect("it may go");
        draft.write("report.json", b"new").expect("room");
        draft.write("findings.csv", b"new").expect("room");
        // A folder cannot be moved into itself, so this represents any rename that fails half-way.
        fs::create_dir(draft.room.join(ASIDE)).expect("ours");
        let error = draft.publish().expect_err("the place aside is taken");
        assert_eq!(error.exit_code(), 4);
        assert_eq!(ground.names("report"), ["report.json"]);
        assert_eq!(ground.text("report/report.json"), "old");
    }

    #[test]
    fn where_nothing_can_be_moved_back_the_earlier_report_is_kept_and_named() {
        let ground = Ground::new("stranded");
        let out = ground.0.join("report");
        fs::create_dir(&out).expect("ours");
        fs::write(out.join("report.json"), "old").expect("ours");
        let draft = begin(&out, true, &[]).expect("it may go");
        draft.write("report.json", b"new").expect("room");
        let room = draft.room.clone();
        // Aside is allowed; then the disk fails.
        let error = draft
            .publish_by(|from, to| {
                if from.starts_with(&room) { Err(io::Error::other("gone")) } else { fs::rename(from, to) }
            })
            .expect_err("no file gets its name");
        let kept = room.join(ASIDE).join("report.json");
        assert_eq!(fs::read_to_string(&kept).expect("the only copy"), "old");
        assert!(error.to_string().contains(&*room.join(ASIDE).to_string_lossy()), "{error}");
    }

    #[test]
    fn an_input_is_never_replaced() {
        let ground = Ground::new("input");
        let mix = ground.0.join("mix-cues.wav");
        fs::write(&mix, "sound").expect("ours");
        let refused = begin(&ground.0, true, &[&mix]).expect_err("it is an input");
        assert!(refused.to_string().contains("is an input"), "{refused}");
        let indirect = ground.0.join("..").join(ground.0.file_name().expect("a name")).join("mix-cues.wav");
        assert!(begin(&ground.0, true, &[&indirect]).is_err());
        let other = ground.0.join("mix.wav");
        fs::write(&other, "sound").expect("ours");
        assert!(begin(&ground.0, true, &[&other]).is_ok());
    }

    #[test]
    fn a_place_that_cannot_be_had_is_told_before_anything_is_measured() {
        let ground = Ground::new("refused");
        let file = ground.0.join("file");
        fs::write(&file, "x").expect("ours");
        for (out, word) in [
            (file.clone(), "is a file"),
            (file.join("below"), "could not"),
            (ground.0.join("no/such/parent"), "make the folder that it is to lie in"),
        ] {
            let error = begin(&out, false, &[]).expect_err("it cannot be had");
            assert_eq!(error.exit_code(), 4, "{error}");
            assert!(error.to_string().contains(word), "{error}");
        }
        assert_eq!(begin(Path::new(""), false, &[]).expect_err("no name").exit_code(), 2);
    }
}
