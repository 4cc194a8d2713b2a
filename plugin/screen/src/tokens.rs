//! Every colour, spacing and text size of the screen. No other file names a colour: a test in `tests/picture` and a ban
//! in `.clippy.toml` make sure of that.
//!
//! Role colours are the palette of Okabe and Ito ("Color Universal Design", 2008), which stays apart under the common
//! kinds of colour blindness. Everything else is stone and ink, with one loud colour (vermillion, from the same
//! palette) for faults, so that they stand out.
#![expect(clippy::disallowed_methods, reason = "this is the one file that names colours")]

mod style;

use egui::Color32;
use plumbline_programme::Role;
use serde::{Deserialize, Serialize};

/// A colour, named only here.
pub type Ink = Color32;

/// Dark or light.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum ThemeName {
    /// Light ink on dark stone.
    #[default]
    Dark,
    /// Dark ink on light stone.
    Light,
}

impl ThemeName {
    /// Both themes.
    pub const ALL: [Self; 2] = [Self::Dark, Self::Light];

    /// The other theme.
    pub fn other(self) -> Self {
        match self {
            Self::Dark => Self::Light,
            Self::Light => Self::Dark,
        }
    }

    /// The colours of the theme.
    pub fn theme(self) -> &'static Theme {
        match self {
            Self::Dark => &DARK,
            Self::Light => &LIGHT,
        }
    }

    /// Name for a button.
    pub fn name(self) -> &'static str {
        match self {
            Self::Dark => "Dark",
            Self::Light => "Light",
        }
    }
}

/// All colours of one theme.
#[derive(Clone, Debug, PartialEq)]
pub struct Theme {
    /// Whether the theme is dark.
    pub dark: bool,
    /// Behind everything.
    pub page: Ink,
    /// Cards and blocks.
    pub panel: Ink,
    /// A card that holds a fault.
    pub panel_fault: Ink,
    /// Inside a lane or meter.
    pub plot: Ink,
    /// Buttons at rest.
    pub button: Ink,
    /// Buttons under the pointer.
    pub button_hover: Ink,
    /// A chosen button.
    pub chosen: Ink,
    /// Text on a chosen button.
    pub on_chosen: Ink,
    /// Grid lines.
    pub grid: Ink,
    /// Grid lines with a meaning (0, 50 %, a limit), and frames.
    pub grid_strong: Ink,
    /// Text.
    pub text: Ink,
    /// Text of lesser weight: titles, units, axis labels.
    pub muted: Ink,
    /// Text that names a fault.
    pub fault_text: Ink,
    /// Shapes and bars that show a fault.
    pub fault: Ink,
    /// Bars of readings.
    pub bar: Ink,
    /// Bars of thirds that are only indicative.
    pub bar_faint: Ink,
    /// The current spectrum.
    pub trace: Ink,
    /// Fill under the current spectrum.
    pub trace_fill: Ink,
    /// The slower average behind it.
    pub trace_behind: Ink,
    /// Peak hold.
    pub trace_hold: Ink,
    /// The stored reference trace.
    pub trace_reference: Ink,
    /// Coherence marks.
    pub coherence: Ink,
    /// The column cursor and the keyboard focus.
    pub plumb: Ink,
    /// Newest points of the scope; older ones fade towards the plot.
    pub scope: Ink,
    /// Tolerance around a target.
    pub tolerance: Ink,
    /// Neutral colour of a mix.
    pub mix: Ink,
}

const fn rgb(hex: u32) -> Ink {
    let [_, r, g, b] = hex.to_be_bytes();
    Color32::from_rgb(r, g, b)
}

static DARK: Theme = Theme {
    dark: true,
    page: rgb(0x111416),
    panel: rgb(0x1a1e21),
    panel_fault: rgb(0x2c1c12),
    plot: rgb(0x15191b),
    button: rgb(0x272d31),
    button_hover: rgb(0x353d42),
    chosen: rgb(0xd9d1bd),
    on_chosen: rgb(0x161819),
    grid: rgb(0x23292d),
    grid_strong: rgb(0x465056),
    text: rgb(0xf0ebdf),
    muted: rgb(0xb0b0a8),
    fault_text: rgb(0xffa36b),
    fault: rgb(0xe86a10),
    bar: rgb(0x8fa9b5),
    bar_faint: rgb(0x4b5a62),
    trace: rgb(0xf3ead3),
    trace_fill: rgb(0x333838),
    trace_behind: rgb(0x7d8b90),
    trace_hold: rgb(0xb89b5e),
    trace_reference: rgb(0xf0e442),
    coherence: rgb(0xf3ead3),
    plumb: rgb(0xffffff),
    scope: rgb(0xf3ead3),
    tolerance: rgb(0x3c4f58),
    mix: rgb(0xd9d1bd),
};

