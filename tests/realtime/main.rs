//! The way from the audio callback to the tenths: what the audio thread may not do, and what may not get lost.
//!
//! That the audio thread takes no lock is so by construction: a tap holds the queue and atomic counters, and no
//! mutex. `room` holds it to that: it pushes while the layer's history is locked.

mod allocation;
mod guard;
mod input;
mod life;
mod rig;
mod room;
mod time;
mod transport;
mod trial;
