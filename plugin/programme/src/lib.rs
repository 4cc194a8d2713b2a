//! Results derived from tenths, of one layer and of several: shares, findings, transitions, statistics, pairs of
//! microphones.
//!
//! # Signal path
//! Tenths and digests come from `plumbline_measure`. [`Balance`] keeps those of all layers and answers with a
//! [`Session`]; [`Timeline`], [`JoinDetector`] and the finder of [`findings`] take one tenth after another; [`pair`]
//! compares the samples of two microphones. A [`View`] holds all that a screen needs of one layer at one moment. The
//! plug-in drives this tenth by tenth during playback, the command from files.
//!
//! # Conventions
//! As in `plumbline_measure`: suffixes carry units, an absent reading is `None`. No host, clock, thread, file or
//! pixel here, and no unsafe code.
//!
//! `docs/measures.md` documents each reading with its source, tolerance and the test that proves it.
#![forbid(unsafe_code)]

pub mod arrival;
mod audibility;
mod balance;
mod command;
pub mod delivery;
mod events;
pub mod findings;
pub mod history;
pub mod joins;
mod log;
pub mod loss_attribution;
pub mod mics;
pub mod moment;
mod paged;
pub mod pair;
pub mod presence;
mod programme;
pub mod recording;
mod role;
pub mod session;
mod stats;
pub mod survey;
mod time_lanes;
mod timeline;
pub mod verdict;
mod view;

pub use balance::{Balance, JointTenth, Mark, Over, Peer, ProgrammeAnswer, Question, Reported, Whole};
pub use command::{Command, SESSIONS, Settings};
pub use events::Events;
pub use findings::{Finding, Kind, Rules};
pub use history::History;
pub use joins::{Join, JoinDetector};
pub use log::{Log, MOST_ENTRIES, PassageLine, Past};
pub use mics::{Mic, Mics, MicsVerdict, PairLine, Trial};
pub use moment::Moment;
pub use paged::PAGE;
pub use programme::Programme;
pub use recording::Recording;
pub use role::{PARTS, Role};
pub use session::{BalanceTarget, Identity, LayerId, Session, Stretch};
pub use stats::Summary;
pub use time_lanes::{Column, Lanes, MOST_COLUMNS, MinMax, TimeWindow};
pub use timeline::{Overview, Timeline};
pub use view::{Clock, Health, View};
