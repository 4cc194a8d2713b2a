//! The time domain: power, correlation, loudness windows, peaks, counts; in 10 ms cells.

use crate::cross::{StereoPower, power_db};
use crate::flat_tops::{FULL_SCALE, FlatTops};
use crate::glance::{Loudness, Meters};
use crate::loudness::{KFilter, SILENCE_LUFS, lufs};
use crate::rate::SampleRate;
use crate::reading::{Gate, Maybe};
use crate::tenth::{Tenth, TimeSums};
use ebur128::{EbuR128, Mode};
use std::collections::VecDeque;

/// Time constants of the level, IEC 61672-1:2013 §5.8: F and S, in seconds.
pub(crate) const FAST_SECS: f64 = 0.125;
/// See [`FAST_SECS`].
pub(crate) const SLOW_SECS: f64 = 1.0;
/// Window of the time-domain correlation and balance, seconds.
const CORRELATION_SECS: f64 = 0.3;
/// Momentary window, Tech 3341, seconds.
const MOMENTARY_SECS: f64 = 0.4;
/// Short-term window, Tech 3341, seconds.
const SHORT_TERM_SECS: f64 = 3.0;
/// Hold of the sample peak, IEC TR 60268-18 (1.0 ± 0.5 s), seconds.
const PEAK_HOLD_SECS: f64 = 1.0;
/// Fall of the sample peak after its hold, IEC TR 60268-18 (20 dB in 1.7 s), dB per second.
const PEAK_FALL_DB_PER_SEC: f64 = 20.0 / 1.7;
/// Power below which an average is set to 0, so that silence never produces denormals.
const POWER_FLOOR: f64 = 1e-30;

/// A window over the latest audio heard, in pieces.
#[derive(Clone)]
struct Heard {
    pieces: VecDeque<TimeSums>,
    /// Length of a whole piece, rounded up.
    piece: u32,
    most: usize,
}

impl Heard {
    fn new(piece: u32, pieces_needed: usize) -> Self {
        // Room for as many broken pieces as whole ones, because a short loop breaks a piece at each turn.
        Self { pieces: VecDeque::with_capacity(2 * pieces_needed), piece, most: 2 * pieces_needed }
    }

    fn push(&mut self, sums: TimeSums) {
        if let Some(last) = self.pieces.back_mut()
            && last.frames + sums.frames <= self.piece
        {
            *last += sums;
            return;
        }
        if self.pieces.len() == self.most {
            self.pieces.pop_front();
        }
        self.pieces.push_back(sums);
    }

    /// Sums over the latest `frames` samples, plus up to the length of a broken piece; `None` until that many samples
    /// were heard.
    fn newest(&self, frames: f64) -> Option<TimeSums> {
        let mut sums = TimeSums::default();
        for piece in self.pieces.iter().rev() {
            sums += *piece;
            // At a rate that is not a multiple of 100 Hz, cells differ in length by one sample.
            if f64::from(sums.frames) + 1.0 > frames {
                return Some(sums);
            }
        }
        None
    }
}

fn gated_lufs(sums: &TimeSums) -> Option<f64> {
    let loudness = lufs(sums.k / f64::from(sums.frames.max(1)));
    (loudness >= SILENCE_LUFS).then_some(loudness)
}

/// Sample peak with hold and fall.
#[derive(Clone, Copy, Default)]
struct PeakHold {
    shown_db: f64,
    held_secs: f64,
    alive: bool,
}

impl PeakHold {
    fn push(&mut self, peak: f32, secs: f64) {
        let peak_db = 20.0 * f64::from(peak).log10();
        self.held_secs += secs;
        if self.alive && self.held_secs > PEAK_HOLD_SECS {
            self.shown_db -= PEAK_FALL_DB_PER_SEC * secs.min(self.held_secs - PEAK_HOLD_SECS);
        }
        if peak_db.is_finite() && (!self.alive || peak_db >= self.shown_db) {
            *self = Self { shown_db: peak_db, held_secs: 0.0, alive: true };
        }
    }

    fn reading(&self) -> Option<f64> {
        (self.alive && self.shown_db > -140.0).then_some(self.shown_db)
    }
}

/// Everything that is kept since the last reset.
#[derive(Clone, Copy, Default)]
struct SinceReset {
    max_peak: [f32; 2],
    true_peak: [f32; 2],
    overs: [u64; 2],
    flat: [u64; 2],
    max_momentary: Maybe,
    max_short_term: Maybe,
    not_finite: u64,
}

/// The time-domain half of the analyser.
pub(crate) struct TimeDomain {
    rate: SampleRate,
    channels: usize,
    k_filters: [KFilter; 2],
    true_peak: EbuR128,
    /// Exponential mean squares (ll + rr), fast and slow, with their per-sample factors.
    levels: [(f64, f64); 2],
    cells: Heard,
    tenths: Heard,
    peaks: [PeakHold; 2],
    /// Current run of digital silence in all channels, samples.
    zeros: u32,
    flat_tops: [FlatTops; 2],
    since_reset: SinceReset,
}

