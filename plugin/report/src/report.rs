//! The report on the log of one layer.

use crate::format::{SESSION, Session, VERSION};
use crate::moment::Time;
use crate::rounding::or_zero;
use crate::{conversion, html, spreadsheet};
use plumbline_measure::{BandEdges, SampleRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::{Lanes, Log, Role, Rules};

/// A report on one layer. Texts are UTF-8; equal data give equal texts.
#[derive(Clone, Copy, Debug)]
pub struct Report<'a> {
    /// Name of the layer; may be empty.
    pub layer: &'a str,
    /// Role.
    pub role: Role,
    /// Date of the report, as shown: "2026-11-25 21:40:33".
    pub date: &'a str,
    /// Label of the song's first sample; carries the frame rate.
    pub start: Timecode,
    /// Sample rate.
    pub rate: SampleRate,
    /// Delivery target.
    pub target: Target,
    /// Limits of findings.
    pub rules: &'a Rules,
    /// Edges of the named bands of the passages.
    pub band_edges: BandEdges,
    /// Findings, joins, marks and statistics.
    pub log: &'a Log,
    /// Lanes of the picture over time; `None` leaves the picture out.
    pub lanes: Option<&'a Lanes>,
}

impl Report<'_> {
    /// Everything except the pictures, as plain data.
    pub fn document(&self) -> Session {
        let (log, time) = (self.log, self.time());
        let passages = (0..).zip(&log.passages);
        Session {
            format: SESSION.to_owned(),
            version: VERSION,
            date: self.date.to_owned(),
            layer: self.layer.to_owned(),
            role: self.role.name().to_owned(),
            programme: conversion::programme(time, None),
            target: conversion::target(&self.target, None),
            rules: conversion::rules(self.rules),
            band_edges_hz: self.band_edges.edges().map(or_zero),
            findings: log.findings.iter().map(|one| conversion::finding(one, time)).collect(),
            joins: log.joins.iter().map(|one| conversion::join(one, None, time)).collect(),
            dropped: log.dropped,
            marks: log.marks.iter().map(|mark| time.tenth(mark.grid, mark.index)).collect(),
            passages: passages
                .map(|(at, line)| conversion::passage(at, line, &self.band_edges, time))
                .collect(),
        }
    }

    /// The findings as CSV (RFC 4180): a line of names, then one finding a line.
    pub fn findings_csv(&self) -> String {
        spreadsheet::findings(self.layer, &self.document().findings)
    }

    /// The joins as CSV.
    pub fn joins_csv(&self) -> String {
        spreadsheet::joins(self.layer, &self.document().joins)
    }

    /// The statistics as CSV: everything since reset first, then the passages.
    pub fn passages_csv(&self) -> String {
        spreadsheet::passages(self.layer, &self.document().passages)
    }

    /// Everything except the pictures as JSON (RFC 8259).
    pub fn json(&self) -> String {
        conversion::json(&self.document())
    }

    /// One self-contained page with pictures.
    pub fn html(&self) -> String {
        html::page(&self.document(), self.log, self.lanes, self.time())
    }

    fn time(&self) -> Time {
        Time { start: self.start, rate: self.rate }
    }
}
