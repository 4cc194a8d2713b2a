//! The findings, or the joins, as cue points in a copy of the mix.

use crate::command::error::CommandError;
use crate::command::interrupt::Stop;
use crate::command::report_dir::Draft;
use plumbline_audio::{CueError, Mark, Reader, StemInfo, copy_with_marks};
use plumbline_programme::survey::Survey as Measured;
use plumbline_report::words;
use std::fs::File;
use std::io::{self, Read};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// The file to copy.
pub(super) struct Copy {
    path: PathBuf,
    /// Sample of the time line at which the file starts.
    start: i64,
    /// Sample rate of the file; that of the time line may differ.
    rate_hz: u32,
    /// The option that asked for the copy, for messages.
    option: &'static str,
}

impl Copy {
    /// Makes sure, before anything is measured, that the mix is a file that can hold marks.
    pub(super) fn of(path: &Path, info: &StemInfo, option: &'static str) -> Result<Self, CommandError> {
        let mut head = [0; 12];
        let is_wav = File::open(path).and_then(|mut file| file.read_exact(&mut head)).is_ok()
            && matches!(&head[..4], b"RIFF" | b"RF64" | b"BW64")
            && head.ends_with(b"WAVE");
        if !is_wav {
            return Err(CommandError::Input(format!(
                "{}; or leave {option} out",
                CueError::NotWav { path: path.to_owned() }
            )));
        }
        let reader = Reader::open(path).map_err(|error| CommandError::Input(error.to_string()))?;
        Ok(Self { path: path.to_owned(), start: info.start, rate_hz: reader.rate_hz(), option })
    }

    /// Writes the copy.
    pub(super) fn write(
        &self,
        measured: &Measured,
        draft: &Draft,
        name: &str,
        stop: &Stop,
    ) -> Result<(), CommandError> {
        let failed = |cause: &io::Error| draft.failed(name, cause);
        self.copy(&self.marks(measured), &draft.place(name), &failed, stop)
    }

    /// Writes a copy with the joins as points; `failed` makes the error for a failed write.
    pub(super) fn write_joins(
        &self,
        measured: &Measured,
        place: &Path,
        failed: &dyn Fn(&io::Error) -> CommandError,
        stop: &Stop,
    ) -> Result<(), CommandError> {
        self.copy(&self.joins(measured), place, failed, stop)
    }

    fn copy(
        &self,
        marks: &[Mark],
        place: &Path,
        failed: &dyn Fn(&io::Error) -> CommandError,
        stop: &Stop,
    ) -> Result<(), CommandError> {
        let mut go_on = |_, _| if stop.asked() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) };
        copy_with_marks(&self.path, place, marks, &mut go_on).map_err(|error| match error {
            CueError::Stopped { .. } => CommandError::Stopped,
            CueError::Output { cause, .. } => failed(&cause),
            CueError::Exists { .. } => failed(&io::ErrorKind::AlreadyExists.into()),
            error @ (CueError::NotWav { .. }
            | CueError::Damaged { .. }
            | CueError::TooLong { .. }
            | CueError::Input { .. }) => {
                CommandError::Input(format!("{error}; or leave {} out", self.option))
            }
        })
    }

    /// A point for each join in the file, on the file's own time line, labelled with the name of its mark.
    fn joins(&self, measured: &Measured) -> Vec<Mark> {
        let line = i128::from(measured.rate.hz());
        // Rounded up: at another rate, the sample before would be in the previous frame of timecode.
        let own = |sample: i64| (i128::from(sample) * i128::from(self.rate_hz) + line - 1) / line;
        let within = measured.joins.iter().filter(|join| join.sample >= self.start);
        within
            .map(|join| Mark {
                start: u64::try_from(own(join.sample - self.start)).unwrap_or(u64::MAX),
                frames: 0,
                label: measured.mark_of(join).and_then(|mark| mark.name.clone()).unwrap_or_default(),
            })
            .collect()
    }

    /// A mark for each finding within the file, on the file's own time line.
    fn marks(&self, measured: &Measured) -> Vec<Mark> {
        let line = i128::from(measured.rate.hz());
        let own = |tenth: i64| {
            let sample = measured.rate.tenth_start(tenth).saturating_sub(self.start).max(0);
            let frame = i128::from(sample) * i128::from(self.rate_hz) / line;
            u64::try_from(frame).unwrap_or(u64::MAX)
        };
        let within = measured.findings.iter().filter(|f| measured.rate.tenth_start(f.end) > self.start);
        within
            .map(|finding| {
                let start = own(finding.start);
                let label = format!("{}, {}", words::kind(finding.kind), words::worst(finding));
                Mark { start, frames: own(finding.end).saturating_sub(start), label }
            })
            .collect()
    }
}
