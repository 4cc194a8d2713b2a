//! A file converted to the rate of the line.
//!
//! The filter is rubato's for two fixed rates: a windowed sinc, squared Blackman-Harris, of at least 1 024 samples at
//! the lower rate, applied by FFT in double precision, without its delay. `tests/input/resampling.rs` measures it.

use crate::reader::{ReadError, Reader};
use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{Fft, FixedSync, Indexing, Resampler, WindowFunction};
use std::collections::VecDeque;

/// Shortest filter, in samples at the lower of the two rates: its slope is 1.4 % of half that rate wide.
const FILTER_SAMPLES: usize = 1_024;
/// Longest filter, in samples at the lower rate: at most half a second. Only rates with too few common divisors need
/// more.
const FILTER_MOST: usize = 12_000;

/// The error for two rates for which no block of whole samples is short enough.
pub(super) struct NoCommonStep;

/// A reader's channels at another rate.
pub(super) struct Resampled {
    reader: Reader,
    /// Which channels are wanted.
    channels: Vec<usize>,
    filter: Fft<f64>,
    rates: (u64, u64),
    /// All channels of the reader, for one block of the filter.
    heard: Vec<Vec<f32>>,
    /// The wanted channels before and after the filter.
    input: Vec<Vec<f64>>,
    output: Vec<Vec<f64>>,
    /// Samples in `output`, and how many of them were read.
    made: usize,
    taken: usize,
    /// Samples of the filter's delay still to be dropped.
    delay: usize,
    /// Samples read so far at the file's rate, and delivered at the line's rate.
    read: u64,
    handed: u64,
    /// Samples to deliver in total, once the file has ended.
    total: Option<u64>,
    /// NaN and infinite samples: position at the line's rate, list, value.
    strange: VecDeque<(u64, usize, f32)>,
    fault: Option<ReadError>,
}

/// The length of `samples` at the line's rate, rounded up.
pub(super) fn length(samples: u64, from_hz: u32, to_hz: u32) -> u64 {
    let exact = u128::from(samples) * u128::from(to_hz);
    u64::try_from(exact.div_ceil(u128::from(from_hz.max(1)))).unwrap_or(u64::MAX)
}

/// The sample of the line's rate that is nearest to `sample` of the file's.
pub(super) fn nearest(sample: u64, from_hz: u32, to_hz: u32) -> u64 {
    let from = u128::from(from_hz.max(1));
    u64::try_from((u128::from(sample) * u128::from(to_hz) + from / 2) / from).unwrap_or(u64::MAX)
}

impl Resampled {
    /// Some channels of a reader at `to_hz`.
    pub(super) fn new(reader: Reader, channels: Vec<usize>, to_hz: u32) -> Result<Self, NoCommonStep> {
        let (from, to) = (reader.rate_hz() as usize, to_hz as usize);
        let divisor = divisor(from, to).max(1);
        let (step_in, step_out) = (from / divisor, to / divisor);
        // An even number of steps makes the delay, half a block, a whole number of samples at both rates.
        let steps = FILTER_SAMPLES.div_ceil(step_in.min(step_out)).next_multiple_of(2);
        if steps * step_in.min(step_out) > FILTER_MOST {
            return Err(NoCommonStep);
        }
        let count = channels.len();
        let block = steps * step_in;
        let window = WindowFunction::BlackmanHarris2;
        let filter =
            Fft::new_custom(from, to, block, 1, count, window, FixedSync::Both).map_err(|_| NoCommonStep)?;
        let room = filter.input_frames_next();
        Ok(Self {
            heard: vec![vec![0.0; room]; reader.channels()],
            input: vec![vec![0.0; room]; count],
            output: vec![vec![0.0; filter.output_frames_next()]; count],
            delay: filter.output_delay(),
            rates: (from as u64, to as u64),
            reader,
            channels,
            filter,
            made: 0,
            taken: 0,
            read: 0,
            handed: 0,
            total: None,
            strange: VecDeque::new(),
            fault: None,
        })
    }

