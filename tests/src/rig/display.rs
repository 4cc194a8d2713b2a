//! A virtual screen, a window on it for the editor, and pictures of the window.

use super::{RigError, doing};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    ConfigureWindowAux, ConnectionExt, CreateWindowAux, EventMask, ImageFormat, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// Size of the virtual screen in pixels.
const SCREEN: &str = "1600x1000x24";

/// A virtual screen that ends when this is dropped.
pub struct Screen {
    server: Child,
    name: String,
}

impl Screen {
    /// Starts a virtual screen on a free display.
    ///
    /// # Errors
    /// If the server is not installed or does not start; the text says what to do.
    pub fn start() -> Result<Self, RigError> {
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", SCREEN, "-nolisten", "tcp", "-noreset"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(doing("starting Xvfb (install it with `cargo xtask setup`, or set DISPLAY)"))?;
        let mut number = String::new();
        if let Some(out) = server.stdout.take() {
            BufReader::new(out).read_line(&mut number).map_err(doing("asking Xvfb for its display"))?;
        }
        let number = number.trim();
        if number.is_empty() {
            let _ = server.kill();
            let _ = server.wait();
            return Err(RigError::new("Xvfb ended before it had a display"));
        }
        Ok(Self { name: format!(":{number}"), server })
    }

    /// The environment of a process that uses this screen and draws without a graphics card.
    pub fn environment(&self) -> Vec<(&'static str, String)> {
        vec![
            ("DISPLAY", self.name.clone()),
            ("LIBGL_ALWAYS_SOFTWARE", "1".to_owned()),
            ("XDG_RUNTIME_DIR", std::env::temp_dir().to_string_lossy().into_owned()),
        ]
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// An observer of the windows of all programs on a screen.
pub struct Onlooker {
    connection: RustConnection,
    root: u32,
}

impl Onlooker {
    /// Connects to a screen, and moves the pointer to its bottom right corner, so that no tooltip appears.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn of(screen: &Screen) -> Result<Self, RigError> {
        let connected = x11rb::connect(Some(&screen.name)).map_err(doing("connecting to the display"))?;
        let (connection, number) = connected;
        let root = connection.setup().roots[number].root;
        connection
            .warp_pointer(x11rb::NONE, root, 0, 0, 0, 0, i16::MAX, i16::MAX)
            .map_err(doing("moving the pointer"))?;
        connection.sync().map_err(doing("waiting for the pointer"))?;
        Ok(Self { connection, root })
    }

    /// Pictures of all windows of a size, including nested ones.
    ///
    /// # Errors
    /// If the connection was lost.
    pub fn pictures(&self, size: [u32; 2]) -> Result<Vec<Picture>, RigError> {
        let (mut found, mut to_ask) = (Vec::new(), vec![self.root]);
        while let Some(window) = to_ask.pop() {
            let tree = self.connection.query_tree(window).map_err(doing("asking for windows"))?;
            // A window may close meanwhile, and a hidden one has no picture.
            let Ok(tree) = tree.reply() else { continue };
            to_ask.extend(tree.children);
            let shape = self.connection.get_geometry(window).map_err(doing("asking for a window's size"))?;
            let fits = |width: u16, height: u16| [u32::from(width), u32::from(height)] == size;
            if shape.reply().is_ok_and(|shape| fits(shape.width, shape.height)) {
                found.extend(picture(&self.connection, window));
            }
        }
        Ok(found)
    }
}

/// A picture: rows of pixels of four bytes, blue, green, red and unused.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    /// Width in pixels.
    pub width: u16,
    /// Height in pixels.
    pub height: u16,
    /// Four bytes a pixel.
    pub bytes: Vec<u8>,
}

impl Picture {
    /// Red, green and blue of each pixel, row by row.
    pub fn pixels(&self) -> impl Iterator<Item = [u8; 3]> + '_ {
        self.bytes.chunks_exact(4).map(|p| [p[2], p[1], p[0]])
    }

    /// The number of different colours.
    pub fn colours(&self) -> usize {
        self.pixels().collect::<std::collections::HashSet<_>>().len()
    }

    /// The number of pixels that differ from another picture; all if the sizes differ.
    pub fn differing(&self, other: &Self) -> usize {
        if (self.width, self.height) != (other.width, other.height) {
            return usize::from(self.width) * usize::from(self.height);
        }
        self.pixels().zip(other.pixels()).filter(|(a, b)| a != b).count()
    }

    /// Writes it as PNG.
    ///
    /// # Errors
    /// If the file cannot be written.
    pub fn save(&self, path: &std::path::Path) -> Result<(), RigError> {
        let bytes: Vec<u8> = self.pixels().flatten().collect();
        let (width, height) = (u32::from(self.width), u32::from(self.height));
        image::save_buffer(path, &bytes, width, height, image::ExtendedColorType::Rgb8)
            .map_err(doing("writing the picture"))
    }
}

