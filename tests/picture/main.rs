//! Pictures of the screen, and its response to mouse and keys.
//!
//! The pictures are in `tests/picture/snapshots` and illustrate the guide. After an intended change,
//! `UPDATE_SNAPSHOTS=1 cargo test -p plumbline-tests --test picture` rewrites them: look at each one before you
//! commit it. They are painted off-screen, without a display, by any Vulkan device, including a software one.

mod clip;
mod colours;
mod hostile;
mod interaction;
mod pictures;
