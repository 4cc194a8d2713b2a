//! The screen of Plumbline: a borrowed [`View`](plumbline_programme::View) in, a picture and intents out.
//!
//! # Data flow
//! The shell calls [`Screen::ui`] for each frame, with the latest view and the other data of the layer ([`Info`]). The
//! screen paints it and returns the user's [`Intent`]s. It uses no host, no thread, and only the frame's clock.
//!
//! # Imports
//! `screen` is at the top, and no page imports it. A page (`layers`, `mics`, `joins`, `log`, and the blocks of the Bus
//! page) gets the `Scene` that it reads, the `Shared` that it may change, and its own state. These import no page:
//! `intent`, `navigation`, `frame_data`, `page_state`, `settings`, `tokens`, `mapping`, `layout`, and the parts that
//! pages share: `painter`, `widgets`, `table`, `banner`, `cursor`, `fields`, `role_marks`. There is no circle.
//!
//! # Absent on purpose
//! No measurement: every number comes from the view. No colour outside [`tokens`]. No state of the view: equal views
//! and equal settings give equal pictures (except the gain of the scope, which follows slowly).
#![forbid(unsafe_code)]

mod banner;
mod cursor;
mod fields;
mod footer;
mod frame_data;
mod frequency_lanes;
mod header;
mod identity;
mod intent;
mod joins;
mod keys;
mod lane_controls;
mod layers;
pub mod layout;
mod log;
pub mod mapping;
mod meters;
mod mics;
mod navigation;
mod page_state;
mod painter;
mod panels;
mod role_marks;
mod screen;
mod session_view;
pub mod settings;
mod severity_marks;
mod table;
mod time_label;
mod time_lanes;
pub mod tokens;
mod verdict_cards;
mod widgets;
pub mod words;

pub use fields::has_keyboard;
pub use frame_data::{Exported, Info};
pub use intent::{Intent, LONGEST_NAME};
pub use keys::{Stroke, takes};
pub use navigation::Page;
pub use plumbline_programme::Role;
pub use screen::Screen;
pub use settings::Settings;
