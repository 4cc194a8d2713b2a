//! The pairs within one layer: left with right, and the bus with its side-chain.

use super::follow::Followed;
use crate::link::Lane;
use plumbline_measure::Position;
use plumbline_programme::pair::{Correlator, Spectrum, fold};
use plumbline_programme::{Mic, PairLine};

/// The newest audio of one layer, and its pairs.
pub(super) struct Own {
    lane: Lane,
    window: usize,
    hop: usize,
    /// Left and right of the bus and of its side-chain, as far as there are: all of one length, but while a chunk of
    /// the main bus waits for the one of the side-chain.
    sound: [Vec<f32>; 4],
    /// Where the next frame continues.
    next: Option<Position>,
    /// Frames since the newest window.
    fresh: usize,
    channels: Option<Followed>,
    side: Option<Followed>,
    spectra: [Spectrum; 2],
    folded: Vec<f32>,
}

impl Own {
    pub(super) fn new(lane: Lane, window: usize) -> Self {
        let mut own = Self {
            lane,
            window,
            hop: (lane.rate.hz() / 4).max(1) as usize,
            sound: Default::default(),
            next: None,
            fresh: 0,
            channels: None,
            side: None,
            spectra: Default::default(),
            folded: Vec::new(),
        };
        own.clear();
        own
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.cut();
        let followed = |there: bool, mics| there.then(|| Followed::new(mics));
        self.channels = followed(self.lane.channels == 2, [Mic::Left, Mic::Right]);
        self.side = followed(self.lane.side_channels > 0, [Mic::Main, Mic::SideChain]);
    }

    /// What comes differs from what came.
    pub(super) fn part(&mut self) {
        self.cut();
        self.seam();
    }

    fn seam(&mut self) {
        self.channels.iter_mut().chain(&mut self.side).for_each(Followed::seam);
    }

    /// What is heard does not continue.
    fn cut(&mut self) {
        self.sound.iter_mut().for_each(Vec::clear);
        self.next = None;
        self.fresh = 0;
    }

    /// Takes audio of the main bus. Returns whether a window was compared.
    pub(super) fn hear(&mut self, correlator: &mut Correlator, at: Position, main: &[&[f32]]) -> bool {
        if self.channels.is_none() && self.side.is_none() {
            return false;
        }
        // First what is whole: the side-chain's audio comes behind that of the main bus.
        let compared = self.compare(correlator);
        if self.next != Some(at) || !self.is_even() {
            self.cut();
            self.seam();
        }
        let frames = main.iter().map(|c| c.len()).min().unwrap_or(0);
        let room = self.window + self.hop + frames;
        for (sound, samples) in self.sound.iter_mut().zip(main) {
            sound.reserve_exact(room.saturating_sub(sound.len()));
            sound.extend_from_slice(&samples[..frames]);
        }
        self.fresh += frames;
        let sample = at.sample.saturating_add(i64::try_from(frames).unwrap_or(i64::MAX));
        self.next = Some(Position { sample, ..at });
        compared
    }

    /// Takes the side-chain's audio of the same frames.
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
        of(bus, self.lane.channels) && of(side, self.lane.side_channels)
    }

    /// Compares the newest window, if one is due.
    fn compare(&mut self, correlator: &mut Correlator) -> bool {
        let length = self.sound[0].len();
        let Some(end) = self.next.filter(|_| self.is_even()) else { return false };
        if length < self.window || self.fresh < self.hop {
            return false;
        }
        let later_secs = self.fresh as f64 / self.lane.rate.as_f64();
        self.fresh = 0;
        let Self { sound, spectra: [first, second], channels, side, folded, window, .. } = self;
        sound.iter_mut().for_each(|sound| drop(sound.drain(..sound.len().saturating_sub(*window))));
        let [left, right, side_left, side_right] = &*sound;
        if let Some(followed) = channels {
            correlator.spectrum(left, first);
            correlator.spectrum(right, second);
            let seen = correlator.compare(first, second);
            followed.take(&seen, correlator, end, later_secs);
        }
        if let Some(followed) = side {
            let bus = [&left[..], &right[..]];
            fold(&bus[..usize::from(self.lane.channels)], folded);
            correlator.spectrum(folded, first);
            let chain = [&side_left[..], &side_right[..]];
            fold(&chain[..usize::from(self.lane.side_channels)], folded);
            correlator.spectrum(folded, second);
            let seen = correlator.compare(first, second);
            followed.take(&seen, correlator, end, later_secs);
        }
        true
    }

    /// The lines of its pairs.
    pub(super) fn lines(&self, rate_hz: u32) -> impl Iterator<Item = PairLine> {
        self.channels.iter().chain(&self.side).map(move |followed| followed.line(rate_hz, 1.0))
    }
}
