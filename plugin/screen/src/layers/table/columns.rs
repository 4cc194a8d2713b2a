//! Columns of the table: what each holds, and how wide it is.

use crate::layers::state::LayerOrder;
use egui::{Rangef, Rect};
use plumbline_programme::Stretch;

/// The content of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Chip,
    Name,
    Role,
    Loudness,
    /// Share over a stretch, and whether it has a bar.
    Share(Stretch, bool),
    Lead,
    Width,
    Mono,
    Flags,
}

impl Kind {
    pub(super) fn stretch(self) -> Option<Stretch> {
        if let Self::Share(stretch, _) = self { Some(stretch) } else { None }
    }

    pub(super) fn with_bar(self) -> bool {
        matches!(self, Self::Share(_, true))
    }

    pub(super) fn order(self) -> Option<LayerOrder> {
        match self {
            Self::Name => Some(LayerOrder::Name),
            Self::Role => Some(LayerOrder::Session),
            Self::Share(..) => Some(LayerOrder::Share),
            _ => None,
        }
    }

    /// Whether the text is right-aligned, as numbers are.
    pub(super) fn right(self) -> bool {
        !matches!(self, Self::Chip | Self::Name | Self::Role | Self::Flags)
    }

    pub(super) fn tip(self) -> &'static str {
        match self {
            Self::Chip => "Colour and mark of the layer's role.",
            Self::Name => "Name of the layer.",
            Self::Role => {
                "What the layer contains: Natural, Foley, Design, Voice, Music, or Mix, the sum of all."
            }
            Self::Loudness => "Loudness over the last 3 s in LUFS (ITU-R BS.1770-5).",
            Self::Share(..) => {
                "Share of the K-weighted energy (ITU-R BS.1770-5) of all layers except the mix, in per cent."
            }
            Self::Lead => {
                "Share of the latest tenths with sound in which it is loudest by 3 LU or more, in per cent."
            }
            Self::Width => "Side share S/(M+S) over the last 3 s, in per cent: 0 mono, 50 unrelated.",
            Self::Mono => "Mono loss of the layer alone over the last 3 s, in dB.",
            Self::Flags => {
                "Notes: not in the mix, covered, late, not running, no song position, missed tenths."
            }
        }
    }
}

/// A column in its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Column {
    pub(super) kind: Kind,
    x: Rangef,
    short: bool,
}

impl Column {
    pub(super) fn cell(&self, row: Rect) -> Rect {
        Rect::from_x_y_ranges(self.x, row.y_range())
    }

    pub(super) fn head(&self) -> &'static str {
        match self.kind {
            Kind::Chip => "",
            Kind::Name => "Name",
            Kind::Role => "Role",
            Kind::Loudness => "LUFS",
            Kind::Share(Stretch::Now, _) => "Now",
            Kind::Share(Stretch::Passage, bar) => {
                if self.short && !bar {
                    "Pass."
                } else {
                    "Passage"
                }
            }
            Kind::Share(Stretch::Programme, bar) => {
                if self.short && !bar {
                    "Prog."
                } else {
                    "Programme"
                }
            }
            Kind::Lead => "Leads",
            Kind::Width => "Width",
            Kind::Mono => "Mono dB",
            Kind::Flags => "",
        }
    }
}

/// Part of the spare width for names; flags get the rest.
const NAMES: f32 = 0.48;

/// The columns of a table. If space is tight, bars are left out first, then columns that the spectrum shows as well.
pub(super) fn columns(table: Rect, chosen: Stretch, compact: bool) -> Vec<Column> {
    let width = table.width();
    let share = |stretch| {
        let bar = !compact || stretch == chosen;
        (Kind::Share(stretch, bar), if bar { if compact { 76.0 } else { 104.0 } } else { 40.0 })
    };
    let [chip, role, loudness] = if compact { [18.0, 72.0, 40.0] } else { [22.0, 92.0, 50.0] };
    let mut fixed = vec![(Kind::Chip, chip), (Kind::Role, role), (Kind::Loudness, loudness)];
    fixed.extend(Stretch::ALL.map(share));
    fixed.extend([(Kind::Lead, 42.0), (Kind::Width, 42.0), (Kind::Mono, 50.0)]);
    if width < 620.0 {
        fixed.retain(|(kind, _)| matches!(kind, Kind::Chip | Kind::Share(_, true)));
    }
    let gap = if compact { 6.0 } else { 8.0 };
    let taken = fixed.iter().map(|(_, w)| w).sum::<f32>() + gap * (fixed.len() as f32 + 1.0);
    let rest = (width - taken).max(40.0);
    let (name, flags) = if width < 620.0 { (rest, 0.0) } else { (rest * NAMES, rest * (1.0 - NAMES)) };
    fixed.insert(1, (Kind::Name, name));
    if flags > 0.0 {
        fixed.push((Kind::Flags, flags));
    }
    let mut left = table.left();
    fixed
        .into_iter()
        .map(|(kind, width)| {
            let x = Rangef::new(left, (left + width).min(table.right()).max(left));
            left = x.max + gap;
            Column { kind, x, short: compact }
        })
        .collect()
}
