//! Arbitrary bytes give marks or a fault that names a line of the file; nothing panics.

use super::Read;
use crate::marks::{Line, from_cues, place, read_edit_list, read_table};
use plumbline_audio::{CuePoints, Mark as Cue};
use plumbline_measure::{FrameRate, SampleRate, Timecode};
use proptest::collection::vec;
use proptest::prelude::*;

fn frame_rates() -> impl Strategy<Value = FrameRate> {
    proptest::sample::select(FrameRate::ALL.to_vec())
}

/// Reads in one form, and places the entries.
fn go_through(read: Read, bytes: &[u8], frames: FrameRate) -> Result<(), TestCaseError> {
    match read(bytes, frames) {
        Ok(entries) => {
            prop_assert!(entries.len() <= bytes.len());
            let rate = SampleRate::new(48_000).expect("a rate");
            for frames_long in [Some(0), Some(480_000), None] {
                let line = Line { start: Timecode::zero(frames), rate, frames: frames_long };
                let placed = place(&entries, line);
                prop_assert!(placed.marks.len() + placed.outside <= entries.len());
                prop_assert!(placed.marks.is_sorted_by(|a, b| a.sample < b.sample));
            }
            for name in entries.iter().filter_map(|entry| entry.name.as_ref()) {
                prop_assert!(
                    !name.is_empty() && !name.contains(char::is_control) && name.chars().count() <= 64
                );
            }
        }
        Err(fault) => {
            let lines = 1 + bytes.iter().filter(|byte| **byte == b'\n').count();
            prop_assert!((1..=lines).contains(&fault.line), "{fault} of {lines} lines");
        }
    }
    Ok(())
}

/// Pieces of both forms, whole and broken.
fn pieces() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        6 => proptest::sample::select(vec![
            "timecode", "seconds", "name", "clock", "transition_seconds", "at_timecode", ",", ";", "\"", "\n", "\r\n", "\r",
            " ", "001  AX  V  C  ", "002 AX V D 025 ", "W001", "K B", "TITLE:", "FCM: DROP FRAME\n", "FCM: ", "* FROM CLIP NAME: ",
            "* TO CLIP NAME:", "*", "M2 ", "00:00:00:00 ", "01:00:05:12", "00:01:00;02 ", "99:99:99:99", "−", "'=", "\u{feff}", "é",
        ])
        .prop_map(str::to_owned),
        1 => any::<String>(),
        1 => any::<f64>().prop_map(|number| number.to_string()),
    ];
    vec(piece, 0..60).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes(bytes in vec(any::<u8>(), 0..400), frames in frame_rates()) {
        go_through(read_table, &bytes, frames)?;
        go_through(read_edit_list, &bytes, frames)?;
    }

    #[test]
    fn lines_of_random_pieces(text in pieces(), frames in frame_rates()) {
        go_through(read_table, text.as_bytes(), frames)?;
        go_through(read_table, format!("timecode,seconds,name\n{text}").as_bytes(), frames)?;
        go_through(read_edit_list, text.as_bytes(), frames)?;
    }

    #[test]
    fn random_cue_points(
        rate_hz in any::<u32>(),
        time_reference in any::<Option<u64>>(),
        origin in any::<Option<u64>>(),
        starts in vec((any::<u64>(), any::<String>()), 0..20),
    ) {
        let marks = starts.into_iter().map(|(start, label)| Cue { start, frames: 0, label });
        let cues = CuePoints { rate_hz, time_reference, marks: marks.collect() };
        let rate = SampleRate::new(48_000).expect("a rate");
        let entries = from_cues(&cues, origin, rate);
        let line = Line { start: Timecode::zero(FrameRate::F25), rate, frames: Some(480_000) };
        let placed = place(&entries, line);
        prop_assert!(placed.marks.len() + placed.outside <= entries.len());
    }
}
