//! Broken files give one line that names the file and says what to do, never a crash or an endless wait.

use crate::build::{
    Coding, FLOAT, Folder, PCM_16, aiff, bext, chunk, flac, fmt, patterns, rf64, riff, samples, wav,
};
use crate::waves::read_all;
use plumbline_audio::{ReadError, Reader};
use std::path::Path;

fn refused(path: &Path) -> ReadError {
    match Reader::open(path) {
        Ok(_) => panic!("{} was opened", path.display()),
        Err(error) => {
            helpful(path, &error);
            error
        }
    }
}

/// Asserts that an error is one line, with the file's name first and what to do after it.
pub(crate) fn helpful(path: &Path, error: &ReadError) {
    let text = error.to_string();
    assert!(text.starts_with(&path.display().to_string()), "{text}");
    assert!(text.contains(';') && !text.contains('\n'), "{text}");
}

#[test]
fn what_is_no_sound_file_is_refused_by_name() {
    let folder = Folder::new();
    assert!(matches!(refused(&folder.path().join("missing.wav")), ReadError::Missing { .. }));
    assert!(matches!(refused(folder.path()), ReadError::Folder { .. }));
    assert!(matches!(refused(&folder.file("empty.wav", b"")), ReadError::Empty { .. }));
    for lines in [40, 4_000] {
        let text = b"Chisel the third course before the frost comes. ".repeat(lines);
        assert!(matches!(refused(&folder.file("notes.wav", &text)), ReadError::NotAudio { .. }));
    }
    let picture = [b"RIFF\x24\0\0\0AVI LIST".to_vec(), vec![0; 60]].concat();
    assert!(matches!(refused(&folder.file("film.wav", &picture)), ReadError::NotAudio { .. }));
    for empty in [&b"R"[..], b"RI", b"\0\0\0", b"RIFX", b"OggX"] {
        assert!(matches!(refused(&folder.file("short.wav", empty)), ReadError::NotAudio { .. }), "{empty:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_pipe_or_a_device_is_refused_at_once() {
    // Nothing writes to this pipe: opening it to read would wait for ever.
    let folder = Folder::new();
    let pipe = folder.path().join("pipe.wav");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo is there");
    assert!(made.success());
    for path in [pipe, "/dev/null".into(), "/dev/zero".into()] {
        let (tell, told) = std::sync::mpsc::channel();
        std::thread::spawn(move || tell.send(matches!(refused(&path), ReadError::NoFile { .. })));
        assert_eq!(told.recv_timeout(std::time::Duration::from_secs(10)), Ok(true));
    }
}

#[test]
fn a_wav_that_is_cut_or_empty_says_which() {
    let folder = Folder::new();
    let bytes = wav(PCM_16, 48_000, &patterns(2, 900), &[bext(5)], &[]);
    let data = bytes.windows(4).position(|four| four == b"data").expect("data") + 8;
    let mut cases = 0;
    for length in 4..data {
        let error = refused(&folder.file("cut.wav", &bytes[..length]));
        assert!(matches!(error, ReadError::CutShort { .. }), "{length}: {error}");
        cases += 1;
    }
    for length in data..data + 4 {
        let error = refused(&folder.file("cut.wav", &bytes[..length]));
        assert!(matches!(error, ReadError::ZeroLength { .. }), "{length}: {error}");
        cases += 1;
    }
    for length in [data + 4, data + 5, data + 3_599] {
        let path = folder.file("cut.wav", &bytes[..length]);
        let (sides, error) = read_all(&path, 100).map(drop).expect_err("cut short");
        helpful(&path, &error);
        let there = (length - data) / 4;
        assert!(
            matches!(error, ReadError::Truncated { got, expected: 900, .. } if got == there as u64),
            "{error}"
        );
        assert!(sides == patterns(2, there));
        cases += 1;
    }
    assert_eq!(cases, data - 4 + 7);
    assert!(matches!(
        refused(&folder.file("none.wav", &riff(&[fmt(PCM_16, 2, 48_000), chunk(b"data", &[])]))),
        ReadError::ZeroLength { .. }
    ));
    let without = [riff(&[fmt(PCM_16, 2, 48_000)]), riff(&[chunk(b"data", &[1; 80])]), riff(&[])];
    for bytes in without {
        assert!(matches!(refused(&folder.file("part.wav", &bytes)), ReadError::NoSound { .. }));
    }
}

#[test]
fn other_formats_that_are_cut_say_which() {
    let folder = Folder::new();
    let sides = patterns(2, 5_000);
    let bytes = flac(&sides);
    let path = folder.file("cut.flac", &bytes[..bytes.len() * 3 / 4]);
    let (read, error) = read_all(&path, 500).map(drop).expect_err("cut short");
    helpful(&path, &error);
    let ReadError::Truncated { got, expected, .. } = error else { panic!("{error}") };
    assert_eq!((expected, got), (5_000, read[0].len() as u64));
    // The frame that was cut is lost.
    assert!((3_000..=3_750).contains(&got), "{got}");
    // The decoder finds the chunks of an AIFF only if all of them exist.
    let bytes = aiff(48_000, &sides);
    let cut = folder.file("cut.aiff", &bytes[..bytes.len() * 3 / 4]);
    assert!(matches!(refused(&cut), ReadError::CutShort { .. }));
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_says_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    let path = folder.file("locked.wav", &wav(PCM_16, 48_000, &patterns(2, 900), &[], &[]));
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).expect("locked");
    // Root can read everything; the test then uses a path that goes through a file.
    let path = if std::fs::read(&path).is_ok() { path.join("inside.wav") } else { path };
    assert!(matches!(refused(&path), ReadError::Unreadable { .. }));
}

#[test]
fn numbers_that_cannot_be_are_refused() {
    let folder = Folder::new();
    let make = |coding, channels: u16, rate| {
        folder.file("odd.wav", &riff(&[fmt(coding, channels, rate), chunk(b"data", &[1; 7_680])]))
    };
    let mut cases = 0;
    for channels in [0, 65, 300, 1_000] {
        let error = refused(&make(PCM_16, channels, 48_000));
        assert!(matches!(error, ReadError::Channels { got, .. } if got == usize::from(channels)), "{error}");
        cases += 1;
    }
    for rate in [0, 1, 8_000, 22_049, 384_001, 768_000, u32::MAX] {
        assert!(matches!(refused(&make(PCM_16, 2, rate)), ReadError::Rate { .. }), "{rate}");
        cases += 1;
    }
    for (tag, bits) in [(1, 0), (1, 33), (1, 64), (3, 16), (3, 24), (3, 80), (0xFFFE, 0), (0x1234, 16)] {
        let error = refused(&make(Coding { tag, bits }, 2, 48_000));
        assert!(
            matches!(error, ReadError::NoSound { .. } | ReadError::NotAudio { .. }),
            "{tag} {bits}: {error}"
        );
        cases += 1;
    }
    assert_eq!(cases, 19);
    // A frame size that does not fit, and fmt chunks that are too short.
    let mut fitting = riff(&[fmt(PCM_16, 2, 48_000), chunk(b"data", &[1; 800])]);
    fitting[32] = 3;
    assert!(matches!(refused(&folder.file("align.wav", &fitting)), ReadError::NoSound { .. }));
    let extensible = fmt(Coding { tag: 0xFFFE, bits: 16 }, 2, 48_000);
    for short in [chunk(b"fmt ", &fmt(PCM_16, 2, 48_000)[8..22]), chunk(b"fmt ", &extensible[8..40])] {
        let path = folder.file("short.wav", &riff(&[short, chunk(b"data", &[1; 800])]));
        assert!(matches!(refused(&path), ReadError::NoSound { .. }));
    }
}

#[test]
fn a_64_bit_file_without_sizes_or_with_wild_ones_is_told() {
    let folder = Folder::new();
    let sides = patterns(1, 400);
    let mut renamed = wav(PCM_16, 48_000, &sides, &[], &[]);
    renamed[..4].copy_from_slice(b"RF64");
    assert!(matches!(refused(&folder.file("no.wav", &renamed)), ReadError::LongWav { .. }));
    let mut short = rf64(b"BW64", PCM_16, 48_000, &sides, &[]);
    short[16..20].copy_from_slice(&20_u32.to_le_bytes());
    assert!(matches!(refused(&folder.file("short.wav", &short)), ReadError::LongWav { .. }));
    for size in [2_000, u64::MAX - 1, 1 << 62, (1 << 63) + 44] {
        let mut wild = rf64(b"RF64", FLOAT, 48_000, &sides, &[]);
        wild[28..36].copy_from_slice(&size.to_le_bytes());
        let path = folder.file("wild.wav", &wild);
        let (read, error) = read_all(&path, 100).map(drop).expect_err("it cannot be there");
        helpful(&path, &error);
        assert!(matches!(error, ReadError::Truncated { got: 400, .. }), "{size}: {error}");
        assert!(read == sides);
    }
}

#[test]
fn a_riff_file_over_4_gb_is_not_taken_for_its_first_part() {
    // 32-bit sizes that overflowed: the samples seem to end although more than 4 GB of them are left.
    let folder = Folder::new();
    let bytes = wav(PCM_16, 48_000, &patterns(2, 500), &[], &[]);
    let path = folder.file("over.wav", &bytes);
    let file = std::fs::OpenOptions::new().write(true).open(&path).expect("opened");
    file.set_len((4 << 30) + bytes.len() as u64).expect("sparse");
    assert!(matches!(refused(&path), ReadError::Overflown { .. }));
}

#[test]
fn a_file_of_empty_chunks_is_given_up() {
    let folder = Folder::new();
    // Sound after a few thousand chunks is found; after more, it is not looked for.
    for (count, found) in [(4_000, true), (5_000, false)] {
        let mut chunks = vec![chunk(b"JUNK", &[]); count];
        chunks.extend([fmt(PCM_16, 1, 48_000), chunk(b"data", &[1; 800])]);
        let path = folder.file("junk.wav", &riff(&chunks));
        match found {
            true => drop(Reader::open(&path).expect("opened")),
            false => assert!(matches!(refused(&path), ReadError::NoSound { .. })),
        }
    }
    // A chunk whose size goes beyond any possible file.
    let wild = [riff(&[]), b"JUNK\xFE\xFF\xFF\xFF".to_vec(), samples(PCM_16, &patterns(1, 90))].concat();
    assert!(matches!(refused(&folder.file("wild.wav", &wild)), ReadError::CutShort { .. }));
}
