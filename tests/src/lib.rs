//! Rigs and signals shared by the test suites.

pub mod cases;
pub mod debian;
pub mod flac;
pub mod formats;
pub mod layers;
pub mod pairs;
#[cfg(feature = "pictures")]
pub mod picture;
pub mod programme;
pub mod rig;
pub mod signal;
pub mod sources;
pub mod views;
