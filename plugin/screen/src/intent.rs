//! The user's requests.

use plumbline_programme::{Command, Role};

/// Longest name of a layer, in bytes of UTF-8.
pub const LONGEST_NAME: usize = 64;

/// A request from the user to the owner of the measurement.
#[derive(Clone, Debug, PartialEq)]
pub enum Intent {
    /// A command to the layer.
    Command(Command),
    /// Hold the picture or release it; measuring goes on in any case.
    Hold(bool),
    /// `Screen::settings` changed: save them, and pass target and band edges on.
    SettingsChanged,
    /// Give this layer a name, at most [`LONGEST_NAME`] bytes of UTF-8; an empty one brings back the host's track name.
    Rename(String),
    /// Set the role of this layer.
    SetRole(Role),
    /// Move this layer to another session, A to H.
    SetSession(char),
    /// Write log, joins and statistics into `Settings::export_folder`.
    Export,
}
