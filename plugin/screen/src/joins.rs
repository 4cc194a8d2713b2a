//! The Joins page: transitions and what jumps there, the largest first; statistics by passage.

use crate::pen::Pen;
use crate::screen::{Scene, Screen};
use egui::Ui;

/// What the page keeps between frames.
#[derive(Debug, Default)]
pub(crate) struct Memory {}

pub(crate) fn joins_ui(_screen: &mut Screen, _ui: &mut Ui, _pen: &Pen<'_>, _scene: &Scene<'_>) {}
