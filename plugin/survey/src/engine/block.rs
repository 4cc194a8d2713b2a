//! A block of all stems: one second.

use super::source::Source;

/// Frames of a block: one second.
pub(super) fn block_frames(source: &impl Source) -> usize {
    source.rate().hz() as usize
}

/// A block of samples by stem and channel.
pub(super) type Block = Vec<Vec<Vec<f32>>>;

pub(super) fn empty_blocks(source: &impl Source) -> Block {
    let frames = block_frames(source);
    source.channels().iter().map(|channels| vec![vec![0.0; frames]; *channels]).collect()
}