static LIGHT: Theme = Theme {
    dark: false,
    page: rgb(0xe8e5dd),
    panel: rgb(0xf7f5ef),
    panel_fault: rgb(0xffe9d9),
    plot: rgb(0xfffefb),
    button: rgb(0xd8d3c6),
    button_hover: rgb(0xcac3b3),
    chosen: rgb(0x2e353a),
    on_chosen: rgb(0xf7f5ef),
    grid: rgb(0xe9e6de),
    grid_strong: rgb(0xb3aea2),
    text: rgb(0x1b1f22),
    muted: rgb(0x515555),
    fault_text: rgb(0x974000),
    fault: rgb(0xd55e00),
    bar: rgb(0x5c7c8b),
    bar_faint: rgb(0xbfcbd0),
    trace: rgb(0x1f2a30),
    trace_fill: rgb(0xe4e5e0),
    trace_behind: rgb(0x909a9c),
    trace_hold: rgb(0x9b7a2c),
    trace_reference: rgb(0x9a5b00),
    coherence: rgb(0x1f2a30),
    plumb: rgb(0x000000),
    scope: rgb(0x1f2a30),
    tolerance: rgb(0xcfdce1),
    mix: rgb(0x4a5257),
};

impl Theme {
    /// The colour of a role: Okabe and Ito's, as published; a mix is neutral.
    pub fn role(&self, role: Role) -> Ink {
        match role {
            Role::Natural => rgb(0x56b4e9),
            Role::Foley => rgb(0x009e73),
            Role::Design => rgb(0xe69f00),
            Role::Voice => rgb(0xcc79a7),
            Role::Music => rgb(0x0072b2),
            Role::Mix => self.mix,
        }
    }

    /// Text and marks on the colour of a role: the ink with more contrast.
    pub fn on_role(&self, role: Role) -> Ink {
        match role {
            Role::Music => rgb(0xffffff),
            Role::Mix => self.page,
            _ => rgb(0x111416),
        }
    }

    /// A colour from outside, such as the host's track colour.
    pub fn given(&self, [r, g, b]: [u8; 3]) -> Ink {
        Color32::from_rgb(r, g, b)
    }

    /// The colour of a scope point by its age, 0 newest to 1 oldest.
    pub fn scope_at(&self, age: f32) -> Ink {
        self.plot.lerp_to_gamma(self.scope, 1.0 - 0.75 * age.clamp(0.0, 1.0))
    }

    /// Every pair of text and background that the screen uses, by name, for the contrast test.
    pub fn text_pairs(&self) -> Vec<(&'static str, Ink, Ink)> {
        let grounds = [("page", self.page), ("panel", self.panel), ("plot", self.plot)];
        let mut pairs: Vec<(&'static str, Ink, Ink)> = grounds
            .iter()
            .flat_map(|&(name, ground)| [(name, self.text, ground), (name, self.muted, ground)])
            .chain(grounds.iter().map(|&(name, ground)| (name, self.fault_text, ground)))
            .collect();
        pairs.extend([
            ("text on a fault", self.text, self.panel_fault),
            ("muted on a fault", self.muted, self.panel_fault),
            ("fault text on a fault", self.fault_text, self.panel_fault),
            ("text on a button", self.text, self.button),
            ("text on a button under the pointer", self.text, self.button_hover),
            ("text on a chosen button", self.on_chosen, self.chosen),
            ("text on the fill of the spectrum", self.text, self.trace_fill),
        ]);
        pairs.extend(Role::ALL.map(|role| (role.name(), self.on_role(role), self.role(role))));
        pairs
    }
}

/// Text sizes in points.
pub mod size {
    /// Axis labels.
    pub const AXIS: f32 = 11.0;
    /// Titles, units, numbers in tables.
    pub const SMALL: f32 = 12.0;
    /// Sentences.
    pub const BODY: f32 = 13.5;
    /// The layer's name, the heads of verdicts.
    pub const HEAD: f32 = 18.0;
    /// Heads if space is tight.
    pub const HEAD_COMPACT: f32 = 15.0;
    /// Timecode, integrated loudness.
    pub const FIGURE: f32 = 23.0;
    /// The same if space is tight.
    pub const FIGURE_COMPACT: f32 = 18.0;
}

/// Distances in points.
pub mod space {
    /// Between blocks.
    pub const GAP: f32 = 8.0;
    /// Between blocks if space is tight.
    pub const GAP_COMPACT: f32 = 5.0;
    /// Inside a block.
    pub const INSET: f32 = 8.0;
    /// Between two things that belong together.
    pub const NEAR: f32 = 4.0;
    /// Rounding of blocks.
    pub const ROUND: f32 = 3.0;
    /// Width of the gutter left of the lanes, with their names and legends.
    pub const GUTTER: f32 = 92.0;
    /// The same if space is tight.
    pub const GUTTER_COMPACT: f32 = 80.0;
    /// Width of the margin right of the lanes, with the labels of their value axes.
    pub const VALUES: f32 = 30.0;
    /// Height of one line of small text.
    pub const LINE: f32 = 15.0;
    /// Height of a button.
    pub const BUTTON: f32 = 22.0;
}

/// Widths of strokes in points.
pub mod stroke {
    /// Grid and frames.
    pub const HAIR: f32 = 1.0;
    /// Secondary traces.
    pub const THIN: f32 = 1.2;
    /// The current trace.
    pub const TRACE: f32 = 1.6;
    /// Marks.
    pub const MARK: f32 = 2.0;
}
