//! Audio files in blocks: WAV (8 to 32 bits, float, extensible, RF64 and BW64), FLAC, AIFF and Ogg Vorbis.

mod fault;
mod field;
mod library;
mod sample_format;

pub use fault::ReadError;
pub(crate) use field::{BEXT_BYTES, time_reference};

use crate::riff::{ChunkError, Chunks, Form};
use library::Library;
use sample_format::{Layout, LayoutError, Wave};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use symphonia::core::errors::Error as DecoderError;

/// Sample rates that are read, in Hz.
pub const RATES_HZ: std::ops::RangeInclusive<u32> = 22_050..=384_000;
/// Most channels of a file.
pub const CHANNELS_MOST: usize = 64;

/// An open audio file of 1 to [`CHANNELS_MOST`] channels, read from its start to its end.
///
/// Memory holds one packet of the file, whatever its length.
pub struct Reader {
    path: PathBuf,
    sound: Sound,
    rate_hz: u32,
    channels: usize,
    time_reference: Option<u64>,
    names: Vec<String>,
    expected: Option<u64>,
    /// Frames decoded so far.
    decoded: u64,
    /// The decoded packet, and the number of its frames already read.
    packet: Vec<Vec<f32>>,
    taken: usize,
}

/// The decoder of a file.
enum Sound {
    Wave(Wave),
    Library(Library),
}

/// A file before its numbers are checked.
struct Opened {
    sound: Sound,
    hz: u32,
    channels: usize,
    frames: Option<u64>,
    time_reference: Option<u64>,
    ixml: Vec<u8>,
}

impl Reader {
    /// Opens a file and checks that it can be measured.
    ///
    /// # Errors
    /// [`ReadError`], for everything that can be checked before the samples are read.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, ReadError> {
        let path = path.as_ref().to_owned();
        let (file, magic) = source(&path)?;
        let Opened { sound, hz, channels, frames, time_reference, ixml } = match Form::of(&magic) {
            Some(form) => wave(&path, file, form, magic)?,
            None => Opened::library(Library::open(&path, file, magic)?),
        };
        if !RATES_HZ.contains(&hz) {
            return Err(ReadError::Rate { path, got_hz: hz });
        }
        if channels == 0 || channels > CHANNELS_MOST {
            return Err(ReadError::Channels { path, got: channels });
        }
        if frames == Some(0) {
            return Err(ReadError::ZeroLength { path });
        }
        let names = field::channel_names(&ixml, channels);
        let packet = vec![Vec::new(); channels];
        let mut reader = Self {
            path,
            sound,
            rate_hz: hz,
            channels,
            time_reference,
            names,
            expected: frames,
            decoded: 0,
            packet,
            taken: 0,
        };
        // A header may promise samples that do not exist; the first packet shows this.
        match reader.next_packet() {
            Ok(true) => Ok(reader),
            Ok(false) | Err(ReadError::Truncated { got: 0, .. } | ReadError::NoEnd { got: 0, .. }) => {
                Err(ReadError::ZeroLength { path: reader.path })
            }
            Err(error) => Err(error),
        }
    }

    /// The file's name as it was given.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The sample rate in Hz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// The number of channels, 1 to [`CHANNELS_MOST`].
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Length in frames according to the header; `None` without one, as in a stream that was never finished.
    pub fn frames(&self) -> Option<u64> {
        self.expected
    }

    /// The first sample's number since midnight, from the `bext` chunk of a WAV (EBU Tech 3285); `None` without one.
    pub fn time_reference(&self) -> Option<u64> {
        self.time_reference
    }

    /// Name of each channel, empty for a channel without one, from the `iXML` chunk of a WAV; an empty list without the
    /// chunk.
    pub fn channel_names(&self) -> &[String] {
        &self.names
    }

    /// Reads the next frames into `block`, one list per channel, all of the same length; 0 at the end.
    ///
    /// # Shape
    /// `block` holds [`channels`](Self::channels) lists of equal length. Returns the number of frames written to the
    /// start of each list; it is less than their length only at the end of a packet or of the file. Full scale is 1.0.
    /// NaN and infinite samples stay as they are.
    ///
    /// # Errors
    /// [`ReadError::Truncated`], [`ReadError::NoEnd`] and [`ReadError::Damaged`], after all frames before the fault.
    ///
    /// # Panics
    /// Never. A block with fewer lists than channels gets only the first channels.
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

    /// Frames of the packet that have not been read yet.
    fn left(&self) -> usize {
        self.packet[0].len() - self.taken
    }

    /// Decodes the next packet; `false` at the end of the file.
    fn next_packet(&mut self) -> Result<bool, ReadError> {
        let decoded = match &mut self.sound {
            Sound::Wave(wave) => wave.next(&mut self.packet).map_err(DecoderError::IoError),
            Sound::Library(library) => library.next(&mut self.packet),
        };
        let frames = decoded.map_err(|cause| ReadError::Damaged {
            path: self.path.clone(),
            at: self.decoded,
            cause,
        })?;
        self.taken = 0;
        self.decoded += frames as u64;
        if frames > 0 {
            return Ok(true);
        }
        self.packet.iter_mut().for_each(Vec::clear);
        match self.expected {
            Some(expected) if self.decoded < expected => {
                Err(ReadError::Truncated { path: self.path.clone(), got: self.decoded, expected })
            }
            _ if matches!(&self.sound, Sound::Library(library) if library.is_cut()) => {
                Err(ReadError::NoEnd { path: self.path.clone(), got: self.decoded })
            }
            _ => Ok(false),
        }
    }
}

