//! The same scene through the command `plumbline`: its numbers beside the plug-in's.

use crate::found::{JOINS_FOUND, JOINS_WRONG, Row, joins_met};
use crate::{Outcome, at};
use plumbline_measure::{Grid, Span};
use plumbline_programme::Finding;
use plumbline_programme::arrival::Cause;
use plumbline_programme::findings::{Grade, Kind};
use plumbline_report::format::{self, Mics, Pair, Survey};
use plumbline_scene::{MIX_FILE, Planted, Quantity, Truth, Value};
use plumbline_tests::rig::command;
use serde::Serialize;
use std::path::Path;
use std::process::{Command, Stdio};

/// A line of the table: the values found by the plug-in and by the command.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Both {
    #[serde(flatten)]
    pub(crate) row: Row,
    /// The value found by the survey; null if it had no reading or was not asked.
    pub(crate) survey: Option<Value>,
    /// Whether that matches the planted value; null if nothing was planted or the survey was not asked.
    pub(crate) survey_ok: Option<bool>,
}

impl Both {
    /// Whether each check passed, or there was none.
    pub(crate) fn holds(&self) -> bool {
        self.row.holds() && self.survey_ok != Some(false)
    }

    /// A line for which the survey has no number.
    pub(crate) fn plug_in_alone(row: Row) -> Self {
        Self { row, survey: None, survey_ok: None }
    }

    fn reading(row: Row, survey: Option<f64>) -> Self {
        Self { row, survey: survey.map(Value::Number), survey_ok: None }
    }
}

/// Runs the command on the stems and mix of the scene, or on the user's own mix, into a folder.
pub(crate) fn run(input: &Path, truth: Option<&Truth>, folder: &Path, out: &Path) -> Outcome<Survey> {
    let program = command::shipped()?;
    // An earlier run of the demo may have left its report there.
    match std::fs::remove_dir_all(out) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(at(out)(error).into()),
        _ => {}
    }
    let mut survey = Command::new(&program);
    survey.arg("survey").arg("--mix").arg(input).arg("--out").arg(out).arg("--quiet");
    let stems = folder.join("stems");
    for stem in truth.into_iter().flat_map(|truth| &truth.stems) {
        let file = stems.join(&stem.file);
        survey.arg("--layer").arg(format!("{}={}:{}", stem.name, stem.role, file.display()));
        // The scene's faders: the stems were made before them.
        survey.arg("--gain").arg(format!("{}={}", stem.name, stem.gain_db));
    }
    let output = survey.stdin(Stdio::null()).output().map_err(at(&program))?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).trim().into());
    }
    let path = out.join("report.json");
    let text = std::fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))?;
    Ok(serde_json::from_str(&text)?)
}

/// Boom and lavalier over the whole scene, by `plumbline mics`: the planted delay if the command advises a repair.
pub(crate) fn mics(truth: &Truth, folder: &Path) -> Outcome<Both> {
    let file = |name: &str| {
        let stem = truth.stems.iter().find(|stem| stem.name.starts_with(name));
        stem.map(|stem| folder.join("stems").join(&stem.file))
            .ok_or_else(|| format!("the scene has no {name}"))
    };
    let planted = truth.planted.iter().find(|planted| planted.quantity == Quantity::PairDelay);
    let planted = planted.ok_or("the scene plants no delay between two stems")?;
    let program = command::shipped()?;
    let mut mics = Command::new(&program);
    mics.arg("mics").arg(file("lavalier")?).arg(file("boom")?).args(["--json", "-", "--quiet"]);
    let output = mics.stdin(Stdio::null()).output().map_err(at(&program))?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).trim().into());
    }
    let report: Mics = serde_json::from_slice(&output.stdout)?;
    let pair = report.pairs.first().filter(|pair| pair.outcome == "repair");
    let survey = pair.and_then(|pair| pair.delay_samples).map(Value::Number);
    let survey_ok = Some(planted.is_met_by(survey.as_ref()));
    let row = Row {
        name: "boom after lavalier, by `plumbline mics`".to_owned(),
        planted: Some(planted.value.clone()),
        found: None,
        unit: planted.unit.clone(),
        tolerance: Some(planted.tolerance),
        ok: None,
    };
    Ok(Both { row, survey, survey_ok })
}

