//! The host's side of an editor window: a socket with an [`Embedding`] found in hosts, and the keys that return.
//!
//! Only [`Socket::idle`], the host's event loop, answers requests to the socket, because an editor must cope with late
//! answers.

mod keys;
mod messages;
mod pointer;

pub use keys::Key;

use super::display::{Picture, picture, pixels};
use super::{RigError, doing};
use messages::Atoms;
use std::time::{Duration, Instant};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    ChangeWindowAttributesAux, ConfigWindow, ConfigureRequestEvent, ConfigureWindowAux, ConnectionExt,
    CreateWindowAux, EventMask, StackMode, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// The least number of colours of a drawn window; a blank one has one, or two with a border.
pub const DRAWN: usize = 8;

/// The way in which a host embeds an editor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Embedding {
    /// In a visible window; the host selects keys in the socket itself.
    Plain,
    /// In a socket that selects SubstructureRedirect: the editor's map request is answered this long after the host's
    /// event loop received it.
    Redirecting(Duration),
    /// In a redirecting socket that uses XEmbed and maps the editor as soon as it appears.
    XEmbed,
    /// In a window that is shown this long after the editor.
    ShownLate(Duration),
    /// In a hidden socket without a parent, which is moved into the visible window this long after the editor was
    /// shown.
    MovedLate(Duration),
}

impl Embedding {
    /// One of each kind.
    pub const ALL: [Self; 5] = [
        Self::Plain,
        Self::Redirecting(Duration::from_millis(120)),
        Self::XEmbed,
        Self::ShownLate(Duration::from_millis(120)),
        Self::MovedLate(Duration::from_millis(120)),
    ];

    /// Whether the editor's requests for its own window go to the host first.
    pub fn redirects(self) -> bool {
        matches!(self, Self::Redirecting(_) | Self::XEmbed)
    }
}

/// A host's answer to a size that the editor requests.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sizes {
    /// The editor gets it.
    #[default]
    Granted,
    /// The editor keeps its size.
    Refused,
    /// The editor gets the next smaller multiple of this many pixels.
    Rounded(u32),
}

impl Sizes {
    /// The size granted for a request; `None` if it is refused.
    pub fn answer(self, wish: [u32; 2]) -> Option<[u32; 2]> {
        match self {
            Self::Granted => Some(wish),
            Self::Refused => None,
            Self::Rounded(to) => Some(wish.map(|side| (side / to * to).max(to))),
        }
    }
}

/// An action due in a turn of the host's event loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Action {
    /// Maps a window that requested it.
    Map(u32),
    /// Shows the window that holds the socket.
    Show,
    /// Moves the socket into the visible window.
    MoveIn,
}

/// A window of the host with a socket for an editor.
pub struct Socket {
    connection: RustConnection,
    atoms: Atoms,
    embedding: Embedding,
    sizes: Sizes,
    /// The visible window.
    top: u32,
    /// The window passed to the plug-in.
    socket: u32,
    due: Vec<(Instant, Action)>,
    keys: Vec<Key>,
}

impl Socket {
    /// Opens a socket on the display of the environment.
    ///
    /// # Errors
    /// If there is no display, or the server refuses.
    pub fn open(size: [u32; 2], embedding: Embedding) -> Result<Self, RigError> {
        let (connection, screen) = x11rb::connect(None).map_err(doing("connecting to the display"))?;
        let root = connection.setup().roots[screen].root;
        let keys = EventMask::KEY_PRESS | EventMask::KEY_RELEASE;
        let atoms = Atoms::of(&connection)?;
        let top = window(&connection, root, size, EventMask::STRUCTURE_NOTIFY | keys)?;
        let hidden = matches!(embedding, Embedding::MovedLate(_));
        let mut wanted = EventMask::SUBSTRUCTURE_NOTIFY;
        if embedding.redirects() {
            wanted |= EventMask::SUBSTRUCTURE_REDIRECT;
        }
        if embedding == Embedding::Plain {
            wanted |= keys;
        }
        let socket = window(&connection, if hidden { root } else { top }, size, wanted)?;
        if !hidden {
            connection.map_window(socket).map_err(doing("showing a socket"))?;
        }
        if !matches!(embedding, Embedding::ShownLate(_)) {
            connection.map_window(top).map_err(doing("showing a window"))?;
        }
        connection.sync().map_err(doing("waiting for the window"))?;
        let (sizes, due, keys) = (Sizes::default(), Vec::new(), Vec::new());
        Ok(Self { connection, atoms, embedding, sizes, top, socket, due, keys })
    }

