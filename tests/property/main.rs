//! Laws that hold for any input: splits, resets, gains, swaps, hostile samples, any position.
//!
//! Draws are seeded, so every run makes the same ones, and every law asserts their number.

mod advice;
mod balance;
mod events;
mod findings;
mod hostile;
mod joins;
mod loss_attribution;
mod numbers;
mod pair;
mod programme;
mod silence;
mod splits;
mod stereo;
mod strategies;
mod sums;