/// A window of the host for an editor.
pub struct HostWindow {
    connection: RustConnection,
    window: u32,
}

impl HostWindow {
    /// Opens a window on the display of the environment.
    ///
    /// # Errors
    /// If there is no display, or the server refuses.
    pub fn open(size: [u32; 2]) -> Result<Self, RigError> {
        let (connection, screen) = x11rb::connect(None).map_err(doing("connecting to the display"))?;
        let window = connection.generate_id().map_err(doing("asking for a window id"))?;
        let root = &connection.setup().roots[screen];
        let [width, height] = pixels(size)?;
        let look = CreateWindowAux::new()
            .background_pixel(root.black_pixel)
            .event_mask(EventMask::STRUCTURE_NOTIFY | EventMask::SUBSTRUCTURE_NOTIFY);
        connection
            .create_window(
                x11rb::COPY_DEPTH_FROM_PARENT,
                window,
                root.root,
                0,
                0,
                width,
                height,
                0,
                WindowClass::INPUT_OUTPUT,
                x11rb::COPY_FROM_PARENT,
                &look,
            )
            .map_err(doing("creating a window"))?;
        connection.map_window(window).map_err(doing("showing a window"))?;
        connection.sync().map_err(doing("waiting for the window"))?;
        Ok(Self { connection, window })
    }

    /// The window's id.
    pub fn id(&self) -> u32 {
        self.window
    }

    /// Resizes the window.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn resize(&self, size: [u32; 2]) -> Result<(), RigError> {
        let change = ConfigureWindowAux::new().width(size[0]).height(size[1]);
        self.connection.configure_window(self.window, &change).map_err(doing("resizing a window"))?;
        self.connection.sync().map_err(doing("waiting for the window"))
    }

    /// The size of the editor's own window inside this one; `None` while there is none.
    ///
    /// # Errors
    /// If the connection was lost.
    pub fn inner_size(&self) -> Result<Option<[u32; 2]>, RigError> {
        let tree = self.connection.query_tree(self.window).map_err(doing("asking for windows"))?;
        let tree = tree.reply().map_err(doing("asking for windows"))?;
        let Some(&child) = tree.children.first() else { return Ok(None) };
        let shape = self.connection.get_geometry(child).map_err(doing("asking for a window's size"))?;
        // A window that closed in between has no size.
        Ok(shape.reply().ok().map(|g| [u32::from(g.width), u32::from(g.height)]))
    }

    /// A picture of the window with the editor in it.
    ///
    /// # Errors
    /// If the window is not shown.
    pub fn picture(&self) -> Result<Picture, RigError> {
        picture(&self.connection, self.window)
    }

    /// Takes pictures until one meets `wanted`, calling `idle` in between as a host would.
    ///
    /// # Errors
    /// If there is no such picture within `patience`; the text has the number of colours of the last one.
    pub fn wait_for_picture(
        &self,
        patience: Duration,
        mut idle: impl FnMut(),
        mut wanted: impl FnMut(&Picture) -> bool,
    ) -> Result<Picture, RigError> {
        let start = Instant::now();
        loop {
            idle();
            let picture = self.picture()?;
            if wanted(&picture) {
                return Ok(picture);
            }
            if start.elapsed() > patience {
                return Err(RigError::new(format!(
                    "no such picture came in {patience:?}; the last one had {} colours",
                    picture.colours()
                )));
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for HostWindow {
    fn drop(&mut self) {
        let _ = self.connection.destroy_window(self.window);
        let _ = self.connection.sync();
    }
}

pub(super) fn picture(connection: &RustConnection, window: u32) -> Result<Picture, RigError> {
    let shape = connection.get_geometry(window).map_err(doing("asking for a window's size"))?;
    let shape = shape.reply().map_err(doing("asking for a window's size"))?;
    // The part outside the screen has no picture, and the server refuses a request that includes it.
    let screen =
        connection.setup().roots.first().ok_or_else(|| RigError::new("the display has no screen"))?;
    let width = shape.width.min(screen.width_in_pixels);
    let height = shape.height.min(screen.height_in_pixels);
    let image = connection
        .get_image(ImageFormat::Z_PIXMAP, window, 0, 0, width, height, u32::MAX)
        .map_err(doing("taking a picture"))?
        .reply()
        .map_err(doing("taking a picture"))?;
    Ok(Picture { width, height, bytes: image.data })
}

pub(super) fn pixels(size: [u32; 2]) -> Result<[u16; 2], RigError> {
    let [width, height] = size.map(u16::try_from);
    Ok([width.map_err(doing("a window's width"))?, height.map_err(doing("a window's height"))?])
}