    /// The window passed to the plug-in.
    pub fn id(&self) -> u32 {
        self.socket
    }

    /// Sets the answer to requested sizes from now on.
    pub fn set_sizes(&mut self, sizes: Sizes) {
        self.sizes = sizes;
    }

    /// The host has called `show`: delays start here.
    pub fn shown(&mut self) {
        let action = match self.embedding {
            Embedding::ShownLate(after) => Some((after, Action::Show)),
            Embedding::MovedLate(after) => Some((after, Action::MoveIn)),
            _ => None,
        };
        self.due.extend(action.map(|(after, action)| (Instant::now() + after, action)));
    }

    /// One turn of the host's event loop.
    ///
    /// # Errors
    /// If the connection was lost.
    pub fn idle(&mut self) -> Result<(), RigError> {
        while let Some(event) = self.connection.poll_for_event().map_err(doing("asking for events"))? {
            self.heed(&event)?;
        }
        let now = Instant::now();
        let (ready, later): (Vec<_>, Vec<_>) = self.due.iter().partition(|(when, _)| *when <= now);
        self.due = later;
        for (_, action) in ready {
            self.act(action)?;
        }
        self.connection.flush().map_err(doing("talking to the display"))
    }

    fn heed(&mut self, event: &Event) -> Result<(), RigError> {
        match event {
            Event::MapRequest(wish) => {
                let after =
                    if let Embedding::Redirecting(after) = self.embedding { after } else { Duration::ZERO };
                self.due.push((Instant::now() + after, Action::Map(wish.window)));
            }
            Event::ConfigureRequest(wish) => self.configure(wish)?,
            Event::ReparentNotify(come) if come.parent == self.socket => self.welcome(come.window)?,
            Event::CreateNotify(come) if come.parent == self.socket => self.welcome(come.window)?,
            Event::KeyPress(press) => self.keys.push(keys::read(&self.connection, press, true)?),
            Event::KeyRelease(press) => self.keys.push(keys::read(&self.connection, press, false)?),
            // Errors too: a window may be gone before its request is answered.
            _ => {}
        }
        Ok(())
    }

    /// Handles a new window in the socket.
    fn welcome(&self, client: u32) -> Result<(), RigError> {
        if self.embedding != Embedding::XEmbed {
            return Ok(());
        }
        messages::welcome(&self.connection, self.atoms, self.socket, client)
    }

    fn act(&self, action: Action) -> Result<(), RigError> {
        match action {
            Action::Map(child) => self.connection.map_window(child),
            Action::Show => self.connection.map_window(self.top),
            Action::MoveIn => self
                .connection
                .reparent_window(self.socket, self.top, 0, 0)
                .and_then(|_| self.connection.map_window(self.socket)),
        }
        .map(drop)
        .map_err(doing("showing a window"))
    }

    fn configure(&self, wish: &ConfigureRequestEvent) -> Result<(), RigError> {
        let resized = wish.value_mask.intersects(ConfigWindow::WIDTH | ConfigWindow::HEIGHT);
        let Some([width, height]) = self.sizes.answer([wish.width.into(), wish.height.into()]) else {
            return Ok(());
        };
        if !resized {
            return Ok(());
        }
        let change = ConfigureWindowAux::new().width(width).height(height);
        self.connection.configure_window(wish.window, &change).map_err(doing("resizing a window"))?;
        self.resize([width, height])
    }

    /// Resizes the window, as by a user at its edge.
    ///
    /// # Errors
    /// If the connection was lost.
    pub fn resize(&self, [width, height]: [u32; 2]) -> Result<(), RigError> {
        let change = ConfigureWindowAux::new().width(width).height(height);
        for window in [self.top, self.socket] {
            self.connection.configure_window(window, &change).map_err(doing("resizing a window"))?;
        }
        self.connection.sync().map_err(doing("waiting for the window"))
    }

    /// The editor's own window, once it exists.
    ///
    /// # Errors
    /// If the socket no longer exists.
    pub fn inner(&self) -> Result<Option<u32>, RigError> {
        let tree = self.connection.query_tree(self.socket).map_err(doing("asking for windows"))?;
        Ok(tree.reply().map_err(doing("asking for windows"))?.children.first().copied())
    }

    /// The size of the editor's own window; `None` while there is none.
    ///
    /// # Errors
    /// If the socket no longer exists.
    pub fn inner_size(&self) -> Result<Option<[u32; 2]>, RigError> {
        let Some(inner) = self.inner()? else { return Ok(None) };
        let shape = self.connection.get_geometry(inner).map_err(doing("asking for a window's size"))?;
        // A window that closed in between has no size.
        Ok(shape.reply().ok().map(|g| [u32::from(g.width), u32::from(g.height)]))
    }

