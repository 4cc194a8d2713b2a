//! Marks on a time line.

use super::at;
use crate::marks::{Entry, Line, Placed, from_cues, place};
use plumbline_audio::{CuePoints, Mark as Cue};
use plumbline_measure::{FrameRate, SampleRate};
use plumbline_programme::survey::Mark;

fn line(frames: FrameRate, start: &str, rate_hz: u32, seconds: u64) -> Line {
    Line {
        start: at(frames, start).expect("a label"),
        rate: SampleRate::new(rate_hz).expect("a rate"),
        frames: Some(seconds * u64::from(rate_hz)),
    }
}

fn labels(line: Line, labels: &[&str]) -> Placed {
    let entry = |label: &&str| Entry { label: at(line.start.rate(), label), ..Entry::default() };
    place(&labels.iter().map(entry).collect::<Vec<_>>(), line)
}

fn samples(placed: &Placed) -> Vec<i64> {
    placed.marks.iter().map(|mark| mark.sample).collect()
}

#[test]
fn a_label_is_the_first_sample_of_its_frame() {
    let placed = labels(line(FrameRate::F25, "10:00:00:00", 48_000, 60), &["10:00:01:00", "10:00:02:01"]);
    assert_eq!(samples(&placed), [48_000, 97_920]);
    // SMPTE ST 12-1:2014, drop-frame: 00:01:00;02 follows 00:00:59;29. Ten frames of 1001/30000 s are 16016 samples.
    let drop = line(FrameRate::F29_97Drop, "00:00:59;22", 48_000, 60);
    assert_eq!(samples(&labels(drop, &["00:01:00;04"])), [16_016]);
    // Labels start again from zero at midnight.
    let midnight = line(FrameRate::F25, "23:59:59:00", 48_000, 60);
    assert_eq!(samples(&labels(midnight, &["00:00:01:00"])), [96_000]);
}

#[test]
fn marks_outside_are_counted_and_the_start_is_no_mark() {
    let minute = line(FrameRate::F25, "10:00:00:00", 48_000, 60);
    let all = ["09:59:59:24", "10:00:00:00", "10:00:00:01", "10:00:30:00", "10:00:59:24", "10:01:00:00"];
    let placed = labels(minute, &all);
    // The frame after the start is nearer to the start than to the next tenth, so nothing would be before it.
    assert_eq!((samples(&placed), placed.outside), (vec![1_440_000, 2_878_080], 2));
    let seconds = |seconds| Entry { seconds: Some(seconds), ..Entry::default() };
    let far = [seconds(-1.0), seconds(60.0), seconds(f64::MAX), seconds(f64::MIN), Entry::default()];
    let placed = place(&far, minute);
    assert_eq!((placed.marks.len(), placed.outside), (0, 5));
    let open = place(&far, Line { frames: None, ..minute });
    assert_eq!((samples(&open), open.outside), (vec![2_880_000], 4));
}

#[test]
fn seconds_give_the_sample_only_within_the_frame_of_the_label() {
    let minute = line(FrameRate::F25, "10:00:00:00", 48_000, 60);
    let both = |label, seconds| Entry {
        label: at(FrameRate::F25, label),
        seconds: Some(seconds),
        ..Entry::default()
    };
    let placed =
        place(&[both("10:00:01:00", 1.02), both("10:00:05:00", 4.0), both("10:00:07:00", -3.0)], minute);
    assert_eq!(samples(&placed), [48_960, 240_000, 336_000]);
}

#[test]
fn marks_at_one_place_are_one_mark() {
    let minute = line(FrameRate::F25, "10:00:00:00", 48_000, 60);
    let entry = |seconds, name: &str, transition_frames| Entry {
        seconds: Some(seconds),
        name: Some(name.to_owned()).filter(|name| !name.is_empty()),
        transition_frames,
        ..Entry::default()
    };
    // A video and an audio track cut together, a dissolve in two lines, and a mark 30 ms later; then one on its own.
    let all = [
        entry(9.0, "dusk", 0),
        entry(5.0, "", 0),
        entry(5.0, "bell", 0),
        entry(5.0, "tower", 25),
        entry(5.03, "", 0),
    ];
    let placed = place(&all, minute);
    let mark = |sample, name: &str, transition_frames| Mark {
        sample,
        name: Some(name.to_owned()),
        transition_frames,
    };
    assert_eq!(placed.marks, [mark(240_000, "bell", 25), mark(432_000, "dusk", 0)]);
    assert_eq!((placed.outside, placed.crowded), (0, 1));
}

#[test]
fn cue_points_lie_where_their_file_lies() {
    let rate = SampleRate::new(48_000).expect("a rate");
    let cue = |start, label: &str| Cue { start, frames: 0, label: label.to_owned() };
    let cues = |time_reference| CuePoints {
        rate_hz: 44_100,
        time_reference,
        marks: vec![cue(0, ""), cue(44_100, " bell\n")],
    };
    let seconds = |cues: &CuePoints, origin| -> Vec<f64> {
        from_cues(cues, origin, rate).iter().map(|entry| entry.seconds.expect("a place")).collect()
    };
    // Ten seconds after midnight on a line that begins at eight; at the start of the line if it or the cues have no
    // reference.
    assert_eq!(seconds(&cues(Some(441_000)), Some(384_000)), [2.0, 3.0]);
    assert_eq!(seconds(&cues(Some(441_000)), None), [0.0, 1.0]);
    assert_eq!(seconds(&cues(None), Some(384_000)), [0.0, 1.0]);
    let named = from_cues(&cues(None), None, rate);
    assert_eq!((named[0].name.as_deref(), named[1].name.as_deref()), (None, Some("bell")));
}
