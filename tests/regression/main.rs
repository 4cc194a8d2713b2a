//! Things that went wrong once, or would: broken files at the door, and the scene against its own truth.
#![expect(
    clippy::cast_possible_truncation,
    reason = "files are made byte by byte, and seconds become frames"
)]

mod board;
mod files;
mod findings;
mod malformed;
mod reading;
mod report;
mod scene;
