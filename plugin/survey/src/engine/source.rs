//! The source of sound: files, or lists of samples in tests.

use plumbline_audio::{Stems, StemsError};
use plumbline_measure::{RateError, SampleRate};
use plumbline_programme::survey::File;

/// Stems that are read together, block by block.
pub(super) trait Source {
    fn rate(&self) -> SampleRate;
    fn origin(&self) -> Option<u64>;
    fn frames(&self) -> Option<u64>;
    /// Channels of each stem, 1 or 2.
    fn channels(&self) -> Vec<usize>;
    /// Description of a stem's file, for a report.
    fn file(&self, stem: usize) -> File;
    fn read(&mut self, blocks: &mut [Vec<Vec<f32>>]) -> Result<usize, StemsError>;
}

/// Files at a sample rate that can be measured.
pub(super) struct Files {
    stems: Stems,
    rate: SampleRate,
}

impl Files {
    pub(super) fn new(stems: Stems) -> Result<Self, RateError> {
        Ok(Self { rate: SampleRate::new(stems.rate_hz())?, stems })
    }
}

impl Source for Files {
    fn rate(&self) -> SampleRate {
        self.rate
    }

    fn origin(&self) -> Option<u64> {
        self.stems.origin()
    }

    fn frames(&self) -> Option<u64> {
        self.stems.frames()
    }

    fn channels(&self) -> Vec<usize> {
        self.stems.stems().iter().map(|stem| stem.channels.clamp(1, 2)).collect()
    }

    fn file(&self, stem: usize) -> File {
        let Some(info) = self.stems.stems().get(stem) else { return File::default() };
        File {
            path: info.path.display().to_string(),
            channels: info.channels,
            channel_names: info.channel_names.clone(),
            start: info.start,
            frames: info.frames,
            time_reference: info.time_reference,
        }
    }

    fn read(&mut self, blocks: &mut [Vec<Vec<f32>>]) -> Result<usize, StemsError> {
        self.stems.read(blocks)
    }
}
