//! The progress of a survey, and the reasons for its failure.

use super::plan::PlanError;
use plumbline_audio::StemsError;
use plumbline_measure::RateError;
use std::io;
use thiserror::Error;

/// Progress of a survey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Samples of the time line measured so far.
    pub frames: u64,
    /// Samples in total; `None` if a file does not state its length.
    pub of: Option<u64>,
}

/// The reason why a survey failed. Nothing was written, except tenths by the caller.
#[derive(Debug, Error)]
pub enum SurveyError {
    /// The plan cannot be carried out.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A file cannot be read further.
    #[error(transparent)]
    Stems(#[from] StemsError),
    /// A sample rate that is not measured.
    #[error("{0}; convert the files to 48 kHz")]
    Rate(#[from] RateError),
    /// The caller failed to write a tenth.
    #[error("a tenth could not be written: {0}; choose a folder that has room")]
    Tenths(#[source] io::Error),
    /// Stopped by the caller.
    #[error("stopped before the end; nothing was reported")]
    Stopped,
    /// No file has any samples.
    #[error("none of the files holds a sample: there is nothing to measure")]
    Empty,
}
