//! The readings of a plug-in in this process, from the port that its library exports.

use super::{RigError, doing};
use libloading::Library;
use plumbline_measure::Tenth;
use plumbline_programme::{Clock, Health, Session, Trial, View};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::ffi::c_void;
use std::path::Path;

/// The port's message.
#[derive(Clone, Debug, Deserialize)]
pub struct Readings {
    /// Version of the format.
    pub version: u32,
    /// Why nothing is measured, if nothing is.
    pub trouble: Option<String>,
    /// Whether audio has ended and all of it is measured and reported.
    pub settled: bool,
    /// Blocks that passed unmeasured.
    pub unfit_blocks: u64,
    /// The latest view.
    pub view: View,
    /// The latest tenths, oldest first.
    pub tenths: Vec<Tenth>,
}

/// A part of a view.
#[derive(Clone, Debug, Deserialize)]
pub struct Glimpse {
    /// The number of the view, which increases by one with each.
    pub serial: u64,
    /// The time of the measurement.
    pub clock: Clock,
    /// Faults so far.
    pub health: Health,
    /// The layers on the board.
    pub session: Session,
}

type Receive = unsafe extern "C" fn(*mut c_void, *const u8, usize);

/// The readings port of a loaded library.
pub struct Port {
    library: Library,
}

impl Port {
    /// Opens the port of the library file that the instances came from.
    ///
    /// # Errors
    /// If the file is not a library.
    pub fn open(library: &Path) -> Result<Self, RigError> {
        // SAFETY: loading runs the library's code; the rig is only given the project's own build.
        let library = unsafe { Library::new(library) }.map_err(doing("opening the readings port"))?;
        Ok(Self { library })
    }

    /// The number of instances in this process.
    ///
    /// # Errors
    /// If the library has no port.
    pub fn instances(&self) -> Result<u32, RigError> {
        // SAFETY: the name and the type are the documented ones of the port.
        let count = unsafe { self.library.get::<extern "C" fn() -> u32>(b"plumbline_instances\0") };
        Ok(count.map_err(doing("finding plumbline_instances"))?())
    }

    /// Starts or ends the making of views without an editor.
    ///
    /// # Errors
    /// If the library has no port, or the instance is unknown.
    pub fn watch(&self, instance: u32, watch: bool) -> Result<(), RigError> {
        // SAFETY: the name and the type are the documented ones of the port.
        let port = unsafe { self.library.get::<extern "C" fn(u32, u8) -> bool>(b"plumbline_watch\0") };
        let done = port.map_err(doing("finding plumbline_watch"))?(instance, u8::from(watch));
        done.then_some(()).ok_or_else(|| RigError::new(format!("there is no instance {instance}")))
    }

    /// Tries a repair, or ends the trial.
    ///
    /// # Errors
    /// If the library has no port, or the instance is unknown.
    pub fn try_out(&self, instance: u32, trial: Option<Trial>) -> Result<(), RigError> {
        type Try = extern "C" fn(u32, f64, f64, u8, u8, u8) -> bool;
        let done = match trial {
            Some(Trial { delay_secs, flip, in_renders }) => {
                // SAFETY: the name and the type are the documented ones of the port.
                let port = unsafe { self.library.get::<Try>(b"plumbline_try\0") };
                let port = port.map_err(doing("finding plumbline_try"))?;
                let [left, right, in_renders] = [flip[0], flip[1], in_renders].map(u8::from);
                port(instance, delay_secs[0], delay_secs[1], left, right, in_renders)
            }
            None => {
                // SAFETY: the name and the type are the documented ones of the port.
                let port = unsafe { self.library.get::<extern "C" fn(u32) -> bool>(b"plumbline_try_off\0") };
                port.map_err(doing("finding plumbline_try_off"))?(instance)
            }
        };
        done.then_some(()).ok_or_else(|| RigError::new(format!("there is no instance {instance}")))
    }

    /// The latest readings of an instance, with up to `tenths` tenths.
    ///
    /// # Errors
    /// If the library has no port, the instance is unknown, or the bytes are not readings.
    pub fn readings(&self, instance: u32, tenths: u32) -> Result<Readings, RigError> {
        self.read(instance, tenths)
    }

    /// The session, the clock and the health of an instance's latest view: quicker to read than all readings.
    ///
    /// # Errors
    /// As [`Port::readings`].
    pub fn glimpse(&self, instance: u32) -> Result<Glimpse, RigError> {
        #[derive(Deserialize)]
        struct Part {
            view: Glimpse,
        }
        self.read::<Part>(instance, 0).map(|part| part.view)
    }

    /// Whether an instance's audio has ended and all of it is measured and reported.
    ///
    /// # Errors
    /// As [`Port::readings`].
    pub fn is_settled(&self, instance: u32) -> Result<bool, RigError> {
        #[derive(Deserialize)]
        struct Part {
            settled: bool,
        }
        self.read::<Part>(instance, 0).map(|part| part.settled)
    }

    fn read<T: DeserializeOwned>(&self, instance: u32, tenths: u32) -> Result<T, RigError> {
        type Ask = unsafe extern "C" fn(u32, u32, Option<Receive>, *mut c_void) -> bool;
        // SAFETY: the name and the type are the documented ones of the port.
        let port = unsafe { self.library.get::<Ask>(b"plumbline_readings\0") };
        let port = port.map_err(doing("finding plumbline_readings"))?;
        let mut bytes: Vec<u8> = Vec::new();
        // SAFETY: `receive` takes the vector that the pointer points at, which outlives the call.
        let done = unsafe { port(instance, tenths, Some(receive), (&raw mut bytes).cast()) };
        if !done {
            return Err(RigError::new(format!("there is no instance {instance}")));
        }
        ciborium::from_reader(bytes.as_slice()).map_err(doing("reading what the port handed out"))
    }
}

unsafe extern "C" fn receive(context: *mut c_void, bytes: *const u8, length: usize) {
    // SAFETY: the port calls back with the given context, a vector that nothing else uses meanwhile, and with bytes
    // that live during the call.
    unsafe { (*context.cast::<Vec<u8>>()).extend_from_slice(std::slice::from_raw_parts(bytes, length)) };
}
