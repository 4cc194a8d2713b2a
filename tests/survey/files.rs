//! Short sounds, and files of them, written byte by byte according to published formats.

use plumbline_tests::flac::flac;

/// The rate of all sounds here unless a test says otherwise.
pub(crate) const RATE: u32 = 48_000;

/// Uniform noise with a seed and a peak of 0…1.
pub(crate) fn noise(seed: u64, frames: usize, peak: f64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut draw = || {
        // xorshift64*: Vigna, "An experimental exploration of Marsaglia's xorshift generators, scrambled" (2016).
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..frames).map(|_| (2.0 * draw() - 1.0) * peak).collect()
}

/// A sine.
pub(crate) fn tone(hz: f64, frames: usize, peak: f64) -> Vec<f64> {
    let turn = std::f64::consts::TAU * hz / f64::from(RATE);
    (0..frames).map(|n| peak * (turn * n as f64).sin()).collect()
}

/// The storage of samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Coding {
    Pcm16,
    Pcm24,
    Float32,
}

/// The fields of a WAV file around its samples.
#[derive(Clone, Debug)]
pub(crate) struct Wav {
    pub(crate) rate: u32,
    pub(crate) coding: Coding,
    /// Samples from midnight to its first sample: a `bext` chunk (EBU Tech 3285).
    pub(crate) time_reference: Option<u64>,
    /// Names of its channels: an `iXML` chunk.
    pub(crate) names: Vec<String>,
    /// RF64 with a `ds64` chunk (EBU Tech 3306).
    pub(crate) rf64: bool,
}

impl Default for Wav {
    fn default() -> Self {
        Self { rate: RATE, coding: Coding::Pcm16, time_reference: None, names: Vec::new(), rf64: false }
    }
}

/// Sample as 16 bits, rounded; full scale is 32768, and no sample here reaches it.
pub(crate) fn pcm16(sample: f64) -> i16 {
    (sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16
}

impl Wav {
    /// The file (Microsoft RIFF/WAVE, EBU Tech 3285, Tech 3306).
    pub(crate) fn bytes(&self, channels: &[Vec<f64>]) -> Vec<u8> {
        let (tag, width) = match self.coding {
            Coding::Pcm16 => (1_u16, 2_u16),
            Coding::Pcm24 => (1, 3),
            Coding::Float32 => (3, 4),
        };
        let count = u16::try_from(channels.len()).expect("few channels");
        let mut data = Vec::new();
        for frame in 0..channels[0].len() {
            for channel in channels {
                let sample = channel[frame];
                match self.coding {
                    Coding::Pcm16 => data.extend(pcm16(sample).to_le_bytes()),
                    Coding::Pcm24 => {
                        let whole = (sample * 8_388_608.0).round().clamp(-8_388_608.0, 8_388_607.0) as i32;
                        data.extend(&whole.to_le_bytes()[..3]);
                    }
                    Coding::Float32 => data.extend((sample as f32).to_le_bytes()),
                }
            }
        }
        let mut fmt = Vec::new();
        fmt.extend(tag.to_le_bytes());
        fmt.extend(count.to_le_bytes());
        fmt.extend(self.rate.to_le_bytes());
        fmt.extend((self.rate * u32::from(count * width)).to_le_bytes());
        fmt.extend((count * width).to_le_bytes());
        fmt.extend((width * 8).to_le_bytes());
        let mut chunks = Vec::new();
        if let Some(reference) = self.time_reference {
            // Description, originator, its reference, date, time; then the time reference; then fields empty here.
            let mut bext = vec![0_u8; 256 + 32 + 32 + 10 + 8];
            bext.extend(reference.to_le_bytes());
            bext.resize(602, 0);
            chunks.extend(chunk(*b"bext", &bext));
        }
        chunks.extend(chunk(*b"fmt ", &fmt));
        if !self.names.is_empty() {
            chunks.extend(chunk(*b"iXML", self.tracks().as_bytes()));
        }
        let frames = channels[0].len() as u64;
        if self.rf64 {
            return rf64(&chunks, &data, frames);
        }
        chunks.extend(chunk(*b"data", &data));
        let mut out = b"RIFF".to_vec();
        out.extend((4 + chunks.len() as u32).to_le_bytes());
        out.extend(b"WAVE");
        out.extend(chunks);
        out
    }

    /// The track list of iXML (version 1.61).
    fn tracks(&self) -> String {
        let one = |(name, number): (&String, usize)| {
            format!(
                "<TRACK><CHANNEL_INDEX>{number}</CHANNEL_INDEX><INTERLEAVE_INDEX>{number}</INTERLEAVE_INDEX><NAME>{name}\
                 </NAME></TRACK>"
            )
        };
        let all: String = self.names.iter().zip(1..).map(one).collect();
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?><BWFXML><IXML_VERSION>1.61</IXML_VERSION><TRACK_LIST><TRACK_COUNT>{}\
             </TRACK_COUNT>{all}</TRACK_LIST></BWFXML>",
            self.names.len()
        )
    }
}

fn chunk(name: [u8; 4], content: &[u8]) -> Vec<u8> {
    let mut out = name.to_vec();
    out.extend((content.len() as u32).to_le_bytes());
    out.extend(content);
    if content.len() % 2 == 1 {
        out.push(0);
    }
    out
}

fn rf64(chunks: &[u8], data: &[u8], frames: u64) -> Vec<u8> {
    let whole = 4 + 8 + 28 + chunks.len() as u64 + 8 + data.len() as u64;
    let mut ds64 = Vec::new();
    ds64.extend(whole.to_le_bytes());
    ds64.extend((data.len() as u64).to_le_bytes());
    ds64.extend(frames.to_le_bytes());
    ds64.extend(0_u32.to_le_bytes());
    let mut out = b"RF64".to_vec();
    out.extend(u32::MAX.to_le_bytes());
    out.extend(b"WAVE");
    out.extend(chunk(*b"ds64", &ds64));
    out.extend(chunks);
    out.extend(b"data");
    out.extend(u32::MAX.to_le_bytes());
    out.extend(data);
    out
}

/// A plain WAV of 16 bits.
pub(crate) fn wav(channels: &[Vec<f64>]) -> Vec<u8> {
    Wav::default().bytes(channels)
}

/// A FLAC of the same 16 bits as [`wav`].
pub(crate) fn flac16(channels: &[Vec<f64>]) -> Vec<u8> {
    let sides: Vec<Vec<i16>> = channels.iter().map(|side| side.iter().map(|s| pcm16(*s)).collect()).collect();
    flac(RATE, &sides)
}

/// Writes a WAV of two channels and 16 bits, `secs` long, whose samples are a sparse part of the file: silence that
/// takes no disk space.
#[cfg(unix)]
pub(crate) fn long_silence(path: &std::path::Path, secs: u32) {
    let bytes = u64::from(secs) * u64::from(RATE) * 4;
    let size = u32::try_from(bytes).expect("under 4 GB");
    let mut out = wav(&[Vec::new(), Vec::new()]);
    let end = out.len();
    out[end - 4..].copy_from_slice(&size.to_le_bytes());
    out[4..8].copy_from_slice(&(end as u32 - 8 + size).to_le_bytes());
    std::fs::write(path, &out).expect("written");
    let file = std::fs::OpenOptions::new().write(true).open(path).expect("opened");
    file.set_len(end as u64 + bytes).expect("a hole");
}
