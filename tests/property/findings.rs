//! Findings: a scene with planted faults, each found once, with no other findings; and the laws of the log.

pub(crate) mod hostile;
mod laws;
mod scene;

use plumbline_measure::bands::{THIRDS, third_span};
use plumbline_programme::arrival::Cause;
use plumbline_programme::{Finding, Kind, Role, Rules};
use plumbline_tests::programme::findings;
use scene::Scene;

/// Tolerance of edges in seconds: dated by tenths, and by averages over 2 s and 3 s.
const EDGE_SECS: f64 = 0.15;
const AVERAGED_SECS: f64 = 0.5;

/// A fault in the scene.
struct Planted {
    kind: Kind,
    stretch: [f64; 2],
    edge_secs: f64,
    /// Whether the other fields of a finding are right.
    told: fn(&Finding) -> bool,
    /// Other findings caused by it, from half a second before it to half a second after.
    brings: &'static [Kind],
}

fn secs(tenths: i64) -> f64 {
    tenths as f64 / 10.0
}

impl Planted {
    fn new(kind: Kind, stretch: [f64; 2], told: fn(&Finding) -> bool, brings: &'static [Kind]) -> Self {
        let averaged = matches!(kind, Kind::OutOfStep | Kind::Balance | Kind::Covered);
        let edge_secs = if averaged { AVERAGED_SECS } else { EDGE_SECS };
        Self { kind, stretch, edge_secs, told, brings }
    }

    fn is(&self, found: &Finding) -> bool {
        // Half a sample must not decide the result.
        let near = |tenths: i64, at: f64| (secs(tenths) - at).abs() <= self.edge_secs + 1e-5;
        found.kind == self.kind && near(found.start, self.stretch[0]) && near(found.end, self.stretch[1])
    }

    fn brought(&self, found: &Finding) -> bool {
        self.brings.contains(&found.kind)
            && secs(found.start) >= self.stretch[0] - 0.5
            && secs(found.end) <= self.stretch[1] + 0.5
    }
}

fn third_of(hz: f64) -> usize {
    (0..THIRDS).min_by_key(|t| ordered((third_span(*t).low_hz / hz).log2().abs())).expect("thirds")
}

/// Thousandths, for comparison.
fn ordered(x: f64) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "a few octaves")]
    let thousandths = (x * 1_000.0) as i64;
    thousandths
}

/// Whether both edges of a span are within one third of a band's edges.
fn spans(found: &Finding, band: [f64; 2]) -> bool {
    found.span.is_some_and(|span| {
        [(span.low_hz, band[0]), (span.high_hz, band[1])]
            .into_iter()
            .all(|(edge, meant)| third_of(edge).abs_diff(third_of(meant)) <= 1)
    })
}

/// The start and end of a condition. It is judged over 3 s at a time, and each time is dated by the middle of the 3 s.
fn dated_by_the_middle(holds: impl Iterator<Item = bool>, near: [f64; 2]) -> [f64; 2] {
    let over: Vec<f64> = holds
        .enumerate()
        .filter(|(tenth, holds)| *holds && *tenth >= 29)
        .map(|(tenth, _)| tenth as f64 / 10.0)
        .filter(|end| *end > near[0] && *end < near[1] + 3.0)
        .collect();
    let (first, last) = (over.first().expect("it holds"), over.last().expect("it holds"));
    assert!(over.len() as f64 > 10.0 * (near[1] - near[0] - 3.0), "it holds throughout");
    [first - 1.5, last + 0.1 - 1.5]
}

/// The stretch from the tenth at which the natural sound is under 60 % of the latest 20 s to the tenth at which it is
/// 62 % again, dated by the middle of the 20 s. A whole minute must be under 60 % too.
fn off_balance(scene: &Scene) -> [f64; 2] {
    let share_of = |secs| {
        let [natural, foley, design] = [0, 1, 2].map(|at| scene::energies_of(secs, &scene.layers[at]));
        (0..natural.len()).map(|t| natural[t] / (natural[t] + foley[t] + design[t])).collect::<Vec<f64>>()
    };
    let (share, minute) = (share_of(20), share_of(60));
    assert!(minute.iter().skip(600).any(|share| *share < 0.6), "confirmed");
    let first = (200..share.len()).find(|t| share[*t] < 0.6).expect("it is off");
    let back = (first..share.len()).find(|t| share[*t] >= 0.62).expect("it comes back");
    [first as f64 / 10.0 - 10.0, back as f64 / 10.0 - 10.0]
}

