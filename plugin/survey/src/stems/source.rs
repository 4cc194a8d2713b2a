//! One file on the line: silence before it, its sound, silence after it.

use crate::reader::{ReadError, Reader};

/// A file that is read in step with others.
pub(super) struct Source {
    reader: Reader,
    /// Samples of the line before its first one that were not handed out yet.
    silence: u64,
    /// Its sound is over.
    ended: bool,
    /// The newest stretch of the line, one list a channel.
    block: Vec<Vec<f32>>,
    /// Where the reader writes.
    part: Vec<Vec<f32>>,
}

impl Source {
    /// A file whose sound starts at sample `start` of the line.
    pub(super) fn new(reader: Reader, start: u64) -> Self {
        let lists = vec![Vec::new(); reader.channels()];
        Self { reader, silence: start, ended: false, block: lists.clone(), part: lists }
    }

    /// Reads the next `room` frames of the line. Tells how many of them come before the end of the file; after these
    /// there are zeros.
    ///
    /// # Errors
    /// What is wrong with the file, and how many frames come before that place.
    pub(super) fn fill(&mut self, room: usize) -> Result<usize, (usize, ReadError)> {
        self.block.iter_mut().for_each(|side| {
            side.clear();
            side.resize(room, 0.0);
        });
        let silent = usize::try_from(self.silence).unwrap_or(usize::MAX).min(room);
        self.silence -= silent as u64;
        let mut written = silent;
        while written < room && !self.ended {
            self.part.iter_mut().for_each(|side| side.resize(room - written, 0.0));
            let count = self.reader.read(&mut self.part).map_err(|error| {
                self.ended = true;
                (written, error)
            })?;
            for (to, from) in self.block.iter_mut().zip(&self.part) {
                to[written..written + count].copy_from_slice(&from[..count]);
            }
            self.ended = count == 0;
            written += count;
        }
        Ok(written)
    }

    /// The newest stretch of one channel.
    pub(super) fn side(&self, channel: usize) -> &[f32] {
        &self.block[channel]
    }
}
