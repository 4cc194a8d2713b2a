//! The readings port: access to the readings for other code in the plug-in's process.
//!
//! A host sees parameters and audio; readings are neither. So the library exports a few functions of the C ABI beside
//! the entry points of the plug-in formats. Test rigs and scripts that host the plug-in find them by name in the
//! library file; other hosts ignore them.
//!
//! ```c
//! typedef void (*plumbline_receive)(void *context, const uint8_t *bytes, size_t length);
//!
//! uint32_t plumbline_instances(void);
//! bool plumbline_watch(uint32_t instance, uint8_t watch);
//! bool plumbline_readings(uint32_t instance, uint32_t tenths, plumbline_receive receive, void *context);
//! bool plumbline_try(uint32_t instance, double delay_left_secs, double delay_right_secs, uint8_t flip_left,
//!                    uint8_t flip_right, uint8_t in_renders);
//! bool plumbline_try_off(uint32_t instance);
//! ```
//!
//! Instances are numbered from 0 in the order of their creation, without dropped ones. Call none of the functions on
//! the audio thread.
//!
//! # Format
//! CBOR (RFC 8949), which, unlike JSON, has infinities. One map with the fields of [`Readings`]; the view and the
//! tenths in it have the field names of `plumbline_programme` and `plumbline_measure`. An absent reading is null.

use crate::shared::Shared;
use plumbline_live::guarded;
use plumbline_measure::Tenth;
use plumbline_programme::{Trial, View};
use serde::{Deserialize, Serialize};
use std::ffi::c_void;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// The version of the format. It only ever grows.
pub const VERSION: u32 = 1;

/// The port's readings of one instance.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Readings {
    /// Version of the format.
    pub version: u32,
    /// Why nothing is measured; null while something is.
    pub trouble: Option<String>,
    /// Whether audio has ended and all of it is measured and reported: the view and the tenths are then final. False in
    /// messages from before this field existed.
    #[serde(default)]
    pub settled: bool,
    /// Blocks since the last reset that passed unmeasured because the host broke the rules of its format. 0 in messages from before this field existed.
    #[serde(default)]
    pub unfit_blocks: u64,
    /// The latest view; made only while an editor is open or a client watches.
    pub view: View,
    /// The latest tenths, oldest first, as many as requested. They may be slightly newer than the view.
    pub tenths: Vec<Tenth>,
}

/// Receives the bytes of [`Readings`] while [`plumbline_readings`] runs.
pub type Receive = unsafe extern "C" fn(context: *mut c_void, bytes: *const u8, length: usize);

static INSTANCES: Mutex<Vec<Weak<Shared>>> = Mutex::new(Vec::new());

/// Lists a new instance.
pub(crate) fn announce(shared: &Arc<Shared>) {
    let mut instances = INSTANCES.lock().unwrap_or_else(PoisonError::into_inner);
    instances.retain(|instance| instance.strong_count() > 0);
    instances.push(Arc::downgrade(shared));
}

fn instance(index: u32) -> Option<Arc<Shared>> {
    let instances = INSTANCES.lock().unwrap_or_else(PoisonError::into_inner);
    instances.iter().filter_map(Weak::upgrade).nth(usize::try_from(index).ok()?)
}

fn encoded(shared: &Shared, tenths: u32) -> Option<Vec<u8>> {
    let wanted = usize::try_from(tenths).unwrap_or(usize::MAX);
    let readings = Readings {
        version: VERSION,
        trouble: shared.trouble(),
        // Read first, so that no other field is older.
        settled: shared.layer.is_settled(),
        unfit_blocks: shared.requests.blocks.unfit.load(Ordering::Relaxed),
        view: View::clone(&shared.layer.view()),
        tenths: shared.layer.with_history(|history| history.newest(wanted).copied().collect()),
    };
    let mut bytes = Vec::new();
    ciborium::into_writer(&readings, &mut bytes).ok()?;
    Some(bytes)
}

/// The number of instances of the plug-in in this process.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_instances() -> u32 {
    let instances = INSTANCES.lock().unwrap_or_else(PoisonError::into_inner);
    let living = instances.iter().filter(|instance| instance.strong_count() > 0).count();
    u32::try_from(living).unwrap_or(u32::MAX)
}

/// Starts or stops the views of an instance while its editor is closed. Each call with a number other than 0 needs one
/// with 0.
///
/// Returns false, and does nothing, if there is no such instance.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_watch(index: u32, watch: u8) -> bool {
    let done = guarded(|| instance(index).map(|shared| shared.watch(watch != 0)).is_some());
    done.unwrap_or(false)
}

/// Tries a repair on an instance, as its editor does: delays each channel by 0 to 0.1 s, inverts its polarity, or both;
/// in an offline render only with `in_renders`. A delay out of bounds is clamped, NaN counts as 0.
///
/// A delay of less than 32 samples is rounded to whole samples.
///
/// Returns false, and does nothing, if there is no such instance.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_try(
    index: u32,
    delay_left_secs: f64,
    delay_right_secs: f64,
    flip_left: u8,
    flip_right: u8,
    in_renders: u8,
) -> bool {
    let trial = Trial {
        delay_secs: [delay_left_secs, delay_right_secs],
        flip: [flip_left != 0, flip_right != 0],
        in_renders: in_renders != 0,
    };
    try_out(index, Some(trial))
}

/// Ends the trial that [`plumbline_try`] began.
///
/// Returns false, and does nothing, if there is no such instance.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_try_off(index: u32) -> bool {
    try_out(index, None)
}

fn try_out(index: u32, trial: Option<Trial>) -> bool {
    let done = guarded(|| {
        instance(index).map(|shared| shared.layer.change(|settings| settings.trial = trial)).is_some()
    });
    done.unwrap_or(false)
}

/// Passes the latest readings of an instance to `receive`, calling it once before this returns.
///
/// Returns false, and calls nothing, if there is no such instance or no `receive`.
///
/// # Safety
/// `receive` must be callable with `context`. The bytes are valid until it returns.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn plumbline_readings(
    index: u32,
    tenths: u32,
    receive: Option<Receive>,
    context: *mut c_void,
) -> bool {
    let Some(receive) = receive else { return false };
    let bytes = guarded(|| instance(index).and_then(|shared| encoded(&shared, tenths)));
    let Ok(Some(bytes)) = bytes else { return false };
    // SAFETY: the caller vouches for `receive` and `context`; the bytes live until after the call.
    unsafe { receive(context, bytes.as_ptr(), bytes.len()) };
    true
}
