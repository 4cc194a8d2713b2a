//! Functions that the windowing library lacks on X11: asking for the first frame, passing unused keys to the host.

use nice_plug_egui::baseview::WindowContext;
use plumbline_screen::Stroke;
use raw_window_handle::{HasDisplayHandle, HasWindowHandle, RawDisplayHandle, RawWindowHandle};
use x11_dl::xlib_xcb::Xlib_xcb;
use x11rb::connection::{Connection, RequestConnection};
use x11rb::protocol::Event;
use x11rb::protocol::present::{self, ConnectionExt as _};
use x11rb::protocol::xproto::{
    ChangeWindowAttributesAux, ConnectionExt as _, EventMask, KeyButMask, KeyPressEvent, Keycode, Keysym,
};
use x11rb::rust_connection::RustConnection;
use x11rb::xcb_ffi::XCBConnection;

/// Makes the windowing library receive frame events from the start.
///
/// The library asks the display server when the next frame is due, but selects the answer only once its window is
/// mapped. If a host resizes the window before mapping it, the answer is lost, the library never asks again, and the
/// window stays blank. So the answer is selected here, on the library's own connection. `None` if that fails; a window
/// is then still drawn unless it is resized too early.
pub(super) fn hear_of_frames(window: &WindowContext) -> Option<()> {
    let RawDisplayHandle::Xlib(display) = window.display_handle().ok()?.as_raw() else { return None };
    let library = Xlib_xcb::open().ok()?;
    // SAFETY: the display is open as long as the window is, which outlives this call.
    let raw = unsafe { (library.XGetXCBConnection)(display.display?.as_ptr().cast()) };
    // SAFETY: as above; the connection is only borrowed.
    let connection = unsafe { XCBConnection::from_raw_xcb_connection(raw.cast(), false) }.ok()?;
    connection.extension_information(present::X11_EXTENSION_NAME).ok()??;
    let event = connection.generate_id().ok()?;
    connection
        .present_select_input(event, id(window)?, present::EventMask::COMPLETE_NOTIFY)
        .ok()?
        .check()
        .ok()
}

/// The window's number on the server.
fn id(window: &WindowContext) -> Option<u32> {
    match window.window_handle().ok()?.as_raw() {
        RawWindowHandle::Xlib(handle) => u32::try_from(handle.window).ok(),
        RawWindowHandle::Xcb(handle) => Some(handle.window.get()),
        _ => None,
    }
}

/// Passes keys that the screen does not use to the window in which the host put the editor.
///
/// A second connection receives the keys of the editor's window as they came from the keyboard. Keys that a host sent
/// are not sent back.
pub(super) struct HostKeys {
    connection: RustConnection,
    window: u32,
    keymap: Keymap,
    /// Keys whose press was passed to the host: it also gets their release.
    down: Vec<Keycode>,
}

impl HostKeys {
    /// Listens to the keys of a window; `None` if the server cannot be asked.
    pub(super) fn of(window: &WindowContext) -> Option<Self> {
        let window = id(window)?;
        let (connection, _) = x11rb::connect(None).ok()?;
        let keys = EventMask::KEY_PRESS | EventMask::KEY_RELEASE;
        let wish = ChangeWindowAttributesAux::new().event_mask(keys);
        connection.change_window_attributes(window, &wish).ok()?.check().ok()?;
        let keymap = Keymap::of(&connection)?;
        Some(Self { connection, window, keymap, down: Vec::new() })
    }

    /// Passes the keys since the last call to the host, except those that the screen has `taken`.
    pub(super) fn pass_on(&mut self, taken: impl Fn(&Stroke) -> bool) {
        while let Ok(Some(event)) = self.connection.poll_for_event() {
            // The highest bit marks an event sent by a program.
            match event {
                Event::KeyPress(key)
                    if key.response_type & 0x80 == 0
                        && !self.keymap.stroke(&key).is_some_and(|stroke| taken(&stroke)) =>
                {
                    self.down.push(key.detail);
                    self.send(key, EventMask::KEY_PRESS);
                }
                Event::KeyRelease(key) if key.response_type & 0x80 == 0 => {
                    if let Some(at) = self.down.iter().position(|code| *code == key.detail) {
                        self.down.swap_remove(at);
                        self.send(key, EventMask::KEY_RELEASE);
                    }
                }
                Event::MappingNotify(_) => {
                    if let Some(keymap) = Keymap::of(&self.connection) {
                        self.keymap = keymap;
                    }
                }
                _ => {}
            }
        }
    }

    /// Sends a key to the nearest window from the parent upwards that selects it. A host that has gone is not an error.
    fn send(&self, key: KeyPressEvent, mask: EventMask) {
        let tree = self.connection.query_tree(self.window).ok().and_then(|asked| asked.reply().ok());
        if let Some(tree) = tree.filter(|tree| tree.parent != tree.root) {
            let sent = KeyPressEvent { event: tree.parent, child: self.window, ..key };
            let _ = self.connection.send_event(true, tree.parent, mask, sent);
            let _ = self.connection.flush();
        }
    }
}

/// The symbol of each key.
struct Keymap {
    first: Keycode,
    each: usize,
    signs: Vec<Keysym>,
}

impl Keymap {
    fn of(connection: &RustConnection) -> Option<Self> {
        let (first, last) = (connection.setup().min_keycode, connection.setup().max_keycode);
        let asked = connection.get_keyboard_mapping(first, last - first + 1).ok()?.reply().ok()?;
        Some(Self { first, each: usize::from(asked.keysyms_per_keycode), signs: asked.keysyms })
    }

    /// The screen's meaning of a key; `None` for one that it cannot use.
    fn stroke(&self, key: &KeyPressEvent) -> Option<Stroke> {
        let held = |mask: KeyButMask| u16::from(key.state) & u16::from(mask) != 0;
        // The second pair of columns is the keyboard's second layout, selected by bits 13 and 14.
        let group = usize::from(u16::from(key.state) >> 13 & 1);
        let column = 2 * group + usize::from(held(KeyButMask::SHIFT));
        let row = usize::from(key.detail.checked_sub(self.first)?) * self.each;
        let at = |column: usize| {
            self.signs.get(row + column).copied().filter(|sign| column < self.each && *sign != 0)
        };
        let sign = at(column).or_else(|| at(column & 1)).or_else(|| at(0))?;
        Some(Stroke {
            sign: match sign {
                0x20..=0x7e => char::from_u32(sign),
                _ => None,
            },
            key: named(sign),
            shift: held(KeyButMask::SHIFT),
            ctrl: held(KeyButMask::CONTROL),
            alt: held(KeyButMask::MOD1) || held(KeyButMask::MOD4),
        })
    }
}

/// Keys without a character, by their numbers in X11's `keysymdef.h`.
fn named(sign: Keysym) -> Option<egui::Key> {
    Some(match sign {
        0xff08 => egui::Key::Backspace,
        0xff09 | 0xfe20 => egui::Key::Tab,
        0xff0d | 0xff8d => egui::Key::Enter,
        0xff1b => egui::Key::Escape,
        0xff50 => egui::Key::Home,
        0xff51 => egui::Key::ArrowLeft,
        0xff52 => egui::Key::ArrowUp,
        0xff53 => egui::Key::ArrowRight,
        0xff54 => egui::Key::ArrowDown,
        0xff55 => egui::Key::PageUp,
        0xff56 => egui::Key::PageDown,
        0xff57 => egui::Key::End,
        0xff63 => egui::Key::Insert,
        0xffff => egui::Key::Delete,
        _ => return None,
    })
}
