//! Marks in a copy of a WAV, read back chunk by chunk from Multimedia Programming Interface and Data Specifications 1.0
//! (Microsoft and IBM, 1991): `cue ` and `LIST` of type `adtl` with `labl` and `ltxt`.

use crate::build::{
    FLOAT, Folder, PCM_16, PCM_24, bext, chunk, fmt, ixml, patterns, rf64, riff, samples, wav,
};
use crate::waves::read_all;
use plumbline_audio::{CueError, Mark, Reader, copy_with_marks};
use std::ops::ControlFlow;
use std::path::Path;

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().expect("four bytes"))
}

/// Name and content of every chunk in `bytes`, whose sizes must fill it to the last byte.
fn parts(bytes: &[u8], data_size: Option<usize>) -> Vec<(String, Vec<u8>)> {
    let (mut at, mut out) = (0, Vec::new());
    while at < bytes.len() {
        let told = u32_at(bytes, at + 4);
        let size = if told == u32::MAX { data_size.expect("told elsewhere") } else { told as usize };
        out.push((
            String::from_utf8_lossy(&bytes[at..at + 4]).into_owned(),
            bytes[at + 8..at + 8 + size].to_vec(),
        ));
        at += 8 + size.next_multiple_of(2);
    }
    assert_eq!(at, bytes.len(), "a pad byte is missing or a size is wrong");
    out
}

/// The marks found in a file: name, start, length, label.
fn found(chunks: &[(String, Vec<u8>)]) -> Vec<(u32, u32, u32, String)> {
    let one = |id: &str| {
        let mut all = chunks
            .iter()
            .filter(|(name, content)| name == id && (id != "LIST" || content.starts_with(b"adtl")));
        let first = all.next().map(|(_, content)| content.clone()).unwrap_or_default();
        assert!(all.next().is_none(), "the standard allows one {id}");
        first
    };
    let (cue, list) = (one("cue "), one("LIST"));
    assert_eq!(cue.len(), 4 + 24 * u32_at(&cue, 0) as usize);
    let texts = parts(&list[4..], None);
    let mut out = Vec::new();
    for point in cue[4..].chunks_exact(24) {
        let name = u32_at(point, 0);
        assert_eq!(&point[8..12], b"data");
        assert_eq!(
            (u32_at(point, 12), u32_at(point, 16)),
            (0, 0),
            "chunk and block start are for play lists"
        );
        assert_eq!(u32_at(point, 4), u32_at(point, 20));
        let of = |id: &str| {
            texts.iter().find(|(kind, text)| kind == id && u32_at(text, 0) == name).map(|(_, text)| text)
        };
        let label = of("labl").expect("a label");
        assert_eq!(label.last(), Some(&0), "labels end with a zero");
        let label = String::from_utf8(label[4..label.len() - 1].to_vec()).expect("UTF-8");
        let length = of("ltxt").map_or(0, |region| {
            assert_eq!((region.len(), &region[8..12]), (20, &b"rgn "[..]));
            u32_at(region, 4)
        });
        out.push((name, u32_at(point, 20), length, label));
    }
    let mut names: Vec<_> = out.iter().map(|mark| mark.0).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), out.len(), "names are unique");
    out
}

fn mark(start: u64, frames: u64, label: &str) -> Mark {
    Mark { start, frames, label: label.to_owned() }
}

fn copy(from: &Path, to: &Path, marks: &[Mark]) -> Result<(), CueError> {
    copy_with_marks(from, to, marks, &mut |_, _| ControlFlow::Continue(()))
}

fn refused(from: &Path, to: &Path, marks: &[Mark]) -> CueError {
    let error = copy(from, to, marks).expect_err("refused");
    let text = error.to_string();
    assert!(text.contains(';') && !text.contains('\n'), "{text}");
    error
}

