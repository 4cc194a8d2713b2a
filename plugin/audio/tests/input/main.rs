//! Audio files in: one file, several files on one line, and faults in them.
#![expect(clippy::cast_possible_truncation, reason = "the sizes and samples of test files are small")]

mod build;
mod cue_points;
mod hostile;
mod line;
mod marks;
mod refusals;
mod resampling;
mod waves;
