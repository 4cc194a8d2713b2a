//! Several files on one time line.

use crate::build::{Coding, FLOAT, Folder, PCM_16, PCM_24, bext, ixml, pattern, patterns, wav};
use plumbline_audio::{Options, StemFile, Stems, StemsError};
use std::path::{Path, PathBuf};

/// A stem of all channels of a file.
pub(crate) fn all(path: &Path) -> StemFile {
    StemFile { path: path.to_owned(), channels: None }
}

/// A stem of some channels of a file.
pub(crate) fn some(path: &Path, channels: &[usize]) -> StemFile {
    StemFile { path: path.to_owned(), channels: Some(channels.to_vec()) }
}

/// Every stem's channels of the whole line, read in blocks of `block` frames.
pub(crate) fn whole(stems: &mut Stems, block: usize) -> Result<Vec<Vec<Vec<f32>>>, StemsError> {
    let shape: Vec<usize> = stems.stems().iter().map(|info| info.channels).collect();
    // The lists start with values that must not appear in the result.
    let mut room: Vec<_> = shape.iter().map(|channels| vec![vec![0.77; block]; *channels]).collect();
    let mut out: Vec<_> = shape.iter().map(|channels| vec![Vec::new(); *channels]).collect();
    loop {
        let count = stems.read(&mut room)?;
        for (out, room) in out.iter_mut().flatten().zip(room.iter_mut().flatten()) {
            out.extend(&room[..count]);
            assert!(
                room[count..].iter().all(|sample| *sample == 0.77 || count > 0),
                "written behind the end"
            );
            room.fill(0.77);
        }
        if count == 0 {
            return Ok(out);
        }
    }
}

fn open(files: &[StemFile]) -> Stems {
    Stems::open(files, &Options::default()).unwrap_or_else(|error| panic!("{error}"))
}

fn refused(files: &[StemFile], options: &Options) -> StemsError {
    match Stems::open(files, options) {
        Ok(_) => panic!("opened"),
        Err(error) => {
            let text = error.to_string();
            assert!(text.contains(';') && !text.contains('\n'), "{text}");
            error
        }
    }
}

/// Three files with their own starts: 10:00:00 plus 1 000, plus 0 and plus 2 500 samples.
fn three(folder: &Folder) -> [PathBuf; 3] {
    let ten = 36_000 * 48_000;
    let file = |name, channels, frames, start| {
        folder.file(name, &wav(PCM_16, 48_000, &patterns(channels, frames), &[bext(start)], &[]))
    };
    [file("a.wav", 1, 4_000, ten + 1_000), file("b.wav", 2, 700, ten), file("c.wav", 1, 100, ten + 2_500)]
}

#[test]
fn files_lie_where_their_time_references_say() {
    // EBU Tech 3285, clause 2.3: TimeReference counts samples since midnight.
    let folder = Folder::new();
    let files = three(&folder).map(|path| all(&path));
    let mut cases = 0;
    let first = whole(&mut open(&files), 4_096).expect("read");
    for block in [1, 7, 999, 1_000, 1_001, 5_000, 100_000] {
        let mut stems = open(&files);
        assert_eq!(stems.origin(), Some(36_000 * 48_000));
        assert_eq!(stems.frames(), Some(5_000));
        assert_eq!(stems.stems().iter().map(|info| info.start).collect::<Vec<_>>(), [1_000, 0, 2_500]);
        assert_eq!(stems.stems()[1].channels, 2);
        assert_eq!(stems.stems()[2].time_reference, Some(36_000 * 48_000 + 2_500));
        let line = whole(&mut stems, block).expect("read");
        assert!(line == first, "block {block}");
        assert_eq!(stems.read(&mut [vec![vec![0.0; 8]]]).expect("over"), 0);
        cases += 1;
    }
    assert_eq!(cases, 7);
    for (stem, (start, frames)) in first.iter().zip([(1_000, 4_000), (0, 700), (2_500, 100)]) {
        for (channel, side) in stem.iter().enumerate() {
            assert_eq!(side.len(), 5_000);
            for (n, sample) in side.iter().enumerate() {
                let sounds = (start..start + frames).contains(&n);
                let exact = if sounds { pattern(channel, n - start) } else { 0.0 };
                assert!(sample.to_bits() == exact.to_bits(), "channel {channel}, sample {n}: {sample}");
            }
        }
    }
}

