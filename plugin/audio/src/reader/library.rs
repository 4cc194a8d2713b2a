//! Every format that is not plain WAV, through symphonia.

use super::fault::ReadError;
use std::fs::File;
use std::path::Path;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as DecoderError;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;

/// First four bytes of files in the known formats.
const KNOWN: [[u8; 4]; 4] = [*b"RIFF", *b"fLaC", *b"FORM", *b"OggS"];

const MISSING: DecoderError = DecoderError::DecodeError("a piece of the sound is missing");

/// A file that symphonia decodes.
pub(super) struct Library {
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    /// Frame number that the next packet must have.
    next: i64,
    rate: u32,
    channels: usize,
    frames: Option<u64>,
    /// Whether the file stopped before the end that its format requires.
    cut: bool,
}

impl Library {
    /// Opens a file that begins with `magic`.
    pub(super) fn open(path: &Path, file: File, magic: [u8; 4]) -> Result<Self, ReadError> {
        let stream = MediaSourceStream::new(Box::new(file), MediaSourceStreamOptions::default());
        let mut hint = Hint::new();
        if let Some(ending) = path.extension().and_then(|e| e.to_str()) {
            hint.with_extension(ending);
        }
        let (options, tags) = (FormatOptions::default(), MetadataOptions::default());
        let format = match guarded(|| symphonia::default::get_probe().probe(&hint, stream, options, tags)) {
            Ok(format) => format,
            Err(cause) if is_end(&cause) && KNOWN.contains(&magic) => {
                return Err(ReadError::CutShort { path: path.to_owned() });
            }
            Err(cause) => return Err(ReadError::NotAudio { path: path.to_owned(), cause }),
        };
        let no_sound = |what: &str| ReadError::NoSound { path: path.to_owned(), what: what.to_owned() };
        let track = format.default_track(TrackType::Audio).ok_or_else(|| no_sound("no audio track"))?;
        let coding = track
            .codec_params
            .as_ref()
            .and_then(|params| params.audio())
            .ok_or_else(|| no_sound("its coding is not told"))?;
        let rate = coding.sample_rate.ok_or_else(|| no_sound("its sample rate is not told"))?;
        let channels = coding.channels.as_ref().ok_or_else(|| no_sound("its channels are not told"))?.count();
        let options = AudioDecoderOptions::default();
        let decoder = guarded(|| symphonia::default::get_codecs().make_audio_decoder(coding, &options))
            .map_err(|cause| no_sound(&cause.to_string()))?;
        let (track, next, frames) = (track.id, track.start_ts.get(), track.num_frames);
        Ok(Self { format, decoder, track, next, rate, channels, frames, cut: false })
    }

    /// The sample rate in Hz, unchecked.
    pub(super) fn rate(&self) -> u32 {
        self.rate
    }

    /// The number of channels, unchecked.
    pub(super) fn channels(&self) -> usize {
        self.channels
    }

    /// The length in frames, if the file states it.
    pub(super) fn frames(&self) -> Option<u64> {
        self.frames
    }

    /// Whether the file stopped before the end that its format requires.
    pub(super) fn is_cut(&self) -> bool {
        self.cut
    }

    /// Decodes the next packet with sound into `packet`, and returns its number of frames; 0 at the end.
    pub(super) fn next(&mut self, packet: &mut [Vec<f32>]) -> Result<usize, DecoderError> {
        loop {
            let coded = match guarded(|| self.format.next_packet()) {
                Ok(Some(coded)) if coded.track_id != self.track => continue,
                Ok(Some(coded)) => coded,
                Ok(None) => return Ok(0),
                Err(cause) if is_end(&cause) => {
                    self.cut = true;
                    return Ok(0);
                }
                Err(cause) => return Err(cause),
            };
            // The library skips a packet whose checksum is wrong; the sound after it would come too early.
            if coded.pts.get() != self.next {
                return Err(MISSING);
            }
            self.next = coded.pts.saturating_add(coded.block_dur()).get();
            let sound = match guarded(|| self.decoder.decode(&coded)) {
                Ok(sound) => sound,
                Err(cause) if is_end(&cause) => {
                    self.cut = true;
                    return Ok(0);
                }
                Err(cause) => return Err(cause),
            };
            if sound.num_planes() != self.channels || sound.spec().rate() != self.rate {
                return Err(DecoderError::DecodeError("rate or channels change inside the file"));
            }
            let frames = sound.frames();
            if frames as u64 != coded.dur.get() {
                return Err(MISSING);
            }
            packet.iter_mut().for_each(|side| side.resize(frames, 0.0));
            sound.copy_to_slice_planar::<f32, _>(packet);
            if frames > 0 {
                return Ok(frames);
            }
        }
    }
}

/// Runs the decoding library and turns a panic into an error: a broken header can make its arithmetic overflow, and the
/// other files must still be read.
fn guarded<T>(work: impl FnOnce() -> Result<T, DecoderError>) -> Result<T, DecoderError> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work))
        .unwrap_or(Err(DecoderError::DecodeError("its numbers make no sense")))
}

fn is_end(error: &DecoderError) -> bool {
    matches!(error, DecoderError::IoError(cause) if cause.kind() == std::io::ErrorKind::UnexpectedEof)
}
