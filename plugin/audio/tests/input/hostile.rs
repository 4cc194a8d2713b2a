//! Files with any bytes changed give a result or an error, never a crash or an endless wait.

use crate::build::{
    Coding, FLOAT, Folder, PCM_16, PCM_24, aiff, bext, chunk, flac, ixml, patterns, rf64, wav,
};
use crate::refusals::helpful;
use crate::waves::read_all;
use plumbline_audio::{Mark, Options, Reader, StemFile, Stems, copy_with_marks, cue_points};
use proptest::prelude::*;
use std::ops::ControlFlow;

/// Small files of each kind.
fn seeds() -> Vec<Vec<u8>> {
    let names = ixml(&[(1, "Boom"), (2, "Lav")]);
    let marks = chunk(b"cue ", &[&1_u32.to_le_bytes()[..], &[1; 24]].concat());
    let labels = chunk(b"LIST", b"adtllabl\x08\0\0\0\x01\x01\x01\x01abc\0");
    vec![
        wav(PCM_16, 48_000, &patterns(2, 300), &[bext(48_000)], std::slice::from_ref(&names)),
        wav(Coding { tag: 0xFFFE, bits: 24 }, 96_000, &patterns(5, 90), &[], &[bext(7)]),
        wav(FLOAT, 44_100, &patterns(1, 300), &[marks], &[labels]),
        wav(PCM_24, 48_000, &patterns(1, 301), &[], &[chunk(b"JUNK", &[0; 9]), names]),
        rf64(b"RF64", PCM_16, 48_000, &patterns(2, 200), &[bext(5)]),
        rf64(b"BW64", Coding { tag: 3, bits: 64 }, 48_000, &patterns(3, 60), &[]),
        flac(&patterns(2, 900)),
        aiff(44_100, &patterns(3, 200)),
        include_bytes!("sines.ogg").to_vec(),
    ]
}

/// Everything that a survey does with a file.
fn go_through(folder: &Folder, bytes: &[u8]) -> Result<(), TestCaseError> {
    let path = folder.file("hostile.wav", bytes);
    match read_all(&path, 128) {
        // A changed header may claim another width, but the sound must not exceed the bytes. A Vorbis file of a
        // kilobyte may hold a second.
        Ok(sides) if &bytes[..4] != b"OggS" => {
            prop_assert!(sides.iter().map(Vec::len).sum::<usize>() <= 8 * bytes.len());
        }
        Ok(_) => {}
        Err((_, error)) => helpful(&path, &error),
    }
    let channels = Reader::open(&path).map_or(1, |reader| reader.channels());
    let stem = StemFile { path: path.clone(), channels: Some(vec![channels - 1]) };
    for resample_hz in [None, Some(48_000)] {
        if let Ok(mut stems) = Stems::open(std::slice::from_ref(&stem), &Options { resample_hz }) {
            let mut block = vec![vec![vec![0.0; 4_096]]];
            let mut left = 400;
            while left > 0 && matches!(stems.read(&mut block), Ok(count) if count > 0) {
                left -= 1;
            }
            prop_assert!(left > 0, "no end");
        }
    }
    match cue_points(&path) {
        Ok(cues) => prop_assert!(cues.rate_hz > 0 && cues.marks.len() <= bytes.len() / 24),
        Err(error) => prop_assert!(error.to_string().contains("hostile.wav")),
    }
    let to = folder.path().join("copy.wav");
    let mark = Mark { start: 3, frames: 9, label: "x".to_owned() };
    if copy_with_marks(&path, &to, &[mark], &mut |_, _| ControlFlow::Continue(())).is_ok() {
        prop_assert!(std::fs::metadata(&to).is_ok_and(|meta| meta.len() <= bytes.len() as u64 + 400));
        std::fs::remove_file(&to)?;
    }
    prop_assert_eq!(folder.names(), ["hostile.wav"]);
    Ok(())
}

#[test]
fn the_seeds_are_fine_themselves() {
    let folder = Folder::new();
    for bytes in seeds() {
        read_all(&folder.file("seed.wav", &bytes), 64).unwrap_or_else(|(_, error)| panic!("{error}"));
    }
}

/// A small generator for the mutations; the seed is fixed.
fn next(state: &mut u64) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (*state >> 33) as usize
}

