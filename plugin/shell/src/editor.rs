//! The editor: the screen in a window of the host.
//!
//! [`BusEditor`] lives as long as the instance and costs nothing while no window is open: the picture, its text and its
//! textures are made when the window opens and dropped when it closes.

mod app;
mod ending;
mod repaint;
mod window;
#[cfg(target_os = "linux")]
mod x11;

use crate::saved_state::{SMALLEST, Track};
use crate::shared::Shared;
use app::App;
use ending::Ending;
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize};
use nice_plug::editor::{Editor, HostMethods, ParentWindowHandle, ResizeHint, SpawnedEditor};
use nice_plug::plugin::TrackInfo;
use nice_plug_egui::{EguiEditor, EguiEditorState, EguiNiceSettings, RepaintNotifier, create_egui_editor};
use repaint::{RARELY, Repaint};
use std::error::Error;
use std::sync::{Arc, Mutex, PoisonError};
pub use window::{BusWindow, Window};

/// The editor of one instance, open or not.
pub struct BusEditor {
    shared: Arc<Shared>,
    title: &'static str,
    /// The latest window; kept after closing, because the host may still ask for its size.
    newest: Mutex<Option<Newest>>,
}

/// The kept data of the latest window.
struct Newest {
    editor: EguiEditor<App>,
    repaint: Repaint,
}

impl BusEditor {
    /// An editor without a window.
    pub fn new(shared: Arc<Shared>, title: &'static str) -> Self {
        Self { shared, title, newest: Mutex::new(None) }
    }

    fn resize_limits() -> ResizeHint {
        ResizeHint::resizable().with_min_logical_size(saved_points(SMALLEST))
    }

    fn new_window(&self, repaint: Repaint, ending: Arc<Ending>) -> Option<EguiEditor<App>> {
        let size = saved_points(self.shared.parameters.memory.saved().window);
        let app = App::new(self.shared.clone(), repaint, ending);
        let settings = EguiNiceSettings::new()
            .with_tile(self.title)
            .with_resize_hint(Self::resize_limits())
            .with_repaint_poll_interval(RARELY);
        create_egui_editor(EguiEditorState::from_size(size, 1.0), RepaintNotifier::new(), settings, app)
    }
}

/// A size from the state, in the framework's type.
fn saved_points(size: [u32; 2]) -> LogicalSize<f32> {
    // Exact: sizes are bounded far below 2²⁴.
    LogicalSize::new(size[0] as f32, size[1] as f32)
}

#[cfg(target_os = "linux")]
impl Drop for BusEditor {
    /// The host may unload the library after this.
    fn drop(&mut self) {
        self.shared.closings.wait();
    }
}

impl Editor for BusEditor {
    type Handle = BusWindow;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<BusWindow>, Box<dyn Error>> {
        let (repaint, ending) = (Repaint::default(), Arc::new(Ending::new()));
        let editor = self
            .new_window(repaint.clone(), ending.clone())
            .ok_or("the editor's window could not be prepared; none was opened")?;
        let spawned = editor.spawn(parent, wait_for_parent, fallback_scale_factor, gui_context, host)?;
        *self.newest.lock().unwrap_or_else(PoisonError::into_inner) =
            Some(Newest { editor, repaint: repaint.clone() });
        let handle = BusWindow::new(spawned.handle, self.shared.clone(), repaint);
        Ok(SpawnedEditor { handle, window: Window::new(spawned.window, ending, &self.shared) })
    }

    fn size(&self) -> NativeSize<u32> {
        let newest = self.newest.lock().unwrap_or_else(PoisonError::into_inner);
        match &*newest {
            Some(newest) => newest.editor.size(),
            None => {
                let [width, height] = self.shared.parameters.memory.saved().window;
                NativeSize::new(width, height)
            }
        }
    }

    fn resize_hint(&self) -> ResizeHint {
        Self::resize_limits()
    }

    fn track_info_updated(&self, info: TrackInfo) {
        let colour = info.color().map(|colour| {
            let (red, green, blue, _) = colour.rgba();
            [red, green, blue]
        });
        self.shared.parameters.memory.set_track(Track { name: info.name().to_owned(), colour });
        if let Some(newest) = &*self.newest.lock().unwrap_or_else(PoisonError::into_inner) {
            newest.repaint.request();
        }
    }
}
