//! The pairs within one layer: left and right, and the bus and its side-chain.

use crate::stream_format::StreamFormat;
use plumbline_measure::Position;
use plumbline_programme::mics::PairTracker;
use plumbline_programme::pair::Correlator;
use plumbline_programme::{Mic, PairLine, Recording};

/// The latest audio of one layer, and its pairs.
pub(super) struct Intra {
    format: StreamFormat,
    window: usize,
    tracker: PairTracker,
    /// Left and right of the bus and of its side-chain, as many as the format has. All of equal length, except while a
    /// chunk of the main bus waits for its side-chain chunk.
    sound: [Vec<f32>; 4],
    /// Expected position of the next frame.
    next: Option<Position>,
    /// Frames since the latest window.
    fresh: usize,
}

impl Intra {
    pub(super) fn new(format: StreamFormat, window: usize) -> Self {
        let mut tracker = PairTracker::new(format.rate, false);
        let channels = (format.channels == 2).then_some([Mic::Left, Mic::Right]);
        let side = (format.side_channels > 0).then_some([Mic::Main, Mic::SideChain]);
        let pairs: Vec<[Mic; 2]> = channels.into_iter().chain(side).collect();
        tracker.set_pairs(&pairs);
        Self { format, window, tracker, sound: Default::default(), next: None, fresh: 0 }
    }

    /// Clears audio and pairs.
    pub(super) fn clear(&mut self) {
        self.cut();
        self.tracker.clear();
    }

    /// Separates audio before and after a change of the trial.
    pub(super) fn part(&mut self) {
        self.cut();
        self.tracker.seam(None);
    }

    /// Drops the audio: the next audio does not continue it.
    fn cut(&mut self) {
        self.sound.iter_mut().for_each(Vec::clear);
        self.next = None;
        self.fresh = 0;
    }

    /// Sets how left and right were recorded, as the user states it.
    pub(super) fn set_recording(&mut self, recording: &Recording) {
        self.tracker.set_recording(recording);
    }

    /// Takes audio of the main bus. Returns whether a window was compared.
    pub(super) fn hear(&mut self, correlator: &mut Correlator, at: Position, main: &[&[f32]]) -> bool {
        if self.tracker.pairs().next().is_none() {
            return false;
        }
        // Complete audio is compared first: that of the side-chain comes after that of the main bus.
        let compared = self.compare(correlator);
        if self.next != Some(at) || !self.is_even() {
            self.cut();
            self.tracker.seam(None);
        }
        let frames = main.iter().map(|c| c.len()).min().unwrap_or(0);
        let room = self.window + self.tracker.step() as usize + frames;
        for (sound, samples) in self.sound.iter_mut().zip(main) {
            sound.reserve_exact(room.saturating_sub(sound.len()));
            sound.extend_from_slice(&samples[..frames]);
        }
        self.fresh += frames;
        let sample = at.sample.saturating_add(i64::try_from(frames).unwrap_or(i64::MAX));
        self.next = Some(Position { sample, ..at });
        compared
    }

    /// Takes audio of the side-chain for the same frames.
    pub(super) fn hear_side(&mut self, side: &[&[f32]]) {
        for (sound, samples) in self.sound[2..].iter_mut().zip(side) {
            sound.extend_from_slice(samples);
        }
    }

    fn is_even(&self) -> bool {
        let (bus, side) = self.sound.split_at(2);
        let length = bus[0].len();
        let of = |sound: &[Vec<f32>], channels: u8| {
            sound.iter().take(usize::from(channels)).all(|sound| sound.len() == length)
        };
        of(bus, self.format.channels) && of(side, self.format.side_channels)
    }

    /// Compares the latest window, if one is due.
    fn compare(&mut self, correlator: &mut Correlator) -> bool {
        let length = self.sound[0].len();
        let Some(end) = self.next.filter(|_| self.is_even()) else { return false };
        if length < self.window || self.fresh < self.tracker.step() as usize {
            return false;
        }
        let later_secs = self.fresh as f64 / self.format.rate.as_f64();
        self.fresh = 0;
        let Self { tracker, sound, window, format, .. } = self;
        sound.iter_mut().for_each(|sound| drop(sound.drain(..sound.len().saturating_sub(*window))));
        tracker.begin(end, later_secs);
        let [left, right, side_left, side_right] = sound.each_ref().map(Vec::as_slice);
        tracker.hear(correlator, Mic::Left, &[left]);
        tracker.hear(correlator, Mic::Right, &[right]);
        tracker.hear(correlator, Mic::Main, &[left, right][..usize::from(format.channels)]);
        let side = usize::from(format.side_channels).min(2);
        tracker.hear(correlator, Mic::SideChain, &[side_left, side_right][..side]);
        let pairs: Vec<[Mic; 2]> = tracker.pairs().collect();
        pairs.into_iter().for_each(|pair| tracker.compare(correlator, pair));
        true
    }

    /// The lines of these pairs.
    pub(super) fn lines(&self) -> Vec<PairLine> {
        self.tracker.lines(|_| false)
    }
}