#[test]
fn no_mutation_and_no_length_of_a_file_brings_the_reader_down() {
    let folder = Folder::new();
    let (mut state, mut cases, mut opened) = (0x5EED, 0, 0);
    let mut try_it = |bytes: &[u8]| {
        let path = folder.file("hit", bytes);
        match read_all(&path, 256) {
            Ok(sides) => {
                opened += 1;
                let samples = sides.iter().map(Vec::len).sum::<usize>();
                assert!(bytes.starts_with(b"OggS") || samples <= 8 * bytes.len(), "sound out of nothing");
            }
            Err((_, error)) => helpful(&path, &error),
        }
        cases += 1;
    };
    for seed in seeds() {
        for length in (0..120).chain((120..seed.len()).step_by(97)) {
            try_it(&seed[..length]);
        }
        for _ in 0..400 {
            let mut bytes = seed.clone();
            for _ in 0..1 + next(&mut state) % 4 {
                // Two changes in three go to the header, where they do most harm.
                let reach = if next(&mut state) % 3 < 2 { 80 } else { bytes.len() };
                let at = next(&mut state) % reach;
                bytes[at] = match next(&mut state) % 4 {
                    0 => 0,
                    1 => 0xFF,
                    _ => next(&mut state) as u8,
                };
            }
            try_it(&bytes);
        }
    }
    assert!(cases > 4_500, "{cases}");
    assert!(opened > 100, "most mutations must get past the header check: {opened}");
}

#[test]
fn what_the_fuzzer_wrote_is_gone_through_again() {
    // One small file for each way in which a file ended in `plugin/audio/fuzz`, after ten minutes of fuzzing. None
    // showed a fault; a file that does is added here.
    let corpus = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/input/corpus");
    let mut cases = 0;
    for entry in std::fs::read_dir(corpus).expect("a corpus") {
        let path = entry.expect("an entry").path();
        let bytes = std::fs::read(&path).expect("read");
        go_through(&Folder::new(), &bytes).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        cases += 1;
    }
    assert!(cases >= 60, "{cases}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_may_change(
        seed in 0..9_usize,
        hits in prop::collection::vec((any::<prop::sample::Index>(), prop_oneof![Just(0), Just(u8::MAX), any::<u8>()], any::<bool>()), 1..6),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = seeds().swap_remove(seed);
        for (at, value, in_header) in hits {
            // Changes to headers do most harm.
            let reach = if in_header { bytes.len().min(140) } else { bytes.len() };
            let at = at.index(reach);
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(4 + cut.index(bytes.len() - 4));
        }
        go_through(&Folder::new(), &bytes)?;
    }

    #[test]
    fn any_size_of_any_chunk_may_lie(
        seed in 0..6_usize,
        which in any::<prop::sample::Index>(),
        size in prop_oneof![any::<u32>(), Just(0), Just(1), Just(u32::MAX), Just(u32::MAX - 1), 0..64_u32, 0..2_000_u32],
    ) {
        let mut bytes = seeds().swap_remove(seed);
        let names: [&[u8]; 8] = [b"RIFF", b"RF64", b"ds64", b"fmt ", b"data", b"bext", b"iXML", b"LIST"];
        let places: Vec<_> = bytes.windows(4).enumerate().filter(|(_, four)| names.contains(four)).map(|(n, _)| n).collect();
        let at = places[which.index(places.len())] + 4;
        let end = (at + 4).min(bytes.len());
        bytes[at..end].copy_from_slice(&size.to_le_bytes()[..end - at]);
        go_through(&Folder::new(), &bytes)?;
    }

    #[test]
    fn any_names_of_tracks_may_be_written(pieces in prop::collection::vec(piece(), 0..60)) {
        let names = chunk(b"iXML", pieces.concat().as_bytes());
        let bytes = wav(PCM_16, 48_000, &patterns(2, 300), &[], &[names]);
        let folder = Folder::new();
        go_through(&folder, &bytes)?;
        // The sound is whole whatever the names say.
        let path = folder.file("named.wav", &bytes);
        prop_assert_eq!(read_all(&path, 128).map_err(|(_, error)| TestCaseError::fail(error.to_string()))?.len(), 2);
    }
}

/// Pieces of iXML in no order: tags that match nothing, numbers beyond all bounds, references to characters that do not
/// exist.
fn piece() -> impl Strategy<Value = String> {
    let tags =
        ["BWFXML", "TRACK_LIST", "TRACK_COUNT", "TRACK", "CHANNEL_INDEX", "INTERLEAVE_INDEX", "NAME", "X"];
    let tag = prop::sample::select(tags.to_vec());
    let texts = [
        "1",
        "2",
        "0",
        "-1",
        "99999999999999999999",
        " 1 ",
        "1.5",
        "Boom",
        "&amp;",
        "&#0;",
        "&#x110000;",
        "&no;",
        "&",
        "<",
        ">",
        "]]>",
        "<![CDATA[",
        "<!--",
        "-->",
        "<?xml version=\"1.0\"?>",
        "<!DOCTYPE a [<!ENTITY b \"c\">]>",
        "\u{feff}",
        "\u{202e}",
        "\0",
        "<NAME/>",
        "<TRACK a='",
        "</>",
        "<>",
    ];
    prop_oneof![
        4 => tag.clone().prop_map(|tag| format!("<{tag}>")),
        4 => tag.prop_map(|tag| format!("</{tag}>")),
        3 => prop::sample::select(texts.to_vec()).prop_map(str::to_owned),
        1 => ".{0,20}",
        1 => Just("<TRACK>".repeat(5_000)),
    ]
}