#[test]
fn a_file_that_tells_no_time_lies_at_the_start_of_the_line() {
    let folder = Folder::new();
    let [a, b, _] = three(&folder);
    let plain = folder.file("plain.wav", &wav(PCM_16, 48_000, &patterns(1, 300), &[], &[]));
    let stems = open(&[all(&a), all(&plain)]);
    assert_eq!((stems.stems()[0].start, stems.stems()[1].start), (0, 0));
    assert_eq!(stems.origin(), Some(36_000 * 48_000 + 1_000));
    let stems = open(&[all(&plain), all(&a), all(&b)]);
    assert_eq!(stems.stems().iter().map(|info| info.start).collect::<Vec<_>>(), [0, 1_000, 0]);
    assert_eq!(stems.stems()[0].time_reference, None);
    let mut stems = open(&[all(&plain)]);
    assert_eq!((stems.origin(), stems.frames()), (None, Some(300)));
    assert_eq!(whole(&mut stems, 64).expect("read")[0], patterns(1, 300));
}

#[test]
fn channels_of_one_file_are_stems_of_their_own() {
    let folder = Folder::new();
    let sides = patterns(6, 5_000);
    let chunks = [bext(480), ixml(&[(1, "Boom"), (5, "Ramp L"), (6, "Ramp R")])];
    let poly = folder.file("poly.wav", &wav(PCM_24, 48_000, &sides, &chunks, &[]));
    let single = folder.file("single.wav", &wav(PCM_24, 48_000, &sides[..1], &[bext(0)], &[]));
    let mut stems = open(&[some(&poly, &[5, 4]), all(&single), some(&poly, &[0]), some(&poly, &[4, 4])]);
    let names: Vec<_> = stems.stems().iter().map(|info| info.channel_names.clone()).collect();
    assert_eq!(names, [vec!["Ramp R", "Ramp L"], vec![], vec!["Boom"], vec!["Ramp L", "Ramp L"]]);
    let line = whole(&mut stems, 777).expect("read");
    for (got, from) in
        [(&line[0][0], 5), (&line[0][1], 4), (&line[2][0], 0), (&line[3][0], 4), (&line[3][1], 4)]
    {
        assert_eq!(got[480..], sides[from], "channel {from}");
        assert!(got[..480].iter().all(|sample| *sample == 0.0));
    }
    assert_eq!(line[1][0][..5_000], sides[0]);

    assert!(matches!(
        refused(&[all(&poly)], &Options::default()),
        StemsError::ChannelsNotChosen { got: 6, .. }
    ));
    let missing = refused(&[some(&poly, &[0, 6])], &Options::default());
    assert!(matches!(missing, StemsError::NoSuchChannel { channel: 7, got: 6, .. }));
    for chosen in [vec![], vec![0, 1, 2]] {
        let error = refused(&[some(&poly, &chosen)], &Options::default());
        assert!(matches!(error, StemsError::ChannelCount { chosen: n, .. } if n == chosen.len()));
    }
    assert!(matches!(
        refused(&[some(&poly, &[usize::MAX])], &Options::default()),
        StemsError::NoSuchChannel { .. }
    ));
}

#[test]
fn lists_that_do_not_fit_the_stems_do_no_harm() {
    let folder = Folder::new();
    let path = folder.file("a.wav", &wav(PCM_16, 48_000, &patterns(2, 900), &[], &[]));
    let mut stems = open(&[all(&path)]);
    assert_eq!(stems.read(&mut []).expect("nothing"), 0);
    assert_eq!(stems.read(&mut [vec![vec![], vec![0.0; 9]]]).expect("no room"), 0);
    // There is no third channel and no second stem; the second list, which is the shortest, limits what is read.
    let mut blocks = vec![vec![vec![9.0; 50], vec![9.0; 40], vec![9.0; 60]], vec![vec![9.0; 45]]];
    assert_eq!(stems.read(&mut blocks).expect("read"), 40);
    assert_eq!(blocks[0][1], patterns(2, 40)[1]);
    assert_eq!((blocks[0][2][39], blocks[0][2][40], blocks[1][0][0]), (0.0, 9.0, 0.0));
    // If one channel is asked for, the line continues from where it was.
    let mut blocks = vec![vec![vec![0.0; 10]]];
    assert_eq!(stems.read(&mut blocks).expect("read"), 10);
    assert_eq!(blocks[0][0][0], pattern(0, 40));
}