#[test]
fn marks_are_found_again_and_all_else_is_as_it_was() {
    let folder = Folder::new();
    let sides = patterns(1, 2_001);
    let (before, after) = (
        [bext(99), chunk(b"JUNK", &[3; 27])],
        [ixml(&[(1, "Boom")]), chunk(b"LIST", b"INFOISFT"), chunk(b"LIST", b"exifetim")],
    );
    let bytes = wav(PCM_24, 48_000, &sides, &before, &after);
    let from = folder.file("mix.wav", &bytes);
    let to = folder.path().join("marked.wav");
    let marks = [
        mark(0, 0, "out of step"),
        mark(480, 1_000, "1.0 dB – hörbar\0"),
        mark(1_900, 500, ""),
        mark(9_999, 5, "behind the end"),
        mark(u64::MAX, u64::MAX, "far behind"),
    ];
    copy(&from, &to, &marks).expect("copied");
    assert_eq!(std::fs::read(&from).expect("read"), bytes, "the input was touched");
    assert_eq!(folder.names(), ["marked.wav", "mix.wav"]);
    let copied = std::fs::read(&to).expect("read");
    assert_eq!(u32_at(&copied, 4) as usize + 8, copied.len());
    let (old, new) = (parts(&bytes[12..], None), parts(&copied[12..], None));
    assert_eq!(new[..old.len()], old[..], "a chunk is missing or changed");
    let texts = [
        (0, 0, "out of step"),
        (480, 1_000, "1.0 dB – hörbar"),
        (1_900, 101, ""),
        (2_001, 0, "behind the end"),
    ];
    let marks: Vec<_> =
        found(&new).into_iter().map(|(_, start, length, label)| (start, length, label)).collect();
    for (got, (start, length, label)) in marks.iter().zip(texts) {
        assert_eq!(*got, (start, length, label.to_owned()));
    }
    assert_eq!(marks.len(), 5);
    assert!(read_all(&to, 256).expect("still a sound") == sides);
    assert_eq!(Reader::open(&to).expect("opened").time_reference(), Some(99));
}

#[test]
fn marks_that_are_there_already_are_kept() {
    let folder = Folder::new();
    let from = folder.file("mix.wav", &wav(PCM_16, 48_000, &patterns(2, 900), &[], &[]));
    let (once, twice) = (folder.path().join("once.wav"), folder.path().join("twice.wav"));
    copy(&from, &once, &[mark(10, 20, "first!"), mark(30, 0, "second")]).expect("copied");
    copy(&once, &twice, &[mark(5, 7, "third")]).expect("copied");
    let bytes = std::fs::read(&twice).expect("read");
    let marks = found(&parts(&bytes[12..], None));
    let texts: Vec<_> =
        marks.iter().map(|(_, start, length, label)| (*start, *length, label.as_str())).collect();
    assert_eq!(texts, [(10, 20, "first!"), (30, 0, "second"), (5, 7, "third")]);
    // With no marks to add, the copy is the same.
    let plain = folder.path().join("plain.wav");
    copy(&from, &plain, &[]).expect("copied");
    assert_eq!(std::fs::read(&plain).expect("read"), std::fs::read(&from).expect("read"));
}

#[test]
fn sizes_of_64_bits_are_made_anew() {
    // EBU Tech 3306, clause 3: `ds64` holds the sizes of file and samples; ITU-R BS.2088-1 for BW64.
    let folder = Folder::new();
    let mut cases = 0;
    for magic in [b"RF64", b"BW64"] {
        for told in [None, Some(0_u64)] {
            let sides = patterns(3, 501);
            let mut bytes = rf64(magic, FLOAT, 96_000, &sides, &[]);
            if let Some(size) = told {
                bytes[28..36].copy_from_slice(&size.to_le_bytes());
            }
            let from = folder.file("long.wav", &bytes);
            let to = folder.path().join(format!("marked{cases}.wav"));
            copy(&from, &to, &[mark(77, 11, "a hole")]).expect("copied");
            let copied = std::fs::read(&to).expect("read");
            assert_eq!((&copied[..4], u32_at(&copied, 4)), (&magic[..], u32::MAX));
            let data = 501 * 3 * 4;
            let chunks = parts(&copied[12..], Some(data));
            let sizes = &chunks[0].1;
            assert_eq!(u64::from_le_bytes(sizes[..8].try_into().expect("8")), copied.len() as u64 - 8);
            assert_eq!(u64::from_le_bytes(sizes[8..16].try_into().expect("8")), data as u64);
            assert_eq!(found(&chunks)[0].1, 77);
            assert!(read_all(&to, 256).expect("still a sound") == sides);
            cases += 1;
        }
    }
    assert_eq!(cases, 4);
}

