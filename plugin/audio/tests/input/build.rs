//! Audio files made byte by byte from their published formats, so that a test can set and break any part of them.

use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A temporary folder with files in it.
pub(crate) struct Folder(TempDir);

impl Folder {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder for the test"))
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }

    pub(crate) fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        path
    }

    /// The names of its files, sorted.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.path()).expect("listed");
        let mut names: Vec<_> =
            entries.map(|entry| entry.expect("entry").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

/// Coding of samples: format tag and bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Coding {
    pub(crate) tag: u16,
    pub(crate) bits: u16,
}

pub(crate) const PCM_16: Coding = Coding { tag: 1, bits: 16 };
pub(crate) const PCM_24: Coding = Coding { tag: 1, bits: 24 };
pub(crate) const FLOAT: Coding = Coding { tag: 3, bits: 32 };

/// A 16-bit pattern that differs in every channel and frame, as a fraction of full scale; every coding holds it
/// exactly.
pub(crate) fn pattern(channel: usize, frame: usize) -> f32 {
    let value = (frame * 37 + channel * 1_009 + 5) % 60_001;
    (value as f32 - 30_000.0) / 32_768.0
}

/// `frames` frames of the pattern in `channels` channels, one list per channel.
pub(crate) fn patterns(channels: usize, frames: usize) -> Vec<Vec<f32>> {
    (0..channels).map(|channel| (0..frames).map(|frame| pattern(channel, frame)).collect()).collect()
}

/// A chunk with its pad byte (Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0).
pub(crate) fn chunk(id: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let mut out = id.to_vec();
    out.extend((content.len() as u32).to_le_bytes());
    out.extend(content);
    out.resize(out.len().next_multiple_of(2), 0);
    out
}

