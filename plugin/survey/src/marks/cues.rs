//! Marks from the cue points of a WAV.

use super::entry::{self, Entry};
use plumbline_audio::CuePoints;
use plumbline_measure::SampleRate;

/// The cue points of a file as entries on a time line whose first sample is `origin` samples after midnight.
///
/// A file is placed like a stem: by its time reference, or at the start of the line if either has none.
pub fn from_cues(cues: &CuePoints, origin: Option<u64>, rate: SampleRate) -> Vec<Entry> {
    let own_rate = f64::from(cues.rate_hz.max(1));
    let offset = match (cues.time_reference, origin) {
        (Some(reference), Some(origin)) => reference as f64 / own_rate - origin as f64 / rate.as_f64(),
        _ => 0.0,
    };
    let entry = |mark: &plumbline_audio::Mark| Entry {
        seconds: Some(offset + mark.start as f64 / own_rate),
        name: entry::name(&mark.label),
        ..Entry::default()
    };
    cues.marks.iter().map(entry).collect()
}
