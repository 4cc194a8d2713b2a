//! The path from the audio callback to the tenths: no forbidden work on the audio thread, and no silent loss.
//!
//! The audio thread takes no lock by construction: a tap has the queue and atomic counters, and no mutex. `room` checks
//! that: it pushes while the layer's history is locked.

mod allocation;
mod guard;
mod input;
mod life;
mod rig;
mod room;
mod time;
mod transport;
mod trial;
