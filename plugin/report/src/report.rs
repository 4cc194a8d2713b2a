//! What a report is made of, and the texts that can be made of it.

use crate::document::Document;
use crate::{csv, html};
use plumbline_measure::{BandEdges, SampleRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::{Lanes, Log, Role, Rules};

/// What is reported on. All texts are UTF-8, and equal data give equal texts.
#[derive(Clone, Copy, Debug)]
pub struct Report<'a> {
    /// Name of the layer; may be empty.
    pub layer: &'a str,
    /// What it holds.
    pub role: Role,
    /// When the report was made, as it is to be shown: "2026-11-25 21:40:33".
    pub date: &'a str,
    /// Label of the song's first sample; carries the frame rate.
    pub start: Timecode,
    /// The sample rate that samples are counted at.
    pub rate: SampleRate,
    /// What the programme is delivered to.
    pub target: Target,
    /// From where on something is a finding.
    pub rules: &'a Rules,
    /// Edges of the named bands of the passages.
    pub band_edges: BandEdges,
    /// Findings, joins, marks and statistics.
    pub log: &'a Log,
    /// What the picture over time is drawn from; without it there is none.
    pub lanes: Option<&'a Lanes>,
}

impl Report<'_> {
    /// Everything but the pictures, as plain data.
    pub fn document(&self) -> Document {
        Document::of(self)
    }

    /// The findings as CSV (RFC 4180), a line each under a line of names.
    pub fn findings_csv(&self) -> String {
        csv::findings(self.layer, &self.document().findings)
    }

    /// The joins as CSV.
    pub fn joins_csv(&self) -> String {
        csv::joins(self.layer, &self.document().joins)
    }

    /// The statistics as CSV: all since reset first, then the passages.
    pub fn passages_csv(&self) -> String {
        csv::passages(&self.document())
    }

    /// Everything but the pictures as JSON (RFC 8259).
    pub fn json(&self) -> String {
        // Maps with text keys and finite numbers only: there is nothing that could fail.
        serde_json::to_string_pretty(&self.document()).unwrap_or_default() + "\n"
    }

    /// One page with pictures that needs nothing but itself.
    pub fn html(&self) -> String {
        html::page(self, &self.document())
    }
}
