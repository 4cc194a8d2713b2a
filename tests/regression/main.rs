//! Things that went wrong once, or would: broken files at the door, and the scene against its own truth.

mod files;
mod malformed;
mod reading;
mod scene;
