//! Planted values next to found ones.

use crate::heard::{Heard, Tenths, width_word};
use plumbline_measure::Averaging;
use plumbline_programme::findings::Kind;
use plumbline_programme::{Finding, Role};
use plumbline_scene::{Planted, Quantity, Truth, Value};
use serde::Serialize;

/// One line of the table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Row {
    /// Its name.
    pub(crate) name: String,
    /// The planted value; null for a file without known values.
    pub(crate) planted: Option<Value>,
    /// The found value; null if there was no reading.
    pub(crate) found: Option<Value>,
    /// Unit of both.
    pub(crate) unit: String,
    /// The tolerance, in the same unit.
    pub(crate) tolerance: Option<f64>,
    /// Whether the found value is the planted one; null if nothing was planted.
    pub(crate) ok: Option<bool>,
}

impl Row {
    /// Whether the check passed, or there was none.
    pub(crate) fn holds(&self) -> bool {
        self.ok != Some(false)
    }

    /// A count that must be zero.
    fn none_of(name: &str, found: u64, unit: &str) -> Self {
        Self {
            name: name.to_owned(),
            planted: Some(Value::Number(0.0)),
            found: Some(Value::Number(found as f64)),
            unit: unit.to_owned(),
            tolerance: Some(0.0),
            ok: Some(found == 0),
        }
    }

    /// A planted number next to the found one.
    pub(crate) fn near(name: &str, planted: f64, found: Option<f64>, tolerance: f64, unit: &str) -> Self {
        Self {
            name: name.to_owned(),
            planted: Some(Value::Number(planted)),
            found: found.map(Value::Number),
            unit: unit.to_owned(),
            tolerance: Some(tolerance),
            ok: Some(found.is_some_and(|found| (found - planted).abs() <= tolerance)),
        }
    }

    fn reading(name: &str, found: Option<f64>, unit: &str) -> Self {
        Self::told(name, found.map(Value::Number), unit)
    }

    fn told(name: &str, found: Option<Value>, unit: &str) -> Self {
        Self { name: name.to_owned(), planted: None, found, unit: unit.to_owned(), tolerance: None, ok: None }
    }
}

/// The scene: each value planted on the mix, and the checks of any run.
pub(crate) fn rows(truth: &Truth, heard: &Heard) -> Vec<Row> {
    let mut rows: Vec<Row> = truth
        .planted
        .iter()
        .map(|planted| {
            let found = find(planted, truth, heard);
            Row {
                name: planted.name.clone(),
                planted: Some(planted.value.clone()),
                unit: planted.unit.clone(),
                tolerance: matches!(planted.value, Value::Number(_)).then_some(planted.tolerance),
                ok: Some(planted.is_met_by(found.as_ref())),
                found,
            }
        })
        .collect();
    rows.extend(findings(truth, heard));
    let layers = truth.stems.len() + 1;
    rows.push(Row {
        name: "layers that hear each other".to_owned(),
        planted: Some(Value::Number(layers as f64)),
        found: Some(Value::Number(heard.layers() as f64)),
        unit: "layers".to_owned(),
        tolerance: Some(0.0),
        ok: Some(heard.layers() == layers),
    });
    rows.extend(always(heard));
    rows
}

/// Each planted finding next to the found one, and their numbers. Jumps belong to the joins.
fn findings(truth: &Truth, heard: &Heard) -> Vec<Row> {
    let found: Vec<&Finding> = heard.end.log.findings.iter().filter(|f| f.kind != Kind::Jump).collect();
    let span = |start: f64, end: f64| Some(Value::Word(format!("{start:.1}–{end:.1}")));
    let of = |f: &Finding| span(f.start as f64 / 10.0, f.end as f64 / 10.0);
    let mut rows: Vec<Row> = truth
        .findings
        .iter()
        .map(|planted| {
            let hit = found.iter().find(|f| planted.is_met_by(f));
            let apart = |f: &&&Finding| (f.start as f64 / 10.0 - planted.start_secs).abs();
            let alike = found.iter().filter(|f| f.kind == planted.kind);
            let nearest = alike.min_by(|a, b| apart(a).total_cmp(&apart(b)));
            Row {
                name: format!("finding: {}", plumbline_report::words::kind(planted.kind).to_lowercase()),
                planted: span(planted.start_secs, planted.end_secs),
                found: hit.or(nearest).and_then(|f| of(f)),
                unit: "s".to_owned(),
                tolerance: Some(planted.tolerance_secs),
                ok: Some(hit.is_some()),
            }
        })
        .collect();
    let share = |part: usize, of: usize| if of == 0 { 0.0 } else { part as f64 / of as f64 };
    let right = found.iter().filter(|f| truth.findings.iter().any(|p| p.is_met_by(f))).count();
    let met = truth.findings.iter().filter(|p| found.iter().any(|f| p.is_met_by(f))).count();
    rows.push(Row::near("findings: precision", 1.0, Some(share(right, found.len())), 0.0, ""));
    rows.push(Row::near("findings: recall", 1.0, Some(share(met, truth.findings.len())), 0.0, ""));
    rows.extend(joins(truth, heard));
    rows
}

