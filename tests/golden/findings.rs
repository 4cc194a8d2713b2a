//! The findings in the bell-tower scene, offline, compared with its truth: all of them, with time and band, and no
//! others.

use crate::stems::read;
use plumbline_programme::findings::Kind;
use plumbline_programme::{Finding, Join, Role, Rules};
use plumbline_scene::{self as scene, MIX_FILE, PlantedJoin, Truth};
use plumbline_tests::programme::{Measured, findings, measured};
use std::path::Path;

fn layers(folder: &Path, truth: &Truth) -> Vec<Measured> {
    let mix = measured(1, "Mix bus", Role::Mix, truth.rate_hz, &read(folder, MIX_FILE));
    let stems = truth.stems.iter().zip(2..).map(|(stem, id)| {
        let role = Role::ALL.into_iter().find(|role| role.name() == stem.role).expect("a role");
        let gain = 10.0_f64.powf(stem.gain_db / 20.0);
        #[expect(clippy::cast_possible_truncation, reason = "a host's samples are single precision")]
        let at_gain = |side: Vec<f32>| side.into_iter().map(|s| (f64::from(s) * gain) as f32).collect();
        let sides: Vec<Vec<f32>> = read(folder, &stem.file).into_iter().map(at_gain).collect();
        measured(id, &stem.name, role, truth.rate_hz, &sides)
    });
    std::iter::once(mix).chain(stems).collect()
}

fn secs(finding: &Finding) -> String {
    let end = finding.end as f64 / 10.0;
    format!(
        "{:?} {:.1}–{end:.1} s {:?} {:.2}",
        finding.kind,
        finding.start as f64 / 10.0,
        finding.span,
        finding.worst
    )
}

/// The number of true joins found: mir_eval.segment.detection, ±0.5 s, one to one.
fn hits(made: &[PlantedJoin], found: &[Join], rate_hz: u32) -> usize {
    let mut free: Vec<f64> = found.iter().map(|join| join.sample as f64 / f64::from(rate_hz)).collect();
    let mut hit = |planted: &&PlantedJoin| {
        let near = free.iter().position(|at| (at - planted.at_secs).abs() <= planted.tolerance_secs);
        near.map(|at| free.remove(at)).is_some()
    };
    made.iter().filter(|planted| hit(planted)).count()
}

#[test]
fn the_scene_is_found_as_it_was_planted_and_nothing_else_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let truth = scene::write(folder.path(), &mut |_| ()).expect("written");
    let (found, joins) = findings(&layers(folder.path(), &truth), Rules::default());
    // Jumps are checked with the joins.
    let found: Vec<&Finding> = found.iter().filter(|f| f.kind != Kind::Jump).collect();
    assert!(truth.findings.len() >= 10, "{} planted", truth.findings.len());
    let missed: Vec<_> = truth.findings.iter().filter(|p| !found.iter().any(|f| p.is_met_by(f))).collect();
    let foreign: Vec<String> =
        found.iter().filter(|f| !truth.findings.iter().any(|p| p.is_met_by(f))).map(|f| secs(f)).collect();
    let precision = (found.len() - foreign.len()) as f64 / found.len() as f64;
    let recall = (truth.findings.len() - missed.len()) as f64 / truth.findings.len() as f64;
    println!(
        "findings: {} planted, {} found, precision {precision:.3}, recall {recall:.3}",
        truth.findings.len(),
        found.len()
    );
    assert!(missed.is_empty() && foreign.is_empty(), "missed {missed:#?}\nnot planted {foreign:#?}");

    let hit = hits(&truth.joins, &joins, truth.rate_hz);
    println!("joins: {} made, {} found, {hit} hit", truth.joins.len(), joins.len());
    let times: Vec<f64> = joins.iter().map(|j| j.sample as f64 / f64::from(truth.rate_hz)).collect();
    assert_eq!(hit, joins.len(), "none that was not made: {times:?}");
    // The cut is found. A layer that enters, swells or stops within a mix is rarely found: docs/measures.md.
    let cut = truth.joins.iter().min_by(|a, b| a.at_secs.total_cmp(&b.at_secs)).expect("joins");
    assert!(times.iter().any(|at| (at - cut.at_secs).abs() < 0.05), "{cut:?} against {times:?}");
}
