//! The pages of the screen, and the panels over them.

/// A page of the screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Page {
    /// One bus: width, mono, phase, balance or delivery.
    #[default]
    Bus,
    /// All layers of the session: shares, coverage, match, mono loss.
    Layers,
    /// Pairs of microphones: delay, polarity, drift, and what to move.
    Mics,
    /// Transitions, what jumps there, and statistics by passage.
    Joins,
    /// Findings with timecode, their rules, and export.
    Log,
}

impl Page {
    /// All pages, in the order of their keys.
    pub const ALL: [Self; 5] = [Self::Bus, Self::Layers, Self::Mics, Self::Joins, Self::Log];

    /// Label of its tab.
    pub fn name(self) -> &'static str {
        match self {
            Self::Bus => "Bus",
            Self::Layers => "Layers",
            Self::Mics => "Mics",
            Self::Joins => "Joins",
            Self::Log => "Log",
        }
    }
}

/// A panel over the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Panel {
    Settings,
    Help,
    /// Name, role and session of this layer.
    Identity,
}
