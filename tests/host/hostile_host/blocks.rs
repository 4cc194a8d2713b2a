//! Blocks of any shape, and what must come out of them.

use super::events::Events;
use super::numbers::Numbers;
use clap_sys::process::clap_process;
use plumbline_tests::rig::clap_raw::{Plugin, block, bus};
use std::ptr::null_mut;

/// The longest block, in frames: beyond what the hosts announce.
pub(super) const LONGEST: u32 = 1_000;
/// The most channels of a bus.
pub(super) const CHANNELS: usize = 4;
/// The most buses each way.
const BUSES: usize = 3;

/// A bus as a host gives it.
#[derive(Clone, Debug)]
enum Given {
    /// No list of channels, whatever their count.
    NoList(usize),
    /// Channels; a missing one is null.
    Channels(Vec<bool>),
}

/// The shape of a block.
#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub(super) frames: u32,
    inputs: Option<Vec<Given>>,
    outputs: Option<Vec<Given>>,
    /// Whether outputs are the inputs' memory where both exist.
    in_place: bool,
}

impl Shape {
    /// A block of two channels.
    pub(super) fn plain(frames: u32) -> Self {
        let stereo = || Some(vec![Given::Channels(vec![true; 2])]);
        Self { frames, inputs: stereo(), outputs: stereo(), in_place: false }
    }

    pub(super) fn random(numbers: &mut Numbers) -> Self {
        let frames = [0, 1, 63, 64, 65, 511, 512, 513, LONGEST][numbers.below(9) as usize];
        let in_place = numbers.one_in(3);
        let mut buses = || {
            (!numbers.one_in(20)).then(|| {
                (0..[0, 1, 1, 1, 2, 2, 3][numbers.below(7) as usize])
                    .map(|_| {
                        let count = [0, 1, 2, 2, 2, 2, 3, CHANNELS][numbers.below(8) as usize];
                        if numbers.one_in(15) {
                            Given::NoList(count)
                        } else {
                            Given::Channels((0..count).map(|_| !numbers.one_in(25)).collect())
                        }
                    })
                    .collect()
            })
        };
        Self { frames, inputs: buses(), outputs: buses(), in_place }
    }

    /// Whether a layout of `main` channels can measure it, or there is nothing to measure.
    pub(super) fn fits(&self, main: usize) -> bool {
        let has = |buses: &Option<Vec<Given>>| match buses.as_deref() {
            Some([Given::Channels(all), ..]) => all.len() >= main && all[..main].iter().all(|there| *there),
            _ => false,
        };
        self.frames == 0 || (has(&self.inputs) && has(&self.outputs))
    }

    fn has(buses: Option<&Vec<Given>>, at: usize, channel: usize) -> bool {
        match buses.and_then(|buses| buses.get(at)) {
            Some(Given::Channels(all)) => all.get(channel).is_some_and(|there| *there),
            _ => false,
        }
    }

    fn shares_memory(&self, at: usize, channel: usize) -> bool {
        self.in_place && Self::has(self.inputs.as_ref(), at, channel)
    }
}

type Samples = [[Vec<u32>; CHANNELS]; BUSES];

/// The memory of a host's blocks, as bits.
pub(super) struct Sound {
    inputs: Samples,
    outputs: Samples,
}

impl Sound {
    pub(super) fn new() -> Self {
        let silence = || std::array::from_fn(|_| std::array::from_fn(|_| vec![0_u32; LONGEST as usize]));
        Self { inputs: silence(), outputs: silence() }
    }

    /// Any bits in the inputs: NaN, infinities and subnormal numbers too.
    pub(super) fn fill(&mut self, numbers: &mut Numbers, shape: &Shape) {
        for channel in self.inputs.iter_mut().chain(&mut self.outputs).flatten() {
            let mut seed = numbers.below(u32::MAX);
            for bits in channel.iter_mut().take(shape.frames as usize) {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                *bits = seed;
            }
        }
    }

    /// Plays a block and checks every output.
    pub(super) fn play(&mut self, plugin: Plugin<'_>, shape: &Shape, events: &Events) {
        let before = self.inputs.clone();
        let mut events = events.clone();
        // Memory just behind the lists that a host would not give: a plug-in that reads it crashes.
        let mut input_pointers: Vec<Vec<*mut f32>> = Vec::new();
        let mut output_pointers: Vec<Vec<*mut f32>> = Vec::new();
        for (buses, pointers, is_input) in
            [(&shape.inputs, &mut input_pointers, true), (&shape.outputs, &mut output_pointers, false)]
        {
            for (at, given) in buses.iter().flatten().enumerate() {
                let channels = match given {
                    Given::NoList(_) => Vec::new(),
                    Given::Channels(all) => all
                        .iter()
                        .enumerate()
                        .map(|(channel, there)| {
                            let own = if is_input || shape.shares_memory(at, channel) {
                                &mut self.inputs
                            } else {
                                &mut self.outputs
                            };
                            if *there { own[at][channel].as_mut_ptr().cast() } else { null_mut() }
                        })
                        .collect(),
                };
                pointers.push(channels);
            }
        }
        let lists = |buses: &Option<Vec<Given>>, pointers: &mut [Vec<*mut f32>]| -> Vec<_> {
            let mut list: Vec<_> = buses
                .iter()
                .flatten()
                .zip(pointers)
                .map(|(given, channels)| match given {
                    Given::NoList(count) => {
                        let mut none = bus(&mut []);
                        none.data32 = null_mut();
                        none.channel_count = u32::try_from(*count).unwrap();
                        none
                    }
                    Given::Channels(_) => bus(channels),
                })
                .collect();
            let mut trap = bus(&mut []);
            trap.data32 = std::ptr::without_provenance_mut(8);
            trap.channel_count = 2;
            list.push(trap);
            list
        };
        let inputs = lists(&shape.inputs, &mut input_pointers);
        let mut outputs = lists(&shape.outputs, &mut output_pointers);
        let count = |buses: &Option<Vec<Given>>| u32::try_from(buses.as_ref().map_or(2, Vec::len)).unwrap();
        let block = clap_process {
            audio_inputs: if shape.inputs.is_some() { inputs.as_ptr() } else { std::ptr::null() },
            audio_outputs: if shape.outputs.is_some() { outputs.as_mut_ptr() } else { null_mut() },
            audio_inputs_count: count(&shape.inputs),
            audio_outputs_count: count(&shape.outputs),
            in_events: events.table(),
            out_events: events.out(),
            ..block(shape.frames)
        };
        // SAFETY: every pointer is null or to memory of this block's length.
        let _ = unsafe { plugin.process(&raw const block) };
        let frames = shape.frames as usize;
        for at in 0..BUSES {
            for channel in 0..CHANNELS {
                if !Shape::has(shape.outputs.as_ref(), at, channel) {
                    continue;
                }
                let there = Shape::has(shape.inputs.as_ref(), at, channel);
                let out = if there && shape.in_place { &self.inputs } else { &self.outputs };
                let out = &out[at][channel][..frames];
                if there {
                    assert_eq!(
                        out,
                        &before[at][channel][..frames],
                        "bus {at}, channel {channel} of {shape:?}"
                    );
                } else {
                    assert!(out.iter().all(|bits| *bits == 0), "bus {at}, channel {channel} of {shape:?}");
                }
            }
        }
    }
}
