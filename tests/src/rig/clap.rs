//! A CLAP host under the control of a test, one call at a time.
//!
//! The thread that creates an [`Instance`] is the host's main thread. A [`Processor`] may move to another thread.

mod editor;
mod foreign;
mod handlers;
mod instance;
mod processor;

pub use editor::Parent;
pub use foreign::Foreign;
pub use handlers::{Label, Notes};
pub use instance::{Instance, Layout, Parameter};
pub use processor::{Change, Processor};

use super::{RigError, doing};
use clack_host::prelude::*;
use std::ffi::CString;
use std::path::Path;

/// One plug-in class of a library.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Class {
    /// Its id, which never changes.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its categories.
    pub features: Vec<String>,
}

/// A loaded `.clap`.
pub struct Library {
    entry: PluginEntry,
}

impl Library {
    /// Loads a library.
    ///
    /// # Errors
    /// The loader's error, or the library's.
    pub fn load(path: &Path) -> Result<Self, RigError> {
        // SAFETY: loading runs the library's code; the rig is only given the project's own build.
        let entry = unsafe { PluginEntry::load(path) }.map_err(doing("loading the .clap"))?;
        Ok(Self { entry })
    }

    /// Its classes.
    ///
    /// # Errors
    /// If the library has no plug-in factory.
    pub fn classes(&self) -> Result<Vec<Class>, RigError> {
        let factory = self
            .entry
            .get_plugin_factory()
            .ok_or_else(|| RigError::new("the library offers no plug-in factory"))?;
        let text = |text: Option<&std::ffi::CStr>| {
            text.map(|t| t.to_string_lossy().into_owned()).unwrap_or_default()
        };
        Ok(factory
            .plugin_descriptors()
            .map(|class| Class {
                id: text(class.id()),
                name: text(class.name()),
                version: text(class.version()),
                features: class.features().map(|f| text(Some(f))).collect(),
            })
            .collect())
    }

    /// Creates an instance of a class, on a track with `label`.
    ///
    /// # Errors
    /// If the id is unknown, or the plug-in refuses.
    pub fn create(&self, id: &str, label: Label) -> Result<Instance, RigError> {
        let id = CString::new(id).map_err(doing("the class id"))?;
        Instance::new(&self.entry, &id, label)
    }
}
