//! Rigs and signals that the test suites share.

pub mod signal;
