//! What is said of a programme in words, and what is taken away of it: findings and joins in sentences, and the log as
//! CSV, JSON and one page of HTML.
//!
//! Data in, text out: no file, clock, thread or pixel. The screen takes its sentences from here, the plug-in and the
//! command their exports.
#![forbid(unsafe_code)]

pub mod figures;
pub mod words;
