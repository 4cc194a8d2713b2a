//! Audio files in blocks: WAV (16, 24, 32 bits, float, extensible), FLAC and AIFF.

mod fault;

pub use fault::ReadError;

use plumbline_measure::SampleRate;
use std::fs::File;
use std::io::{Read, Seek};
use std::path::{Path, PathBuf};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as DecoderError;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;

/// An open audio file, mono or stereo, read from its start to its end.
///
/// Memory holds one packet of the file, whatever its length.
pub struct Reader {
    path: PathBuf,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    /// Frame number at which the file says its sound starts.
    start: i64,
    rate: SampleRate,
    channels: usize,
    expected: Option<u64>,
    /// Frames decoded so far.
    decoded: u64,
    /// The decoded packet, and how much of it was handed out.
    packet: Vec<Vec<f32>>,
    taken: usize,
}

impl Reader {
    /// Opens a file and checks that it can be measured.
    ///
    /// # Errors
    /// See [`ReadError`]: everything that can be known before the samples.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, ReadError> {
        let path = path.as_ref().to_owned();
        let (file, magic) = source(&path)?;
        let stream = MediaSourceStream::new(Box::new(file), MediaSourceStreamOptions::default());
        let mut hint = Hint::new();
        if let Some(ending) = path.extension().and_then(|e| e.to_str()) {
            hint.with_extension(ending);
        }
        let (options, tags) = (FormatOptions::default(), MetadataOptions::default());
        let format = match guarded(|| symphonia::default::get_probe().probe(&hint, stream, options, tags)) {
            Ok(format) => format,
            Err(cause) if is_end(&cause) && KNOWN.contains(&magic) => {
                return Err(ReadError::CutShort { path });
            }
            Err(cause) => return Err(ReadError::NotAudio { path, cause }),
        };
        let no_sound = |what: String| ReadError::NoSound { path: path.clone(), what };
        let track =
            format.default_track(TrackType::Audio).ok_or_else(|| no_sound("no audio track".to_owned()))?;
        let coding = track
            .codec_params
            .as_ref()
            .and_then(|params| params.audio())
            .ok_or_else(|| no_sound("its coding is not told".to_owned()))?;
        let (rate, channels) = layout(&path, coding)?;
        if track.num_frames == Some(0) {
            return Err(ReadError::ZeroLength { path });
        }
        let options = AudioDecoderOptions::default();
        let decoder = guarded(|| symphonia::default::get_codecs().make_audio_decoder(coding, &options))
            .map_err(|cause| no_sound(cause.to_string()))?;
        let (track, start, expected) = (track.id, track.start_ts.get(), track.num_frames);
        let mut reader = Self {
            packet: vec![Vec::new(); channels],
            path,
            format,
            decoder,
            track,
            start,
            rate,
            channels,
            expected,
            decoded: 0,
            taken: 0,
        };
        // A header may promise what is not there: the first packet tells, before anybody sets up a measurement.
        match reader.next_packet() {
            Ok(true) => Ok(reader),
            Ok(false) | Err(ReadError::Truncated { got: 0, .. }) => {
                Err(ReadError::ZeroLength { path: reader.path })
            }
            Err(error) => Err(error),
        }
    }

    /// The sample rate.
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// 1 or 2.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Length in frames as the header tells it; `None` where it does not, as in a stream that was never finished.
    pub fn frames(&self) -> Option<u64> {
        self.expected
    }

    /// Reads the next frames into `block`, one list a channel, all of one length; 0 at the end.
    ///
    /// # Shape
    /// `block` holds [`channels`](Self::channels) lists of equal length. As many frames are written, from the start of each, as the
    /// answer says; it is less than their length only at the end of a packet or of the file. Full scale is 1.0.
    /// Samples that are NaN or infinite in the file are handed out as they are.
    ///
    /// # Errors
    /// [`ReadError::Truncated`] and [`ReadError::Damaged`], after everything before that place was handed out.
    ///
    /// # Panics
    /// Never. A block with fewer lists than channels takes fewer channels.
    pub fn read(&mut self, block: &mut [Vec<f32>]) -> Result<usize, ReadError> {
        let room = block.iter().map(Vec::len).min().unwrap_or(0);
        if room == 0 || (self.left() == 0 && !self.next_packet()?) {
            return Ok(0);
        }
        let count = room.min(self.left());
        for (to, from) in block.iter_mut().zip(&self.packet) {
            to[..count].copy_from_slice(&from[self.taken..self.taken + count]);
        }
        self.taken += count;
        Ok(count)
    }

    /// Frames of the packet that were not handed out yet.
    fn left(&self) -> usize {
        self.packet[0].len() - self.taken
    }

    /// Decodes the next packet that holds sound; `false` at the end of the file.
    fn next_packet(&mut self) -> Result<bool, ReadError> {
        loop {
            let packet = match guarded(|| self.format.next_packet()) {
                Ok(Some(packet)) if packet.track_id != self.track => continue,
                Ok(Some(packet)) => packet,
                Ok(None) => return self.end(),
                Err(cause) if is_end(&cause) => return self.end(),
                Err(cause) => return Err(self.damaged(cause)),
            };
            let at = self.decoded;
            // The library steps over a packet whose check sum is wrong; what follows would be measured too early.
            if i128::from(packet.pts.get()) - i128::from(self.start) != i128::from(at) {
                return Err(self.damaged(DecoderError::DecodeError("a piece of the sound is missing")));
            }
            let damaged = |cause| ReadError::Damaged { path: self.path.clone(), at, cause };
            let sound = match guarded(|| self.decoder.decode(&packet)) {
                Ok(sound) => sound,
                Err(cause) if is_end(&cause) => return self.end(),
                Err(cause) => return Err(damaged(cause)),
            };
            if sound.num_planes() != self.channels || sound.spec().rate() != self.rate.hz() {
                return Err(
                    self.damaged(DecoderError::DecodeError("rate or channels change inside the file"))
                );
            }
            let frames = sound.frames();
            self.packet.iter_mut().for_each(|side| side.resize(frames, 0.0));
            sound.copy_to_slice_planar::<f32, _>(&mut self.packet);
            self.taken = 0;
            self.decoded += frames as u64;
            if frames > 0 {
                return Ok(true);
            }
        }
    }

    /// At the end of the file: fine if all that was promised came.
    fn end(&mut self) -> Result<bool, ReadError> {
        self.packet.iter_mut().for_each(Vec::clear);
        self.taken = 0;
        match self.expected {
            Some(expected) if self.decoded < expected => {
                Err(ReadError::Truncated { path: self.path.clone(), got: self.decoded, expected })
            }
            _ => Ok(false),
        }
    }

    fn damaged(&self, cause: DecoderError) -> ReadError {
        ReadError::Damaged { path: self.path.clone(), at: self.decoded, cause }
    }
}

