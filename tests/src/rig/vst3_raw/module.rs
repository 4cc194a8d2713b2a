//! A loaded library and its factory.

use super::text8;
use crate::rig::{RigError, doing};
use libloading::os::unix::{Library, RTLD_LOCAL, RTLD_NOW};
use std::ffi::c_void;
use std::path::Path;
use std::sync::Arc;
use vst3::Steinberg::{IPluginFactory, IPluginFactoryTrait, PClassInfo, TUID, kResultOk};
use vst3::{ComPtr, Interface};

/// The category of audio classes.
const AUDIO: &str = "Audio Module Class";

type Enter = unsafe extern "C" fn(*mut c_void) -> bool;
type Leave = unsafe extern "C" fn() -> bool;
type Factory = unsafe extern "C" fn() -> *mut IPluginFactory;

/// An audio class of a module.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Class {
    /// Its name.
    pub name: String,
    pub(super) id: TUID,
}

/// A module: the library inside a bundle, entered until this is dropped.
pub struct Module {
    factory: Option<ComPtr<IPluginFactory>>,
    library: Option<Library>,
}

impl Module {
    /// Loads and enters the library file of a bundle.
    ///
    /// # Errors
    /// If the file is not a library, or the library is not a VST3 module.
    pub fn load(library: &Path) -> Result<Arc<Self>, RigError> {
        // SAFETY: loading runs the library's code; the rig is only given the project's own build.
        let library = unsafe { Library::open(Some(library), RTLD_NOW | RTLD_LOCAL) };
        let handle = library.map_err(doing("loading the module"))?.into_raw();
        // SAFETY: the handle comes from the same library a line above, and is not closed.
        let library = unsafe { Library::from_raw(handle) };
        // SAFETY: the names and types are those of the format on Linux.
        let (enter, factory) = unsafe {
            (library.get::<Enter>(b"ModuleEntry\0"), library.get::<Factory>(b"GetPluginFactory\0"))
        };
        let (enter, factory) = (
            enter.map_err(doing("finding ModuleEntry"))?,
            factory.map_err(doing("finding GetPluginFactory"))?,
        );
        // SAFETY: a module is entered once, with its handle, before its factory is requested.
        let factory = unsafe {
            if !enter(handle) {
                return Err(RigError::new("the module refused to be entered"));
            }
            ComPtr::from_raw(factory())
        };
        let factory = factory.ok_or_else(|| RigError::new("the module has no factory"))?;
        Ok(Arc::new(Self { factory: Some(factory), library: Some(library) }))
    }

    fn factory(&self) -> &ComPtr<IPluginFactory> {
        self.factory.as_ref().expect("held until the module is dropped")
    }

    /// Its audio classes, in its own order.
    pub fn classes(&self) -> Vec<Class> {
        // SAFETY: the factory lives as long as this value.
        let count = unsafe { self.factory().countClasses() };
        let info = |index| {
            // SAFETY: plain data, for which all zeros are valid.
            let mut info: PClassInfo = unsafe { std::mem::zeroed() };
            // SAFETY: the factory lives, and the result variable outlives the call.
            let done = unsafe { self.factory().getClassInfo(index, &raw mut info) };
            (done == kResultOk && text8(&info.category) == AUDIO)
                .then(|| Class { name: text8(&info.name), id: info.cid })
        };
        (0..count).filter_map(info).collect()
    }

    /// Creates an object of a class.
    pub(super) fn create<I: Interface>(&self, class: &Class) -> Result<ComPtr<I>, RigError> {
        let mut object: *mut c_void = std::ptr::null_mut();
        // SAFETY: both ids are 16 bytes that outlive the call, and so does the result variable; the caller owns the
        // object.
        let object = unsafe {
            let done =
                self.factory().createInstance(class.id.as_ptr(), I::IID.as_ptr().cast(), &raw mut object);
            if done != kResultOk {
                return Err(RigError::new(format!("the factory refused an instance: {done}")));
            }
            ComPtr::from_raw(object.cast())
        };
        object.ok_or_else(|| RigError::new("the factory gave nothing"))
    }
}

impl Drop for Module {
    fn drop(&mut self) {
        self.factory = None;
        let Some(library) = self.library.take() else { return };
        // SAFETY: the name and type are those of the format; nothing of the module is in use, because every instance
        // holds this value.
        unsafe {
            if let Ok(leave) = library.get::<Leave>(b"ModuleExit\0") {
                leave();
            }
        }
    }
}