    /// A picture of the visible window.
    ///
    /// # Errors
    /// If the window is not shown.
    pub fn picture(&self) -> Result<Picture, RigError> {
        picture(&self.connection, self.top)
    }

    /// Runs the host's event loop and `idle` until the editor is drawn, and returns its picture.
    ///
    /// # Errors
    /// If the editor is not drawn within `patience`; the text has its number of colours.
    pub fn wait_until_drawn(&mut self, patience: Duration, idle: impl FnMut()) -> Result<Picture, RigError> {
        self.wait_for_picture(patience, idle, |picture| picture.colours() >= DRAWN)
    }

    /// Raises the window and runs the host's event loop and `idle` until a picture meets `wanted`.
    ///
    /// # Errors
    /// If there is no such picture within `patience`; the text has the number of colours of the last one.
    pub fn wait_for_picture(
        &mut self,
        patience: Duration,
        mut idle: impl FnMut(),
        mut wanted: impl FnMut(&Picture) -> bool,
    ) -> Result<Picture, RigError> {
        // A covered window has no picture.
        let front = ConfigureWindowAux::new().stack_mode(StackMode::ABOVE);
        self.connection.configure_window(self.top, &front).map_err(doing("raising a window"))?;
        let start = Instant::now();
        loop {
            self.idle()?;
            idle();
            // A window that is shown late has no picture yet.
            let seen = self.picture();
            if let Ok(picture) = &seen
                && wanted(picture)
            {
                return seen;
            }
            if start.elapsed() > patience {
                let last = seen.map_or_else(|e| e.to_string(), |p| format!("{} colours", p.colours()));
                return Err(RigError::new(format!(
                    "{:?}: no such picture came in {patience:?}; the last one: {last}",
                    self.embedding
                )));
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Gives the editor the keyboard focus.
    ///
    /// # Errors
    /// If the editor is not shown.
    pub fn focus(&self) -> Result<(), RigError> {
        let inner =
            self.inner()?.ok_or_else(|| RigError::new("there is no editor to give the keyboard to"))?;
        keys::focus(&self.connection, inner)
    }

    /// Presses and releases a key, as the keyboard does. It goes to the window with the focus.
    ///
    /// # Errors
    /// If the character has no key, or the server refuses.
    pub fn press(&self, character: char) -> Result<(), RigError> {
        keys::press(&self.connection, character)
    }

    /// Runs a turn of the host's event loop, and returns the keys that reached its own windows since the last call.
    ///
    /// # Errors
    /// If the connection was lost.
    pub fn keys(&mut self) -> Result<Vec<Key>, RigError> {
        self.idle()?;
        Ok(std::mem::take(&mut self.keys))
    }

    /// Destroys the window with all windows in it, including the editor's.
    ///
    /// # Errors
    /// If the connection was lost.
    pub fn destroy(self) -> Result<(), RigError> {
        for window in [self.socket, self.top] {
            self.connection.destroy_window(window).map_err(doing("destroying a window"))?;
        }
        self.connection.sync().map_err(doing("waiting for the windows' end"))
    }
}

impl Drop for Socket {
    fn drop(&mut self) {
        // Both may already be gone.
        let _ = self.connection.destroy_window(self.socket);
        let _ = self.connection.destroy_window(self.top);
        let _ = self.connection.sync();
    }
}

fn window(
    connection: &RustConnection,
    parent: u32,
    size: [u32; 2],
    wanted: EventMask,
) -> Result<u32, RigError> {
    let window = connection.generate_id().map_err(doing("asking for a window id"))?;
    let [width, height] = pixels(size)?;
    let black = connection.setup().roots.first().map_or(0, |root| root.black_pixel);
    connection
        .create_window(
            x11rb::COPY_DEPTH_FROM_PARENT,
            window,
            parent,
            0,
            0,
            width,
            height,
            0,
            WindowClass::INPUT_OUTPUT,
            x11rb::COPY_FROM_PARENT,
            &CreateWindowAux::new().background_pixel(black),
        )
        .map_err(doing("creating a window"))?;
    // Separate from creating it, so that an error tells which of the two failed.
    connection
        .change_window_attributes(window, &ChangeWindowAttributesAux::new().event_mask(wanted))
        .map_err(doing("listening to a window"))?
        .check()
        .map_err(doing("listening to a window"))?;
    Ok(window)
}
