//! From samples to tenths, and to the latest readings.

use crate::averages::Averages;
use crate::bands::{BandEdges, LONG, SHORT, THIRDS, WINDOWS};
use crate::coherence::{COHERENCE_SECS, Coherence, Newest};
use crate::cross::{StereoPower, Stored};
use crate::filter_bank::FilterBank;
use crate::glance::Glance;
use crate::glance::{SPANS, WHOLE_SPAN};
use crate::meters::TimeDomain;
use crate::onsets::{Found, Onsets};
use crate::rate::{CELLS_PER_SECOND, SampleRate};
use crate::stft::{Lookback, Transform};
use crate::tenth::{Onset, Position, Tenth};
use realfft::RealFftPlanner;
use std::collections::VecDeque;

/// Largest sample magnitude, +120 dBFS; larger samples are clamped to it, so that no power overflows.
pub const LARGEST_SAMPLE: f32 = 1e6;
/// Largest position either way, 2⁵² samples: more than three hundred years at any rate.
const LARGEST_POSITION: i64 = 1 << 52;
/// Seconds of sound in the scope.
const SCOPE_SECS: f64 = 0.05;
/// Most points in the scope.
const SCOPE_POINTS: usize = 1_024;
/// Seconds without a long frame after which the 2 s average of coherence is dropped.
const STALE_SECS: f64 = 1.0;
/// Most samples that are checked and copied in one step.
const STEP: usize = 1_024;

/// Measures one layer: one or two channels at one rate.
///
/// # Shape
/// Blocks of any length, each with the position of its first sample. A [`Tenth`] comes out when the last window centred
/// in it has passed (171 ms after its end at 48 kHz), or when the audio stops being contiguous.
///
/// # Definition
/// A block that does not continue the last one (a jump, a loop, a loss) starts a new stretch. No analysis window
/// reaches across its start; windows over what was *heard* (momentary and short-term loudness, correlation, the 2 s of
/// coherence, the exponential averages) go on. NaN and infinite samples are measured as silence and counted.
///
/// # Accuracy
/// Any split into blocks gives bit-equal tenths (property test). `docs/measures.md` has the accuracy of every reading.
///
/// # Realtime Safety
/// Not for the audio thread. Allocates only in [`Analyzer::new`] and in its first two seconds.
///
/// # Example
/// ```
/// use plumbline_measure::{Analyzer, BandEdges, Grid, Position, SampleRate};
///
/// let mut analyzer = Analyzer::new(SampleRate::new(48_000)?, 2, BandEdges::default());
/// let mut tenths = Vec::new();
/// for block in 0..100 {
///     let at = Position { grid: Grid::Song, sample: block * 500 };
///     analyzer.push(at, &[&[0.5; 500], &[-0.5; 500]], &mut tenths);
/// }
/// // 50 000 samples: ten tenths of 4800, and the start of another.
/// analyzer.flush(&mut tenths);
/// assert_eq!(tenths.len(), 11);
/// assert!(tenths[9].is_whole() && !tenths[10].is_whole());
/// assert_eq!(tenths[0].sums.mean_squares().side_share(), Some(1.0));
/// # Ok::<(), plumbline_measure::RateError>(())
/// ```
pub struct Analyzer {
    rate: SampleRate,
    channels: usize,
    edges: BandEdges,
    bank: FilterBank,
    transforms: [Transform; WINDOWS],
    lookback: Lookback,
    coherence: Coherence,
    averages: Averages,
    time: TimeDomain,
    onsets: Onsets,
    /// Position of the next sample, if the audio is contiguous.
    next: Option<Position>,
    /// First sample of the running cell.
    cell_start: i64,
    /// Sample at which the next frame of each window ends.
    frame_ends: [i64; WINDOWS],
    /// Tenths that may still get frames, oldest first; the last one is still running.
    pending: VecDeque<Pending>,
    lost_before: u32,
    since_long_frame: u64,
    finite: [Vec<f32>; 2],
}

struct Pending {
    tenth: Tenth,
    /// Whether its time-domain sums are complete.
    ended: bool,
}