/// The number of true joins found, one to one, and of false joins.
fn joins(truth: &Truth, heard: &Heard) -> [Row; 2] {
    let found = heard.end.log.joins.iter().map(|join| join.sample as f64 / f64::from(truth.rate_hz));
    let (met, wrong) = joins_met(found, truth);
    let name = format!("{JOINS_FOUND}, of {} made", truth.joins.len());
    [Row::reading(&name, Some(met as f64), "joins"), Row::none_of(JOINS_WRONG, wrong, "joins")]
}

/// The names of the rows on joins, or their starts.
pub(crate) const JOINS_FOUND: &str = "joins found";
pub(crate) const JOINS_WRONG: &str = "joins found where none was made";

/// The number of true joins found, one to one, and of false joins, among joins at these seconds.
pub(crate) fn joins_met(found: impl Iterator<Item = f64>, truth: &Truth) -> (u64, u64) {
    let mut free: Vec<f64> = found.collect();
    let all = free.len();
    for planted in &truth.joins {
        if let Some(at) = free.iter().position(|at| (at - planted.at_secs).abs() <= planted.tolerance_secs) {
            free.remove(at);
        }
    }
    ((all - free.len()) as u64, free.len() as u64)
}

/// The checks of any run.
fn always(heard: &Heard) -> [Row; 4] {
    let wires = &heard.wires;
    [
        Row::none_of("samples changed on the way through", wires.differing, "samples"),
        Row::none_of("audio lost before it was measured", wires.lost_frames, "frames"),
        Row::none_of("tenths heard only in part", wires.partial, "tenths"),
        Row::none_of("tenths of layers missed by the mix", heard.missed(), "tenths"),
    ]
}

/// The found value for a planted one.
fn find(planted: &Planted, truth: &Truth, heard: &Heard) -> Option<Value> {
    let stretch = Tenths::of(planted.start_secs, planted.end_secs);
    let cross = || heard.cross(stretch, planted.band_hz);
    let number = match planted.quantity {
        Quantity::Correlation => cross()?.correlation(),
        Quantity::SideShare => cross()?.side_share().map(|share| 100.0 * share),
        Quantity::MonoLoss => cross()?.mono_loss_db(),
        Quantity::Coherence => heard.coherent(stretch, planted.band_hz, |c| c.coherence.get()),
        Quantity::OutOfStep => heard.coherent(stretch, planted.band_hz, |c| c.out_of_step.get()),
        Quantity::WidthVerdict => {
            return heard.width_at(planted.end_secs).map(|word| Value::Word(word.to_owned()));
        }
        Quantity::DropoutStart => heard.dropout().map(|(start, _)| start),
        Quantity::DropoutLength => heard.dropout().map(|(_, length)| length),
        Quantity::ClippedSamples => Some(heard.clipped().0 as f64),
        Quantity::ClippedAt => heard.clipped().1,
        Quantity::OneSided => Some(heard.right_silent_secs()),
        Quantity::IntegratedLoudness => heard.end.loudness.integrated_lufs,
        Quantity::TruePeak => heard.end.loudness.true_peak_dbtp.into_iter().flatten().reduce(f64::max),
        Quantity::TruePeakAt => heard.true_peak(&[]).map(|(_, secs)| secs),
        Quantity::TruePeakElsewhere => heard.true_peak(&planted_spots(truth)).map(|(peak, _)| peak),
        Quantity::Length => Some(heard.end.loudness.measured_secs),
        Quantity::NaturalShare => heard.share_of_role(Role::Natural).map(|share| 100.0 * share),
        Quantity::FoleyShare => heard.share_of_role(Role::Foley).map(|share| 100.0 * share),
        Quantity::DesignShare => heard.share_of_role(Role::Design).map(|share| 100.0 * share),
        Quantity::StemShare => {
            planted.stem.as_deref().and_then(|name| heard.share_of(name)).map(|share| 100.0 * share)
        }
        Quantity::Unaccounted => heard.unaccounted_db(),
        Quantity::LateLayers => heard.late_layers().map(|count| count as f64),
        Quantity::LossLayer => return heard.lost_by(planted.end_secs).map(Value::Word),
        Quantity::PairDelay => heard.boom_after_lavalier(planted).map(|(samples, _)| samples),
        Quantity::PairPolarity => heard.boom_after_lavalier(planted).map(|(_, sign)| sign),
    };
    number.map(Value::Number)
}

/// The times of planted peaks above the ceiling.
fn planted_spots(truth: &Truth) -> Vec<f64> {
    let spots = [Quantity::ClippedAt, Quantity::TruePeakAt];
    truth.planted.iter().filter(|p| spots.contains(&p.quantity)).map(|p| p.start_secs).collect()
}