impl TimeDomain {
    pub(crate) fn new(rate: SampleRate, channels: usize) -> Self {
        let factor = |tau: f64| 1.0 - (-1.0 / (tau * rate.as_f64())).exp();
        let channel_count = if channels > 1 { 2 } else { 1 };
        Self {
            rate,
            channels,
            k_filters: [KFilter::new(rate), KFilter::new(rate)],
            true_peak: true_peak_meter(channel_count, rate),
            levels: [(0.0, factor(FAST_SECS)), (0.0, factor(SLOW_SECS))],
            cells: Heard::new(rate.hz().div_ceil(100), 40),
            tenths: Heard::new(rate.hz().div_ceil(10), 30),
            peaks: [PeakHold::default(); 2],
            zeros: 0,
            flat_tops: [FlatTops::default(); 2],
            since_reset: SinceReset::default(),
        }
    }

    /// Clears everything since reset.
    pub(crate) fn forget(&mut self) {
        self.since_reset = SinceReset::default();
        self.peaks = [PeakHold::default(); 2];
    }

    /// Counts samples that were not finite.
    pub(crate) fn count_not_finite(&mut self, samples: u32) {
        self.since_reset.not_finite += u64::from(samples);
    }

    /// Starts a stretch of contiguous audio; silence and flat tops before it end here.
    pub(crate) fn start_stretch(&mut self) {
        self.zeros = 0;
        self.flat_tops = [FlatTops::default(); 2];
    }

    /// Measures one cell of finite samples and adds it to its tenth. Cells do not depend on blocks.
    pub(crate) fn cell(&mut self, block: &[&[f32]], tenth: &mut Tenth) {
        let left = block[0];
        let right = if self.channels > 1 { block[1] } else { left };
        let sums = self.sums(left, right);
        self.cells.push(sums);
        tenth.sums += sums;
        self.peaks_of(block, tenth);
        tenth.zeros = tenth.zeros.max(self.zeros_of(left, right));

        let momentary = self.momentary();
        raise(&mut tenth.max_momentary, momentary);
        raise(&mut self.since_reset.max_momentary, momentary);
        if let Some(correlation) = self.correlation() {
            let lowest = tenth.lowest_correlation.get().unwrap_or(f64::INFINITY);
            tenth.lowest_correlation = Maybe::new(Some(lowest.min(correlation)));
        }
    }

    fn sums(&mut self, left: &[f32], right: &[f32]) -> TimeSums {
        let mut sums =
            TimeSums { frames: u32::try_from(left.len()).unwrap_or(u32::MAX), ..TimeSums::default() };
        let [(fast, fast_step), (slow, slow_step)] = &mut self.levels;
        let (fast_keep, slow_keep) = (1.0 - *fast_step, 1.0 - *slow_step);
        let [k_left, k_right] = &mut self.k_filters;
        let stereo = self.channels > 1;
        for (&l, &r) in left.iter().zip(right) {
            let (l, r) = (f64::from(l), f64::from(r));
            let (ll, rr) = (l * l, r * r);
            sums.ll += ll;
            sums.rr += rr;
            sums.lr += l * r;
            sums.dc[0] += l;
            sums.dc[1] += r;
            // Each step waits for the one before it, so the chain is kept short.
            *fast = *fast * fast_keep + (ll + rr) * *fast_step;
            *slow = *slow * slow_keep + (ll + rr) * *slow_step;
            let k = k_left.run(l);
            sums.k += k * k;
            if stereo {
                let k = k_right.run(r);
                sums.k += k * k;
            }
        }
        for level in [fast, slow] {
            if *level < POWER_FLOOR {
                *level = 0.0;
            }
        }
        k_left.settle();
        k_right.settle();
        sums
    }

    fn peaks_of(&mut self, block: &[&[f32]], tenth: &mut Tenth) {
        let secs = block[0].len() as f64 / self.rate.as_f64();
        // The meter has exactly these channels; if it failed, there would be no true peak.
        let measured = self.true_peak.add_frames_planar_f32(block).is_ok();
        for channel in 0..2 {
            let source = channel.min(block.len() - 1);
            let (mut peak, mut overs) = (0.0_f32, 0_u32);
            for sample in block[source] {
                let size = sample.abs();
                peak = peak.max(size);
                overs += u32::from(size >= FULL_SCALE);
            }
            // Nearly every cell has no overs.
            let tops = &mut self.flat_tops[channel];
            let flat = if overs > 0 { tops.count(block[source]) } else { tops.end() };
            let source = u32::try_from(source).unwrap_or(0);
            #[expect(clippy::cast_possible_truncation, reason = "single precision is enough for a peak")]
            let true_peak = match self.true_peak.prev_true_peak(source) {
                Ok(found) if measured => found as f32,
                _ => 0.0,
            };
            // A mono sound counts its overs once.
            let [overs, flat] = if channel < block.len() { [overs, flat] } else { [0; 2] };
            let kept = &mut self.since_reset;
            tenth.sample_peak[channel] = tenth.sample_peak[channel].max(peak);
            tenth.true_peak[channel] = tenth.true_peak[channel].max(true_peak);
            tenth.overs[channel] += overs;
            tenth.flat[channel] = tenth.flat[channel].saturating_add(u16::try_from(flat).unwrap_or(u16::MAX));
            kept.max_peak[channel] = kept.max_peak[channel].max(peak);
            kept.true_peak[channel] = kept.true_peak[channel].max(true_peak);
            kept.overs[channel] += u64::from(overs);
            kept.flat[channel] += u64::from(flat);
            self.peaks[channel].push(peak, secs);
        }
    }