#[test]
fn times_that_cannot_be_one_day_are_refused() {
    let folder = Folder::new();
    let at =
        |name, reference| folder.file(name, &wav(PCM_16, 48_000, &patterns(1, 300), &[bext(reference)], &[]));
    let day = 24 * 3_600 * 48_000;
    let files = [all(&at("early.wav", 100)), all(&at("late.wav", day + 100))];
    assert_eq!(open(&files).stems()[1].start, 24 * 3_600 * 48_000);
    let files = [all(&at("late.wav", day + 101)), all(&at("early.wav", 100))];
    let error = refused(&files, &Options::default());
    let StemsError::FarApart { first, last } = &error else { panic!("{error}") };
    assert!(first.ends_with("early.wav") && last.ends_with("late.wav"), "{error}");
    let files = [all(&at("wild.wav", u64::MAX)), all(&at("early.wav", 0))];
    assert!(matches!(refused(&files, &Options::default()), StemsError::FarApart { .. }));
    // On its own, such a file only has a wrong clock.
    assert_eq!(open(&files[..1]).origin(), Some(u64::MAX));
}

#[test]
fn different_rates_are_refused_by_name() {
    let folder = Folder::new();
    let at = |name: &str, rate| all(&folder.file(name, &wav(PCM_16, rate, &patterns(1, 300), &[], &[])));
    let mut files = vec![at("one.wav", 48_000), at("two.wav", 44_100), at("three.wav", 48_000)];
    let text = refused(&files, &Options::default()).to_string();
    assert!(text.contains("one.wav: has 48000 Hz") && text.contains("two.wav has 44100 Hz"), "{text}");
    assert!(!text.contains("three.wav"), "{text}");
    files.extend((0..6).map(|n| at(&format!("more{n}.wav"), 96_000)));
    let text = refused(&files, &Options::default()).to_string();
    assert!(
        text.contains("more2.wav") && !text.contains("more3.wav") && text.contains("and 3 more"),
        "{text}"
    );
    assert!(matches!(refused(&[], &Options::default()), StemsError::NoFiles));
    for hz in [0, 8_000, u32::MAX] {
        assert!(matches!(refused(&files, &Options { resample_hz: Some(hz) }), StemsError::Rate { .. }));
    }
}

#[test]
fn a_file_that_ends_early_ends_the_line_there_and_says_so_once() {
    let folder = Folder::new();
    let bytes = wav(FLOAT, 48_000, &patterns(1, 20_000), &[], &[]);
    let cut = folder.file("cut.wav", &bytes[..bytes.len() - 4 * 3_000]);
    let fine = folder.file("fine.wav", &wav(FLOAT, 48_000, &patterns(2, 30_000), &[], &[]));
    for block in [64, 1_000, 17_000, 40_000] {
        let mut stems = open(&[all(&fine), all(&cut)]);
        let mut blocks = vec![vec![vec![0.0; block]; 2], vec![vec![0.0; block]]];
        let mut heard = vec![Vec::<f32>::new(); 2];
        let error = loop {
            match stems.read(&mut blocks) {
                Ok(0) => panic!("an end without a word"),
                Ok(count) => {
                    heard[0].extend(&blocks[0][1][..count]);
                    heard[1].extend(&blocks[1][0][..count]);
                }
                Err(error) => break error,
            }
        };
        assert!(error.to_string().contains("cut.wav: ends after 17000 of 20000 frames"), "{error}");
        assert_eq!(heard[0], patterns(2, 17_000)[1]);
        assert_eq!(heard[1], patterns(1, 17_000)[0]);
        assert_eq!(stems.read(&mut blocks).expect("over"), 0);
    }
}

#[test]
fn samples_that_are_no_numbers_are_handed_on() {
    let folder = Folder::new();
    let mut sides = patterns(1, 500);
    (sides[0][7], sides[0][8], sides[0][9]) = (f32::NAN, f32::INFINITY, f32::NEG_INFINITY);
    let mut cases = 0;
    for coding in [FLOAT, Coding { tag: 3, bits: 64 }] {
        let path = folder.file("nan.wav", &wav(coding, 48_000, &sides, &[], &[]));
        let line = whole(&mut open(&[all(&path)]), 100).expect("read");
        assert!(line[0][0][7].is_nan());
        assert_eq!(line[0][0][8..], sides[0][8..]);
        cases += 1;
    }
    assert_eq!(cases, 2);
}
