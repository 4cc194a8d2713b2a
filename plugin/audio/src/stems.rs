//! Several sounds on one time line, read in step.
//!
//! A file starts at its time reference (`bext`, EBU Tech 3285). The line starts at the earliest reference; a file
//! without one starts there too. Time references count from midnight: a take after midnight looks like one of the day
//! before.

mod fault;
mod resample;
mod source;

pub use fault::StemsError;

use crate::reader::{RATES_HZ, Reader};
use source::Source;
use std::path::PathBuf;

/// Most hours between the earliest and the latest time reference, since they count from midnight.
const HOURS_MOST: u64 = 24;

/// One sound of a survey: a file, or some channels of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StemFile {
    /// The file.
    pub path: PathBuf,
    /// One channel or two, counted from 0; `None` for all channels of a file that has one or two.
    pub channels: Option<Vec<usize>>,
}

/// How stems are placed on the line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// The rate to which every file is converted; with `None`, all files must have the same rate.
    pub resample_hz: Option<u32>,
}

/// One sound on the line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StemInfo {
    /// The file.
    pub path: PathBuf,
    /// 1 or 2.
    pub channels: usize,
    /// Names of these channels as the recorder wrote them (iXML); empty if it wrote none.
    pub channel_names: Vec<String>,
    /// The sample of the line at which it starts, at least 0.
    pub start: i64,
    /// Its length in samples of the line, if the file states it.
    pub frames: Option<u64>,
    /// The first sample's number since midnight at the file's own rate, if the file states it.
    pub time_reference: Option<u64>,
}

/// Sounds on one time line, read in step from its start to its end. Memory holds one packet of each file and one block.
pub struct Stems {
    rate_hz: u32,
    origin: Option<u64>,
    infos: Vec<StemInfo>,
    /// Every file once, however many stems are taken from it.
    sources: Vec<Source>,
    /// For each stem: its file in `sources`, and the lists that it takes from that file.
    picks: Vec<(usize, Vec<usize>)>,
    /// The error to report once everything before it has been read.
    fault: Option<StemsError>,
    over: bool,
}

impl Stems {
    /// Opens all files and places them.
    ///
    /// # Errors
    /// [`StemsError`], for everything that can be checked before the samples are read.
    pub fn open(files: &[StemFile], options: &Options) -> Result<Self, StemsError> {
        let mut readers: Vec<Reader> = Vec::new();
        let mut wanted: Vec<Vec<usize>> = Vec::new();
        let mut picks = Vec::with_capacity(files.len());
        let mut channels_of = Vec::with_capacity(files.len());
        for file in files {
            let known = readers.iter().position(|reader| reader.path() == file.path);
            let at = known.unwrap_or(readers.len());
            if known.is_none() {
                readers.push(Reader::open(&file.path)?);
                wanted.push(Vec::new());
            }
            let channels = pick(file, readers[at].channels())?;
            let lists = channels.iter().map(|channel| list_of(&mut wanted[at], *channel)).collect();
            picks.push((at, lists));
            channels_of.push(channels);
        }
        let rate_hz = common_rate(&readers, options)?;
        let (origin, starts) = places(&readers, rate_hz)?;
        let infos = picks.iter().zip(&channels_of).map(|((at, _), channels)| {
            let reader = &readers[*at];
            let name = |channel: &usize| reader.channel_names().get(*channel).cloned();
            StemInfo {
                path: reader.path().to_owned(),
                channels: channels.len(),
                channel_names: channels.iter().filter_map(name).collect(),
                start: i64::try_from(starts[*at]).unwrap_or(i64::MAX),
                frames: reader.frames().map(|frames| resample::length(frames, reader.rate_hz(), rate_hz)),
                time_reference: reader.time_reference(),
            }
        });
        let infos = infos.collect();
        let mut sources = Vec::with_capacity(readers.len());
        for ((reader, channels), start) in readers.into_iter().zip(wanted).zip(starts) {
            let (path, from_hz) = (reader.path().to_owned(), reader.rate_hz());
            let source = Source::new(reader, channels, start, rate_hz);
            sources.push(source.map_err(|_| StemsError::Resampling { path, from_hz, to_hz: rate_hz })?);
        }
        Ok(Self { rate_hz, origin, infos, sources, picks, fault: None, over: false })
    }

    /// The rate of the line in Hz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Samples from midnight to the start of the line; `None` if no file has a time.
    pub fn origin(&self) -> Option<u64> {
        self.origin
    }

    /// Length of the whole line in samples, if every file states its own.
    pub fn frames(&self) -> Option<u64> {
        self.infos
            .iter()
            .map(|info| Some(u64::try_from(info.start).unwrap_or(0).saturating_add(info.frames?)))
            .try_fold(0, |longest, end| Some(end?.max(longest)))
    }

    /// The sounds on the line, in the order given.
    pub fn stems(&self) -> &[StemInfo] {
        &self.infos
    }

