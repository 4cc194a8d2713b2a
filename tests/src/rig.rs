//! Hosts for the built plug-in, and a display for its editor.
//!
//! [`clap`] and [`vst3`] load the bundles of `cargo xtask bundle`, as a user's host would; nothing here uses the
//! plug-in's code. [`display`] provides a window on a virtual screen and takes its picture.

pub mod board;
pub mod bundles;
pub mod child;
pub mod clap;
pub mod clap_raw;
pub mod command;
#[cfg(windows)]
pub mod desktop;
#[cfg(target_os = "linux")]
pub mod display;
#[cfg(target_os = "linux")]
pub mod embed;
pub mod parameters;
pub mod readings;
pub mod state;
pub mod threads;
pub mod vst3;
#[cfg(target_os = "linux")]
pub mod vst3_raw;
#[cfg(all(target_os = "linux", target_env = "gnu", target_arch = "x86_64"))]
pub mod watch;

use std::fmt;

/// An error of a rig: what was expected, and what came instead.
#[derive(Clone, Debug)]
pub struct RigError(String);

impl RigError {
    /// An error with a message.
    pub fn new(words: impl Into<String>) -> Self {
        Self(words.into())
    }
}

impl fmt::Display for RigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for RigError {}

/// Turns any error into a [`RigError`] that names the operation in progress.
pub(crate) fn doing<E: fmt::Display>(what: &str) -> impl Fn(E) -> RigError + '_ {
    move |error| RigError(format!("{what}: {error}"))
}

/// The transport at the first frame of a block.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Moment {
    /// Song position in samples; `None` if the host gives none.
    pub song_frame: Option<i64>,
    /// Whether the transport runs.
    pub playing: bool,
}

impl Moment {
    /// The transport runs, and the block starts at `frame` of the song.
    pub fn playing_at(frame: i64) -> Self {
        Self { song_frame: Some(frame), playing: true }
    }

    /// The transport is stopped, and the host gives no position.
    pub fn stopped() -> Self {
        Self::default()
    }
}
