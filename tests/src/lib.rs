//! Rigs and signals that the test suites share.

pub mod picture;
pub mod signal;
pub mod views;
