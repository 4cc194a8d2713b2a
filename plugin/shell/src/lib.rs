//! Plumbline as a plug-in: the only crate that names the plug-in framework.
//!
//! # The way of the data
//! The host calls [`Bus`] with a block; it hands the slices to a `Tap` of the live crate and returns: the block
//! itself is not touched, so the output is the input bit for bit, unless the user tries a repair out. Everything else
//! happens on the worker of the live crate. The editor borrows the newest view from the layer and lets the screen crate
//! draw it.
//!
//! # What the host sees
//! Two classes ([`Stereo`], [`Mono`]) as CLAP and, through a wrapper around that CLAP, as VST3; no latency, ever; a few
//! parameters with ids that never change ([`parameters`]); a state with a version ([`memory`]). [`clap`] says what stands
//! between the framework and a host.
//!
//! # Panics
//! A panic that leaves a plug-in ends the host. Every call of a host into our code passes [`plumbline_live::guarded`].

pub mod bus;
pub mod clap;
#[cfg(target_os = "linux")]
mod closing;
pub mod editor;
mod export;
pub mod identity;
mod logging;
pub mod memory;
pub mod parameters;
pub mod readings;
pub mod requests;
pub mod shared;

pub use bus::Bus;
pub use identity::{Class, Mono, Stereo};

clap_wrapper::export_vst3!();