#[test]
fn an_unfinished_stream_gets_its_sizes() {
    let folder = Folder::new();
    let data = samples(PCM_16, &patterns(1, 333));
    let mut bytes = riff(&[fmt(PCM_16, 1, 48_000), chunk(b"data", &data)]);
    bytes[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
    bytes[40..44].copy_from_slice(&u32::MAX.to_le_bytes());
    let to = folder.path().join("marked.wav");
    copy(&folder.file("stream.wav", &bytes), &to, &[mark(300, 900, "end")]).expect("copied");
    let copied = std::fs::read(&to).expect("read");
    let chunks = parts(&copied[12..], None);
    assert_eq!(chunks[1], ("data".to_owned(), data));
    assert_eq!(found(&chunks), [(1, 300, 33, "end".to_owned())]);
}

#[test]
fn what_cannot_be_copied_leaves_nothing_behind() {
    let folder = Folder::new();
    let bytes = wav(PCM_16, 48_000, &patterns(1, 900), &[], &[]);
    let from = folder.file("mix.wav", &bytes);
    let to = folder.path().join("marked.wav");
    let marks = [mark(1, 2, "a")];
    // A copy onto the file itself, or onto another one: neither file is touched.
    let other = folder.file("other.wav", b"somebody's own");
    assert!(matches!(refused(&from, &from, &marks), CueError::Exists { .. }));
    assert!(matches!(refused(&from, &other, &marks), CueError::Exists { .. }));
    assert_eq!(std::fs::read(&from).expect("read"), bytes);
    assert_eq!(std::fs::read(&other).expect("read"), b"somebody's own");
    let text = folder.file("notes.wav", b"Chisel the third course before the frost comes.");
    assert!(matches!(refused(&text, &to, &marks), CueError::NotWav { .. }));
    assert!(matches!(refused(folder.path(), &to, &marks), CueError::NotWav { .. }));
    let cut = folder.file("cut.wav", &bytes[..500]);
    assert!(matches!(refused(&cut, &to, &marks), CueError::Damaged { .. }));
    // A RIFF size that is wrong by a few bytes is common, and does no harm.
    let mut miscounted = bytes.clone();
    miscounted[4] += 8;
    copy(&folder.file("miscounted.wav", &miscounted), &to, &marks).expect("copied");
    std::fs::remove_file(&to).expect("removed");
    let nowhere = folder.path().join("none").join("marked.wav");
    assert!(matches!(refused(&from, &nowhere, &marks), CueError::Output { .. }));
    assert!(matches!(refused(&folder.path().join("gone.wav"), &to, &marks), CueError::Input { .. }));
    let (mut steps, mut all_of_it) = (0, 0);
    let mut count = |written: u64, total: u64| {
        (steps, all_of_it) = (steps + 1, total.max(written));
        ControlFlow::Continue(())
    };
    copy_with_marks(&from, &to, &marks, &mut count).expect("copied");
    assert_eq!(std::fs::metadata(&to).expect("there").len(), all_of_it);
    std::fs::remove_file(&to).expect("removed");
    assert!(steps >= 8, "{steps}");
    for after in 0..steps {
        let mut asked = 0;
        let mut stop = |written: u64, total: u64| {
            assert!(written <= total);
            asked += 1;
            if asked > after { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        match copy_with_marks(&from, &to, &marks, &mut stop) {
            Err(CueError::Stopped { .. }) => assert!(!to.exists()),
            other => panic!("{other:?} after {after}"),
        }
    }
    assert_eq!(folder.names(), ["cut.wav", "miscounted.wav", "mix.wav", "notes.wav", "other.wav"]);
}

#[test]
fn a_copy_that_passes_4_gb_is_refused_before_it_is_begun() {
    // The file is sparse: it takes no space on the disk.
    let folder = Folder::new();
    let mut head = riff(&[fmt(PCM_16, 2, 48_000), chunk(b"data", &[])]);
    let data = u32::MAX - 60;
    head[4..8].copy_from_slice(&(data + 36).to_le_bytes());
    head[40..44].copy_from_slice(&data.to_le_bytes());
    let from = folder.file("full.wav", &head);
    let file = std::fs::OpenOptions::new().write(true).open(&from).expect("opened");
    file.set_len(44 + u64::from(data) + 1).expect("sparse");
    let to = folder.path().join("marked.wav");
    assert!(matches!(refused(&from, &to, &[mark(5, 5, "a")]), CueError::TooLong { .. }));
    assert!(!to.exists());
}
