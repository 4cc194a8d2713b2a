//! The screen of Plumbline: a borrowed [`View`](plumbline_programme::View) in, a picture and intents out.
//!
//! # The way of the data
//! The shell calls [`Screen::ui`] for each frame that it wants, with the newest view and with what is known of
//! the layer ([`Info`]). The screen paints it, and gives back what the user wants ([`Intent`]). It knows no host,
//! no thread, no clock but the one of the frame, and it asks for a repaint only while something of its own is
//! about to change.
//!
//! # What is absent here
//! No measurement: every number comes from the view. No colour outside [`tokens`]. No state of the view: an
//! equal view and equal settings give an equal picture (the gain of the scope apart, which follows slowly).
#![forbid(unsafe_code)]

mod cards;
mod company;
mod controls;
mod fields;
mod footer;
mod header;
mod joins;
mod keys;
mod lanes;
mod layers;
pub mod layout;
mod log;
pub mod mapping;
mod mics;
mod now;
mod painter;
mod panels;
mod parts;
mod screen;
pub mod settings;
mod time;
pub mod tokens;
mod when;
pub mod words;

pub use fields::has_keyboard;
pub use keys::{Stroke, takes};
pub use plumbline_programme::Role;
pub use screen::{Exported, Info, Intent, LONGEST_NAME, Page, Screen};
pub use settings::Settings;
