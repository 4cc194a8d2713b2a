//! Samples of a WAV file: PCM of 8 to 32 bits, float of 32 and 64, plain or WAVE_FORMAT_EXTENSIBLE.

use crate::riff::{u16_at, u32_at};
use std::fs::File;
use std::io::{self, Read};

/// Approximate number of bytes read at a time.
const PACKET_BYTES: usize = 1 << 16;

/// Format tags of the fmt chunk (Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0;
/// extensible: Microsoft, Multiple Channel Audio Data and WAVE Files).
const TAG_PCM: u16 = 1;
const TAG_FLOAT: u16 = 3;
const TAG_EXTENSIBLE: u16 = 0xFFFE;
/// Bytes after the tag in the sub-format of an extensible file that holds PCM or float.
const SUB_FORMAT_TAIL: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];

/// How one sample is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Width {
    U8,
    I16,
    I24,
    I32,
    F32,
    F64,
}

impl Width {
    fn bytes(self) -> usize {
        match self {
            Self::U8 => 1,
            Self::I16 => 2,
            Self::I24 => 3,
            Self::I32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }
}

/// The content of the fmt chunk.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    /// The sample rate in Hz, unchecked.
    pub(super) rate: u32,
    /// The number of channels, unchecked.
    pub(super) channels: u16,
    width: Width,
}

/// Why the fmt chunk cannot be used.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum LayoutError {
    /// Neither PCM nor float: another decoder may know it.
    OtherCoding,
    /// Its numbers contradict each other.
    Wrong(&'static str),
}

impl Layout {
    /// Reads the content of a fmt chunk.
    pub(super) fn read(fmt: &[u8]) -> Result<Self, LayoutError> {
        if fmt.len() < 16 {
            return Err(LayoutError::Wrong("its fmt chunk is too short"));
        }
        let (mut tag, channels, rate) = (u16_at(fmt, 0), u16_at(fmt, 2), u32_at(fmt, 4));
        let (align, bits) = (u16_at(fmt, 12), u16_at(fmt, 14));
        if tag == TAG_EXTENSIBLE {
            if fmt.len() < 40 {
                return Err(LayoutError::Wrong("its extensible fmt chunk is too short"));
            }
            if fmt[26..40] != SUB_FORMAT_TAIL {
                return Err(LayoutError::OtherCoding);
            }
            tag = u16_at(fmt, 24);
        }
        // A width that is not whole bytes fills the upper bits of the next wider one, according to all of these
        // documents.
        let width = match (tag, bits) {
            (TAG_PCM, 1..=8) => Width::U8,
            (TAG_PCM, 9..=16) => Width::I16,
            (TAG_PCM, 17..=24) => Width::I24,
            (TAG_PCM, 25..=32) => Width::I32,
            (TAG_FLOAT, 32) => Width::F32,
            (TAG_FLOAT, 64) => Width::F64,
            (TAG_PCM | TAG_FLOAT, _) => {
                return Err(LayoutError::Wrong("its samples have a width that is not read"));
            }
            _ => return Err(LayoutError::OtherCoding),
        };
        if usize::from(align) != usize::from(channels) * width.bytes() {
            return Err(LayoutError::Wrong("its frame size does not fit its channels and bits"));
        }
        Ok(Self { rate, channels, width })
    }

    /// Bytes of one sample in every channel.
    pub(super) fn frame_bytes(&self) -> usize {
        usize::from(self.channels) * self.width.bytes()
    }
}

/// The samples of an open file.
pub(super) struct Wave {
    file: File,
    layout: Layout,
    /// Bytes of sound left.
    left: u64,
    bytes: Vec<u8>,
}

impl Wave {
    /// The whole frames in the next `bytes` of `file`.
    pub(super) fn new(file: File, layout: Layout, bytes: u64) -> Self {
        let frame = layout.frame_bytes().max(1) as u64;
        Self { file, layout, left: bytes / frame * frame, bytes: Vec::new() }
    }

    /// Decodes the next frames into `packet`, one list per channel, and returns their number; 0 at the end.
    pub(super) fn next(&mut self, packet: &mut [Vec<f32>]) -> io::Result<usize> {
        let frame = self.layout.frame_bytes().max(1);
        let want = (PACKET_BYTES / frame).max(1) * frame;
        self.bytes.clear();
        (&mut self.file).take(self.left.min(want as u64)).read_to_end(&mut self.bytes)?;
        self.left = self.left.saturating_sub(self.bytes.len() as u64);
        let frames = self.bytes.len() / frame;
        let width = self.layout.width.bytes();
        for (channel, side) in packet.iter_mut().enumerate() {
            side.clear();
            let samples =
                self.bytes.chunks_exact(frame).map(|frame| &frame[channel * width..(channel + 1) * width]);
            match self.layout.width {
                Width::U8 => side.extend(samples.map(|b| (f32::from(b[0]) - 128.0) / 128.0)),
                Width::I16 => {
                    side.extend(samples.map(|b| f32::from(i16::from_le_bytes([b[0], b[1]])) / 32_768.0));
                }
                Width::I24 => side.extend(samples.map(|b| integer([0, b[0], b[1], b[2]]))),
                Width::I32 => side.extend(samples.map(|b| integer([b[0], b[1], b[2], b[3]]))),
                Width::F32 => side.extend(samples.map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]))),
                Width::F64 => side.extend(samples.map(double)),
            }
        }
        Ok(frames)
    }
}

/// A 32-bit integer as a float: full scale is 1.0.
fn integer(bytes: [u8; 4]) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "the nearest 32-bit float is what is wanted")]
    let sample = (f64::from(i32::from_le_bytes(bytes)) / 2_147_483_648.0) as f32;
    sample
}

fn double(bytes: &[u8]) -> f32 {
    let mut all = [0; 8];
    all.copy_from_slice(bytes);
    #[expect(clippy::cast_possible_truncation, reason = "the nearest 32-bit float is what is wanted")]
    let sample = f64::from_le_bytes(all) as f32;
    sample
}
