//! The folder of exports, and the messages when nothing can be written there.

use std::fs;
use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};

/// Name of the folder inside the user's documents.
const OURS: &str = "Plumbline";

/// The folder that the user named, or the default one, which is created if missing. A named one is never created: its
/// drive may not be mounted.
///
/// # Errors
/// A message that names the folder and what to do.
pub(super) fn ready(named: &str) -> Result<PathBuf, String> {
    if named.trim().is_empty() {
        let folder = usual().ok_or(
            "This computer has no documents folder: nothing was written. Name a folder on the Log page.",
        )?;
        fs::create_dir_all(&folder).map_err(|error| words(&folder, &error))?;
        return checked(folder);
    }
    let folder = PathBuf::from(named.trim());
    if !folder.is_absolute() {
        return Err(format!(
            "“{}” is not a full path: nothing was written. Enter a full path on the Log page.",
            folder.display()
        ));
    }
    checked(folder)
}

fn checked(folder: PathBuf) -> Result<PathBuf, String> {
    match fs::metadata(&folder) {
        Ok(found) if found.is_dir() => Ok(folder),
        Ok(_) => Err(words(&folder, &ErrorKind::NotADirectory.into())),
        Err(error) => Err(words(&folder, &error)),
    }
}

/// A message that says why nothing was written to a folder, and what to do.
pub(super) fn words(folder: &Path, error: &Error) -> String {
    let shown = folder.display();
    let other = "or choose another folder on the Log page";
    match error.kind() {
        ErrorKind::NotFound => {
            format!("The folder {shown} does not exist: nothing was written. Create it, {other}.")
        }
        ErrorKind::NotADirectory => {
            format!("{shown} is not a folder: nothing was written. Choose another on the Log page.")
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            format!(
                "No permission to write to {shown}: nothing was written. Change its permissions, {other}."
            )
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            format!("No space left for {shown}: nothing was kept. Free some, {other}.")
        }
        ErrorKind::InvalidFilename => {
            format!(
                "The path {shown} is too long for a file in it: nothing was written. Choose a shorter one on the \
                     Log page."
            )
        }
        ErrorKind::AlreadyExists => {
            format!(
                "{shown} holds too many exports from this second: nothing was written. Try again, {other}."
            )
        }
        _ => format!("Writing to {shown} failed ({error}): nothing was kept. Try again, {other}."),
    }
}

/// The default folder: `Plumbline` in the user's documents folder, as the system reports it.
fn usual() -> Option<PathBuf> {
    inside(dirs::document_dir(), dirs::home_dir())
}

/// `Plumbline` in the documents folder, else in `Documents` of the home folder.
pub(super) fn inside(documents: Option<PathBuf>, home: Option<PathBuf>) -> Option<PathBuf> {
    let documents = documents.or_else(|| Some(home?.join("Documents")))?;
    documents.is_absolute().then(|| documents.join(OURS))
}
