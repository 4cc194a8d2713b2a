//! The reasons why the scene cannot be made or written.

use std::path::PathBuf;
use thiserror::Error;

/// The reason why the scene could not be made or written.
#[derive(Debug, Error)]
pub enum SceneError {
    /// A folder or file could not be written. Files written before it remain.
    #[error("could not write {}: {cause}; choose a folder that you may write to and that has about 180 MB of room", path.display())]
    Write {
        /// The folder or file.
        path: PathBuf,
        /// The system's error.
        cause: std::io::Error,
    },
    /// The scene's levels are not as planned: a defect of the scene. Nothing was written.
    #[error("the scene's levels do not come out as planned: {0}; nothing was written")]
    Levels(&'static str),
}