    /// Longest run of digital silence that ends within these samples or continues after them.
    fn zeros_of(&mut self, left: &[f32], right: &[f32]) -> u32 {
        // Nearly every cell is all sound or all silence, and then there are no runs to follow.
        let silent = |(l, r): (&f32, &f32)| (*l == 0.0) & (*r == 0.0);
        let count: u32 = left.iter().zip(right).map(|pair| u32::from(silent(pair))).sum();
        if count == 0 {
            return std::mem::take(&mut self.zeros);
        }
        if count as usize == left.len() {
            self.zeros = self.zeros.saturating_add(count);
            return self.zeros;
        }
        let mut longest = self.zeros;
        for pair in left.iter().zip(right) {
            self.zeros = if silent(pair) { self.zeros.saturating_add(1) } else { 0 };
            longest = longest.max(self.zeros);
        }
        longest
    }

    /// Ends a tenth: its sums are complete.
    pub(crate) fn end_tenth(&mut self, tenth: &mut Tenth) {
        self.tenths.push(tenth.sums);
        let short_term = self.short_term();
        tenth.short_term = Maybe::new(short_term);
        raise(&mut self.since_reset.max_short_term, short_term);
    }

    fn momentary(&self) -> Option<f64> {
        self.cells.newest(MOMENTARY_SECS * self.rate.as_f64()).as_ref().and_then(gated_lufs)
    }

    fn short_term(&self) -> Option<f64> {
        self.tenths.newest(SHORT_TERM_SECS * self.rate.as_f64()).as_ref().and_then(gated_lufs)
    }

    fn stereo_window(&self) -> Option<StereoPower> {
        let cross = self.cells.newest(CORRELATION_SECS * self.rate.as_f64())?.without_dc();
        Gate::broadband().both_open(&cross).then_some(cross)
    }

    fn correlation(&self) -> Option<f64> {
        self.stereo_window()?.correlation()
    }

    /// Writes the newest readings.
    pub(crate) fn fill(&self, meters: &mut Meters, loudness: &mut Loudness) {
        let window = self.stereo_window();
        let level = |(mean_square, _): (f64, f64)| {
            let cross =
                StereoPower { ll: mean_square / 2.0, rr: mean_square / 2.0, ..StereoPower::default() };
            Gate::broadband().open(&cross).then(|| power_db(mean_square))
        };
        let peak_db = |peak: f32| (peak > 0.0).then(|| 20.0 * f64::from(peak).log10());
        let kept = &self.since_reset;
        let dc = self.tenths.newest(SHORT_TERM_SECS * self.rate.as_f64());
        let dc = dc.map(|sums| sums.dc.map(|sum| sum / f64::from(sums.frames.max(1))));
        *meters = Meters {
            correlation: window.and_then(|w| w.correlation()),
            balance_db: window.and_then(|w| w.balance_db()),
            level_fast_dbfs: level(self.levels[0]),
            level_slow_dbfs: level(self.levels[1]),
            peak_dbfs: self.peaks.map(|p| p.reading()),
            max_peak_dbfs: kept.max_peak.map(peak_db),
            overs: kept.overs,
            flat: kept.flat,
            dc: [dc.map(|d| d[0]), dc.map(|d| d[1])],
        };
        loudness.momentary_lufs = self.momentary();
        loudness.short_term_lufs = self.short_term();
        loudness.max_momentary_lufs = kept.max_momentary.get();
        loudness.max_short_term_lufs = kept.max_short_term.get();
        loudness.true_peak_dbtp = kept.true_peak.map(peak_db);
    }

    /// Samples since reset that were not finite.
    pub(crate) fn not_finite(&self) -> u64 {
        self.since_reset.not_finite
    }
}

fn raise(kept: &mut Maybe, value: Option<f64>) {
    if let Some(value) = value
        && kept.get().is_none_or(|k| value > k)
    {
        *kept = Maybe::new(Some(value));
    }
}

fn true_peak_meter(channels: u32, rate: SampleRate) -> EbuR128 {
    #[expect(
        clippy::expect_used,
        reason = "1 or 2 channels at 22.05 to 384 kHz are within its documented limits"
    )]
    EbuR128::new(channels, rate.hz(), Mode::TRUE_PEAK).expect("channels and rate are within its limits")
}
