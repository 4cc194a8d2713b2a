//! One instance of the built plug-in on one track or bus of the demo's host, after the fader.

use crate::Outcome;
use plumbline_audio::Reader;
use plumbline_programme::Role;
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::{Moment, state};
use std::path::PathBuf;

/// Frames of a block.
pub(crate) const BLOCK: usize = 512;

/// A track of the demo's project.
pub(crate) struct Track {
    /// Name of the layer.
    pub(crate) name: String,
    /// Role of the layer.
    pub(crate) role: Role,
    /// The file that it plays.
    pub(crate) file: PathBuf,
    /// Gain of its fader, linear.
    pub(crate) gain: f32,
}

/// One instance and the file played through it.
pub(crate) struct Seat {
    // The processor is dropped before its instance.
    processor: Option<Processor>,
    pub(crate) instance: Instance,
    track: Track,
    reader: Reader,
    block: Vec<Vec<f32>>,
    frame: i64,
    ended: bool,
    /// Output samples that differ from the input's.
    pub(crate) differing: u64,
}

impl Seat {
    /// Makes an instance on a track, as a host does when it loads a project: first the state, then the audio.
    pub(crate) fn take(library: &Library, track: Track, label: Label) -> Outcome<Self> {
        let reader = Reader::open(&track.file)?;
        let class = library.classes()?.into_iter().next().ok_or("the plug-in offers no class")?;
        let mut instance = library.create(&class.id, label)?;
        let saved = state::named(&instance.save()?, &track.name, track.role, 'A')?;
        instance.load(&saved)?;
        let channels = u32::try_from(reader.channels())?;
        let layout = instance
            .layouts()?
            .iter()
            .position(|layout| layout.channels == [channels; 2])
            .ok_or_else(|| format!("the plug-in offers no layout of {channels} channels"))?;
        instance.select_layout(layout)?;
        let block = vec![vec![0.0; BLOCK]; reader.channels()];
        Ok(Self { processor: None, instance, track, reader, block, frame: 0, ended: false, differing: 0 })
    }

    /// Starts to process.
    pub(crate) fn activate(&mut self, offline: bool) -> Outcome<()> {
        self.instance.set_offline(offline)?;
        self.processor = Some(self.instance.activate(self.rate_hz(), BLOCK)?);
        Ok(())
    }

    /// Plays up to a frame, one block at most. False at the end.
    pub(crate) fn step(&mut self, goal: i64) -> Outcome<bool> {
        let count = self.read(goal)?;
        if count == 0 {
            return Ok(false);
        }
        let processor = self.processor.as_mut().ok_or("the programme has ended")?;
        let main: Vec<&[f32]> = self.block.iter().map(|side| &side[..count]).collect();
        let out = processor.process(&main, None, Moment::playing_at(self.frame), &[])?;
        let changed = main.iter().zip(&out).flat_map(|(was, is)| was.iter().zip(is));
        self.differing += changed.filter(|(was, is)| was.to_bits() != is.to_bits()).count() as u64;
        self.frame += i64::try_from(count)?;
        self.instance.idle();
        Ok(true)
    }

    /// Reads the next block through the fader. Returns 0 frames at the goal or the end.
    fn read(&mut self, goal: i64) -> Outcome<usize> {
        let room = usize::try_from(goal - self.frame).unwrap_or(0).min(BLOCK);
        if room == 0 || self.ended {
            return Ok(0);
        }
        self.block.iter_mut().for_each(|side| side.resize(room, 0.0));
        let count = self.reader.read(&mut self.block)?;
        self.ended = count == 0;
        let gain = self.track.gain;
        self.block.iter_mut().for_each(|side| side[..count].iter_mut().for_each(|s| *s *= gain));
        Ok(count)
    }

    /// Stops processing.
    pub(crate) fn deactivate(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
    }

    /// Moves to a time of its file without playing the part before it.
    #[cfg(target_os = "linux")]
    pub(crate) fn rewind_to(&mut self, secs: f64) -> Outcome<()> {
        self.reader = Reader::open(&self.track.file)?;
        (self.frame, self.ended) = (0, false);
        #[expect(clippy::cast_possible_truncation, reason = "a time of a programme")]
        let first = (secs * self.rate_hz()) as i64;
        while self.frame < first {
            match self.read(first)? {
                0 => break,
                count => self.frame += i64::try_from(count)?,
            }
        }
        Ok(())
    }

    pub(crate) fn rate_hz(&self) -> f64 {
        f64::from(self.reader.rate_hz())
    }

    /// Frames played.
    pub(crate) fn frame(&self) -> i64 {
        self.frame
    }

    /// Whether the file has ended.
    #[cfg(target_os = "linux")]
    pub(crate) fn has_ended(&self) -> bool {
        self.ended
    }
}

impl Drop for Seat {
    /// A host deactivates before it destroys.
    fn drop(&mut self) {
        self.deactivate();
    }
}
