//! Marks from an edit decision list in the form CMX 3600: the record-in of each event.
//!
//! The form is from memory (CMX 3600 as the trade exchanges it; SMPTE ST 258 describes its successor).

use super::entry::{self, Entry};
use super::fault::MarksFault;
use super::label::{label, looks_like_one};
use super::text::decoded;
use plumbline_measure::FrameRate;

/// The form of an event, for messages.
const FORM: &str = "expected an event as `001 AX V C 00:00:00:00 00:00:05:00 01:00:00:00 01:00:05:00`: number, reel, \
                    track, C, D or W001 with a length, source in and out, record in and out";
/// The most digits of a number or a length.
const DIGITS_MOST: usize = 6;

/// Reads marks from an edit decision list: the record-in of each event, with the length of its dissolve or wipe and the
/// name of its clip. Events of several tracks at the same place give one mark when they are placed.
///
/// `FCM` before the first event must agree with the frame rate; later ones are about sources. Comments other than clip
/// names, motion effects (`M2`) and other words are skipped.
///
/// # Errors
/// [`MarksFault`] with the first line that cannot be read.
pub fn read_edit_list(bytes: &[u8], frames: FrameRate) -> Result<Vec<Entry>, MarksFault> {
    let text = decoded(bytes)?;
    let mut entries: Vec<Entry> = Vec::new();
    for (number, line) in (1..).zip(text.split('\n')) {
        let fault = |what: String| MarksFault::new(number, what);
        let line = line.trim();
        if let Some(comment) = line.strip_prefix('*') {
            take_name(comment, entries.last_mut());
        } else if let Some(counting) = after(line, "FCM:") {
            if entries.is_empty() {
                agree(counting, frames).map_err(fault)?;
            }
        } else if is_event(line) {
            entries.push(event(line, frames).map_err(fault)?);
        }
    }
    if entries.is_empty() {
        return Err(MarksFault::new(1, format!("no line of the file is an event; {FORM}")));
    }
    Ok(entries)
}

/// The rest of a line that begins with a word, in any case.
fn after<'a>(line: &'a str, word: &str) -> Option<&'a str> {
    let head = line.get(..word.len())?;
    head.eq_ignore_ascii_case(word).then(|| line[word.len()..].trim())
}

/// Whether a line is an event, or a broken one: it begins with a digit, or has several timecodes.
fn is_event(line: &str) -> bool {
    let labels = line.split_whitespace().filter(|word| looks_like_one(word)).count();
    line.starts_with(|c: char| c.is_ascii_digit()) || (labels >= 2 && after(line, "TITLE:").is_none())
}

/// Takes the name of a clip; at a dissolve, the name after `TO` is that of the incoming clip.
fn take_name(comment: &str, entry: Option<&mut Entry>) {
    let Some(entry) = entry else { return };
    let comment = comment.trim();
    if let Some(name) = after(comment, "TO CLIP NAME:").and_then(entry::name) {
        entry.name = Some(name);
    } else if let Some(name) = after(comment, "FROM CLIP NAME:").and_then(entry::name)
        && entry.name.is_none()
    {
        entry.name = Some(name);
    }
}

/// Checks that the list counts frames the same way as the survey.
fn agree(counting: &str, frames: FrameRate) -> Result<(), String> {
    let drops = match counting.to_ascii_uppercase().replace('-', " ").as_str() {
        "DROP FRAME" => true,
        "NON DROP FRAME" => false,
        _ => return Err(format!("FCM is `{counting}`; expected DROP FRAME or NON-DROP FRAME")),
    };
    match (drops, frames.dropped() > 0) {
        (true, false) => Err(format!(
            "the list is DROP FRAME, and the frame rate is {}; give the rate of the list, --frame-rate 29.97df or \
             59.94df",
            frames.name()
        )),
        (false, true) => Err(format!(
            "the list is NON-DROP FRAME, and the frame rate is {}; give the rate of the list, as in --frame-rate \
             29.97ndf",
            frames.name()
        )),
        _ => Ok(()),
    }
}

/// Reads an event.
fn event(line: &str, frames: FrameRate) -> Result<Entry, String> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let [number, _reel, _track, how, rest @ ..] = &words[..] else { return Err(FORM.to_owned()) };
    if !is_number(number) {
        return Err(format!("the event number `{number}` cannot be read; {FORM}"));
    }
    let transition = how.to_ascii_uppercase();
    let is_wipe = transition.strip_prefix('W').is_some_and(is_number);
    let is_key = matches!(transition.as_str(), "K" | "KB" | "KO");
    if !(is_wipe || is_key || matches!(transition.as_str(), "C" | "D")) {
        return Err(format!("the transition `{how}` is not known; {FORM}"));
    }
    // The two layers of a key may be written apart: `K B`, `K O`.
    let rest = match rest {
        ["B" | "O", rest @ ..] if is_key => rest,
        rest => rest,
    };
    let (length, labels) = match rest {
        [length, labels @ ..] if labels.len() == 4 && transition != "C" => (Some(*length), labels),
        labels if labels.len() == 4 && (is_key || transition == "C") => (None, labels),
        [length, labels @ ..] if labels.len() == 4 => {
            return Err(format!("a cut has no length, and here is `{length}`; {FORM}"));
        }
        _ => return Err(FORM.to_owned()),
    };
    let transition_frames = match length {
        Some(length) if !is_number(length) => {
            return Err(format!("the transition length `{length}` cannot be read as frames; {FORM}"));
        }
        // The length of a key is that of the key's fade, not of the picture.
        Some(length) if !is_key => length.parse().map_err(|_| FORM.to_owned())?,
        _ => 0,
    };
    // Sources may count frames differently.
    if let Some(wrong) = labels[..2].iter().find(|text| !looks_like_one(text)) {
        return Err(format!("the source timecode `{wrong}` cannot be read; expected HH:MM:SS:FF"));
    }
    let record = |what: &str, text: &str| label(text, frames).map_err(|error| format!("{what}: {error}"));
    let start = record("record in", labels[2])?;
    record("record out", labels[3])?;
    Ok(Entry { label: Some(start), transition_frames, ..Entry::default() })
}

fn is_number(text: &str) -> bool {
    (1..=DIGITS_MOST).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit())
}
