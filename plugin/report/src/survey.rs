//! The report of a survey of files, as JSON, CSV and one page.

mod conversion;
mod edit_list;
mod page;
mod sentences;
mod worst_stretch;

use crate::{format, spreadsheet};
use plumbline_programme::survey::{Mics, Survey};

pub use crate::spreadsheet::{tenth_line, tenths_head};

/// Everything except the pictures, as plain data.
pub fn document(survey: &Survey) -> format::Survey {
    conversion::survey(survey)
}

/// Everything except the pictures as JSON (RFC 8259).
pub fn json(survey: &Survey) -> String {
    crate::conversion::json(&document(survey))
}

/// The findings as CSV (RFC 4180), in the columns of the plug-in's export.
pub fn findings_csv(survey: &Survey) -> String {
    spreadsheet::findings(&survey.bus.name, &document(survey).findings)
}

/// The joins as CSV, in the columns of the plug-in's export.
pub fn joins_csv(survey: &Survey) -> String {
    spreadsheet::joins(&survey.bus.name, &document(survey).joins)
}

/// The joins as marks in CSV: timecode, seconds, name, transition. `--marks` reads them again.
pub fn marks_csv(survey: &Survey) -> String {
    spreadsheet::marks(&document(survey).joins)
}

/// The joins as an edit decision list in the form CMX 3600: an event from each join to the next.
pub fn marks_edl(survey: &Survey) -> String {
    edit_list::edit_list(survey)
}

/// One self-contained page with pictures.
pub fn html(survey: &Survey) -> String {
    page::page(survey, &document(survey))
}

/// Pairs of microphones as plain data.
pub fn mics_document(mics: &Mics) -> format::Mics {
    conversion::mics(mics)
}

/// Pairs of microphones as JSON (RFC 8259).
pub fn mics_json(mics: &Mics) -> String {
    crate::conversion::json(&mics_document(mics))
}

/// The advice on each pair, one sentence each, in the order of the pairs.
pub fn mics_advice(mics: &Mics) -> Vec<String> {
    mics_document(mics).pairs.into_iter().map(|pair| pair.advice).collect()
}

#[cfg(test)]
mod tests;
