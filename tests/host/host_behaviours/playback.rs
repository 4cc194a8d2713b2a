//! Playback of a sound through an instance, block by block, as by one kind of host.

use super::behaviour::{Behaviour, Pause, Threads};
use super::rng::Rng;
use plumbline_tests::rig::clap::Processor;
use std::time::Duration;

/// The pause of a host that stops calling: longer than a layer takes to report that no audio is running.
const AWAY: Duration = Duration::from_millis(350);

/// A sound, and the position in it.
pub(super) struct Playback<'m> {
    behaviour: &'m Behaviour,
    /// `None` only while it restarts processing.
    processor: Option<Processor>,
    input: Vec<Vec<f32>>,
    out: Vec<Vec<f32>>,
    /// The transport's position at the start of the sound.
    start: usize,
    at: usize,
    paused: bool,
    slept: bool,
}

impl<'m> Playback<'m> {
    pub(super) fn new(
        behaviour: &'m Behaviour,
        processor: Processor,
        input: Vec<Vec<f32>>,
        start: usize,
    ) -> Self {
        let out = vec![Vec::with_capacity(input[0].len()); input.len()];
        let processor = Some(processor);
        Self { behaviour, processor, input, out, start, at: 0, paused: false, slept: false }
    }

    /// Plays to the end. Returns the processor, the input and the output.
    pub(super) fn play(mut self, rng: &mut Rng) -> (Processor, [Vec<Vec<f32>>; 2]) {
        match self.behaviour.threads {
            Threads::Main => while self.step(rng) {},
            Threads::Own => std::thread::scope(|scope| {
                scope.spawn(|| while self.step(rng) {});
            }),
            Threads::Changing => {
                while self.at < self.input[0].len() {
                    let blocks = 1 + rng.below(32);
                    std::thread::scope(|scope| {
                        scope.spawn(|| (0..blocks).all(|_| self.step(rng)));
                    });
                }
            }
        }
        (self.processor.take().expect("awake"), [self.input, self.out])
    }

    /// Plays one block. False at the end.
    fn step(&mut self, rng: &mut Rng) -> bool {
        let frames = self.input[0].len();
        let middle = frames / 2..frames * 5 / 8;
        let mut count = self.behaviour.blocks.next(rng).min(frames - self.at);
        // A pause begins and ends between two blocks.
        for edge in [middle.start, middle.end] {
            if self.at < edge {
                count = count.min(edge - self.at);
            }
        }
        let block: Vec<&[f32]> =
            self.input.iter().map(|channel| &channel[self.at..self.at + count]).collect();
        let silent = block.iter().all(|channel| channel.iter().all(|sample| *sample == 0.0));
        let in_the_middle = middle.contains(&self.at);
        let past = match self.behaviour.pause {
            Pause::SleepsOnSilence => silent,
            Pause::Bypasses => in_the_middle,
            _ => false,
        };
        if past {
            self.slept = true;
            for (whole, part) in self.out.iter_mut().zip(&block) {
                whole.extend_from_slice(part);
            }
        } else {
            let mut processor = self.processor.take().expect("awake");
            if std::mem::take(&mut self.slept) {
                processor = processor.nap().unwrap();
            }
            if in_the_middle && !std::mem::replace(&mut self.paused, true) {
                match self.behaviour.pause {
                    Pause::StopsCalling => std::thread::sleep(AWAY),
                    Pause::Resets => processor.reset(),
                    _ => {}
                }
            }
            let moment = self.behaviour.transport.moment(self.start + self.at, self.behaviour.rate_hz);
            let made = processor.process(&block, None, moment, &[]).unwrap();
            for (whole, part) in self.out.iter_mut().zip(made) {
                whole.extend(part);
            }
            self.processor = Some(processor);
        }
        self.at += count;
        self.at < frames
    }
}
