//! Where exports go, and what is said when they cannot.

use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};
use std::{env, fs};

/// Name of the folder inside the user's documents.
const OURS: &str = "Plumbline";

/// The folder that the user named, or the default one, which is made if it is missing. One that the user named is never
/// made: a drive that is not there would come back as an empty folder.
///
/// # Errors
/// Words that name the folder and the way out.
pub(super) fn ready(named: &str) -> Result<PathBuf, String> {
    if named.trim().is_empty() {
        let folder = usual().ok_or(
            "This computer names no folder for documents: nothing was written. Name a folder on the Log page.",
        )?;
        fs::create_dir_all(&folder).map_err(|error| words(&folder, &error))?;
        return checked(folder);
    }
    let folder = PathBuf::from(named.trim());
    if !folder.is_absolute() {
        return Err(format!(
            "“{}” is no full path: nothing was written. Name the folder from its root on, on the Log page.",
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

/// Why nothing was written to a folder, and the way out.
pub(super) fn words(folder: &Path, error: &Error) -> String {
    let shown = folder.display();
    let other = "or choose another folder on the Log page";
    match error.kind() {
        ErrorKind::NotFound => {
            format!("The folder {shown} is not there: nothing was written. Bring it back, {other}.")
        }
        ErrorKind::NotADirectory => {
            format!("{shown} is no folder: nothing was written. Choose another on the Log page.")
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            format!("The folder {shown} may not be written to: nothing was written. Allow it, {other}.")
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            format!("There is no room left in {shown}: nothing was kept. Make room, {other}.")
        }
        ErrorKind::InvalidFilename => {
            format!(
                "The path {shown} is too long for a file in it: nothing was written. Choose a shorter one on the \
                     Log page."
            )
        }
        ErrorKind::AlreadyExists => {
            format!(
                "{shown} is full of exports of this very second: nothing was written. Try again, {other}."
            )
        }
        _ => format!("Writing to {shown} failed ({error}): nothing was kept. Try again, {other}."),
    }
}

/// The default folder: Plumbline in the user's documents.
#[cfg(windows)]
fn usual() -> Option<PathBuf> {
    let profile = || env::var_os("USERPROFILE").map(|profile| PathBuf::from(profile).join("Documents"));
    Some(documents().or_else(profile).filter(|path| path.is_absolute())?.join(OURS))
}

/// The user's documents, wherever they were moved to: another drive, a share, a folder that is kept in step with another
/// computer's.
#[cfg(windows)]
fn documents() -> Option<PathBuf> {
    use std::os::windows::ffi::OsStringExt;
    use windows_sys::Win32::System::Com::CoTaskMemFree;
    use windows_sys::Win32::UI::Shell::{FOLDERID_Documents, SHGetKnownFolderPath};
    let (id, mut wide) = (FOLDERID_Documents, std::ptr::null_mut::<u16>());
    // SAFETY: the id lives through the call, flags of 0 and no token mean this user's folder as it is, and the pointer is written
    // to a variable of ours.
    let outcome = unsafe { SHGetKnownFolderPath(&raw const id, 0, std::ptr::null_mut(), &raw mut wide) };
    let path = (outcome == 0 && !wide.is_null()).then(|| {
        // SAFETY: the system gave a text that ends with a zero; nothing behind that is read.
        let length = (0..).take_while(|&at| unsafe { *wide.add(at) } != 0).count();
        // SAFETY: as long as was just counted, and it lives until it is freed below.
        let text = unsafe { std::slice::from_raw_parts(wide, length) };
        PathBuf::from(std::ffi::OsString::from_wide(text))
    });
    // SAFETY: the text is ours to free whatever the outcome, and a null pointer is nothing to free.
    unsafe { CoTaskMemFree(wide.cast()) };
    path
}

/// The default folder: Plumbline in the user's documents.
#[cfg(target_os = "macos")]
fn usual() -> Option<PathBuf> {
    Some(home()?.join("Documents").join(OURS))
}

/// The default folder: Plumbline in the user's documents, where XDG's user-dirs.dirs says they are.
#[cfg(all(unix, not(target_os = "macos")))]
fn usual() -> Option<PathBuf> {
    let home = home()?;
    let settings = env::var_os("XDG_CONFIG_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
    let settings = settings.unwrap_or_else(|| home.join(".config")).join("user-dirs.dirs");
    let named = fs::read_to_string(settings).ok().and_then(|text| documents(&text, &home));
    Some(named.unwrap_or_else(|| home.join("Documents")).join(OURS))
}

#[cfg(unix)]
fn home() -> Option<PathBuf> {
    env::var_os("HOME").map(PathBuf::from).filter(|path| path.is_absolute())
}

/// The documents of a user-dirs.dirs: `XDG_DOCUMENTS_DIR="$HOME/Documents"`, or an absolute path; as the file itself
/// says, nothing else is a path.
#[cfg(all(unix, not(target_os = "macos")))]
pub(super) fn documents(text: &str, home: &Path) -> Option<PathBuf> {
    let mut lines = text.lines().filter_map(|line| line.trim().strip_prefix("XDG_DOCUMENTS_DIR="));
    let path = lines.next_back()?.trim().trim_matches('"');
    if path == "$HOME" || path == "$HOME/" {
        return Some(home.to_owned());
    }
    match path.strip_prefix("$HOME/") {
        Some(inside) => Some(home.join(inside)),
        None => Some(PathBuf::from(path)).filter(|path| path.is_absolute()),
    }
}
