//! The XEmbed messages that a socket sends unasked (XEmbed protocol specification, version 0.5).

use crate::rig::{RigError, doing};
use x11rb::protocol::xproto::{ClientMessageEvent, ConnectionExt, EventMask};
use x11rb::rust_connection::RustConnection;

/// The socket's version of the protocol.
const VERSION: u32 = 0;

/// `XEMBED_EMBEDDED_NOTIFY`.
const EMBEDDED: u32 = 0;
/// `XEMBED_WINDOW_ACTIVATE`.
const ACTIVATED: u32 = 1;
/// `XEMBED_FOCUS_IN`, with the detail `XEMBED_FOCUS_CURRENT`, which is 0.
const FOCUSED: u32 = 4;

/// Atoms: the server's numbers for names.
#[derive(Clone, Copy)]
pub(super) struct Atoms {
    message: u32,
}

impl Atoms {
    pub(super) fn of(connection: &RustConnection) -> Result<Self, RigError> {
        let message = connection.intern_atom(false, b"_XEMBED").map_err(doing("asking for an atom"))?;
        Ok(Self { message: message.reply().map_err(doing("asking for an atom"))?.atom })
    }
}

/// Tells a window that it is embedded, maps it, and gives it the focus by the protocol.
pub(super) fn welcome(
    connection: &RustConnection,
    atoms: Atoms,
    socket: u32,
    client: u32,
) -> Result<(), RigError> {
    let say = |words: [u32; 5]| {
        let message = ClientMessageEvent::new(32, client, atoms.message, words);
        connection
            .send_event(false, client, EventMask::NO_EVENT, message)
            .map(drop)
            .map_err(doing("talking XEmbed"))
    };
    say([x11rb::CURRENT_TIME, EMBEDDED, 0, socket, VERSION])?;
    connection.map_window(client).map_err(doing("showing a window"))?;
    say([x11rb::CURRENT_TIME, ACTIVATED, 0, 0, 0])?;
    say([x11rb::CURRENT_TIME, FOCUSED, 0, 0, 0])
}
