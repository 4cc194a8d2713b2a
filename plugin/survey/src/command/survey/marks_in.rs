//! The files of `--marks`: read before anything is measured, placed once the time line is known.

use crate::command::error::CommandError;
use crate::command::output::Output;
use plumbline_audio::{CuePoints, cue_points};
use plumbline_measure::{FrameRate, Timecode};
use plumbline_programme::MOST_ENTRIES;
use plumbline_programme::survey::Mark;
use plumbline_survey::marks::{self, Entry, Line};
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// The most bytes to read of a text: far more than any list of marks has.
const BYTES_MOST: u64 = 1 << 24;

/// The marks of one file.
pub(super) struct MarkFile {
    path: PathBuf,
    given: Given,
}

/// The content of a file, before its marks are placed on the time line.
enum Given {
    Entries(Vec<Entry>),
    Cues(CuePoints),
}

/// The form of a file of marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// CSV.
    Table,
    /// CMX 3600.
    EditList,
    /// Cue points in a WAV.
    Cues,
}

impl Form {
    /// The form that the ending of a name indicates; `None` for any other ending.
    pub(super) fn of(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_str()?;
        let is = |wanted: &str| ending.eq_ignore_ascii_case(wanted);
        [("csv", Self::Table), ("edl", Self::EditList), ("wav", Self::Cues)]
            .into_iter()
            .find_map(|(wanted, form)| is(wanted).then_some(form))
    }
}

/// Reads the files.
pub(super) fn read(paths: &[PathBuf], frames: FrameRate) -> Result<Vec<MarkFile>, CommandError> {
    paths.iter().map(|path| Ok(MarkFile { path: path.clone(), given: given(path, frames)? })).collect()
}

fn given(path: &Path, frames: FrameRate) -> Result<Given, CommandError> {
    let form = Form::of(path).ok_or_else(|| {
        CommandError::Usage(format!(
            "--marks {}: marks are read from .csv, .edl, or the cue points of a .wav. Nothing was done",
            path.display()
        ))
    })?;
    let read = match form {
        Form::Table => marks::read_table,
        Form::EditList => marks::read_edit_list,
        Form::Cues => {
            let cues = cue_points(path).map_err(|error| CommandError::Input(error.to_string()))?;
            return Ok(Given::Cues(cues));
        }
    };
    let bytes = text(path)?;
    let entries = read(&bytes, frames)
        .map_err(|fault| CommandError::Input(format!("{}, {fault}. Nothing was measured", path.display())))?;
    Ok(Given::Entries(entries))
}

/// The bytes of a text.
fn text(path: &Path) -> Result<Vec<u8>, CommandError> {
    let failed = |cause: io::Error| {
        CommandError::Input(format!(
            "{}: marks cannot be read ({cause}); check that the file is there and that you may read it",
            path.display()
        ))
    };
    // Checked before opening, because opening a pipe without a writer blocks.
    let meta = fs::metadata(path).map_err(failed)?;
    if !meta.is_file() {
        return Err(CommandError::Input(format!(
            "{}: is not a file; give --marks the name of a file",
            path.display()
        )));
    }
    if meta.len() > BYTES_MOST {
        return Err(CommandError::Input(format!(
            "{}: is too long for a list of marks, of which {} MB are read; give a shorter one",
            path.display(),
            BYTES_MOST >> 20
        )));
    }
    let mut bytes = Vec::new();
    File::open(path).and_then(|file| file.take(BYTES_MOST).read_to_end(&mut bytes)).map_err(failed)?;
    Ok(bytes)
}

/// The marks of all files on the time line. Marks outside it are counted for the user.
///
/// # Errors
/// If all marks of a file are outside, or there are more marks than a survey keeps joins.
pub(super) fn place(
    files: &[MarkFile],
    line: Line,
    origin: Option<u64>,
    output: &Output,
) -> Result<Vec<Mark>, CommandError> {
    let (mut all, mut outside) = (Vec::new(), 0);
    for file in files {
        let entries = match &file.given {
            Given::Entries(entries) => entries.clone(),
            Given::Cues(cues) => marks::from_cues(cues, origin, line.rate),
        };
        let skipped = marks::place(&entries, line).outside;
        if skipped > 0 && skipped == entries.len() {
            return Err(CommandError::Input(format!(
                "{}: none of its {skipped} marks is in the programme, {}; give the timecode of its first sample with \
                 --start, or the frame rate of the marks with --frame-rate. Nothing was measured",
                file.path.display(),
                span(line)
            )));
        }
        if entries.is_empty() {
            output.note(&format!("{}: holds no marks", file.path.display()));
        }
        outside += skipped;
        all.extend(entries);
    }
    let placed = marks::place(&all, line);
    if placed.marks.len() > MOST_ENTRIES {
        return Err(CommandError::Input(format!(
            "--marks: {} marks, but at most {MOST_ENTRIES} joins are kept; survey the programme in parts. Nothing was measured",
            placed.marks.len()
        )));
    }
    if outside > 0 {
        output.note(&format!(
            "skipped {outside} of {} marks: outside the programme, {}",
            all.len(),
            span(line)
        ));
    }
    if placed.crowded > 0 {
        output.note(&format!(
            "joined {} marks to the one before: less than 0.1 s apart, they are measured as one",
            placed.crowded
        ));
    }
    Ok(placed.marks)
}

/// "01:00:00:00 to 01:00:30:00".
fn span(line: Line) -> String {
    let end = line.frames.and_then(|frames| i64::try_from(frames).ok());
    match end {
        Some(end) => format!("{} to {}", line.start, Timecode::at(line.start, end, line.rate)),
        None => format!("from {} on", line.start),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ending_tells_the_form() {
        let of = |name: &str| Form::of(Path::new(name));
        assert_eq!(
            [of("a.csv"), of("b/JOINS.EDL"), of("c.d.Wav")],
            [Some(Form::Table), Some(Form::EditList), Some(Form::Cues)]
        );
        assert_eq!([of("csv"), of(".csv"), of("a.txt"), of("a.csv.gz"), of("")], [None; 5]);
    }
}
