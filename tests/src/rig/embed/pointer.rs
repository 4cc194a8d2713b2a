//! The pointer: moved and pressed as by a mouse.

use super::Socket;
use crate::rig::{RigError, doing};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ConnectionExt};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::wrapper::ConnectionExt as _;

impl Socket {
    /// Moves the pointer to a pixel of the visible window.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn point(&self, [x, y]: [i16; 2]) -> Result<(), RigError> {
        self.connection
            .warp_pointer(x11rb::NONE, self.top, 0, 0, 0, 0, x, y)
            .map_err(doing("moving the pointer"))?;
        self.connection.sync().map_err(doing("moving the pointer"))
    }

    /// Presses or releases the first button at the pointer.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn button(&self, down: bool) -> Result<(), RigError> {
        let kind = if down { BUTTON_PRESS_EVENT } else { BUTTON_RELEASE_EVENT };
        self.connection
            .xtest_fake_input(kind, 1, x11rb::CURRENT_TIME, x11rb::NONE, 0, 0, 0)
            .map_err(doing("pressing a button"))?
            .check()
            .map_err(doing("pressing a button"))?;
        self.connection.flush().map_err(doing("pressing a button"))
    }
}