impl Analyzer {
    /// A new analyser for one channel, or for two if `channels` is any other number.
    pub fn new(rate: SampleRate, channels: usize, edges: BandEdges) -> Self {
        let channels = if channels == 1 { 1 } else { 2 };
        let bank = FilterBank::new(rate, edges);
        let mut planner = RealFftPlanner::new();
        let transforms =
            std::array::from_fn(|w| Transform::new(&mut planner, bank.lengths[w], bank.used[w].clone()));
        let hop = transforms[LONG].hop() as f64;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "about 23")]
        let windows = (COHERENCE_SECS * rate.as_f64() / hop) as usize;
        Self {
            rate,
            channels,
            edges,
            lookback: Lookback::new(channels, bank.lengths[LONG] + STEP),
            coherence: Coherence::new(&bank, bank.used[LONG].len(), windows),
            averages: Averages::new(rate, &bank),
            time: TimeDomain::new(rate, channels),
            onsets: Onsets::new(rate, bank.used[SHORT].len(), transforms[SHORT].hop()),
            transforms,
            bank,
            next: None,
            cell_start: 0,
            frame_ends: [0; WINDOWS],
            pending: VecDeque::new(),
            lost_before: 0,
            since_long_frame: 0,
            finite: [Vec::with_capacity(STEP), Vec::with_capacity(STEP)],
        }
    }

    /// The sample rate.
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Channels, 1 or 2.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Measures a block that starts at `at`, and appends the tenths that became complete.
    ///
    /// # Shape
    /// As many slices as channels, of equal length. The shortest slice sets the length, a missing second channel equals
    /// the first, and further slices are ignored.
    pub fn push(&mut self, at: Position, channels: &[&[f32]], tenths: &mut Vec<Tenth>) {
        let Some(&left) = channels.first() else { return };
        let right = channels.get(1).copied().filter(|_| self.channels > 1).unwrap_or(left);
        let count = left.len().min(right.len());
        if count == 0 {
            return;
        }
        let at = Position { sample: at.sample.clamp(-LARGEST_POSITION, LARGEST_POSITION), ..at };
        if self.next != Some(at) {
            self.start_stretch(at, tenths);
        }
        let mut done = 0;
        while done < count {
            let step = self.until_next_event().min(count - done).min(STEP);
            self.take(&left[done..done + step], &right[done..done + step]);
            done += step;
            self.meet_events(tenths);
        }
    }

    /// Notes that `frames` samples were lost before the next block.
    pub fn note_loss(&mut self, frames: u32) {
        self.lost_before = self.lost_before.saturating_add(frames);
    }

    /// Ends the stretch of audio, and appends the tenths that were waiting for more of it.
    pub fn flush(&mut self, tenths: &mut Vec<Tenth>) {
        self.end_stretch();
        // A loss at the very end belongs to the last tenth that was heard.
        if let Some(last) = self.pending.iter_mut().rev().find(|p| p.tenth.sums.frames > 0) {
            let lost = &mut last.tenth.faults.lost;
            *lost = lost.saturating_add(std::mem::take(&mut self.lost_before));
        }
        self.hand_out_all(tenths);
    }

    /// Resets everything: from here on, bit-equal to a new analyser.
    pub fn reset(&mut self) {
        *self = Self::new(self.rate, self.channels, self.edges);
    }

    /// Clears all readings since reset: the long average, peak holds, maxima, counts.
    pub fn forget(&mut self) {
        self.averages.forget();
        self.time.forget();
    }

    /// Writes the newest readings: averages, peak hold, meters, momentary and short-term loudness with their maxima,
    /// true peak, scope, and the count of samples that were not finite. Integrated loudness and range stay as they are.
    pub fn fill(&self, glance: &mut Glance) {
        glance.line_hz = self.bank.cells.hz.clone();
        glance.band_edges = self.edges;
        self.averages.fill(&mut glance.averages, &mut glance.hold_dbfs, self.coherence.newest());
        self.time.fill(&mut glance.meters, &mut glance.loudness);
        glance.channels = u8::try_from(self.channels).unwrap_or(2);
        glance.not_finite = self.time.not_finite();
        self.fill_scope(&mut glance.scope);
    }

    fn fill_scope(&self, scope: &mut Vec<[f32; 2]>) {
        scope.clear();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 19 200")]
        let count = (SCOPE_SECS * self.rate.as_f64()) as usize;
        let left = self.lookback.newest(0, count);
        let right = if self.channels > 1 { self.lookback.newest(1, count) } else { left };
        let stride = left.len().div_ceil(SCOPE_POINTS).max(1);
        scope.extend(left.iter().zip(right).step_by(stride).map(|(l, r)| [*l, *r]));
    }

    /// Starts a stretch at `at`.
    fn start_stretch(&mut self, at: Position, tenths: &mut Vec<Tenth>) {
        self.end_stretch();
        let index = self.rate.tenth_of(at.sample);
        // A gap inside one tenth: the tenth goes on.
        let goes_on = self.pending.back().is_some_and(|p| {
            let tenth = &p.tenth;
            let heard_to = self.next.map_or(i64::MAX, |next| next.sample);
            !p.ended && tenth.grid == at.grid && tenth.index == index && heard_to <= at.sample
        });
        let kept = if goes_on { self.pending.pop_back() } else { None };
        self.hand_out_all(tenths);
        self.pending.extend(kept);
        self.lookback.clear();
        self.time.start_stretch();
        self.next = Some(at);
        self.cell_start = at.sample;
        for (end, transform) in self.frame_ends.iter_mut().zip(&self.transforms) {
            let (length, hop) = (transform.length() as i64, transform.hop() as i64);
            let earliest = at.sample + length;
            *end = earliest + (hop - earliest.rem_euclid(hop)) % hop;
        }
        if self.pending.is_empty() {
            self.open_tenth(at);
        }
    }

    fn open_tenth(&mut self, at: Position) {
        let index = self.rate.tenth_of(at.sample);
        let tenth = Tenth {
            grid: at.grid,
            index,
            length: self.rate.tenth_len(index),
            channels: if self.channels == 1 { 1 } else { 2 },
            ..Tenth::default()
        };
        self.pending.push_back(Pending { tenth, ended: false });
    }

    /// Measures the unfinished cell, as far as it goes.
    fn end_stretch(&mut self) {
        if let Some(next) = self.next
            && next.sample > self.cell_start
        {
            self.measure_cell(next.sample);
        }
        while !self.onsets.is_decided() {
            let found = self.onsets.finish_one();
            self.note_onset(found);
        }
        self.onsets.clear();
    }

    /// Notes an onset in its tenth, unless the tenth has a stronger one.
    fn note_onset(&mut self, found: Option<Found>) {
        let Some(Found { centre, strength }) = found else { return };
        let index = self.rate.tenth_of(centre);
        let tenth = self.pending.iter_mut().map(|p| &mut p.tenth).find(|t| t.index == index);
        if let Some(tenth) = tenth.filter(|t| t.onset.strength < strength) {
            let at = u32::try_from(centre - self.rate.tenth_start(index)).unwrap_or(0);
            tenth.onset = Onset { at, strength };
        }
    }

    fn hand_out_all(&mut self, tenths: &mut Vec<Tenth>) {
        while let Some(mut pending) = self.pending.pop_front() {
            if !pending.ended && pending.tenth.sums.frames > 0 {
                self.time.end_tenth(&mut pending.tenth);
            }
            if pending.tenth.sums.frames > 0 {
                tenths.push(pending.tenth);
            }
        }
        self.next = None;
    }

    /// Samples until the next end of a frame, a cell or a tenth.
    fn until_next_event(&self) -> usize {
        let Some(next) = self.next else { return 1 };
        let cell = self.rate.grid_step(next.sample, CELLS_PER_SECOND);
        let cell_end = self.rate.grid_start(cell + 1, CELLS_PER_SECOND);
        let first = self.frame_ends.iter().copied().fold(cell_end, i64::min);
        usize::try_from(first - next.sample).unwrap_or(1).max(1)
    }

    /// Copies samples, NaN and infinity as silence.
    fn take(&mut self, left: &[f32], right: &[f32]) {
        let mut not_finite = 0;
        for (kept, block) in self.finite.iter_mut().zip([left, right]).take(self.channels) {
            kept.clear();
            // Nearly always all samples are fine: they are checked and copied many at a time.
            if largest_bits(block) <= LARGEST_SAMPLE.to_bits() {
                kept.extend_from_slice(block);
                continue;
            }
            kept.extend(block.iter().map(|&x| {
                if x.abs() <= LARGEST_SAMPLE {
                    x
                } else if x.is_finite() {
                    LARGEST_SAMPLE.copysign(x)
                } else {
                    not_finite += 1;
                    0.0
                }
            }));
        }
        let [l, r] = &self.finite;
        let both: [&[f32]; 2] = [l, r];
        self.lookback.extend(&both[..self.channels]);
        if let Some(next) = &mut self.next {
            next.sample += left.len() as i64;
        }
        self.since_long_frame += left.len() as u64;
        if let Some(running) = self.pending.back_mut() {
            running.tenth.faults.not_finite += not_finite;
            let lost = &mut running.tenth.faults.lost;
            *lost = lost.saturating_add(std::mem::take(&mut self.lost_before));
        }
        if not_finite > 0 {
            self.time.count_not_finite(not_finite);
        }
    }

    /// Runs the frames and ends the cells that are due at the present sample.
    fn meet_events(&mut self, tenths: &mut Vec<Tenth>) {
        let Some(next) = self.next else { return };
        for window in 0..WINDOWS {
            if self.frame_ends[window] == next.sample {
                self.run_frame(window, next.sample);
                self.frame_ends[window] += self.transforms[window].hop() as i64;
            }
        }
        let cell = self.rate.grid_step(next.sample, CELLS_PER_SECOND);
        if self.rate.grid_start(cell, CELLS_PER_SECOND) == next.sample {
            self.measure_cell(next.sample);
            self.forget_stale_coherence();
            let tenth = self.rate.tenth_of(next.sample);
            if self.rate.tenth_start(tenth) == next.sample {
                if let Some(running) = self.pending.back_mut() {
                    self.time.end_tenth(&mut running.tenth);
                    running.ended = true;
                }
                self.open_tenth(next);
            }
        }
        // The last frame centred in a tenth ends half a window after it.
        let half = self.transforms[LONG].length() as i64 / 2;
        while let Some(oldest) = self.pending.front() {
            let end = self.rate.tenth_start(oldest.tenth.index + 1);
            if !oldest.ended || next.sample < end + half {
                break;
            }
            tenths.extend(self.pending.pop_front().map(|p| p.tenth));
        }
    }

    fn measure_cell(&mut self, end: i64) {
        let count = usize::try_from(end - self.cell_start).unwrap_or(0);
        let channels = [self.lookback.newest(0, count), self.lookback.newest(self.channels - 1, count)];
        if let Some(running) = self.pending.back_mut() {
            self.time.cell(&channels[..self.channels], &mut running.tenth);
        }
        self.cell_start = end;
    }

    /// Drops the 2 s average if no long frame has come for [`STALE_SECS`].
    fn forget_stale_coherence(&mut self) {
        if self.since_long_frame as f64 > STALE_SECS * self.rate.as_f64() {
            self.coherence.clear();
        }
    }

    fn run_frame(&mut self, window: usize, end: i64) {
        let transform = &mut self.transforms[window];
        let length = transform.length();
        if self.lookback.len() < length {
            return;
        }
        let channels = [self.lookback.newest(0, length), self.lookback.newest(self.channels - 1, length)];
        transform.run(&channels[..self.channels]);
        let (bins, used) = (&transform.bins, transform.used());

        let mut spans = [StereoPower::default(); SPANS];
        for (sum, span) in spans.iter_mut().zip(&self.bank.spans) {
            if span.window == window {
                *sum = bins.sum(span, used.start);
            }
        }
        self.averages.push(window, bins, used.start, &self.bank.cells, &spans);
        for (third, span) in self.bank.short_spans.iter().enumerate().filter(|(_, s)| s.window == window) {
            let own = self.bank.spans[third].window == window;
            let power = if own { spans[third] } else { bins.sum(span, used.start) };
            self.coherence.effective.push_short(third, &power);
        }
        if window == LONG {
            self.since_long_frame = 0;
            self.coherence.push(bins, used.start, &self.bank.long_spans);
            self.averages.push_coherent(self.coherence.newest());
        }
        let middle = end - length as i64 / 2;
        let centre = self.rate.tenth_of(middle);
        if let Some(pending) = self.pending.iter_mut().find(|p| p.tenth.index == centre) {
            add_frame(&mut pending.tenth, window, &spans, &self.bank, self.coherence.newest());
        }
        if window == SHORT {
            let found = self.onsets.push(middle, bins);
            self.note_onset(found);
        }
    }
}

