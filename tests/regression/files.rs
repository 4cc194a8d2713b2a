//! Small audio files made byte by byte from their published formats, so that a test can break any part of them.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of its own that goes when it is dropped.
pub(crate) struct Folder(PathBuf);

impl Folder {
    pub(crate) fn new() -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("plumbline-regression-{}-{number}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder for the test");
        Self(path)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    pub(crate) fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, bytes).expect("written");
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // A folder that cannot be cleared is the system's to clear.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A 16-bit sample pattern that differs in every channel and frame.
pub(crate) fn pattern(channel: usize, frame: usize) -> i16 {
    let value = (frame * 37 + channel * 11_003 + 5) % 60_001;
    i16::try_from(value as i32 - 30_000).expect("in range")
}

/// What a WAV header claims.
#[derive(Clone, Copy)]
pub(crate) struct Wav {
    pub(crate) tag: u16,
    pub(crate) channels: u16,
    pub(crate) rate: u32,
    pub(crate) bits: u16,
    pub(crate) frames: usize,
}

impl Wav {
    pub(crate) const PLAIN: Self = Self { tag: 1, channels: 2, rate: 48_000, bits: 16, frames: 5_000 };

    /// Header and samples (Microsoft RIFF/WAVE). Tag 3 is float; 0xFFFE is extensible with PCM inside.
    pub(crate) fn bytes(self) -> Vec<u8> {
        let width = usize::from(self.bits / 8);
        let mut data = Vec::new();
        for frame in 0..self.frames {
            for channel in 0..usize::from(self.channels) {
                let sample = pattern(channel, frame);
                match (self.tag, width) {
                    (3, 4) => data.extend((f32::from(sample) / 32_768.0).to_le_bytes()),
                    (3, 8) => data.extend((f64::from(sample) / 32_768.0).to_le_bytes()),
                    (_, 1) => data.push((i32::from(sample >> 8) + 128) as u8),
                    _ => data.extend((i32::from(sample) << 16).to_le_bytes().iter().skip(4 - width)),
                }
            }
        }
        let mut fmt = Vec::new();
        fmt.extend(self.tag.to_le_bytes());
        fmt.extend(self.channels.to_le_bytes());
        fmt.extend(self.rate.to_le_bytes());
        let align = u32::from(self.channels) * width as u32;
        fmt.extend((self.rate.wrapping_mul(align)).to_le_bytes());
        fmt.extend((align as u16).to_le_bytes());
        fmt.extend(self.bits.to_le_bytes());
        if self.tag == 0xFFFE {
            fmt.extend(22_u16.to_le_bytes());
            fmt.extend(self.bits.to_le_bytes());
            fmt.extend((if self.channels == 1 { 4_u32 } else { 3 }).to_le_bytes());
            fmt.extend([1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
        }
        let mut out = b"RIFF".to_vec();
        out.extend((4 + 8 + fmt.len() as u32 + 8 + data.len() as u32).to_le_bytes());
        out.extend(b"WAVEfmt ");
        out.extend((fmt.len() as u32).to_le_bytes());
        out.extend(fmt);
        out.extend(b"data");
        out.extend((data.len() as u32).to_le_bytes());
        out.extend(data);
        out
    }
}

/// A FLAC file of the pattern, 16 bits.
pub(crate) fn flac(channels: u8, rate: u32, frames: usize) -> Vec<u8> {
    let side = |channel| (0..frames).map(|frame| pattern(channel, frame)).collect();
    plumbline_tests::flac::flac(rate, &(0..usize::from(channels)).map(side).collect::<Vec<Vec<i16>>>())
}

/// An AIFF file, 16 bits (Apple AIFF 1.3; the rate is an 80-bit float).
pub(crate) fn aiff(channels: u16, rate: u32, frames: usize) -> Vec<u8> {
    let exponent = 31 - rate.leading_zeros();
    let mut comm = Vec::new();
    comm.extend(channels.to_be_bytes());
    comm.extend((frames as u32).to_be_bytes());
    comm.extend(16_u16.to_be_bytes());
    comm.extend((16_383 + exponent as u16).to_be_bytes());
    comm.extend((u64::from(rate) << (63 - exponent)).to_be_bytes());
    let mut data = vec![0; 8];
    for n in 0..frames {
        for channel in 0..usize::from(channels) {
            data.extend(pattern(channel, n).to_be_bytes());
        }
    }
    let mut out = b"FORM".to_vec();
    out.extend((4 + 8 + comm.len() as u32 + 8 + data.len() as u32).to_be_bytes());
    out.extend(b"AIFFCOMM");
    out.extend((comm.len() as u32).to_be_bytes());
    out.extend(comm);
    out.extend(b"SSND");
    out.extend((data.len() as u32).to_be_bytes());
    out.extend(data);
    out
}
