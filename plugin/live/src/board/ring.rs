//! The latest four seconds of a layer's audio in its board file.
//!
//! Frames have a free-running count. A small table of stretches maps it to positions on the song or clock grid; a new
//! stretch begins where the positions jump.

use super::identity::{grid_of, grid_word};
use super::layout::STRETCH_WORDS;
use super::mapping::Mapping;
use super::seqlock::Record;
use crate::sync::{AtomicF32, AtomicU64, fence};
use plumbline_measure::{Grid, LARGEST_SAMPLE, Position};
use std::sync::atomic::Ordering;

/// The parts of a board file that hold audio; [`Sheet`](super::layout::Sheet) describes them.
pub(super) struct Ring<'a> {
    pub(super) stretch_count: &'a AtomicU64,
    pub(super) stretches: &'a [Record<STRETCH_WORDS>],
    pub(super) frames_claimed: &'a AtomicU64,
    pub(super) frame_count: &'a AtomicU64,
    pub(super) samples: &'a [AtomicF32],
}

impl<'a> Ring<'a> {
    pub(super) fn of(mapping: &'a Mapping) -> Self {
        let sheet = mapping.sheet();
        Self {
            stretch_count: &sheet.stretch_count,
            stretches: &sheet.stretches,
            frames_claimed: &sheet.frames_claimed,
            frame_count: &sheet.frame_count,
            samples: mapping.audio(),
        }
    }
}

/// Index of item `n` in a ring of length `ring`.
fn place(n: u64, ring: usize) -> usize {
    usize::try_from(n % ring.max(1) as u64).unwrap_or(0)
}

/// The writing end.
#[derive(Debug, Default)]
pub(super) struct Writer {
    frames: u64,
    stretches: u64,
    /// Expected position of the next frame in the present stretch.
    next: Option<Position>,
}

impl Writer {
    /// Writes audio at a position on the board's grids. `capacity` is the ring's length in frames.
    pub(super) fn write(&mut self, ring: &Ring<'_>, capacity: usize, at: Position, channels: &[&[f32]]) {
        let n = channels.iter().map(|c| c.len()).min().unwrap_or(0).min(capacity);
        let end = self.frames + n as u64;
        ring.frames_claimed.store(end, Ordering::Relaxed);
        // A reader that sees a sample written below then sees the claim as well.
        fence(Ordering::Release);
        if self.next != Some(at) {
            let words = [self.frames, grid_word(at.grid), at.sample.cast_unsigned()];
            ring.stretches[place(self.stretches, ring.stretches.len())].write(self.stretches, &words);
            self.stretches += 1;
            ring.stretch_count.store(self.stretches, Ordering::Release);
        }
        let start = place(self.frames, capacity);
        for (ring, samples) in ring.samples.chunks_exact(capacity.max(1)).zip(channels) {
            let (first, second) = samples[..n].split_at(n.min(capacity - start));
            copy_in(&ring[start..], first);
            copy_in(ring, second);
        }
        self.frames = end;
        self.next = Some(Position { sample: at.sample.saturating_add_unsigned(n as u64), ..at });
        ring.frame_count.store(end, Ordering::Release);
    }
}

fn copy_in(ring: &[AtomicF32], samples: &[f32]) {
    for (to, sample) in ring.iter().zip(samples) {
        to.store(*sample, Ordering::Relaxed);
    }
}

/// Reads frames from `at` on into vectors of equal length, which they fill. A layer with fewer channels repeats its
/// last one. NaN and ∞ become silence; larger samples are clamped.
///
/// Returns whether all of it was available, and still was after the read. If not, the vectors hold nothing of use.
pub(super) fn read(
    ring: &Ring<'_>,
    capacity: usize,
    channels: usize,
    at: Position,
    to: &mut [Vec<f32>],
) -> bool {
    let n = to.iter().map(Vec::len).min().unwrap_or(0);
    let Some(first) = find(ring, capacity, at, n) else { return false };
    let start = place(first, capacity);
    let channel_rings: Vec<&[AtomicF32]> =
        ring.samples.chunks_exact(capacity.max(1)).take(channels).collect();
    for (c, to) in to.iter_mut().enumerate() {
        let Some(samples) = channel_rings.get(c.min(channels.saturating_sub(1))) else { return false };
        let (one, two) = to[..n].split_at_mut(n.min(capacity - start));
        copy_out(&samples[start..], one);
        copy_out(samples, two);
    }
    fence(Ordering::Acquire);
    // Frames before this are replaced, or being replaced.
    let oldest = ring.frames_claimed.load(Ordering::Relaxed).saturating_sub(capacity as u64);
    oldest <= first
}

fn copy_out(ring: &[AtomicF32], to: &mut [f32]) {
    for (to, sample) in to.iter_mut().zip(ring) {
        let sample = sample.load(Ordering::Relaxed);
        *to = if sample.is_finite() { sample.clamp(-LARGEST_SAMPLE, LARGEST_SAMPLE) } else { 0.0 };
    }
}

/// The free-running count at a position, in the latest pass from which the ring holds `n` frames there.
fn find(ring: &Ring<'_>, capacity: usize, at: Position, n: usize) -> Option<u64> {
    let frames = ring.frame_count.load(Ordering::Relaxed);
    // Every stretch among these frames is then counted: otherwise the last one known would seem to reach into the next.
    fence(Ordering::Acquire);
    let stretches = ring.stretch_count.load(Ordering::Relaxed);
    fence(Ordering::Acquire);
    if n == 0 || n > capacity {
        return None;
    }
    let oldest = frames.saturating_sub(capacity as u64);
    let mut end = frames;
    for number in (stretches.saturating_sub(ring.stretches.len() as u64)..stretches).rev() {
        let (found, [start, grid, sample]) =
            ring.stretches[place(number, ring.stretches.len())].read().ok()?;
        if found != number || start > end {
            return None;
        }
        let into = at.sample.checked_sub(sample.cast_signed()).and_then(|d| u64::try_from(d).ok());
        if let (Some(into), true) = (into, grid_of(grid) == Some(at.grid))
            && let Some(first) = start.checked_add(into)
            && first >= oldest
            && first.checked_add(n as u64).is_some_and(|last| last <= end)
        {
            return Some(first);
        }
        if start <= oldest {
            return None;
        }
        end = start;
    }
    None
}

/// A clock position converted between a process's zero and the board's; a song position does not change.
pub(super) fn moved(at: Position, rate_hz: u32, zero_secs: i64) -> Position {
    match at.grid {
        Grid::Song => at,
        Grid::Clock => {
            let by = zero_secs.saturating_mul(i64::from(rate_hz));
            Position { sample: at.sample.saturating_add(by), ..at }
        }
    }
}
