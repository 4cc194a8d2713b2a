//! Stored results and known truths: reports against their stored bytes, the scene and its findings against the planted
//! values, and the files of the board, valid and invalid.

#![expect(
    clippy::cast_possible_truncation,
    reason = "broken files are drawn byte by byte, and seconds become frames"
)]

mod board;
mod findings;
mod recordings;
mod report;
mod scene;
mod stems;