impl Opened {
    fn library(library: Library) -> Self {
        let (hz, channels, frames) = (library.rate(), library.channels(), library.frames());
        Self { sound: Sound::Library(library), hz, channels, frames, time_reference: None, ixml: Vec::new() }
    }
}

/// Opens a file, and returns it with its first four bytes.
fn source(path: &Path) -> Result<(File, [u8; 4]), ReadError> {
    let failed = |cause: std::io::Error| match cause.kind() {
        std::io::ErrorKind::NotFound => ReadError::Missing { path: path.to_owned() },
        _ => ReadError::Unreadable { path: path.to_owned(), cause },
    };
    // Checked before opening, because opening a pipe without a writer blocks.
    let meta = std::fs::metadata(path).map_err(failed)?;
    if meta.is_dir() {
        return Err(ReadError::Folder { path: path.to_owned() });
    }
    if !meta.is_file() {
        return Err(ReadError::NoFile { path: path.to_owned() });
    }
    let mut file = File::open(path).map_err(failed)?;
    if meta.len() == 0 {
        return Err(ReadError::Empty { path: path.to_owned() });
    }
    let mut magic = Vec::new();
    (&mut file).take(4).read_to_end(&mut magic).map_err(failed)?;
    magic.resize(4, 0);
    file.rewind().map_err(failed)?;
    Ok((file, [magic[0], magic[1], magic[2], magic[3]]))
}

/// Opens a WAV. Codings other than PCM and float are left to the library.
fn wave(path: &Path, mut file: File, form: Form, magic: [u8; 4]) -> Result<Opened, ReadError> {
    let unreadable = |cause| ReadError::Unreadable { path: path.to_owned(), cause };
    let no_sound = |what: &str| ReadError::NoSound { path: path.to_owned(), what: what.to_owned() };
    let length = file.metadata().map_err(unreadable)?.len();
    let chunks = Chunks::read(&mut file, length).map_err(|error| match error {
        ChunkError::CutShort => ReadError::CutShort { path: path.to_owned() },
        ChunkError::NotWave => ReadError::NotAudio {
            path: path.to_owned(),
            cause: DecoderError::Unsupported("its chunks hold no sound"),
        },
        ChunkError::NoSizes => ReadError::LongWav { path: path.to_owned() },
        ChunkError::Overflown => ReadError::Overflown { path: path.to_owned() },
        ChunkError::Io(cause) => unreadable(cause),
    })?;
    let missing = |what| {
        if chunks.cut_short || chunks.claims_more {
            ReadError::CutShort { path: path.to_owned() }
        } else {
            no_sound(what)
        }
    };
    let fmt = chunks.content(&mut file, b"fmt ", 40).map_err(unreadable)?;
    let (Some(_), Some(data)) = (chunks.find(b"fmt "), chunks.find(b"data")) else {
        return Err(missing("it has no fmt or no data chunk"));
    };
    let bext = chunks.content(&mut file, b"bext", field::BEXT_BYTES).map_err(unreadable)?;
    let time_reference = field::time_reference(&bext);
    let ixml = chunks.content(&mut file, b"iXML", field::IXML_BYTES).map_err(unreadable)?;
    let layout = match Layout::read(&fmt) {
        Ok(layout) => layout,
        Err(LayoutError::OtherCoding) if form == Form::Riff => {
            file.rewind().map_err(unreadable)?;
            let library = Library::open(path, file, magic)?;
            return Ok(Opened { time_reference, ixml, ..Opened::library(library) });
        }
        Err(LayoutError::OtherCoding) => return Err(no_sound("its coding is neither PCM nor float")),
        Err(LayoutError::Wrong(what)) => return Err(no_sound(what)),
    };
    file.seek(SeekFrom::Start(data.at)).map_err(unreadable)?;
    let frames = data.size.map(|bytes| bytes / layout.frame_bytes().max(1) as u64);
    let sound = Sound::Wave(Wave::new(file, layout, chunks.present(data)));
    Ok(Opened {
        sound,
        hz: layout.rate,
        channels: usize::from(layout.channels),
        frames,
        time_reference,
        ixml,
    })
}
