//! The editor's calls, each bound to the thread that opened the editor.
//!
//! The framework ends the host's process if such a call comes from another thread. Some hosts do that, for example when
//! they answer a request on the editor's own thread. The call is refused; a `destroy` is carried out as soon as the
//! host calls back on the right thread.

use super::gui::{Gui, Opened};
use super::instance::Instance;
use clap_sys::ext::gui::{CLAP_EXT_GUI, clap_gui_resize_hints, clap_plugin_gui, clap_window};
use clap_sys::plugin::clap_plugin;
use std::ffi::c_char;

/// The editor's calls of an instance; `None` if the framework has no editor.
pub(super) fn gui(instance: &Instance, plugin: *const clap_plugin) -> Option<&Gui> {
    if let Some(gui) = instance.gui.get() {
        return Some(gui);
    }
    let inner = instance.extension(plugin, CLAP_EXT_GUI).cast::<clap_plugin_gui>();
    // SAFETY: the framework's table for this extension, or null.
    let inner = *unsafe { inner.as_ref() }?;
    let table = clap_plugin_gui {
        create: Some(create),
        destroy: Some(destroy),
        set_scale: Some(set_scale),
        get_size: Some(get_size),
        get_resize_hints: Some(get_resize_hints),
        adjust_size: Some(adjust_size),
        set_size: Some(set_size),
        set_parent: Some(set_parent),
        show: Some(show),
        hide: Some(hide),
        ..inner
    };
    Some(instance.gui.get_or_init(|| Gui::new(table, inner)))
}

/// Calls the framework if this thread may, else returns `refused`.
///
/// # Safety
/// The host's pointer to an instance.
unsafe fn on_its_thread<R>(
    plugin: *const clap_plugin,
    refused: R,
    call: impl FnOnce(&clap_plugin_gui) -> R,
) -> R {
    // SAFETY: the caller's promise.
    let gui = unsafe { Instance::of(plugin) }.and_then(|instance| gui(instance, plugin));
    match gui {
        Some(gui) if gui.is_of_this_thread(plugin) => call(&gui.inner),
        _ => refused,
    }
}

/// A call that is passed on unchanged.
macro_rules! passed_on {
    ($($name:ident($($argument:ident: $kind:ty),*);)*) => {$(
        unsafe extern "C" fn $name(plugin: *const clap_plugin, $($argument: $kind),*) -> bool {
            // SAFETY: the host's own arguments, passed to the function that it called.
            unsafe {
                on_its_thread(plugin, false, |inner| inner.$name.is_some_and(|call| call(plugin, $($argument),*)))
            }
        }
    )*};
}

passed_on! {
    set_scale(scale: f64);
    get_size(width: *mut u32, height: *mut u32);
    get_resize_hints(hints: *mut clap_gui_resize_hints);
    set_size(width: u32, height: u32);
    set_parent(window: *const clap_window);
    show();
    hide();
}

unsafe extern "C" fn adjust_size(plugin: *const clap_plugin, width: *mut u32, height: *mut u32) -> bool {
    // SAFETY: the host's own arguments, passed to the function that they are for.
    unsafe {
        on_its_thread(plugin, false, |inner| {
            // A host that passes 0 does not know the size yet.
            let unknown = width.as_ref() == Some(&0) || height.as_ref() == Some(&0);
            let call = if unknown { inner.get_size } else { inner.adjust_size };
            call.is_some_and(|call| call(plugin, width, height))
        })
    }
}

unsafe extern "C" fn create(plugin: *const clap_plugin, api: *const c_char, is_floating: bool) -> bool {
    // SAFETY: the host's pointer to an instance, and its own arguments.
    unsafe {
        let Some(gui) = Instance::of(plugin).and_then(|instance| gui(instance, plugin)) else { return false };
        if gui.opened().by.is_some() && !gui.is_of_this_thread(plugin) {
            return false;
        }
        let made = gui.inner.create.is_some_and(|create| create(plugin, api, is_floating));
        if made {
            gui.set_opened(Opened { by: Some(std::thread::current().id()), to_close: false });
        }
        made
    }
}

unsafe extern "C" fn destroy(plugin: *const clap_plugin) {
    // SAFETY: the host's pointer to an instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return };
    let Some(gui) = gui(instance, plugin) else { return };
    let opened = gui.opened();
    if opened.by.is_some_and(|thread| thread != std::thread::current().id()) {
        gui.set_opened(Opened { to_close: true, ..opened });
        instance.requests.call_back();
        return;
    }
    gui.close(plugin);
    // SAFETY: the editor was opened on the host's main thread, which this is. Once the window is closed the host may no
    // longer call back, so pending requests are served now.
    unsafe { instance.serve() };
}
