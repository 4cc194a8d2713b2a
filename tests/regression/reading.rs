//! Whole files: every sample arrives, whatever the format, the width and the size of the block.

use crate::files::{Folder, Wav, aiff, flac, pattern};
use plumbline_audio::{ReadError, Reader};
use std::path::Path;

/// One list of samples a channel.
pub(crate) type Sides = Vec<Vec<f32>>;

/// Reads a file to its end in blocks of `block` frames.
pub(crate) fn read_all(path: &Path, block: usize) -> Result<Sides, (Sides, ReadError)> {
    let mut reader = Reader::open(path).map_err(|error| (Vec::new(), error))?;
    let mut room = vec![vec![0.0; block]; reader.channels()];
    let mut out = vec![Vec::new(); reader.channels()];
    loop {
        match reader.read(&mut room) {
            Ok(0) => return Ok(out),
            Ok(count) => out.iter_mut().zip(&room).for_each(|(out, room)| out.extend(&room[..count])),
            Err(error) => return Err((out, error)),
        }
    }
}

/// Every sample against the pattern. Eight bits keep only the upper byte of it.
fn assert_pattern(name: &str, sides: &[Vec<f32>], frames: usize, bits: u16) {
    for (channel, side) in sides.iter().enumerate() {
        assert_eq!(side.len(), frames, "{name}: channel {channel}");
        for (n, sample) in side.iter().enumerate() {
            let exact = pattern(channel, n);
            let exact = if bits == 8 { (exact >> 8) << 8 } else { exact };
            assert_eq!(*sample, f32::from(exact) / 32_768.0, "{name}: channel {channel}, frame {n}");
        }
    }
}

#[test]
fn every_sample_of_every_format_arrives() {
    let folder = Folder::new();
    let mut cases = 0;
    for channels in [1_u16, 2] {
        for (tag, bits) in [(1, 8), (1, 16), (1, 24), (1, 32), (3, 32), (3, 64), (0xFFFE, 16), (0xFFFE, 24)] {
            for rate in [22_050, 44_100, 48_000, 96_000, 384_000] {
                let wav = Wav { tag, channels, rate, bits, frames: 5_000 };
                let path = folder.file("whole.wav", &wav.bytes());
                let name = format!("WAV tag {tag:#x}, {bits} bits, {channels} channels, {rate} Hz");
                let reader = Reader::open(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
                assert_eq!((reader.rate_hz(), reader.channels()), (rate, usize::from(channels)), "{name}");
                assert_eq!(reader.frames(), Some(5_000), "{name}");
                let sides = read_all(&path, 700).unwrap_or_else(|(_, e)| panic!("{name}: {e}"));
                assert_eq!(sides.len(), usize::from(channels));
                assert_pattern(&name, &sides, 5_000, bits);
                cases += 1;
            }
        }
        for (name, bytes) in [
            ("whole.flac", flac(u8::try_from(channels).expect("1 or 2"), 48_000, 5_300)),
            ("whole.aiff", aiff(channels, 44_100, 5_300)),
        ] {
            let path = folder.file(name, &bytes);
            let sides = read_all(&path, 4_096).unwrap_or_else(|(_, e)| panic!("{name}: {e}"));
            assert_pattern(name, &sides, 5_300, 16);
            cases += 1;
        }
    }
    assert_eq!(cases, 84);
}

#[test]
fn the_size_of_the_block_changes_nothing() {
    let folder = Folder::new();
    let path = folder.file("blocks.flac", &flac(2, 48_000, 5_300));
    let whole = read_all(&path, 1 << 16).expect("read");
    let mut cases = 0;
    for block in [1, 7, 64, 999, 1_000, 1_001, 5_300] {
        assert_eq!(read_all(&path, block).expect("read"), whole, "block {block}");
        cases += 1;
    }
    assert_eq!(cases, 7);
    let mut reader = Reader::open(&path).expect("opened");
    assert_eq!(reader.read(&mut []).expect("no lists, no frames"), 0);
    assert_eq!(reader.read(&mut [vec![], vec![]]).expect("no room, no frames"), 0);
}

#[test]
fn samples_that_are_no_numbers_are_handed_out_as_they_are() {
    let folder = Folder::new();
    let wav = Wav { tag: 3, bits: 32, ..Wav::PLAIN };
    let mut bytes = wav.bytes();
    let first = bytes.len() - wav.frames * 8;
    bytes[first..first + 4].copy_from_slice(&f32::NAN.to_le_bytes());
    bytes[first + 4..first + 8].copy_from_slice(&f32::INFINITY.to_le_bytes());
    let sides = read_all(&folder.file("nan.wav", &bytes), 512).expect("read");
    assert!(sides[0][0].is_nan() && sides[1][0] == f32::INFINITY);
    assert_eq!(sides[0].len(), wav.frames);
}

#[test]
fn a_stream_that_was_never_finished_is_read_to_its_end() {
    // Recorders that stream write 0xFFFF_FFFF for both lengths and come back to fill them in; a crash leaves them.
    let folder = Folder::new();
    let mut bytes = Wav::PLAIN.bytes();
    bytes[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
    bytes[40..44].copy_from_slice(&u32::MAX.to_le_bytes());
    let path = folder.file("stream.wav", &bytes);
    assert_eq!(Reader::open(&path).expect("opened").frames(), None);
    assert_pattern("stream", &read_all(&path, 640).expect("read"), Wav::PLAIN.frames, 16);
}
