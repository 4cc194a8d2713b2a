//! Trying a repair: the only code in this crate that alters audio, and only while a trial is set.
//!
//! # How a trial gets to the audio
//! [`Layer::change`](crate::Layer::change) turns the user's trial into [`ChannelDelays`], kernels included, and posts
//! them by value ([`Mailbox`]). The tap's [`Alteration`] takes them with its next block and fades to them. The audio
//! thread neither allocates nor frees.
//!
//! # Latency
//! Always zero. The delay on trial is not reported, because the host would compensate for it. A fractional delay needs
//! a kernel that reaches 32 samples both ways (`fractional_delay::REACH`). A delay of 32 samples or more has room for
//! it; a shorter one is rounded to whole samples. `Trial::in_force` follows the same rule, so the screen shows the
//! delay that applies.
//!
//! # NaN and infinity
//! NaN and ∞ pass through, spread over the length of the kernel. There is no feedback, so nothing of them remains after
//! that.

mod channel_delay;
mod delay_line;
mod fade;
mod fractional_delay;
mod mailbox;

pub(crate) use channel_delay::ChannelDelays;
pub(crate) use fade::Alteration;
pub(crate) use mailbox::Mailbox;