/// Each line of the scene with the survey's value beside it. The first rows are the planted values, in their order.
pub(crate) fn beside(rows: Vec<Row>, truth: &Truth, report: &Survey) -> Vec<Both> {
    let mut planted = truth.planted.iter();
    let mut both: Vec<Both> = rows
        .into_iter()
        .map(|row| match planted.next().and_then(|planted| Some((planted, find(planted, report)?))) {
            Some((planted, survey)) => {
                let survey_ok = Some(planted.is_met_by(survey.as_ref()));
                Both { row, survey, survey_ok }
            }
            None => Both::plug_in_alone(row),
        })
        .collect();
    findings(&mut both, truth, report);
    both
}

/// The survey's value for a planted one; `None` if its report has no such number.
fn find(planted: &Planted, report: &Survey) -> Option<Option<Value>> {
    let loudness = &report.bus.sound.measured.loudness;
    let role = |name: &str| {
        let line = report.roles.iter().find(|line| line.role == name);
        line.and_then(|line| line.share_percent)
    };
    let number = match planted.quantity {
        Quantity::IntegratedLoudness => loudness.integrated_lufs,
        Quantity::TruePeak => loudness.true_peak_dbtp,
        Quantity::ClippedSamples => Some(loudness.overs.iter().sum::<u64>() as f64),
        Quantity::Length => report.programme.seconds,
        Quantity::NaturalShare => role("Natural"),
        Quantity::FoleyShare => role("Foley"),
        Quantity::DesignShare => role("Design"),
        Quantity::StemShare => {
            let stem = planted.stem.as_deref()?;
            report.layers.iter().find(|layer| layer.layer.name == stem).and_then(|layer| layer.share_percent)
        }
        Quantity::Unaccounted => report.unaccounted_db,
        Quantity::PairDelay => boom_after_lavalier(report).map(|(samples, _)| samples),
        Quantity::PairPolarity => boom_after_lavalier(report).map(|(_, sign)| sign),
        Quantity::LossLayer => {
            let within = |start: f64, end: f64| start < planted.end_secs && end > planted.start_secs;
            let mut losses =
                report.mono_losses.iter().filter(|loss| within(loss.start.seconds, loss.end.seconds));
            return Some(losses.find_map(|loss| {
                let names = loss.without.first()?.layers.iter().map(|layer| layer.name.as_str());
                Some(Value::Word(names.collect::<Vec<_>>().join(" and ")))
            }));
        }
        Quantity::Correlation
        | Quantity::SideShare
        | Quantity::MonoLoss
        | Quantity::Coherence
        | Quantity::OutOfStep
        | Quantity::WidthVerdict
        | Quantity::DropoutStart
        | Quantity::DropoutLength
        | Quantity::ClippedAt
        | Quantity::OneSided
        | Quantity::TruePeakAt
        | Quantity::TruePeakElsewhere
        | Quantity::LateLayers => return None,
    };
    Some(number.map(Value::Number))
}

/// Delay of the boom relative to the lavalier in samples, and +1 or −1 for their polarity.
fn boom_after_lavalier(report: &Survey) -> Option<(f64, f64)> {
    let is = |name: &str, start: &str| name.starts_with(start);
    let turn = |pair: &Pair| match pair {
        pair if is(&pair.a, "lavalier") && is(&pair.b, "boom") => Some(1.0),
        pair if is(&pair.a, "boom") && is(&pair.b, "lavalier") => Some(-1.0),
        _ => None,
    };
    let (pair, turn) = report.pairs.iter().find_map(|pair| Some((pair, turn(pair)?)))?;
    let sign = if pair.polarity.as_deref()? == "same" { 1.0 } else { -1.0 };
    Some((turn * pair.delay_samples?, sign))
}

