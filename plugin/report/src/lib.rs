//! Words and formats: verdicts, findings and joins in sentences; reports as JSON, CSV and one page of HTML.
//!
//! # Data flow
//! [`Report`] borrows a [`Log`](plumbline_programme::Log) and the facts about its layer; [`survey`] does the same with
//! the command's results for files ([`plumbline_programme::survey`]). Both turn it into plain data
//! ([`format`](mod@format)) in which every number is finite; JSON and CSV write the data out, HTML shows it with
//! pictures. `docs/formats.md` documents each field.
//!
//! # What is absent
//! No file, clock, thread or pixel: text out, date in. Equal data give equal bytes. The screen takes its sentences from
//! here, the plug-in and the command their exports.
#![forbid(unsafe_code)]

mod conversion;
pub mod figures;
pub mod format;
mod html;
mod moment;
mod report;
mod rounding;
mod spreadsheet;
pub mod survey;
pub mod words;

pub use report::Report;
