//! The readings port: how a program in the same process as the plug-in reads what it measured.
//!
//! A host sees parameters and audio; an analyser's readings are neither. The library therefore exports a few
//! functions of the C ABI next to the plug-in formats' own entry points. Test rigs and scripts that host the
//! plug-in find them by name in the same library file; hosts do not know them and lose nothing.
//!
//! ```c
//! typedef void (*plumbline_receive)(void *context, const uint8_t *bytes, size_t length);
//!
//! uint32_t plumbline_instances(void);
//! bool plumbline_watch(uint32_t instance, bool watch);
//! bool plumbline_readings(uint32_t instance, uint32_t tenths, plumbline_receive receive, void *context);
//! bool plumbline_try(uint32_t instance, double delay_left_secs, double delay_right_secs, bool flip_left,
//!                    bool flip_right, bool in_renders);
//! bool plumbline_try_off(uint32_t instance);
//! ```
//!
//! Instances are counted from 0 in the order of their creation, those that are gone left out. None of them
//! is for the audio thread.
//!
//! # Format
//! CBOR (RFC 8949), which keeps the infinities that JSON has no word for. One map with the fields of
//! [`Readings`]; the view and the tenths in it have the field names of `plumbline_measure`. An absent reading is
//! null.

use crate::shared::Shared;
use plumbline_live::guarded;
use plumbline_measure::Tenth;
use plumbline_programme::{Trial, View};
use serde::{Deserialize, Serialize};
use std::ffi::c_void;
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// Version of the format. It only ever grows.
pub const VERSION: u32 = 1;

/// What the port hands out of one instance.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Readings {
    /// Version of the format.
    pub version: u32,
    /// Why nothing is measured, when nothing is.
    pub trouble: Option<String>,
    /// Whether all audio that was handed over is measured and told of, and audio no longer comes: the view and the tenths
    /// are then the last ones. False in what was written before there was this field.
    #[serde(default)]
    pub settled: bool,
    /// The newest view; made only while an editor is open or somebody watches.
    pub view: View,
    /// The newest tenths, oldest first, as many as were asked for. They may be a moment newer than the view.
    pub tenths: Vec<Tenth>,
}

/// Takes the bytes of [`Readings`] while [`plumbline_readings`] runs.
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
        // Asked first: what follows is then no older than the answer.
        settled: shared.layer.is_settled(),
        view: View::clone(&shared.layer.view()),
        tenths: shared.layer.with_history(|history| history.newest(wanted).copied().collect()),
    };
    let mut bytes = Vec::new();
    ciborium::into_writer(&readings, &mut bytes).ok()?;
    Some(bytes)
}

/// How many instances of the plug-in live in this process.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_instances() -> u32 {
    let instances = INSTANCES.lock().unwrap_or_else(PoisonError::into_inner);
    let living = instances.iter().filter(|instance| instance.strong_count() > 0).count();
    u32::try_from(living).unwrap_or(u32::MAX)
}

/// Asks for views of an instance without an editor, or ends that. Each call with `true` wants one with `false`.
///
/// False where there is no such instance; nothing was done then.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_watch(index: u32, watch: bool) -> bool {
    let done = guarded(|| instance(index).map(|shared| shared.watch(watch)).is_some());
    done.unwrap_or(false)
}

/// Tries a repair out on an instance, as its editor does: delays the channels by 0 to 0.1 s each, inverts their polarity,
/// or both; in an offline render only with `in_renders`. A delay out of bounds is taken for the nearest, NaN for none.
///
/// A delay under 32 samples is rounded to whole samples.
///
/// False where there is no such instance; nothing was done then.
#[unsafe(no_mangle)]
pub extern "C" fn plumbline_try(
    index: u32,
    delay_left_secs: f64,
    delay_right_secs: f64,
    flip_left: bool,
    flip_right: bool,
    in_renders: bool,
) -> bool {
    let trial =
        Trial { delay_secs: [delay_left_secs, delay_right_secs], flip: [flip_left, flip_right], in_renders };
    try_out(index, Some(trial))
}

/// Ends what [`plumbline_try`] began.
///
/// False where there is no such instance; nothing was done then.
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

/// Hands the newest readings of an instance to `receive`, which is called once, before this returns.
///
/// False where there is no such instance or no `receive`; it was not called then.
///
/// # Safety
/// `receive` must be callable with `context`. The bytes are gone when it returns.
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
