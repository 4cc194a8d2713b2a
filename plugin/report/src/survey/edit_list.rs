//! The joins as an edit decision list in the form CMX 3600.
//!
//! The form is from memory (CMX 3600 as the trade exchanges it; SMPTE ST 258 describes its successor): a title, the
//! counting of frames, then a line for each event: number, reel, track, transition, source in and out, record in and
//! out. A dissolve takes two lines of the same number: a cut of no length, then `D` with its length in frames.

use crate::words::turns_or_hides;
use plumbline_measure::Timecode;
use plumbline_programme::survey::{Mark, Survey};

/// Letters kept of a title and of a clip's name; a survey reads as many.
const LETTERS: usize = 64;
/// Longest transition, in frames: three digits.
const TRANSITION_MOST: i64 = 999;

/// An event: from a frame of the programme to another, and the mark at its start.
struct Event<'a> {
    start: i64,
    end: i64,
    mark: Option<&'a Mark>,
}

/// The list. The programme is the source of every event (`AX`: a reel without a number), so its source times are its
/// record times; all tracks are cut (`AA/V`).
pub(super) fn edit_list(survey: &Survey) -> String {
    let frames = survey.start.rate();
    let counting = if frames.dropped() > 0 { "DROP FRAME" } else { "NON-DROP FRAME" };
    let mut out = format!("TITLE: {}\r\nFCM: {counting}\r\n\r\n", one_line(&title(survey)));
    let label = |frame: i64| Timecode::from_frame(frames, survey.start.frame().saturating_add(frame));
    for (number, event) in (1..).zip(events(survey)) {
        let [start, end] = [label(event.start), label(event.end)];
        let length = event.mark.map_or(0, |mark| i64::from(mark.transition_frames));
        let length = length.min(event.end - event.start).min(TRANSITION_MOST);
        let mut line = |how: &str, from: Timecode, to: Timecode| {
            out += &format!("{number:03}  AX       AA/V  {how:<8} {from} {to} {from} {to}\r\n");
        };
        if length > 0 {
            line("C", start, start);
            line(&format!("D    {length:03}"), start, end);
        } else {
            line("C", start, end);
        }
        if let Some(name) = event.mark.and_then(|mark| mark.name.as_deref()) {
            // A dissolve names the clip that begins; a cut has only that one.
            let what = if length > 0 { "TO" } else { "FROM" };
            out += &format!("* {what} CLIP NAME: {}\r\n", one_line(name));
        }
    }
    out
}

/// The events: from the start to the first join, from each join to the next, from the last to the end. Joins in the
/// same frame give one event.
fn events(survey: &Survey) -> Vec<Event<'_>> {
    let frame = |sample: i64| survey.start.rate().frame_at(sample, survey.rate);
    let last = i64::try_from(survey.frames).unwrap_or(i64::MAX).saturating_sub(1).max(0);
    let end = frame(last).saturating_add(1);
    let mut events: Vec<Event<'_>> = vec![Event { start: 0, end, mark: None }];
    for join in &survey.joins {
        let start = frame(join.sample);
        if let Some(before) = events.last_mut()
            && (before.start + 1..end).contains(&start)
        {
            before.end = start;
            events.push(Event { start, end, mark: survey.mark_of(join) });
        }
    }
    events
}

/// Name of the programme: that of the mix's file, else of the bus.
fn title(survey: &Survey) -> String {
    survey.bus.files.first().map_or_else(|| survey.bus.name.clone(), |file| file.name())
}

fn one_line(text: &str) -> String {
    let tame: String = text.chars().map(|c| if turns_or_hides(c) { ' ' } else { c }).take(LETTERS).collect();
    tame.trim().to_owned()
}
