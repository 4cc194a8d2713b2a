//! Keys: pressed as by a keyboard, and read where the host receives them.

use crate::rig::{RigError, doing};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    ConnectionExt, InputFocus, KEY_PRESS_EVENT, KEY_RELEASE_EVENT, KeyPressEvent, Keycode,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// The flag of an event sent by a program, not by the server (X11 protocol, section 10, SendEvent).
const SENT: u8 = 0x80;

/// A key event in a window of the host.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Key {
    /// Its character without shift.
    pub character: Option<char>,
    /// Whether it was pressed.
    pub down: bool,
    /// Whether a program sent it, as a plug-in does with a key it does not use.
    pub sent: bool,
}

/// The symbols of each key, from the first key code on.
fn keyboard(connection: &RustConnection) -> Result<(Keycode, Vec<u32>), RigError> {
    let setup = connection.setup();
    let (first, last) = (setup.min_keycode, setup.max_keycode);
    let mapping = connection.get_keyboard_mapping(first, last - first + 1);
    let mapping = mapping.map_err(doing("asking for the keyboard"))?.reply();
    let mapping = mapping.map_err(doing("asking for the keyboard"))?;
    let each = usize::from(mapping.keysyms_per_keycode).max(1);
    Ok((first, mapping.keysyms.chunks(each).map(|row| row[0]).collect()))
}

pub(super) fn read(connection: &RustConnection, press: &KeyPressEvent, down: bool) -> Result<Key, RigError> {
    let (first, keys) = keyboard(connection)?;
    let symbol = press.detail.checked_sub(first).and_then(|at| keys.get(usize::from(at)));
    // The symbols of Latin 1 are its characters (X11 protocol, appendix A).
    let character = symbol.copied().and_then(char::from_u32).filter(|c| *c <= '\u{ff}');
    Ok(Key { character, down, sent: press.response_type & SENT != 0 })
}

pub(super) fn focus(connection: &RustConnection, window: u32) -> Result<(), RigError> {
    connection
        .set_input_focus(InputFocus::PARENT, window, x11rb::CURRENT_TIME)
        .map_err(doing("giving the keyboard away"))?
        .check()
        .map_err(doing("giving the keyboard away"))
}

pub(super) fn press(connection: &RustConnection, character: char) -> Result<(), RigError> {
    let (first, keys) = keyboard(connection)?;
    let at = keys.iter().position(|symbol| *symbol == u32::from(character));
    let code = at.and_then(|at| u8::try_from(at).ok()).and_then(|at| first.checked_add(at));
    let code = code.ok_or_else(|| RigError::new(format!("no key has {character:?}")))?;
    for kind in [KEY_PRESS_EVENT, KEY_RELEASE_EVENT] {
        connection
            .xtest_fake_input(kind, code, x11rb::CURRENT_TIME, x11rb::NONE, 0, 0, 0)
            .map_err(doing("pressing a key"))?
            .check()
            .map_err(doing("pressing a key"))?;
    }
    connection.sync().map_err(doing("pressing a key"))
}
