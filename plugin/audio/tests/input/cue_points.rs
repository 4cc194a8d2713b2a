//! Cue points read from WAV files made byte by byte from Multimedia Programming Interface and Data Specifications 1.0
//! (Microsoft and IBM, 1991): `cue `, and `LIST` of type `adtl` with `labl` and `ltxt`.

use crate::build::{Folder, PCM_16, PCM_24, bext, chunk, flac, patterns, rf64, wav};
use plumbline_audio::{CuePoints, CueReadError, Mark, copy_with_marks, cue_points};
use std::ops::ControlFlow;
use std::path::Path;

fn mark(start: u64, frames: u64, label: &str) -> Mark {
    Mark { start, frames, label: label.to_owned() }
}

/// One cue point: name, position in play order, chunk, two fields for play lists, position in the samples.
fn point(name: u32, play_order: u32, sample: u32) -> Vec<u8> {
    let fields =
        [name.to_le_bytes(), play_order.to_le_bytes(), *b"data", [0; 4], [0; 4], sample.to_le_bytes()];
    fields.concat()
}

fn cue(points: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"cue ", &[&(points.len() as u32).to_le_bytes()[..], &points.concat()].concat())
}

fn labelled(name: u32, text: &[u8]) -> Vec<u8> {
    chunk(b"labl", &[&name.to_le_bytes()[..], text, b"\0"].concat())
}

fn list(texts: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"LIST", &[b"adtl".to_vec(), texts.concat()].concat())
}

fn read(folder: &Folder, bytes: &[u8]) -> CuePoints {
    cue_points(folder.file("marks.wav", bytes)).expect("cue points")
}

#[test]
fn points_have_the_place_label_and_length_that_the_file_states() {
    let folder = Folder::new();
    let region = [&9_u32.to_le_bytes()[..], &480_u32.to_le_bytes(), b"rgn ", &[0; 8]].concat();
    let texts = list(&[
        labelled(9, b"second bell"),
        chunk(b"note", b"\x09\0\0\0no label\0"),
        chunk(b"ltxt", &region),
        labelled(7, "Glocke – läutet".as_bytes()),
        labelled(8, b"of no point"),
    ]);
    // The play order of the second point is not its position.
    let points = cue(&[point(7, 100, 100), point(9, 5, 4_800), point(4, 9_000, 9_000)]);
    let info = chunk(b"LIST", b"INFOISFT");
    for (before, after) in
        [(vec![], vec![info.clone(), points.clone(), texts.clone()]), (vec![texts, info, points], vec![])]
    {
        let before = [before, vec![bext(96_000)]].concat();
        let read = read(&folder, &wav(PCM_16, 44_100, &patterns(1, 500), &before, &after));
        assert_eq!((read.rate_hz, read.time_reference), (44_100, Some(96_000)));
        let expected = [mark(100, 0, "Glocke – läutet"), mark(4_800, 480, "second bell"), mark(9_000, 0, "")];
        assert_eq!(read.marks, expected);
    }
}

#[test]
fn a_file_without_marks_has_none() {
    let folder = Folder::new();
    let read = read(&folder, &wav(PCM_24, 48_000, &patterns(2, 50), &[], &[]));
    assert_eq!(read, CuePoints { rate_hz: 48_000, time_reference: None, marks: Vec::new() });
}

#[test]
fn what_a_copy_is_given_is_read_back() {
    let folder = Folder::new();
    let marks = [mark(0, 0, "start"), mark(480, 1_000, "Hammer"), mark(1_900, 0, "")];
    let mut forms = 0;
    for bytes in [
        wav(PCM_24, 48_000, &patterns(1, 2_001), &[bext(7)], &[]),
        rf64(b"RF64", PCM_16, 48_000, &patterns(2, 2_001), &[bext(7)]),
        rf64(b"BW64", PCM_16, 48_000, &patterns(2, 2_001), &[bext(7)]),
    ] {
        let to = folder.path().join(format!("copy {forms}.wav"));
        let from = folder.file("mix.wav", &bytes);
        copy_with_marks(&from, &to, &marks, &mut |_, _| ControlFlow::Continue(())).expect("copied");
        let read = cue_points(&to).expect("cue points");
        assert_eq!(read, CuePoints { rate_hz: 48_000, time_reference: Some(7), marks: marks.to_vec() });
        forms += 1;
    }
    assert_eq!(forms, 3);
}

#[test]
fn a_file_that_cannot_be_read_is_named() {
    let folder = Folder::new();
    let good = wav(PCM_16, 48_000, &patterns(1, 500), &[], &[cue(&[point(1, 2, 3)])]);
    let error = |path: &Path| {
        let error = cue_points(path).expect_err("refused");
        let text = error.to_string();
        assert!(text.contains(path.file_name().expect("a name").to_str().expect("plain")), "{text}");
        assert!(text.contains(';') && !text.contains('\n'), "{text}");
        error
    };
    let not_wav = |path: &Path| assert!(matches!(error(path), CueReadError::NotWav { .. }));
    not_wav(&folder.file("a.flac", &flac(&patterns(1, 900))));
    not_wav(&folder.file("empty.wav", b""));
    not_wav(&folder.file("short.wav", &good[..9]));
    not_wav(folder.path());
    let cut = folder.file("cut.wav", &good[..good.len() - 3]);
    assert!(matches!(error(&cut), CueReadError::Damaged { .. }));
    let missing = folder.path().join("missing.wav");
    assert!(matches!(error(&missing), CueReadError::Input { .. }));
}
