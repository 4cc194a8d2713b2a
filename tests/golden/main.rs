//! Stored results and known truths: reports against their stored bytes, the scene and its findings against what was planted,
//! and the files of the board, sound ones and broken ones.

mod board;
mod findings;
mod report;
mod scene;
mod stems;