fn planted(scene: &Scene) -> Vec<Planted> {
    let foley = scene::energies_of(3, &scene.layers[1]);
    let cover = scene::energies_of(3, &scene.cover);
    let off = off_balance(scene);
    let covered = dated_by_the_middle((0..foley.len()).map(|t| cover[t] >= 10.0 * foley[t]), scene::COVERED);
    let clipped_end = scene::CLIPPED_AT + scene::CLIPPED as f64 / f64::from(scene::RATE);
    let lost_end = scene::LOST_AT + f64::from(scene::LOST) / f64::from(scene::RATE);
    let [short, middling, long] = scene::HOLES;
    vec![
        Planted::new(
            Kind::MonoLoss,
            scene::FLIPPED,
            |f| f.span.is_none() && f.worst > 10.0,
            &[Kind::OutOfStep, Kind::Jump],
        ),
        Planted::new(
            Kind::OutOfStep,
            scene::DELAYED,
            |f| spans(f, scene::DELAYED_BAND) && f.cause != Some(Cause::Inverted),
            &[Kind::Jump],
        ),
        Planted::new(Kind::OneSided, scene::DEAD, |f| f.right == Some(false) && f.worst > 80.0, &[]),
        Planted::new(Kind::Dropout, short, |f| (f.worst - 20.0).abs() < 1.0, &[]),
        Planted::new(Kind::Dropout, middling, |f| (f.worst - 90.0).abs() < 1.0, &[]),
        Planted::new(Kind::Dropout, long, |f| (f.worst - 350.0).abs() < 1.0, &[]),
        // 1.12 is +1.0 dBTP; the sound under it may change that slightly.
        Planted::new(Kind::TruePeak, scene::PING, |f| (f.worst - 1.0).abs() < 0.6, &[]),
        Planted::new(
            Kind::Clipped,
            [scene::CLIPPED_AT, clipped_end],
            |f| f.worst == scene::CLIPPED as f64,
            &[Kind::TruePeak],
        ),
        Planted::new(
            Kind::Wind,
            scene::WIND,
            // 15 dB above everything else is 17 dB above the part over 200 Hz; narrow-band noise varies from tenth to
            // tenth.
            |f| f.span.is_some_and(|s| s.high_hz <= 200.0) && (15.0..22.0).contains(&f.worst),
            &[Kind::Jump],
        ),
        Planted::new(
            Kind::Covered,
            covered,
            |f| f.layers.iter().map(|l| l.name.as_str()).eq(["chisel", "swell"]),
            &[],
        ),
        Planted::new(
            Kind::Balance,
            off,
            |f| f.role == Some(Role::Natural) && f.worst < -30.0 && f.worst > -50.0,
            &[Kind::Jump],
        ),
        Planted::new(Kind::Gap, [scene::LOST_AT, lost_end], |f| f.worst == f64::from(scene::LOST), &[]),
    ]
}

#[test]
fn each_planted_fault_is_found_once_and_nothing_else() {
    let scene = Scene::new();
    let under = |x: &&f64| x.abs() < 1.0;
    assert_eq!(scene.mix.iter().flatten().filter(|x| !under(x)).count(), scene::CLIPPED, "samples clipped");
    let planted = planted(&scene);
    let (found, joins) = findings(&scene.measured(), Rules::default());
    assert!(!joins.is_empty());
    let tell = |f: &Finding| {
        let layers: Vec<&str> = f.layers.iter().map(|l| l.name.as_str()).collect();
        format!(
            "{:?} {:.1}–{:.1} s, worst {:.2}, {:?}, right {:?}, role {:?}, {layers:?}, cause {:?}",
            f.kind,
            secs(f.start),
            secs(f.end),
            f.worst,
            f.span,
            f.right,
            f.role,
            f.cause
        )
    };
    found.iter().for_each(|f| println!("{}", tell(f)));
    let mut wrong = Vec::new();
    let mut hits = 0;
    for fault in &planted {
        let of: Vec<&Finding> = found.iter().filter(|f| fault.is(f)).collect();
        let name = format!("{:?} at {:.2?} s", fault.kind, fault.stretch);
        match of[..] {
            [one] if (fault.told)(one) => hits += 1,
            [one] => wrong.push(format!("{name} has wrong fields: {}", tell(one))),
            _ => wrong.push(format!("{name} was found {} times", of.len())),
        }
    }
    let of_none: Vec<&Finding> =
        found.iter().filter(|f| !planted.iter().any(|p| p.is(f) || p.brought(f))).collect();
    let follow = found.iter().filter(|f| !planted.iter().any(|p| p.is(f))).count() - of_none.len();
    wrong.extend(of_none.iter().map(|f| format!("not planted: {}", tell(f))));
    let precision = f64::from(hits) / (f64::from(hits) + of_none.len() as f64);
    let recall = f64::from(hits) / planted.len() as f64;
    println!("precision {precision:.3}, recall {recall:.3}, {follow} that follow from another");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(planted.len(), 12);
    assert!(found.iter().all(|f| !f.open && f.start < f.end && (f.start..f.end).contains(&f.at)));
}