/// Bits of the largest magnitude; they rise with it, up to infinity and NaN.
fn largest_bits(samples: &[f32]) -> u32 {
    // Signed, because every processor compares many signed integers at a time; the sign bit is 0.
    let bits = |x: &f32| (x.to_bits() & !SIGN).cast_signed();
    samples.iter().fold(0, |largest, x| largest.max(bits(x))).cast_unsigned()
}

/// The bit of a number's sign.
const SIGN: u32 = 1 << 31;

/// Adds the spans of one frame to its tenth.
fn add_frame(
    tenth: &mut Tenth,
    window: usize,
    spans: &[StereoPower; SPANS],
    bank: &FilterBank,
    coherent: &[Newest],
) {
    tenth.frames_of[window] += 1;
    let add = |kept: &mut Stored, span: usize| {
        if bank.spans[span].window == window {
            *kept = Stored::from(StereoPower::from(*kept) + spans[span]);
        }
    };
    for (third, kept) in tenth.thirds.iter_mut().enumerate() {
        add(kept, third);
    }
    for (band, kept) in tenth.bands.iter_mut().enumerate() {
        add(kept, THIRDS + band);
    }
    add(&mut tenth.whole, WHOLE_SPAN);
    if window == LONG {
        for (kept, newest) in tenth.coherent_thirds.iter_mut().zip(coherent) {
            *kept = newest.value;
        }
        for (kept, newest) in tenth.coherent_bands.iter_mut().zip(&coherent[THIRDS..]) {
            *kept = newest.value;
        }
        tenth.coherent_whole = coherent[WHOLE_SPAN].value;
    }
}
