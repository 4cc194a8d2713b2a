//! Words and formats: verdicts, findings and joins in sentences; reports as JSON, CSV and one page of HTML.
//!
//! # The way of the data
//! [`Report`] borrows a [`Log`](plumbline_programme::Log) and what is known of its layer; [`survey`] does the same with what
//! the command measured of files ([`plumbline_programme::survey`]). Both make plain data of it ([`format`](mod@format)), in
//! which every number is finite; JSON and CSV write that down, HTML shows it with pictures. `docs/formats.md` documents
//! each field.
//!
//! # What is absent here
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
