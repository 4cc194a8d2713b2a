//! One file on the line: silence before it, its sound, silence after it.

use super::resample::{self, Resampled};
use crate::reader::{ReadError, Reader};

/// A file that is read in step with others.
pub(super) struct Source {
    sound: Sound,
    /// Silence still to come before its first sample.
    silence: u64,
    /// Whether its sound has ended.
    ended: bool,
    /// The latest section of the line, one list per wanted channel.
    block: Vec<Vec<f32>>,
    /// Buffer for reading the sound.
    part: Vec<Vec<f32>>,
}

enum Sound {
    /// A file that has the line's rate, and the channels wanted.
    Plain(Box<Reader>, Vec<usize>),
    Resampled(Box<Resampled>),
}

impl Source {
    /// Some channels of a file whose sound starts at sample `start` of a line of `rate_hz`.
    pub(super) fn new(
        reader: Reader,
        channels: Vec<usize>,
        start: u64,
        rate_hz: u32,
    ) -> Result<Self, resample::NoCommonStep> {
        let block = vec![Vec::new(); channels.len()];
        let (sound, lists) = if reader.rate_hz() == rate_hz {
            let lists = reader.channels();
            (Sound::Plain(Box::new(reader), channels), lists)
        } else {
            let lists = channels.len();
            (Sound::Resampled(Box::new(Resampled::new(reader, channels, rate_hz)?)), lists)
        };
        Ok(Self { sound, silence: start, ended: false, block, part: vec![Vec::new(); lists] })
    }

    /// Reads the next `room` frames of the line, with zeros after the end of the file. Returns how many come before the
    /// end.
    ///
    /// # Errors
    /// The file's error, and the number of frames before it.
    pub(super) fn fill(&mut self, room: usize) -> Result<usize, (usize, ReadError)> {
        self.block.iter_mut().for_each(|side| {
            side.clear();
            side.resize(room, 0.0);
        });
        let silent = usize::try_from(self.silence).unwrap_or(usize::MAX).min(room);
        self.silence -= silent as u64;
        let mut written = silent;
        while written < room && !self.ended {
            let count = self.read_on(written, room - written).map_err(|error| {
                self.ended = true;
                (written, error)
            })?;
            self.ended = count == 0;
            written += count;
        }
        Ok(written)
    }

    /// Reads up to `room` frames into the block, from index `at` on.
    fn read_on(&mut self, at: usize, room: usize) -> Result<usize, ReadError> {
        self.part.iter_mut().for_each(|side| side.resize(room, 0.0));
        let count = match &mut self.sound {
            Sound::Plain(reader, _) => reader.read(&mut self.part)?,
            Sound::Resampled(resampled) => resampled.read(&mut self.part, room)?,
        };
        for (list, to) in self.block.iter_mut().enumerate() {
            let from = match &self.sound {
                Sound::Plain(_, channels) => &self.part[channels[list]],
                Sound::Resampled(_) => &self.part[list],
            };
            to[at..at + count].copy_from_slice(&from[..count]);
        }
        Ok(count)
    }

    /// The latest section of one wanted channel.
    pub(super) fn side(&self, list: usize) -> &[f32] {
        &self.block[list]
    }
}
