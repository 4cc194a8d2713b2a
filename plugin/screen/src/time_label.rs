//! Timecode or clock time of tenths and samples, as labels.

use crate::settings::Settings;
use plumbline_measure::{Grid, SampleRate, Timecode};
use plumbline_programme::{Join, View};
use plumbline_report::figures::DASH;
use plumbline_report::words;

/// The label of the start of a tenth; a dash if no sample rate is known.
pub(crate) fn tenth(view: &View, settings: &Settings, grid: Grid, tenth: i64) -> String {
    match SampleRate::new(view.clock.rate_hz) {
        Ok(rate) => words::place(grid, tenth, settings.start, rate),
        Err(_) => DASH.to_owned(),
    }
}

/// The sample rate of the view; 48 kHz before the first block, since tenths start at the same instants at any rate.
pub(crate) fn usual_rate(view: &View) -> Option<SampleRate> {
    SampleRate::new(view.clock.rate_hz).or_else(|_| SampleRate::new(48_000)).ok()
}

/// The label of the start of a tenth at [`usual_rate`].
pub(crate) fn tenth_at_usual_rate(view: &View, settings: &Settings, grid: Grid, tenth: i64) -> String {
    usual_rate(view).map_or(DASH.to_owned(), |rate| words::place(grid, tenth, settings.start, rate))
}

/// The label of a join; in song time exact to the frame, since the onset is known to the sample.
pub(crate) fn join(view: &View, settings: &Settings, join: &Join) -> String {
    match (join.grid, SampleRate::new(view.clock.rate_hz)) {
        (Grid::Song, Ok(rate)) => Timecode::label_at(settings.start, join.sample, rate),
        _ => tenth(view, settings, join.grid, join.at),
    }
}
