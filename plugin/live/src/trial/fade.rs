//! Fades from one plan to the next without a click.

use super::channel_delay::ChannelDelays;
use super::delay_line::DelayLine;
use super::fractional_delay;
use super::mailbox::Mailbox;
use crate::stream_format::StreamFormat;
use plumbline_programme::mics::LONGEST_TRIAL_SECS;

/// Length of a fade in seconds. A steeper one would be audible, a longer one gains nothing (common practice, no
/// source).
const FADE_SECS: f64 = 0.02;

/// The phase of a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Nothing changes.
    Steady,
    /// The lines fill as far as the new plan reaches back; the old plan is still heard.
    Filling,
    /// The fade from old to new, at this frame.
    Fading(usize),
}

/// The audio thread's part of a trial: it alters the channels of one opening.
#[derive(Debug)]
pub(crate) struct Alteration {
    channels: usize,
    lines: [DelayLine; 2],
    /// Share of the new plan at each frame of a fade: a raised cosine.
    ramp: Box<[f32]>,
    now: ChannelDelays,
    next: ChannelDelays,
    phase: Phase,
    /// Frames in the lines, including silence before a start; 0 while output equals input.
    filled: usize,
    /// Frames that the lines can hold.
    longest: usize,
    /// Turn of the mailbox when the latest plan was taken.
    seen: u32,
}

impl Alteration {
    /// Allocates all memory, and starts with the posted plan, after silence.
    pub(crate) fn new(format: &StreamFormat, mailbox: &Mailbox) -> Self {
        let mut seen = 0;
        let plan = mailbox.first(&mut seen).unwrap_or(ChannelDelays::WIRE);
        let rate = f64::from(format.rate.hz());
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a tenth of a second")]
        let frames = |secs: f64| (secs * rate).ceil() as usize;
        // The delay and the kernel around it.
        let longest = frames(LONGEST_TRIAL_SECS) + fractional_delay::TAPS;
        let steps = frames(FADE_SECS);
        #[expect(clippy::cast_possible_truncation, reason = "audio is single precision")]
        let share = |k: usize| {
            (0.5 - 0.5 * (std::f64::consts::PI * (k + 1) as f64 / (steps + 1) as f64).cos()) as f32
        };
        Self {
            channels: usize::from(format.channels),
            lines: [DelayLine::new(longest), DelayLine::new(longest)],
            ramp: (0..steps).map(share).collect(),
            now: plan,
            next: plan,
            phase: Phase::Steady,
            filled: if plan.is_wire() { 0 } else { longest },
            longest,
            seen,
        }
    }

    /// Tail in frames: how far the plans reach back.
    ///
    /// # Realtime Safety
    /// Compares numbers.
    pub(crate) fn tail_frames(&self) -> u32 {
        let longest = self.now.lookback().max(self.next.lookback());
        u32::try_from(longest).unwrap_or(u32::MAX)
    }

    /// Begins a new stretch after silence; any change under way is completed at once.
    ///
    /// # Realtime Safety
    /// Writes allocated memory, and only while audio is altered.
    pub(crate) fn restart(&mut self) {
        if self.phase == Phase::Steady && self.now.is_wire() {
            return;
        }
        self.now = self.next;
        self.phase = Phase::Steady;
        for line in &mut self.lines {
            line.clear();
        }
        self.filled = if self.now.is_wire() { 0 } else { self.longest };
    }

    /// Alters a block in place, one slice per channel. Frames that not every slice has pass unchanged.
    ///
    /// # Realtime Safety
    /// While nothing is altered: one atomic load, no access to the samples. Otherwise, per frame and channel, two
    /// stores and at most 2·64 products. No allocation, lock, wait or system call.
    pub(crate) fn run(&mut self, mailbox: &Mailbox, channels: &mut [&mut [f32]]) {
        let used = channels.len().min(self.channels);
        let channels = &mut channels[..used];
        let frames = channels.iter().map(|c| c.len()).min().unwrap_or(0);
        let mut done = 0;
        while done < frames {
            self.take(mailbox);
            let most = match self.phase {
                Phase::Steady if self.now.is_wire() => return,
                Phase::Steady => frames,
                Phase::Filling => self.next.lookback() - self.filled,
                Phase::Fading(at) => self.ramp.len() - at,
            };
            let end = (done + most).min(frames);
            for c in 0..self.channels {
                match channels.get_mut(c) {
                    Some(samples) => self.pass(c, &mut samples[done..end]),
                    // A missing channel is silent.
                    None => (done..end).for_each(|_| self.lines[c].put(0.0)),
                }
            }
            self.advance(end - done);
            done = end;
        }
    }

    /// Takes a new plan, unless a fade is under way.
    fn take(&mut self, mailbox: &Mailbox) {
        if matches!(self.phase, Phase::Fading(_)) {
            return;
        }
        if let Some(plan) = mailbox.take(&mut self.seen) {
            self.next = plan;
            if plan == self.now {
                self.settle();
            } else {
                self.phase = Phase::Filling;
                self.advance(0);
            }
        }
    }

    /// Alters one channel over a run of frames in one phase.
    fn pass(&mut self, channel: usize, samples: &mut [f32]) {
        let line = &mut self.lines[channel];
        let (now, next) = (&self.now.ways[channel], &self.next.ways[channel]);
        match self.phase {
            // A channel that does not change is not faded: that would round its samples.
            Phase::Fading(at) if now != next => {
                for (sample, share) in samples.iter_mut().zip(&self.ramp[at..]) {
                    line.put(*sample);
                    *sample = (1.0 - share) * line.get(now) + share * line.get(next);
                }
            }
            _ => {
                for sample in samples {
                    line.put(*sample);
                    *sample = line.get(now);
                }
            }
        }
    }

    fn advance(&mut self, frames: usize) {
        self.filled = (self.filled + frames).min(self.longest);
        match self.phase {
            Phase::Steady => {}
            Phase::Filling if self.filled < self.next.lookback() => {}
            Phase::Filling => self.phase = Phase::Fading(0),
            Phase::Fading(at) if at + frames < self.ramp.len() => self.phase = Phase::Fading(at + frames),
            Phase::Fading(_) => {
                self.now = self.next;
                self.settle();
            }
        }
    }

    fn settle(&mut self) {
        self.phase = Phase::Steady;
        if self.now.is_wire() {
            self.filled = 0;
        }
    }
}

#[cfg(test)]
mod tests;
