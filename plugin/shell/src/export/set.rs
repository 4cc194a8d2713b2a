//! A set of files that is written completely or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// The most sets of one name. A name includes the time of day, so it applies for one second only.
const MOST: u32 = 1_000;

/// Number of sets begun, which keeps apart sets written at the same time.
static COUNT: AtomicU32 = AtomicU32::new(0);

/// Writes bytes to a file that must not exist yet.
pub(super) type Put<'a> = dyn Fn(&Path, &[u8]) -> io::Result<()> + 'a;

/// Writes a new file and syncs it: a full disk may report only then.
pub(super) fn put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = new(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

fn new(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create_new(true).open(path)
}

/// Files to remove when this is dropped.
#[derive(Default)]
struct Passing(Vec<PathBuf>);

impl Drop for Passing {
    fn drop(&mut self) {
        for path in &self.0 {
            // An error is harmless: the file went with its folder, or was moved into place.
            let _ = fs::remove_file(path);
        }
    }
}

/// Writes a set of files, each given by the end of its name. Returns the start of the names: `stem`, or `stem` with a
/// number if a file of that name exists.
///
/// All files are first written under temporary names. Then the final names are claimed, all or none, with new empty
/// files, which the written ones then replace. So no existing file is touched, even on systems where a rename replaces
/// files.
///
/// # Errors
/// The first failure. No file of the set is left then.
pub(super) fn write(
    folder: &Path,
    stem: &str,
    files: &[(&str, String)],
    put: &Put<'_>,
) -> io::Result<String> {
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let mut parts = Passing::default();
    for (at, (_, text)) in files.iter().enumerate() {
        let part = folder.join(format!(".plumbline-{}-{count}-{at}.part", std::process::id()));
        parts.0.push(part.clone());
        put(&part, text.as_bytes())?;
    }
    let (stem, mut claimed) = claim(folder, stem, files)?;
    for (part, place) in parts.0.iter().zip(&claimed.0) {
        fs::rename(part, place)?;
    }
    // The claimed files stay.
    claimed.0.clear();
    Ok(stem)
}

/// Claims a name for each file of a set, with the first number that is free for all of them.
fn claim(folder: &Path, stem: &str, files: &[(&str, String)]) -> io::Result<(String, Passing)> {
    'number: for number in 1..=MOST {
        let stem = if number == 1 { stem.to_owned() } else { format!("{stem}-{number}") };
        let mut claimed = Passing::default();
        for (end, _) in files {
            let place = folder.join(format!("{stem}{end}"));
            match new(&place) {
                Ok(_) => claimed.0.push(place),
                Err(error) if error.kind() == ErrorKind::AlreadyExists => continue 'number,
                Err(error) => return Err(error),
            }
        }
        return Ok((stem, claimed));
    }
    Err(ErrorKind::AlreadyExists.into())
}