/// The fmt chunk; `0xFFFE` in the tag makes an extensible one, of float for 32 bits and up, else of PCM.
pub(crate) fn fmt(coding: Coding, channels: u16, rate: u32) -> Vec<u8> {
    let align = channels.wrapping_mul(coding.bits.div_ceil(8));
    let mut out = Vec::new();
    out.extend(coding.tag.to_le_bytes());
    out.extend(channels.to_le_bytes());
    out.extend(rate.to_le_bytes());
    out.extend(rate.wrapping_mul(u32::from(align)).to_le_bytes());
    out.extend(align.to_le_bytes());
    out.extend(coding.bits.to_le_bytes());
    if coding.tag == 0xFFFE {
        out.extend(22_u16.to_le_bytes());
        out.extend(coding.bits.to_le_bytes());
        // No speaker positions: each channel is a microphone.
        out.extend(0_u32.to_le_bytes());
        out.extend([if coding.bits >= 32 { 3 } else { 1 }, 0]);
        out.extend([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
    }
    chunk(b"fmt ", &out)
}

/// Interleaved samples.
pub(crate) fn samples(coding: Coding, sides: &[Vec<f32>]) -> Vec<u8> {
    let float = coding.tag == 3 || (coding.tag == 0xFFFE && coding.bits >= 32);
    let mut out = Vec::new();
    for frame in 0..sides[0].len() {
        for side in sides {
            let sample = side[frame];
            let whole = (f64::from(sample) * 2_147_483_648.0) as i32;
            match (float, coding.bits) {
                (true, 64) => out.extend(f64::from(sample).to_le_bytes()),
                (true, _) => out.extend(sample.to_le_bytes()),
                (false, 8) => out.push(((whole >> 24) + 128) as u8),
                (false, bits) => out.extend(&whole.to_le_bytes()[4 - usize::from(bits / 8)..]),
            }
        }
    }
    out
}

/// A RIFF file of these chunks.
pub(crate) fn riff(chunks: &[Vec<u8>]) -> Vec<u8> {
    let mut out = b"RIFF\0\0\0\0WAVE".to_vec();
    out.extend(chunks.concat());
    let size = out.len() as u32 - 8;
    out[4..8].copy_from_slice(&size.to_le_bytes());
    out
}

/// A plain file of these samples, with chunks `before` and `after` them.
pub(crate) fn wav(
    coding: Coding,
    rate: u32,
    sides: &[Vec<f32>],
    before: &[Vec<u8>],
    after: &[Vec<u8>],
) -> Vec<u8> {
    let mut chunks = before.to_vec();
    chunks.push(fmt(coding, sides.len() as u16, rate));
    chunks.push(chunk(b"data", &samples(coding, sides)));
    chunks.extend_from_slice(after);
    riff(&chunks)
}

/// The `ds64` chunk: sizes of file and samples, sample count, and a table of other long chunks (EBU Tech 3306 clause 3;
/// ITU-R BS.2088-1 clause 3).
pub(crate) fn ds64(riff_size: u64, data_size: u64, frames: u64, table: &[([u8; 4], u64)]) -> Vec<u8> {
    let mut out = Vec::new();
    out.extend(riff_size.to_le_bytes());
    out.extend(data_size.to_le_bytes());
    out.extend(frames.to_le_bytes());
    out.extend((table.len() as u32).to_le_bytes());
    for (id, size) in table {
        out.extend(id);
        out.extend(size.to_le_bytes());
    }
    chunk(b"ds64", &out)
}

/// A small file with 64-bit sizes: its 32-bit sizes refer to `ds64`.
pub(crate) fn rf64(
    magic: &[u8; 4],
    coding: Coding,
    rate: u32,
    sides: &[Vec<f32>],
    after: &[Vec<u8>],
) -> Vec<u8> {
    let data = samples(coding, sides);
    let mut rest = fmt(coding, sides.len() as u16, rate);
    let mut body = chunk(b"data", &data);
    body[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
    rest.extend(body);
    rest.extend(after.concat());
    let riff_size = 4 + 36 + rest.len() as u64;
    let mut out = magic.to_vec();
    out.extend(u32::MAX.to_le_bytes());
    out.extend(b"WAVE");
    out.extend(ds64(riff_size, data.len() as u64, sides[0].len() as u64, &[]));
    out.extend(rest);
    out
}

/// A `bext` chunk of version 1 (EBU Tech 3285, clause 2.3): 602 bytes, the time reference at 338.
pub(crate) fn bext(reference: u64) -> Vec<u8> {
    let mut out = vec![0; 602];
    out[..9].copy_from_slice(b"Boom, sta");
    out[338..346].copy_from_slice(&reference.to_le_bytes());
    out[346] = 1;
    chunk(b"bext", &out)
}

/// An `iXML` chunk with tracks, each a place in the file and a name (iXML specification, TRACK_LIST).
pub(crate) fn ixml(tracks: &[(usize, &str)]) -> Vec<u8> {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<BWFXML>\n<IXML_VERSION>1.61</IXML_VERSION>\n",
    );
    text += &format!("<TRACK_LIST>\n<TRACK_COUNT>{}</TRACK_COUNT>\n", tracks.len());
    for (place, name) in tracks {
        // The mixer's own index is not the position in the file.
        text += &format!("<TRACK>\n<CHANNEL_INDEX>{}</CHANNEL_INDEX>\n", place + 7);
        text += &format!("<INTERLEAVE_INDEX>{place}</INTERLEAVE_INDEX>\n<NAME>{name}</NAME>\n</TRACK>\n");
    }
    text += "</TRACK_LIST>\n</BWFXML>\n";
    chunk(b"iXML", text.as_bytes())
}

/// An AIFF file of 16 bits (Apple, Audio Interchange File Format 1.3).
pub(crate) fn aiff(rate: u32, sides: &[Vec<f32>]) -> Vec<u8> {
    let part =
        |id: &[u8; 4], content: &[u8]| [&id[..], &(content.len() as u32).to_be_bytes(), content].concat();
    // The rate is an 80-bit float: an exponent, and a mantissa with its first bit set.
    let exponent = 16_383 + rate.ilog2() as u16;
    let mantissa = u64::from(rate) << (63 - rate.ilog2());
    let mut common = (sides.len() as u16).to_be_bytes().to_vec();
    common.extend((sides[0].len() as u32).to_be_bytes());
    common.extend(16_u16.to_be_bytes());
    common.extend(exponent.to_be_bytes());
    common.extend(mantissa.to_be_bytes());
    let mut sound = vec![0; 8];
    sound.extend(samples(PCM_16, sides).chunks_exact(2).flat_map(|two| [two[1], two[0]]));
    let body = [b"AIFF".to_vec(), part(b"COMM", &common), part(b"SSND", &sound)].concat();
    part(b"FORM", &body)
}

/// A FLAC file of 16 bits and 48 kHz, up to 8 channels, samples stored verbatim (RFC 9639, sections 8 and 9).
pub(crate) fn flac(sides: &[Vec<f32>]) -> Vec<u8> {
    const BLOCK: usize = 500;
    let (channels, frames) = (sides.len() as u8, sides[0].len());
    let mut out = b"fLaC".to_vec();
    out.extend([0x80, 0, 0, 34]);
    out.extend((BLOCK as u16).to_be_bytes());
    out.extend((BLOCK as u16).to_be_bytes());
    out.extend([0; 6]);
    let packed = (48_000_u64 << 44) | (u64::from(channels - 1) << 41) | (15 << 36) | frames as u64;
    out.extend(packed.to_be_bytes());
    out.extend([0; 16]);
    for (number, first) in (0..frames).step_by(BLOCK).enumerate() {
        let count = BLOCK.min(frames - first);
        let mut frame = vec![0xFF, 0xF8, 0x70, ((channels - 1) << 4) | 0x08, number as u8];
        frame.extend((count as u16 - 1).to_be_bytes());
        frame.push(crc(&frame, 8, 0x07) as u8);
        for side in sides {
            frame.push(0x02);
            for sample in &side[first..first + count] {
                frame.extend(((sample * 32_768.0) as i16).to_be_bytes());
            }
        }
        frame.extend(crc(&frame, 16, 0x8005).to_be_bytes());
        out.extend(frame);
    }
    out
}

/// A checksum of 8 or 16 bits.
fn crc(bytes: &[u8], bits: u32, polynomial: u16) -> u16 {
    let (top, mask) = (1 << (bits - 1), if bits == 8 { 0xFF } else { 0xFFFF });
    let mut sum: u16 = 0;
    for byte in bytes {
        sum ^= u16::from(*byte) << (bits - 8);
        for _ in 0..8 {
            sum = if sum & top > 0 { (sum << 1) ^ polynomial } else { sum << 1 } & mask;
        }
    }
    sum
}
