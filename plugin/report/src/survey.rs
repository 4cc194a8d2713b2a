//! The report of a survey: what was measured of files, as JSON, CSV and one page.
//!
//! [`Survey`] holds measured values as the arithmetic gives them. `document` makes the JSON of it (schema
//! [`document::SCHEMA`], documented in `docs/report-format.md`), `page` one page of HTML; the tables of findings and
//! joins are those of the plug-in's export.

pub mod document;
mod make;
mod page;
mod say;
mod tenths;

pub use tenths::{tenth_line, tenths_head};

use crate::document::{FindingLine, JoinLine};
use crate::{csv, lines};
use document::{Document, MicsDocument};
use plumbline_measure::{BandEdges, Loudness, Meters, SampleRate, Spectral, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::session::{LossByLayer, Match, Part, Unaccounted};
use plumbline_programme::verdict::Verdicts;
use plumbline_programme::{
    BalanceTarget, Finding, Join, Lanes, LayerId, PARTS, PairLine, PassageLine, Role, Rules,
};

/// A file, or some channels of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct File {
    /// Where it lies.
    pub path: String,
    /// Channels taken from it, 1 or 2.
    pub channels: usize,
    /// Their names as the recorder wrote them; may be empty.
    pub channel_names: Vec<String>,
    /// Sample of the time line at which it starts.
    pub start: i64,
    /// Length in samples, where the file tells.
    pub frames: Option<u64>,
    /// Samples since midnight, where the file tells.
    pub time_reference: Option<u64>,
}

impl File {
    /// Its name without folder and ending.
    pub fn name(&self) -> String {
        let file = self.path.rsplit(['/', '\\']).next().unwrap_or_default();
        file.rsplit_once('.').map_or(file, |(name, _)| if name.is_empty() { file } else { name }).to_owned()
    }
}

/// Everything that is known of one sound by itself.
#[derive(Clone, Debug, Default)]
pub struct Sound {
    /// 1 or 2.
    pub channels: u8,
    /// Readings over all of it: energies summed over analysis frames.
    pub spectral: Spectral,
    /// Peaks, overs, and the DC over all of it; the rest is as of its end.
    pub meters: Meters,
    /// Loudness of all of it.
    pub loudness: Loudness,
    /// Lowest correlation over 300 ms.
    pub lowest_correlation: Option<f64>,
    /// Samples that were NaN or infinite and were measured as silence.
    pub not_finite: u64,
}

/// The mix, or the sum of the layers.
#[derive(Clone, Debug, Default)]
pub struct Bus {
    /// Its name.
    pub name: String,
    /// Whether it is a mix that was given; else it is the sum of the layers.
    pub is_mix: bool,
    /// Files of the mix.
    pub files: Vec<File>,
    /// What was measured of it.
    pub sound: Sound,
}

/// One layer.
#[derive(Clone, Debug, Default)]
pub struct Layer {
    /// Its number in findings and matches.
    pub id: LayerId,
    /// Its name.
    pub name: String,
    /// What it holds.
    pub role: Role,
    /// The files that it is the sum of.
    pub files: Vec<File>,
    /// What was measured of it.
    pub sound: Sound,
    /// Its part in the programme.
    pub part: Part,
}

/// One pair of microphones over the whole time line.
#[derive(Clone, Debug)]
pub struct Pair {
    /// Who; a positive delay means that the second trails the first.
    pub names: [String; 2],
    /// The reading that most speaks for, and what it costs the sum of all that is compared.
    pub line: PairLine,
    /// End of the window of that reading, seconds on the line; `None` where there is none.
    pub read_at_secs: Option<f64>,
    /// Delays found in single windows over the whole line: seconds on it, and delay in seconds.
    pub delays: Vec<[f64; 2]>,
    /// Windows in which there was something to compare, and those of them in which a delay was found.
    pub windows: [u64; 2],
}

/// All pairs.
#[derive(Clone, Debug, Default)]
pub struct Pairs {
    /// Who costs most first.
    pub pairs: Vec<Pair>,
    /// Microphones that were not compared, because there are too many.
    pub uncompared: u32,
}

/// A stretch in which the bus loses sound in mono, and the layers behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loss {
    /// First sample.
    pub start: i64,
    /// The sample after the last.
    pub end: i64,
    /// What leaving a layer out does.
    pub loss: LossByLayer,
}