    /// Reads the next frames into `block`, one list per wanted channel; 0 at the end.
    ///
    /// # Errors
    /// Those of the reader, after all frames before the fault.
    pub(super) fn read(&mut self, block: &mut [Vec<f32>], room: usize) -> Result<usize, ReadError> {
        loop {
            let left = self.total.map_or(u64::MAX, |total| total - self.handed);
            if left == 0 {
                return self.fault.take().map_or(Ok(0), Err);
            }
            let skipped = self.delay.min(self.made - self.taken);
            self.delay -= skipped;
            self.taken += skipped;
            let count = room.min(self.made - self.taken).min(usize::try_from(left).unwrap_or(usize::MAX));
            if count > 0 {
                self.hand_out(block, count);
                return Ok(count);
            }
            self.refill();
        }
    }

    fn hand_out(&mut self, block: &mut [Vec<f32>], count: usize) {
        for (to, from) in block.iter_mut().zip(&self.output) {
            for (to, from) in to.iter_mut().zip(&from[self.taken..self.taken + count]) {
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "the nearest 32-bit float is what is wanted"
                )]
                let sample = *from as f32;
                *to = sample;
            }
        }
        while let Some((at, list, value)) = self.strange.front().copied() {
            if at >= self.handed + count as u64 {
                break;
            }
            let place = usize::try_from(at.saturating_sub(self.handed)).unwrap_or(0);
            block[list][place] = value;
            self.strange.pop_front();
        }
        self.taken += count;
        self.handed += count as u64;
    }

    /// Reads one block of the file, silence after its end, and filters it.
    fn refill(&mut self) {
        let room = self.input.first().map_or(0, Vec::len);
        let mut filled = 0;
        while filled < room && self.total.is_none() {
            self.heard.iter_mut().for_each(|side| side.resize(room - filled, 0.0));
            match self.reader.read(&mut self.heard) {
                Ok(0) => self.end(),
                Ok(count) => {
                    self.take(filled, count);
                    filled += count;
                    self.read += count as u64;
                }
                Err(error) => {
                    self.fault = Some(error);
                    self.end();
                }
            }
        }
        self.input.iter_mut().for_each(|side| side[filled..].fill(0.0));
        let frames = (room, self.output.first().map_or(0, Vec::len));
        let count = self.channels.len();
        let made =
            SequentialSliceOfVecs::new(self.input.as_slice(), count, frames.0).ok().and_then(|input| {
                let mut output =
                    SequentialSliceOfVecs::new_mut(self.output.as_mut_slice(), count, frames.1).ok()?;
                self.filter.process_into_buffer(&input, &mut output, None::<&Indexing>).ok()
            });
        (self.made, self.taken) = (made.map_or(0, |(_, made)| made), 0);
        if self.made == 0 {
            // Cannot happen with lists of fixed length; if it does, the line ends instead of hanging.
            self.total = Some(self.handed);
        }
    }

    /// Puts `count` frames of the reader into the filter's input. NaN and infinite samples bypass the filter, because
    /// they would spoil a whole block.
    fn take(&mut self, filled: usize, count: usize) {
        for frame in 0..count {
            for (list, channel) in self.channels.iter().enumerate() {
                let sample = self.heard[*channel][frame];
                let fine = sample.is_finite();
                self.input[list][filled + frame] = if fine { f64::from(sample) } else { 0.0 };
                if !fine {
                    let (from, to) = self.rates;
                    self.strange.push_back(((self.read + frame as u64) * to / from, list, sample));
                }
            }
        }
    }

    fn end(&mut self) {
        let (from, to) = self.rates;
        let exact = u128::from(self.read) * u128::from(to);
        self.total = Some(u64::try_from(exact.div_ceil(u128::from(from))).unwrap_or(u64::MAX));
    }
}

fn divisor(a: usize, b: usize) -> usize {
    if b == 0 { a } else { divisor(b, a % b) }
}