/// How files of the known formats begin.
const KNOWN: [[u8; 4]; 3] = [*b"RIFF", *b"fLaC", *b"FORM"];

/// Runs the decoding library. A broken header can make its arithmetic overflow, which panics in builds that check
/// it; a broken file must end in an error, and must not take the other files of a survey with it.
fn guarded<T>(work: impl FnOnce() -> Result<T, DecoderError>) -> Result<T, DecoderError> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work))
        .unwrap_or(Err(DecoderError::DecodeError("its numbers make no sense")))
}

fn is_end(error: &DecoderError) -> bool {
    matches!(error, DecoderError::IoError(cause) if cause.kind() == std::io::ErrorKind::UnexpectedEof)
}

/// Opens the file itself, with a word for everything that stands in the way, and tells its first four bytes.
fn source(path: &Path) -> Result<(File, [u8; 4]), ReadError> {
    let failed = |cause: std::io::Error| match cause.kind() {
        std::io::ErrorKind::NotFound => ReadError::Missing { path: path.to_owned() },
        _ => ReadError::Unreadable { path: path.to_owned(), cause },
    };
    let meta = std::fs::metadata(path).map_err(failed)?;
    if meta.is_dir() {
        return Err(ReadError::Folder { path: path.to_owned() });
    }
    let mut file = File::open(path).map_err(failed)?;
    if meta.is_file() && meta.len() == 0 {
        return Err(ReadError::Empty { path: path.to_owned() });
    }
    let mut magic = [0; 4];
    let read = file.read(&mut magic).map_err(failed)?;
    if matches!(&magic[..read], b"RF64" | b"BW64") {
        return Err(ReadError::LongWav { path: path.to_owned() });
    }
    file.rewind().map_err(failed)?;
    Ok((file, magic))
}

/// Rate and channels, if they can be measured.
fn layout(path: &Path, coding: &AudioCodecParameters) -> Result<(SampleRate, usize), ReadError> {
    let untold = |what: &str| ReadError::NoSound { path: path.to_owned(), what: what.to_owned() };
    let hz = coding.sample_rate.ok_or_else(|| untold("its sample rate is not told"))?;
    let rate = SampleRate::new(hz).map_err(|cause| ReadError::Rate { path: path.to_owned(), cause })?;
    let channels = coding.channels.as_ref().ok_or_else(|| untold("its channels are not told"))?.count();
    if channels == 0 || channels > 2 {
        return Err(ReadError::Channels { path: path.to_owned(), got: channels });
    }
    Ok((rate, channels))
}
