//! The results of a survey of files, as plain data: the command fills it, the report puts it into words and formats.

use crate::delivery::Target;
use crate::recording::{Contradiction, Recording};
use crate::session::{LossByLayer, Match, Part, Unaccounted};
use crate::verdict::Verdicts;
use crate::{BalanceTarget, Finding, Join, Lanes, LayerId, PARTS, PairLine, PassageLine, Role, Rules};
use plumbline_measure::{BandEdges, Loudness, Meters, SampleRate, Spectral, Timecode};

/// A file, or some channels of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct File {
    /// Path, as given.
    pub path: String,
    /// Channels taken from it, 1 or 2.
    pub channels: usize,
    /// Names of the channels, by the recorder; may be empty.
    pub channel_names: Vec<String>,
    /// Sample of the time line at which it starts.
    pub start: i64,
    /// Length in samples, if the file states it.
    pub frames: Option<u64>,
    /// Samples since midnight, if the file states it.
    pub time_reference: Option<u64>,
}

impl File {
    /// Its name without folder and ending.
    pub fn name(&self) -> String {
        let file = self.path.rsplit(['/', '\\']).next().unwrap_or_default();
        file.rsplit_once('.').map_or(file, |(name, _)| if name.is_empty() { file } else { name }).to_owned()
    }
}

/// Everything measured of one sound.
#[derive(Clone, Debug, Default)]
pub struct Sound {
    /// 1 or 2.
    pub channels: u8,
    /// Readings over all of it: energies summed over analysis frames.
    pub spectral: Spectral,
    /// Peaks, overs and DC over all of it; the rest as at its end.
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
    /// Whether a mix was given; else it is the sum of the layers.
    pub is_mix: bool,
    /// Files of the mix.
    pub files: Vec<File>,
    /// Its measurements.
    pub sound: Sound,
}

/// One layer.
#[derive(Clone, Debug, Default)]
pub struct Layer {
    /// Id in findings and matches.
    pub id: LayerId,
    /// Its name.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Files it sums.
    pub files: Vec<File>,
    /// Its measurements.
    pub sound: Sound,
    /// Its shares of the programme.
    pub part: Part,
    /// How it was recorded, as stated.
    pub recording: Recording,
    /// The contradiction between its sound and that statement, if any.
    pub contradiction: Option<Contradiction>,
}

/// One pair of microphones over the whole time line.
#[derive(Clone, Debug)]
pub struct Pair {
    /// The two; a positive delay means that the second trails the first.
    pub names: [String; 2],
    /// The reading on which most windows agree, and its cost to the sum of all compared.
    pub line: PairLine,
    /// End of the window of that reading, s on the time line; `None` without a delay.
    pub read_at_secs: Option<f64>,
    /// Delays of single windows: time on the line, and delay, both in s.
    pub delays: Vec<[f64; 2]>,
    /// Windows with something to compare, and those of them in which a delay was found.
    pub windows: [u64; 2],
}

/// All pairs.
#[derive(Clone, Debug, Default)]
pub struct Pairs {
    /// The pairs, the costliest first.
    pub pairs: Vec<Pair>,
    /// Microphones not compared: there are too many.
    pub uncompared: u32,
}

/// Two seconds in which the bus loses sound in mono, and the layers behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loss {
    /// First sample.
    pub start: i64,
    /// The sample after the last.
    pub end: i64,
    /// The effect of leaving out layers.
    pub loss: LossByLayer,
}

/// A mark from the files: where someone cut.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mark {
    /// Its sample on the time line.
    pub sample: i64,
    /// Its name, on one line; `None` if it came without one.
    pub name: Option<String>,
    /// Length of the transition that starts there, in frames of timecode; 0 for a cut or where none is stated.
    pub transition_frames: u32,
}

/// The results of a survey.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Version of the program.
    pub version: String,
    /// Date of the report, as shown.
    pub date: Option<String>,
    /// Samples a second.
    pub rate: SampleRate,
    /// Length of the time line in samples.
    pub frames: u64,
    /// Label of its first sample; carries the frame rate.
    pub start: Timecode,
    /// Delivery target.
    pub target: Target,
    /// Its name.
    pub target_name: Option<String>,
    /// Target shares.
    pub balance: BalanceTarget,
    /// Limits of findings.
    pub rules: Rules,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Air temperature for distances, °C.
    pub celsius: f64,
    /// The mix, or the sum of the layers.
    pub bus: Bus,
    /// The layers.
    pub layers: Vec<Layer>,
    /// Shares of the roles.
    pub roles: [Part; PARTS],
    /// The mix against the sum of its layers.
    pub unaccounted: Unaccounted,
    /// Each Foley layer against the loudest natural one.
    pub matches: Vec<Match>,
    /// The pairs of microphones, and left with right of the bus.
    pub pairs: Pairs,
    /// The worst two seconds of each named band that loses sound in mono, the lowest first.
    pub losses: Vec<Loss>,
    /// The verdicts on the whole programme.
    pub verdicts: Verdicts,
    /// Findings, by start.
    pub findings: Vec<Finding>,
    /// Joins, by time; one at a mark is at the mark's sample.
    pub joins: Vec<Join>,
    /// The marks from the files, by time; no two in the same tenth.
    pub marks: Vec<Mark>,
    /// Findings and joins dropped because there were too many.
    pub dropped: u64,
    /// Statistics of all of it, summed over tenths as in the plug-in.
    pub passage: PassageLine,
    /// Lanes of the picture over time.
    pub lanes: Lanes,
}

impl Survey {
    /// Name of a layer; empty for an unknown id.
    pub fn name_of(&self, id: LayerId) -> &str {
        self.layers.iter().find(|layer| layer.id == id).map_or("", |layer| &layer.name)
    }

    /// The mark of a join; `None` if it was only found.
    pub fn mark_of(&self, join: &Join) -> Option<&Mark> {
        self.marks.iter().find(|mark| join.marked && mark.sample == join.sample)
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
    /// Air temperature for distances, °C.
    pub celsius: f64,
    /// The pairs.
    pub pairs: Pairs,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_goes_by_its_name() {
        let name = |path: &str| File { path: path.to_owned(), ..File::default() }.name();
        assert_eq!(name("stems/tower ambience.wav"), "tower ambience");
        assert_eq!(name("C:\\stems\\boom.2.flac"), "boom.2");
        assert_eq!(
            (name(".wav"), name("boom"), name("")),
            (".wav".to_owned(), "boom".to_owned(), String::new())
        );
    }
}
