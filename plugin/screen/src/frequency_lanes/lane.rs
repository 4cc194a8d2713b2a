//! One lane while it is painted.

use crate::frame_data::Scene;
use crate::layout::Lane;
use crate::mapping::{FrequencyAxis, ValueAxis};
use crate::painter::Painter;
use crate::settings::Settings;
use crate::tokens::space;
use egui::Rect;
use plumbline_measure::Spectral;

/// One lane while it is painted.
pub(super) struct LanePainter<'a> {
    pub(super) painter: Painter,
    pub(super) scene: &'a Scene<'a>,
    pub(super) settings: &'a Settings,
    pub(super) spectral: &'a Spectral,
    pub(super) lane: Lane,
    /// The area for values.
    pub(super) plot: Rect,
    pub(super) frequency: FrequencyAxis,
    pub(super) values: ValueAxis,
}

/// The area of a lane for its values.
pub(super) fn plot(lane: Rect, frequency: FrequencyAxis) -> Rect {
    Rect::from_x_y_ranges(frequency.x, lane.top()..=(lane.bottom() - space::NEAR).max(lane.top()))
}
