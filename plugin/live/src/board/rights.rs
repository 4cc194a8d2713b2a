//! Owner and rights of the board's folder and files.

use std::path::Path;
use std::{fs, io};

/// Creates a folder that only this user may enter, and those above it, where they are missing.
pub(super) fn create(path: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Removes the rights of others.
#[cfg(unix)]
pub(super) fn restrict(path: &Path, found: &fs::Metadata) -> io::Result<()> {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    if found.mode() & 0o777 == 0o700 {
        return Ok(());
    }
    fs::set_permissions(path, fs::Permissions::from_mode(0o700))
}

/// Does nothing: the user's application folder is private by inheritance.
#[cfg(not(unix))]
pub(super) fn restrict(_: &Path, _: &fs::Metadata) -> io::Result<()> {
    Ok(())
}

/// The owner of a file or folder if it is not the user of this process.
#[cfg(unix)]
pub(super) fn stranger(found: &fs::Metadata) -> Option<u32> {
    let owner = std::os::unix::fs::MetadataExt::uid(found);
    (owner != rustix::process::geteuid().as_raw()).then_some(owner)
}

/// Always `None`: the folder is the user's own.
#[cfg(not(unix))]
pub(super) fn stranger(_: &fs::Metadata) -> Option<u32> {
    None
}

/// Whether others have any right to a folder.
#[cfg(unix)]
pub(super) fn is_open(found: &fs::Metadata) -> bool {
    std::os::unix::fs::MetadataExt::mode(found) & 0o077 != 0
}

/// Always false: rights are inherited.
#[cfg(not(unix))]
pub(super) fn is_open(_: &fs::Metadata) -> bool {
    false
}
