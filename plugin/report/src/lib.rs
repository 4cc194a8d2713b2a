//! What is said of a programme in words, and what is taken away of it: verdicts, findings and joins in sentences, and
//! the log as CSV, JSON and one page of HTML.
//!
//! # The way of the data
//! [`Report`] borrows a [`Log`](plumbline_programme::Log) and what is known of its layer; [`Report::document`] makes plain
//! data of it, in which every number is finite and every moment stands as seconds, sample and timecode; JSON and CSV
//! write that down, HTML shows it with pictures. `docs/report.md` documents each field.
//!
//! [`survey::Survey`] is the same for what the command measured of files; `docs/report-format.md` documents it.
//!
//! # What is absent here
//! No file, clock, thread or pixel: text out, date in. Equal data give equal bytes. The screen takes its sentences from
//! here, the plug-in and the command their exports.
#![forbid(unsafe_code)]

mod csv;
pub mod document;
pub mod figures;
mod html;
mod lines;
mod report;
pub mod survey;
pub mod words;

pub use document::Document;
pub use report::Report;