/// A finding of the report in the measurement's type, with the fields that the scene compares.
fn finding(line: &format::Finding) -> Option<Finding> {
    let kind = Kind::ALL.into_iter().find(|kind| kind.key() == line.kind)?;
    #[expect(clippy::cast_possible_truncation, reason = "tenths of a short scene")]
    let tenth = |secs: f64| (secs * 10.0).round() as i64;
    Some(Finding {
        kind,
        start: tenth(line.start.seconds),
        end: tenth(line.end.seconds),
        span: line.low_hz.zip(line.high_hz).map(|(low_hz, high_hz)| Span { low_hz, high_hz }),
        right: line.channel.as_deref().map(|channel| channel == "right"),
        // The scene compares no other fields.
        id: line.number,
        grid: Grid::Song,
        open: false,
        worst: f64::NAN,
        at: 0,
        grade: Grade::default(),
        cause: line.cause.as_deref().map(cause),
        role: None,
        layers: Vec::new(),
        follows: None,
        seen: false,
    })
}

/// Checks that the planted findings were found and no others. Jumps are checked with the joins.
fn findings(both: &mut [Both], truth: &Truth, report: &Survey) {
    let found: Vec<Finding> =
        report.findings.iter().filter_map(finding).filter(|found| found.kind != Kind::Jump).collect();
    let mut planted = truth.findings.iter();
    let share = |part: usize, of: usize| if of == 0 { 0.0 } else { part as f64 / of as f64 };
    let right = found.iter().filter(|f| truth.findings.iter().any(|p| p.is_met_by(f))).count();
    let met = truth.findings.iter().filter(|p| found.iter().any(|f| p.is_met_by(f))).count();
    let joins = joins_met(report.joins.iter().map(|join| join.at.seconds), truth);
    for line in both {
        let name = line.row.name.as_str();
        if name == JOINS_WRONG {
            (line.survey, line.survey_ok) = (Some(Value::Number(joins.1 as f64)), Some(joins.1 == 0));
            continue;
        } else if name.starts_with(JOINS_FOUND) {
            line.survey = Some(Value::Number(joins.0 as f64));
            continue;
        }
        let (survey, fine) = if name.starts_with("finding: ") {
            let Some(planted) = planted.next() else { continue };
            let hit = found.iter().find(|found| planted.is_met_by(found));
            let alike = hit.or_else(|| found.iter().find(|found| found.kind == planted.kind));
            let span =
                |f: &Finding| Value::Word(format!("{:.1}–{:.1}", f.start as f64 / 10.0, f.end as f64 / 10.0));
            (alike.map(span), hit.is_some())
        } else if name == "findings: precision" {
            (Some(Value::Number(share(right, found.len()))), right == found.len() && !found.is_empty())
        } else if name == "findings: recall" {
            (Some(Value::Number(share(met, truth.findings.len()))), met == truth.findings.len())
        } else {
            continue;
        };
        (line.survey, line.survey_ok) = (survey, Some(fine));
    }
}

/// For a mix without planted values: the survey's readings beside the plug-in's, where both exist.
pub(crate) fn readings(rows: Vec<Row>, report: &Survey) -> Vec<Both> {
    let (whole, loudness) = (&report.bus.sound.measured.whole, &report.bus.sound.measured.loudness);
    let of = |row: Row| {
        let survey = match row.name.as_str() {
            "length measured" => report.programme.seconds,
            "integrated loudness" => loudness.integrated_lufs,
            "loudness range" => loudness.range_lu,
            "highest short-term loudness" => loudness.max_short_term_lufs,
            "true peak: highest" => loudness.true_peak_dbtp,
            "clipped: samples" => Some(loudness.overs.iter().sum::<u64>() as f64),
            "side share, all of it" => whole.width_percent,
            "correlation, all of it" => whole.correlation,
            "mono loss, all of it" => whole.mono_loss_db,
            _ => return Both::plug_in_alone(row),
        };
        Both::reading(row, survey)
    };
    rows.into_iter().map(of).collect()
}

/// Name of the mix, for a sentence.
pub(crate) fn what(truth: Option<&Truth>) -> String {
    truth.map_or_else(|| "the file".to_owned(), |truth| format!("{} stems and {MIX_FILE}", truth.stems.len()))
}

/// The cause of a finding by its name in the report, which does not state the delay.
fn cause(name: &str) -> Cause {
    match name {
        "inverted" => Cause::Inverted,
        "inverted_in_part" => Cause::InvertedInPart,
        "opposed" => Cause::Opposed,
        "delayed" => Cause::Delayed { secs: f64::NAN },
        _ => Cause::Unexplained,
    }
}