/// What a survey found.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Version of the program.
    pub version: String,
    /// When the report was made, as it is to be shown.
    pub date: Option<String>,
    /// Samples a second.
    pub rate: SampleRate,
    /// Length of the time line in samples.
    pub frames: u64,
    /// Label of its first sample; carries the frame rate.
    pub start: Timecode,
    /// What the programme is delivered to.
    pub target: Target,
    /// What that is called.
    pub target_name: Option<String>,
    /// The shares that are aimed at.
    pub balance: BalanceTarget,
    /// From where on something is a finding.
    pub rules: Rules,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Air temperature for metres of path, °C.
    pub celsius: f64,
    /// The mix, or the sum of the layers.
    pub bus: Bus,
    /// The layers.
    pub layers: Vec<Layer>,
    /// The parts of the roles.
    pub roles: [Part; PARTS],
    /// The mix against the sum of its layers.
    pub unaccounted: Unaccounted,
    /// Each Foley layer against the loudest natural one.
    pub matches: Vec<Match>,
    /// The pairs of microphones, and left with right of the bus.
    pub pairs: Pairs,
    /// For each named band in which the bus loses sound in mono the worst two seconds, lowest band first.
    pub losses: Vec<Loss>,
    /// The verdicts on the whole programme.
    pub verdicts: Verdicts,
    /// Findings, by start.
    pub findings: Vec<Finding>,
    /// Joins, by time.
    pub joins: Vec<Join>,
    /// Findings and joins that were let go because there were too many.
    pub dropped: u64,
    /// Statistics of all of it, summed over tenths as the plug-in sums them.
    pub passage: PassageLine,
    /// What the picture over time is drawn from.
    pub lanes: Lanes,
}

impl Survey {
    /// Everything but the pictures, as plain data.
    pub fn document(&self) -> Document {
        Document::of(self)
    }

    /// Everything but the pictures as JSON (RFC 8259).
    pub fn json(&self) -> String {
        // Maps with text keys and finite numbers only: there is nothing that could fail.
        serde_json::to_string_pretty(&self.document()).unwrap_or_default() + "\n"
    }

    /// The findings as CSV (RFC 4180), in the columns of the plug-in's export.
    pub fn findings_csv(&self) -> String {
        csv::findings(&self.bus.name, &self.finding_lines())
    }

    /// The joins as CSV, in the columns of the plug-in's export.
    pub fn joins_csv(&self) -> String {
        csv::joins(&self.bus.name, &self.join_lines())
    }

    /// One page with pictures that needs nothing but itself.
    pub fn html(&self) -> String {
        page::page(self)
    }

    fn time(&self) -> lines::Time {
        lines::Time { start: self.start, rate: self.rate }
    }

    fn finding_lines(&self) -> Vec<FindingLine> {
        self.findings.iter().map(|finding| lines::finding(finding, self.time())).collect()
    }

    fn join_lines(&self) -> Vec<JoinLine> {
        self.joins.iter().map(|join| lines::join(join, self.time())).collect()
    }

    /// Name of a layer by its number; empty for one that is not there.
    fn name_of(&self, id: LayerId) -> &str {
        self.layers.iter().find(|layer| layer.id == id).map_or("", |layer| &layer.name)
    }
}

/// Pairs of microphones alone.
#[derive(Clone, Debug)]
pub struct Mics {
    /// Samples a second.
    pub rate: SampleRate,
    /// Length of the time line in samples.
    pub frames: u64,
    /// Label of its first sample; carries the frame rate.
    pub start: Timecode,
    /// Air temperature for metres of path, °C.
    pub celsius: f64,
    /// The pairs.
    pub pairs: Pairs,
}

impl Mics {
    /// As plain data.
    pub fn document(&self) -> MicsDocument {
        MicsDocument::of(self)
    }

    /// As JSON (RFC 8259).
    pub fn json(&self) -> String {
        serde_json::to_string_pretty(&self.document()).unwrap_or_default() + "\n"
    }

    /// The advice on each pair, one sentence each, in the order of the pairs.
    pub fn advice(&self) -> Vec<String> {
        let said = |pair: &Pair| say::pair(pair, self.start.rate(), self.celsius).sentence;
        self.pairs.pairs.iter().map(|pair| lines::said(said(pair))).collect()
    }
}

#[cfg(test)]
mod tests;
