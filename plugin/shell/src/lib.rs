//! Plumbline as a plug-in: the only crate that names the plug-in framework.
//!
//! # Data flow
//! The host calls [`Bus`] with a block; `Bus` passes the slices to a `Tap` of the live crate and returns. The block is
//! not changed, so the output is bit-exact, unless the user tries a repair. Everything else happens on the worker of
//! the live crate. The editor borrows the latest view from the layer, and the screen crate draws it.
//!
//! # What the host sees
//! Two classes ([`Stereo`], [`Mono`]) as CLAP and, through a wrapper around that CLAP, as VST3; no latency; a few
//! parameters with ids that never change ([`parameters`]); a state with a version ([`saved_state`]). [`clap`] lists
//! what is added between the framework and a host.
//!
//! # Panics
//! A panic that leaves a plug-in ends the host's process. Every host call into our code goes through
//! [`plumbline_live::guarded`].

pub mod bus;
pub mod clap;
#[cfg(target_os = "linux")]
mod closing;
pub mod editor;
mod export;
pub mod identity;
mod logging;
pub mod parameters;
pub mod readings_port;
pub mod requests;
pub mod saved_state;
pub mod shared;

pub use bus::Bus;
pub use identity::{Class, Mono, Stereo};

clap_wrapper::export_vst3!();
