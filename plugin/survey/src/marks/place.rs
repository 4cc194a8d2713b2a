//! From labels and seconds to samples of a time line.

use super::entry::Entry;
use plumbline_measure::{SampleRate, Timecode};
use plumbline_programme::survey::Mark;

/// The time line of a survey.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    /// Label of its first sample; carries the frame rate.
    pub start: Timecode,
    /// Sample rate.
    pub rate: SampleRate,
    /// Length in samples, if known.
    pub frames: Option<u64>,
}

/// Marks on a time line, and the number of those without a place of their own.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Placed {
    /// The marks, by time, no two in the same tenth. None is at the start of the line, which has nothing before it.
    pub marks: Vec<Mark>,
    /// Number of marks before the start, or at or after the end.
    pub outside: usize,
    /// Number of marks in the same tenth as an earlier one, whose measurement they share.
    pub crowded: usize,
}

/// Places marks on a time line. A label means the first sample of its frame. Marks in the same tenth become one, at the
/// first sample, with the first name and the longest transition.
pub fn place(entries: &[Entry], line: Line) -> Placed {
    let mut placed = Placed::default();
    let mut marks: Vec<Mark> = Vec::new();
    for entry in entries {
        let end = line.frames.and_then(|frames| i64::try_from(frames).ok()).unwrap_or(i64::MAX);
        match sample(entry, line).filter(|sample| (0..end).contains(sample)) {
            Some(sample) => {
                let name = entry.name.clone();
                marks.push(Mark { sample, name, transition_frames: entry.transition_frames });
            }
            None => placed.outside += 1,
        }
    }
    // The sort is stable: of marks at the same sample, the first in the files stays first.
    marks.sort_by_key(|mark| mark.sample);
    for mark in marks {
        let tenth = nearest_tenth(mark.sample, line.rate);
        if tenth == 0 {
            continue;
        }
        match placed.marks.last_mut() {
            Some(last) if nearest_tenth(last.sample, line.rate) == tenth => {
                placed.crowded += usize::from(last.sample != mark.sample);
                last.name = last.name.take().or(mark.name);
                last.transition_frames = last.transition_frames.max(mark.transition_frames);
            }
            _ => placed.marks.push(mark),
        }
    }
    placed
}

/// The tenth that starts nearest to a sample: the first of the passage that begins there.
pub(crate) fn nearest_tenth(sample: i64, rate: SampleRate) -> i64 {
    let tenth = rate.tenth_of(sample);
    let next = tenth.saturating_add(1);
    let [before, after] = [rate.tenth_start(tenth), rate.tenth_start(next)];
    if after.saturating_sub(sample) < sample.saturating_sub(before) { next } else { tenth }
}

/// The sample of an entry; `None` if it is before the start or outside any programme.
fn sample(entry: &Entry, line: Line) -> Option<i64> {
    let from_seconds = entry.seconds.map(|seconds| {
        #[expect(clippy::cast_possible_truncation, reason = "saturates")]
        let sample = (seconds * line.rate.as_f64()).round() as i64;
        sample
    });
    let Some(label) = entry.label else { return from_seconds };
    // Seconds that contradict the label count from another start, so the label takes precedence.
    let exact =
        from_seconds.filter(|sample| *sample >= 0 && Timecode::at(line.start, *sample, line.rate) == label);
    let frames = line.start.rate();
    // Labels start again from zero at midnight.
    let frame = (label.frame() - line.start.frame()).rem_euclid(frames.frames_per_day());
    Some(exact.unwrap_or_else(|| frames.sample_at(frame, line.rate)))
}
