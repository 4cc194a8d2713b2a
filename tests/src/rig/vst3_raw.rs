//! A VST3 host without a library between it and the plug-in: it can behave like real hosts, including their
//! misbehaviour.
//!
//! [`super::vst3`] hosts through a crate that follows the rules and hides much. Here each call of the format is a
//! method, for any order and any thread, and the plug-in's requests are kept in [`Notes`]. The interfaces come from
//! the crate `vst3` (MIT or Apache-2.0), which only declares them.
//!
//! | file | one notion |
//! |---|---|
//! | `module` | a loaded library and its factory |
//! | `instance` | one instance: buses, activation, parameters, latency, state, the track's name |
//! | `processor` | blocks of audio, from any thread |
//! | `handler` | the plug-in's messages to its host, and the serving of restarts |
//! | `frame` | the host's side of an editor: sizes that it grants or refuses, and a run loop |
//! | `view` | the editor |
//! | `stream`, `changes`, `attributes` | bytes of a state, automation of a block, name and colour of a track |

mod attributes;
mod changes;
mod frame;
mod handler;
mod instance;
mod module;
mod processor;
mod stream;
mod view;

pub use frame::{Resizing, RunLoops};
pub use handler::{Edit, Notes, Restarts};
pub use instance::{HostBehaviour, Instance, Parameter, Setup};
pub use module::{Class, Module};
pub use processor::{Block, Buffers, Processor};
pub use view::View;

/// The speaker arrangement `kMono`.
pub const MONO: u64 = vst3::Steinberg::Vst::SpeakerArr::kMono;
/// The speaker arrangement `kStereo`.
pub const STEREO: u64 = vst3::Steinberg::Vst::SpeakerArr::kStereo;

/// Reads a text of the format, up to a zero or the end of its field.
fn text16(units: &[u16]) -> String {
    let end = units.iter().position(|&unit| unit == 0).unwrap_or(units.len());
    String::from_utf16_lossy(&units[..end])
}

/// Reads a text with one byte per character, up to a zero or the end of its field.
fn text8(bytes: &[std::ffi::c_char]) -> String {
    let bytes: Vec<u8> = bytes.iter().take_while(|&&b| b != 0).map(|&b| b.cast_unsigned()).collect();
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Writes a text into a field, cut before the last unit, which is zero.
fn put16(text: &str, field: &mut [u16]) {
    field.fill(0);
    let room = field.len().saturating_sub(1);
    for (place, unit) in field[..room].iter_mut().zip(text.encode_utf16()) {
        *place = unit;
    }
}
