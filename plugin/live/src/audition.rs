//! Trying a repair out: the one thing in this crate that alters what passes, and only while the user wants it.
//!
//! # The way of a trial
//! [`Layer::change`](crate::Layer::change) makes a [`ChannelDelays`] of the user's trial, kernels included, and posts it
//! by value ([`Mailbox`]); the tap's [`Alteration`] takes it with its next block and fades over to it. Nothing is made or
//! freed on the audio thread.
//!
//! # Latency
//! None, ever. The delay that the user tries is not reported: the host would take it back. A delay of a fraction of a
//! sample needs a kernel that reaches 32 samples both ways (`kernel::REACH`): a delay at least so long has room for it, a shorter
//! one is rounded to whole samples. `Trial::in_force` has the same rule, so the screen knows what is in force.
//!
//! # What does not ring on
//! There is no feedback: NaN and ∞ pass with the samples that they touch, and are gone with the last of them.

mod channel_delay;
mod delay_line;
mod fade;
mod kernel;
mod mailbox;

pub(crate) use channel_delay::ChannelDelays;
pub(crate) use fade::Alteration;
pub(crate) use mailbox::Mailbox;
