//! When something was: the label of a tenth or of a sample, as the user counts time.

use crate::screen::Scene;
use crate::settings::Settings;
use plumbline_measure::{Grid, SampleRate, Timecode};
use plumbline_programme::Join;
use plumbline_report::figures::DASH;
use plumbline_report::words;

/// The label of the start of a tenth; a dash where no sample rate is known.
pub(crate) fn tenth(scene: &Scene<'_>, settings: &Settings, grid: Grid, tenth: i64) -> String {
    match SampleRate::new(scene.view.clock.rate_hz) {
        Ok(rate) => words::place(grid, tenth, settings.start, rate),
        Err(_) => DASH.to_owned(),
    }
}

/// The label of a join: on song time exact to the frame, since its onset is known to the sample.
pub(crate) fn join(scene: &Scene<'_>, settings: &Settings, join: &Join) -> String {
    match (join.grid, SampleRate::new(scene.view.clock.rate_hz)) {
        (Grid::Song, Ok(rate)) => Timecode::label_at(settings.start, join.sample, rate),
        _ => tenth(scene, settings, join.grid, join.at),
    }
}
