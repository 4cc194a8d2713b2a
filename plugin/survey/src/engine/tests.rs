//! The engine on lists of samples, against the same arithmetic without files, blocks and threads.

mod direct;
mod edges;
mod marks;
mod sums;

use super::source::Source;
use super::{Layer, Plan, Progress, SurveyError, run};
use plumbline_audio::StemsError;
use plumbline_measure::{SampleRate, Tenth};
use plumbline_programme::Role;
use plumbline_programme::survey::{File, Survey};
use std::ops::ControlFlow;

/// Stems in memory, read together.
pub(super) struct Memory {
    rate: SampleRate,
    stems: Vec<Vec<Vec<f32>>>,
    at: usize,
}

impl Memory {
    pub(super) fn new(rate_hz: u32, stems: Vec<Vec<Vec<f32>>>) -> Self {
        Self { rate: SampleRate::new(rate_hz).expect("a rate to measure at"), stems, at: 0 }
    }

    fn length(&self) -> usize {
        self.stems.iter().flatten().map(Vec::len).max().unwrap_or(0)
    }
}

impl Source for Memory {
    fn rate(&self) -> SampleRate {
        self.rate
    }

    fn origin(&self) -> Option<u64> {
        None
    }

    fn frames(&self) -> Option<u64> {
        Some(self.length() as u64)
    }

    fn channels(&self) -> Vec<usize> {
        self.stems.iter().map(Vec::len).collect()
    }

    fn file(&self, stem: usize) -> File {
        let channels = self.stems[stem].len();
        File { path: format!("stems/stem {stem}.wav"), channels, ..File::default() }
    }

    fn read(&mut self, blocks: &mut [Vec<Vec<f32>>]) -> Result<usize, StemsError> {
        let room = blocks.iter().flatten().map(Vec::len).min().unwrap_or(0);
        let count = room.min(self.length() - self.at);
        for (block, stem) in blocks.iter_mut().zip(&self.stems) {
            for (to, from) in block.iter_mut().zip(stem) {
                for (i, sample) in to[..count].iter_mut().enumerate() {
                    *sample = from.get(self.at + i).copied().unwrap_or(0.0);
                }
            }
        }
        self.at += count;
        Ok(count)
    }
}

/// Noise in −1…1, the same in every run.
pub(super) fn noise(seed: u64, frames: usize) -> Vec<f32> {
    let mut x = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    (0..frames)
        .map(|_| {
            x ^= x << 13;
            x ^= x >> 7;
            x ^= x << 17;
            (x >> 40) as f32 / (1_u64 << 23) as f32 - 1.0
        })
        .collect()
}

pub(super) fn scaled(samples: &[f32], gain: f32) -> Vec<f32> {
    samples.iter().map(|sample| sample * gain).collect()
}

/// Noise that alternates between loud and quiet every half second.
pub(super) fn hits(seed: u64, frames: usize, rate_hz: usize, gain: f32) -> Vec<f32> {
    let mut samples = noise(seed, frames);
    for (i, sample) in samples.iter_mut().enumerate() {
        *sample *= if (i / (rate_hz / 2)).is_multiple_of(2) { gain } else { gain * 0.01 };
    }
    samples
}

pub(super) fn layer(name: &str, role: Role, stems: &[usize]) -> Layer {
    Layer {
        name: name.to_owned(),
        role,
        stems: stems.to_vec(),
        recording: plumbline_programme::Recording::default(),
    }
}

/// Runs a survey and returns it with its tenths.
pub(super) fn surveyed(memory: Memory, plan: &Plan) -> Result<(Survey, Vec<Vec<Tenth>>), SurveyError> {
    let mut memory = memory;
    let mut tenths = vec![Vec::new(); plan.layers.len() + 1];
    let mut hand = |layer: usize, tenth: &Tenth| {
        tenths[layer].push(*tenth);
        Ok(())
    };
    let mut told: Vec<Progress> = Vec::new();
    let survey = run(&mut memory, plan, Some(&mut hand), &mut |progress| {
        told.push(progress);
        ControlFlow::Continue(())
    })?;
    assert_eq!(
        told.last().map(|progress| Some(progress.frames)),
        Some(memory.frames()),
        "all of it was told"
    );
    assert!(told.windows(2).all(|two| two[0].frames < two[1].frames));
    Ok((survey, tenths))
}

#[test]
fn what_is_read_is_what_is_measured() {
    use plumbline_measure::rate::{HIGHEST_RATE_HZ, LOWEST_RATE_HZ};
    assert_eq!(plumbline_audio::RATES_HZ, LOWEST_RATE_HZ..=HIGHEST_RATE_HZ);
}
