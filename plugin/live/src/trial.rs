//! Trying a repair out: the one thing in this crate that alters what passes, and only while the user wants it.
//!
//! # The way of an order
//! [`Layer::set_trial`](crate::Layer::set_trial) makes a [`Plan`] of the user's trial, kernels included, and posts it
//! by value ([`Post`]); the tap's [`Alteration`] takes it with its next block and fades over to it. Nothing is made or
//! freed on the audio thread.
//!
//! # Latency
//! The delay that the user tries is never reported: the host would take it back. A delay of a fraction of a sample
//! needs a kernel that reaches [`REACH`] samples both ways. A delay at least so long has room for it. A shorter one
//! wants [`REACH`] samples of latency, added to all channels and reported; a host takes that only when it activates
//! the plug-in, so latency is decided where a layer is opened and stays for that opening. Until then the shorter
//! delay is rounded to whole samples, and nothing false is reported.
//!
//! # What does not ring on
//! There is no feedback: NaN and ∞ pass with the samples that they touch, and are gone with the last of them.

mod fade;
mod hold;
mod kernel;
mod line;
mod plan;
mod post;

pub(crate) use fade::Alteration;
pub(crate) use hold::Hold;
pub(crate) use kernel::REACH;
pub(crate) use plan::{Plan, latency};
pub(crate) use post::Post;
