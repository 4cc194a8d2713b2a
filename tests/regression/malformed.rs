//! Broken files: a clear line that names the file and the way out, and never a crash.

use crate::files::{Folder, Wav, aiff, flac};
use crate::reading::read_all;
use plumbline_audio::{ReadError, Reader};
use std::path::Path;

/// One line, the file's name first, and more than the bare fact.
fn assert_helpful(path: &Path, error: &ReadError) -> String {
    let text = error.to_string();
    assert!(text.starts_with(&path.display().to_string()), "{text}");
    assert!(!text.contains('\n'), "{text}");
    assert!(text.contains(';'), "a way out is missing: {text}");
    text
}

fn refused(path: &Path) -> ReadError {
    match Reader::open(path) {
        Ok(_) => panic!("{} was opened", path.display()),
        Err(error) => {
            assert_helpful(path, &error);
            error
        }
    }
}

#[test]
fn what_cannot_be_opened_says_why() {
    let folder = Folder::new();
    let missing = folder.path().join("missing.wav");
    assert!(matches!(refused(&missing), ReadError::Missing { .. }));
    assert!(matches!(refused(folder.path()), ReadError::Folder { .. }));
    assert!(matches!(refused(&folder.file("empty.wav", b"")), ReadError::Empty { .. }));
    let text =
        folder.file("notes.wav", b"Chisel the third course before the frost comes. ".repeat(40).as_slice());
    assert!(matches!(refused(&text), ReadError::NotAudio { .. }));
    assert!(matches!(refused(&folder.file("short.wav", b"RI")), ReadError::NotAudio { .. }));
    let mut long = Wav::PLAIN.bytes();
    long[..4].copy_from_slice(b"RF64");
    assert!(matches!(refused(&folder.file("long.wav", &long)), ReadError::LongWav { .. }));
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_says_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    let path = folder.file("locked.wav", &Wav::PLAIN.bytes());
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).expect("locked");
    // Root may read everything; for root the case is a name that is no file at all.
    if std::fs::read(&path).is_ok() {
        let through_a_file = path.join("inside.wav");
        assert!(matches!(refused(&through_a_file), ReadError::Unreadable { .. }));
    } else {
        assert!(matches!(refused(&path), ReadError::Unreadable { .. }));
    }
}

#[test]
fn what_cannot_be_measured_says_the_limits() {
    let folder = Folder::new();
    let mut cases = 0;
    for rate in [0, 1, 8_000, 22_049, 384_001, 768_000, u32::MAX] {
        let path = folder.file("rate.wav", &Wav { rate, ..Wav::PLAIN }.bytes());
        let error = refused(&path);
        assert!(matches!(error, ReadError::Rate { .. } | ReadError::NotAudio { .. }), "{rate}: {error}");
        cases += 1;
    }
    for channels in [0, 65, 300] {
        let path = folder.file("channels.wav", &Wav { channels, ..Wav::PLAIN }.bytes());
        let error = refused(&path);
        assert!(
            matches!(error, ReadError::Channels { got, .. } if got == usize::from(channels)),
            "{channels}: {error}"
        );
        cases += 1;
    }
    assert_eq!(cases, 10);
}

#[test]
fn a_file_without_samples_is_refused() {
    let folder = Folder::new();
    let zero = Wav { frames: 0, ..Wav::PLAIN };
    assert!(matches!(refused(&folder.file("zero.wav", &zero.bytes())), ReadError::ZeroLength { .. }));
    // Its header promises samples, and there is not one.
    let bytes = Wav::PLAIN.bytes();
    assert!(matches!(refused(&folder.file("cut.wav", &bytes[..44])), ReadError::ZeroLength { .. }));
}

#[test]
fn a_file_that_ends_early_hands_out_what_is_there_and_then_says_so() {
    let folder = Folder::new();
    let mut cases = 0;
    for (name, bytes) in [("cut.wav", Wav::PLAIN.bytes()), ("cut.flac", flac(2, 48_000, 5_000))] {
        let path = folder.file(name, &bytes[..bytes.len() * 3 / 4]);
        let (sides, error) = read_all(&path, 500).expect_err("cut short");
        assert_helpful(&path, &error);
        let ReadError::Truncated { got, expected, .. } = error else { panic!("{name}: {error}") };
        assert_eq!(expected, 5_000, "{name}");
        assert_eq!(got, sides[0].len() as u64, "{name}");
        // A FLAC loses the frame that is cut, a WAV at most the packet.
        assert!((2_000..=3_750).contains(&got), "{name}: {got}");
        cases += 1;
    }
    assert_eq!(cases, 2);
    // An AIFF tells its chunks only when all of them are there.
    let bytes = aiff(2, 48_000, 5_000);
    let cut = folder.file("cut.aiff", &bytes[..bytes.len() * 3 / 4]);
    assert!(matches!(refused(&cut), ReadError::CutShort { .. }));
}

#[test]
fn a_damaged_place_is_told_and_not_skipped() {
    let folder = Folder::new();
    let mut bytes = flac(2, 48_000, 5_000);
    let in_third_frame = 42 + 2 * 4_012 + 400;
    bytes[in_third_frame] ^= 0x55;
    let path = folder.file("damaged.flac", &bytes);
    let (sides, error) = read_all(&path, 500).expect_err("a check sum is wrong");
    assert_helpful(&path, &error);
    // The two frames before it are fine; what comes after it would be measured at the wrong time.
    assert!(matches!(error, ReadError::Damaged { at: 2_000, .. }), "{error}");
    assert_eq!(sides[0].len(), 2_000);
}

/// A small generator for the mutations; the seed is fixed.
fn next(state: &mut u64) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (*state >> 33) as usize
}

#[test]
fn no_mutation_of_a_file_brings_the_reader_down() {
    let folder = Folder::new();
    let small = |tag, bits| Wav { tag, bits, frames: 600, ..Wav::PLAIN }.bytes();
    let seeds = [small(1, 16), small(3, 32), small(0xFFFE, 24), flac(2, 48_000, 1_200), aiff(1, 44_100, 900)];
    let (mut state, mut cases, mut opened) = (0x5EED, 0, 0);
    let mut try_it = |name: &str, bytes: &[u8]| {
        let path = folder.file(name, bytes);
        match read_all(&path, 256) {
            // A header may claim more channels or less width, but not more sound than there are bytes.
            Ok(sides) => {
                opened += 1;
                assert!(sides.iter().map(Vec::len).sum::<usize>() <= 8 * bytes.len(), "sound out of nothing");
            }
            Err((_, error)) => drop(assert_helpful(&path, &error)),
        }
        cases += 1;
    };
    for seed in &seeds {
        for length in (0..120).chain((120..seed.len()).step_by(97)) {
            try_it("cut", &seed[..length]);
        }
        for _ in 0..400 {
            let mut bytes = seed.clone();
            for _ in 0..1 + next(&mut state) % 4 {
                // Two of three hits go to the header, where they hurt.
                let reach = if next(&mut state) % 3 < 2 { 80 } else { bytes.len() };
                let at = next(&mut state) % reach;
                bytes[at] = match next(&mut state) % 4 {
                    0 => 0,
                    1 => 0xFF,
                    _ => next(&mut state) as u8,
                };
            }
            try_it("hit", &bytes);
        }
    }
    assert!(cases > 2_500, "{cases}");
    assert!(opened > 100, "most mutations must get past the header check: {opened}");
}