/// The readings of a file without known values.
pub(crate) fn readings(heard: &Heard) -> Vec<Row> {
    let view = &heard.end;
    let all = view.spectral(Averaging::SinceReset);
    let peak = view.loudness.true_peak_dbtp.into_iter().flatten().reduce(f64::max);
    let mut rows = vec![
        Row::reading("length measured", Some(view.loudness.measured_secs), "s"),
        Row::reading("integrated loudness", view.loudness.integrated_lufs, "LUFS"),
        Row::reading("loudness range", view.loudness.range_lu, "LU"),
        Row::reading("highest short-term loudness", view.loudness.max_short_term_lufs, "LUFS"),
        Row::reading("true peak: highest", peak, "dBTP"),
        Row::reading("true peak: time", heard.true_peak(&[]).map(|(_, secs)| secs), "s"),
        Row::reading("clipped: samples", Some(heard.clipped().0 as f64), "samples"),
        Row::reading("side share, all of it", all.whole.side_share.map(|s| 100.0 * s), "%"),
        Row::reading("correlation, all of it", all.whole.correlation, ""),
        Row::reading("mono loss, all of it", all.whole.mono_loss_db, "dB"),
        Row::reading("longest silence inside: start", heard.dropout().map(|(start, _)| start), "s"),
        Row::reading("longest silence inside: length", heard.dropout().map(|(_, length)| length), "s"),
    ];
    for view in &heard.views {
        let secs = view.clock.position.sample as f64 / f64::from(view.clock.rate_hz.max(1));
        let word = Value::Word(width_word(&view.verdicts.width).to_owned());
        rows.push(Row::told(&format!("verdict on width at {secs:.1} s"), Some(word), ""));
    }
    rows.extend(always(heard));
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heard::Wires;
    use plumbline_programme::View;
    use plumbline_scene::{Place, Stand};

    const ASKED: [Quantity; 25] = [
        Quantity::PairDelay,
        Quantity::PairPolarity,
        Quantity::Correlation,
        Quantity::SideShare,
        Quantity::MonoLoss,
        Quantity::Coherence,
        Quantity::OutOfStep,
        Quantity::WidthVerdict,
        Quantity::DropoutStart,
        Quantity::DropoutLength,
        Quantity::ClippedSamples,
        Quantity::ClippedAt,
        Quantity::OneSided,
        Quantity::IntegratedLoudness,
        Quantity::TruePeak,
        Quantity::TruePeakAt,
        Quantity::TruePeakElsewhere,
        Quantity::Length,
        Quantity::NaturalShare,
        Quantity::FoleyShare,
        Quantity::DesignShare,
        Quantity::StemShare,
        Quantity::Unaccounted,
        Quantity::LossLayer,
        Quantity::LateLayers,
    ];

    fn truth() -> Truth {
        let planted = |quantity| Planted {
            name: format!("{quantity:?}"),
            place: Place::Mix,
            quantity,
            start_secs: 1.0,
            end_secs: 2.0,
            band_hz: None,
            stem: (quantity == Quantity::StemShare).then(|| "boom".to_owned()),
            value: match quantity {
                Quantity::WidthVerdict | Quantity::LossLayer => Value::Word("spacious".to_owned()),
                _ => Value::Number(1.0),
            },
            unit: String::new(),
            tolerance: 0.1,
            stand: Stand::Near,
            because: String::new(),
        };
        Truth {
            version: 1,
            rate_hz: 48_000,
            bits: 24,
            frames: 96_000,
            seconds: 2.0,
            mix: "mix.wav".to_owned(),
            mono_pan_db: -3.0103,
            stems: Vec::new(),
            passages: Vec::new(),
            planted: ASKED.into_iter().map(planted).collect(),
            findings: Vec::new(),
            joins: Vec::new(),
        }
    }

    #[test]
    fn a_plug_in_that_measures_nothing_finds_nothing() {
        let nothing = Heard::new(Vec::new(), View::default(), Vec::new(), Wires::default());
        let rows = rows(&truth(), &nothing);
        let (asked, rest) = rows.split_at(ASKED.len());
        let (log, always) = rest.split_at(4);
        assert_eq!(always.len(), 5);
        // Without joins there is no precision, no recall, and no false join.
        assert_eq!(
            log.iter().map(|row| row.ok).collect::<Vec<_>>(),
            [Some(false), Some(false), None, Some(true)]
        );
        assert_eq!(always[0].ok, Some(false), "a mix that hears nobody is not one with all its layers");
        for row in asked {
            assert_eq!(row.ok, Some(false), "{}: {:?}", row.name, row.found);
        }
    }

    #[test]
    fn a_changed_sample_or_a_lost_frame_is_a_failure() {
        let wires = Wires { differing: 1, lost_frames: 1, partial: 1 };
        let mut view = View::default();
        let line = plumbline_programme::session::LayerLine { missed: 1, ..Default::default() };
        view.session = std::sync::Arc::new(plumbline_programme::Session {
            layers: vec![line],
            ..plumbline_programme::Session::default()
        });
        let bad = always(&Heard::new(Vec::new(), view, Vec::new(), wires));
        assert_eq!(bad.iter().filter(|row| !row.holds()).count(), 4);
        let good = always(&Heard::new(Vec::new(), View::default(), Vec::new(), Wires::default()));
        assert!(good.iter().all(Row::holds));
    }
}
