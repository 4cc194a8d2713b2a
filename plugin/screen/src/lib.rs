//! The screen of Plumbline: a borrowed [`View`](plumbline_programme::View) in, a picture and intents out.
//!
//! # Data flow
//! The shell calls [`Screen::ui`] for each frame, with the latest view and what else is known of the layer ([`Info`]).
//! The screen paints it and returns the user's [`Intent`]s. It uses no host, no thread, and no clock but the frame's.
//!
//! # Imports
//! `screen` is at the top, and no page imports it. A page (`layers`, `mics`, `joins`, `log`, and the blocks of the Bus
//! page) gets the `Scene` that it reads, the `Shared` that it may change, and its own state. These import no page:
//! `intent`, `navigation`, `scene`, `shared`, `settings`, `tokens`, `mapping`, `layout`, and the parts that pages
//! share: `painter`, `widgets`, `table`, `banner`, `cursor`, `fields`, `role_marks`. There is no circle.
//!
//! # Absent on purpose
//! No measurement: every number comes from the view. No colour outside [`tokens`]. No state of the view: equal views
//! and equal settings give equal pictures (except the gain of the scope, which follows slowly).
#![forbid(unsafe_code)]

mod banner;
mod cursor;
mod fields;
mod footer;
mod header;
mod identity;
mod intent;
mod joins;
mod keys;
mod lane_controls;
mod lanes;
mod layers;
pub mod layout;
mod log;
pub mod mapping;
mod meters;
mod mics;
mod navigation;
mod painter;
mod panels;
mod role_marks;
mod scene;
mod screen;
mod session_view;
pub mod settings;
mod severity_marks;
mod shared;
mod table;
mod time;
mod time_label;
pub mod tokens;
mod verdict_cards;
mod widgets;
pub mod words;

pub use fields::has_keyboard;
pub use intent::{Intent, LONGEST_NAME};
pub use keys::{Stroke, takes};
pub use navigation::Page;
pub use plumbline_programme::Role;
pub use scene::{Exported, Info};
pub use screen::Screen;
pub use settings::Settings;
