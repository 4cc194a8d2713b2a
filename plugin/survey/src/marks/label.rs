//! A timecode in a file of marks.

use plumbline_measure::timecode::TimecodeError;
use plumbline_measure::{FrameRate, Timecode};

/// Reads `HH:MM:SS:FF`, with `;` or `.` before the frames too.
///
/// # Errors
/// A sentence that names the text and what was expected. A `;` is refused at rates without drop-frame, where the text
/// would mean a different moment.
pub(super) fn label(text: &str, frames: FrameRate) -> Result<Timecode, String> {
    let rate = frames.name();
    if text.contains(';') && frames.dropped() == 0 {
        return Err(format!(
            "`{text}` is a drop-frame timecode, and the frame rate is {rate}; give the rate of the marks, \
             --frame-rate 29.97df or 59.94df"
        ));
    }
    Timecode::parse(frames, text).map_err(|error| match error {
        TimecodeError::Form => format!("the timecode `{text}` cannot be read; expected HH:MM:SS:FF"),
        TimecodeError::Range { .. } => format!(
            "the timecode `{text}` does not exist at {rate}; expected hours to 23, minutes and seconds to 59, frames to {}",
            frames.counted() - 1
        ),
        TimecodeError::Skipped { .. } => {
            format!("`{text}` does not exist at {rate}: drop-frame counting skips it; expected the label before or after")
        }
    })
}

/// Whether a text has the shape of a timecode: four numbers separated by `:`, `;` or `.`.
pub(super) fn looks_like_one(text: &str) -> bool {
    let mut parts = 0;
    text.split([':', ';', '.']).all(|part| {
        parts += 1;
        (1..=3).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit())
    }) && parts == 4
}