    /// Reads the next stretch of the line; 0 at its end.
    ///
    /// # Shape
    /// `blocks[stem][channel]`, all lists of equal length. Returns the number of frames written to the start of each
    /// list; it is less than their length only at the end of the line or before an error. Before and after a stem there
    /// are zeros. Full scale is 1.0. NaN and infinite samples stay as they are.
    ///
    /// # Errors
    /// [`StemsError::Read`], once, after all frames before the fault; the line then ends.
    ///
    /// # Panics
    /// Never. Lists without a stem or channel get zeros; stems without a list are skipped.
    pub fn read(&mut self, blocks: &mut [Vec<Vec<f32>>]) -> Result<usize, StemsError> {
        if let Some(fault) = self.fault.take() {
            self.over = true;
            return Err(fault);
        }
        let room = blocks.iter().flatten().map(Vec::len).min().unwrap_or(0);
        if self.over || room == 0 {
            return Ok(0);
        }
        let (mut longest, mut sound) = (0, room);
        for source in &mut self.sources {
            match source.fill(room) {
                Ok(written) => longest = longest.max(written),
                Err((written, error)) => {
                    (longest, sound) = (longest.max(written), sound.min(written));
                    self.fault.get_or_insert(error.into());
                }
            }
        }
        let count = longest.min(sound);
        for (at, block) in blocks.iter_mut().enumerate() {
            let pick = self.picks.get(at);
            for (channel, list) in block.iter_mut().enumerate() {
                let from = pick
                    .and_then(|(source, channels)| Some(self.sources[*source].side(*channels.get(channel)?)));
                match from {
                    Some(side) => list[..count].copy_from_slice(&side[..count]),
                    None => list[..count].fill(0.0),
                }
            }
        }
        match self.fault.take() {
            Some(fault) if count == 0 => {
                self.over = true;
                Err(fault)
            }
            fault => {
                self.fault = fault;
                self.over = count == 0;
                Ok(count)
            }
        }
    }
}

/// The channels of a stem, checked against its file.
fn pick(file: &StemFile, got: usize) -> Result<Vec<usize>, StemsError> {
    let path = || file.path.clone();
    match &file.channels {
        None if got > 2 => Err(StemsError::ChannelsNotChosen { path: path(), got }),
        None => Ok((0..got).collect()),
        Some(list) if list.is_empty() || list.len() > 2 => {
            Err(StemsError::ChannelCount { path: path(), chosen: list.len() })
        }
        Some(list) => match list.iter().find(|channel| **channel >= got) {
            Some(channel) => {
                Err(StemsError::NoSuchChannel { path: path(), channel: channel.saturating_add(1), got })
            }
            None => Ok(list.clone()),
        },
    }
}

/// The index of a channel among those wanted from its file.
fn list_of(wanted: &mut Vec<usize>, channel: usize) -> usize {
    wanted.iter().position(|known| *known == channel).unwrap_or_else(|| {
        wanted.push(channel);
        wanted.len() - 1
    })
}

/// The rate asked for, or the one that all files have.
fn common_rate(readers: &[Reader], options: &Options) -> Result<u32, StemsError> {
    let first = readers.first().ok_or(StemsError::NoFiles)?;
    if let Some(hz) = options.resample_hz {
        return if RATES_HZ.contains(&hz) { Ok(hz) } else { Err(StemsError::Rate { got_hz: hz }) };
    }
    let others: Vec<_> = readers.iter().filter(|reader| reader.rate_hz() != first.rate_hz()).collect();
    if others.is_empty() {
        return Ok(first.rate_hz());
    }
    let named = |reader: &Reader| (reader.path().to_owned(), reader.rate_hz());
    Err(StemsError::Rates { first: named(first), others: others.into_iter().map(named).collect() })
}

/// The start of the line in samples since midnight, and the start of each file on it.
fn places(readers: &[Reader], rate_hz: u32) -> Result<(Option<u64>, Vec<u64>), StemsError> {
    let at_rate =
        |reader: &Reader| Some(resample::nearest(reader.time_reference()?, reader.rate_hz(), rate_hz));
    let told: Vec<_> = readers.iter().map(at_rate).collect();
    let by_time = |at: &usize| told[*at];
    let among = || (0..readers.len()).filter(|at| told[*at].is_some());
    let (Some(first), Some(last)) = (among().min_by_key(by_time), among().max_by_key(by_time)) else {
        return Ok((None, vec![0; readers.len()]));
    };
    let origin = told[first].unwrap_or(0);
    let starts: Vec<_> = told.iter().map(|time| time.map_or(0, |time| time - origin)).collect();
    if starts[last] > HOURS_MOST * 3_600 * u64::from(rate_hz) {
        let path = |at: usize| readers[at].path().to_owned();
        return Err(StemsError::FarApart { first: path(first), last: path(last) });
    }
    Ok((Some(origin), starts))
}
