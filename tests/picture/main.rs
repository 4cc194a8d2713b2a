//! Pictures of the screen, and what can be done to it with mouse and keys.
//!
//! The pictures lie in `tests/picture/snapshots` and illustrate the guide. After a change that is meant,
//! `UPDATE_SNAPSHOTS=1 cargo test -p plumbline-tests --test picture` writes them anew: look at each of them before
//! committing it. They are painted off screen, without a display, by whatever Vulkan device there is; a software
//! one will do.

mod clip;
mod colours;
mod hostile;
mod interaction;
mod pictures;
