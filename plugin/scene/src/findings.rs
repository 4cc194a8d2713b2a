//! The findings that the scene must give, from how it was made: computed by tenth, with the scene's own arithmetic.

use super::design::{FLIPPED_BAND, LATE_BAND};
use super::mixdown::{FULL_SCALE, Pcm, Role, Track};
use super::plan::{CLIP_SECS, DROPOUT, FLIPPED, LATE, LATE_SAMPLES, ONE_SIDED, PING_SECS, Stretch, frame};
use super::shares::Energies;
use super::spectrum::{correlation_of_delay, pink};
use super::truth::{PlantedFinding, PlantedJoin};
use plumbline_programme::findings::Kind;

/// Tolerance of the edges of findings in seconds: usual, and of those that come from an average over 2 or 3 s.
const EDGE_SECS: f64 = 0.15;
const AVERAGE_SECS: f64 = 0.5;
/// Tolerance of the time of a join in seconds, as for segments in mir_eval.segment.detection.
const JOIN_SECS: f64 = 0.5;
/// The mono loss of the whole range from which it is a finding, dB.
const LOSS_DB: f64 = -3.5;
/// The aim for the natural sound, its tolerance, and the hysteresis that ends a finding.
const AIM: (f64, f64, f64) = (0.7, 0.1, 0.02);
/// The least share of the other roles at which too much natural sound counts as a finding.
const BESIDE: f64 = 0.001;
/// Lengths in tenths: of the window of a share, of the shortest finding, and of the gap that ends one.
const WINDOW: usize = 30;
const LASTS: usize = 30;
const OVER: usize = 5;

/// The frequency ratio of a third of an octave.
const THIRD: f64 = 1.258_925_411_794_167_3;

fn finding(kind: Kind, stretch: Stretch, tolerance_secs: f64, because: &str) -> PlantedFinding {
    PlantedFinding {
        kind,
        start_secs: stretch.start,
        end_secs: stretch.end,
        tolerance_secs,
        band_hz: None,
        right: None,
        because: because.to_owned(),
    }
}

/// The tenth that contains a spot.
fn tenth_of(secs: f64) -> Stretch {
    let start = (secs * 10.0).floor() / 10.0;
    Stretch { start, end: start + 0.1 }
}

/// The stretch from the first to the last tenth for which `holds` is true.
fn where_it_holds(within: Stretch, holds: impl Fn(usize) -> bool) -> Option<Stretch> {
    let tenths = (within.start * 10.0).round()..(within.end * 10.0).round();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "tenths of the scene")]
    let all = tenths.start as usize..tenths.end as usize;
    let mut inside = all.filter(|t| holds(*t));
    let first = inside.next()?;
    let last = inside.last().unwrap_or(first);
    Some(Stretch { start: first as f64 / 10.0, end: (last + 1) as f64 / 10.0 })
}

/// Mono loss of a tenth of the mix, dB.
fn loss_db(mix: &Pcm, tenth: usize) -> f64 {
    let range = frame(tenth as f64 / 10.0)..frame((tenth + 1) as f64 / 10.0);
    let (mut mid, mut all) = (0.0, 0.0);
    for n in range {
        let [l, r] = [0, 1].map(|side: usize| f64::from(mix[side][n]) / FULL_SCALE);
        mid += (l + r).powi(2);
        all += 2.0 * (l * l + r * r);
    }
    if all > 0.0 { 10.0 * (mid / all).log10() } else { 0.0 }
}

/// Mean square of a tenth of some tracks.
fn power(tracks: &[Track], tenth: usize, which: impl Fn(&Track) -> bool) -> f64 {
    let range = frame(tenth as f64 / 10.0)..frame((tenth + 1) as f64 / 10.0);
    tracks
        .iter()
        .filter(|t| which(t))
        .map(|t| {
            [0, 1].map(|c| t.side(c)[range.clone()].iter().map(|s| s * s).sum::<f64>()).iter().sum::<f64>()
        })
        .sum()
}

/// The adjacent thirds around the late swell's first null, 1/(2τ), in which its two channels lose [`LOSS_DB`] or more.
fn lost_band() -> [f64; 2] {
    let (low, high) = LATE_BAND;
    let null_hz = super::plan::RATE_HZ / (2.0 * LATE_SAMPLES as f64);
    let centre = |third: i32| 1_000.0 * THIRD.powi(third);
    let loses = |third: &i32| {
        let (from, to) = (centre(*third) / THIRD.sqrt(), centre(*third) * THIRD.sqrt());
        let rho = correlation_of_delay(
            LATE.range().len(),
            pink(low, high),
            (from.max(low), to.min(high)),
            LATE_SAMPLES as f64,
        );
        to > low && from < high && 10.0 * ((1.0 + rho) / 2.0).log10() <= LOSS_DB
    };
    let nearest = (-17..=13)
        .min_by(|a, b| (centre(*a) / null_hz).ln().abs().total_cmp(&(centre(*b) / null_hz).ln().abs()));
    let middle = nearest.unwrap_or(0);
    let first = (-17..=middle).rev().take_while(loses).last().unwrap_or(middle);
    let last = (middle..=13).take_while(loses).last().unwrap_or(middle);
    [centre(first) / THIRD.sqrt(), centre(last) * THIRD.sqrt()]
}

/// Stretches in which the 3 s share of the natural sound misses its aim for 3 s, dated by the middle of the window.
fn off_balance(tracks: &[Track], energies: &Energies) -> Vec<Stretch> {
    let of = |role: Role, tenth: usize| energies.of_role(tracks, role, tenth);
    let tenths = energies.tenths();
    let off_at = |end: usize, held: f64| {
        let sum = |role: Role| (end + 1 - WINDOW..=end).map(|t| of(role, t)).sum::<f64>();
        let all: f64 = Role::ALL.into_iter().map(sum).sum();
        let share = sum(Role::Natural) / all;
        let off = share - AIM.0;
        let counts = off.abs() > AIM.1 - held && !(off > 0.0 && 1.0 - share < BESIDE);
        counts.then_some(off > 0.0)
    };
    let mut found = Vec::new();
    // Sign, first and last window end.
    let mut so: Option<(bool, usize, usize)> = None;
    let mut close = |so: (bool, usize, usize)| {
        if so.2 + 1 - so.1 >= LASTS {
            let middle = |tenth: usize| (tenth as f64 - WINDOW as f64 / 2.0) / 10.0;
            found.push(Stretch { start: middle(so.1), end: middle(so.2 + 1) });
        }
    };
    for end in WINDOW - 1..tenths {
        let held = if so.is_some() { AIM.2 } else { 0.0 };
        match (off_at(end, held), so) {
            (Some(sign), Some((known, first, _))) if sign == known => so = Some((sign, first, end)),
            (Some(sign), known) => {
                known.into_iter().for_each(&mut close);
                so = off_at(end, 0.0).map(|_| (sign, end, end));
            }
            (None, Some(known)) if end - known.2 >= OVER => {
                close(known);
                so = None;
            }
            (None, _) => {}
        }
    }
    so.into_iter().for_each(&mut close);
    found
}

/// The findings that the mix must give.
pub(crate) fn findings(tracks: &[Track], mix: &Pcm, energies: &Energies) -> Vec<PlantedFinding> {
    let swell = |t: &Track| t.file == "design_swells.wav";
    let stands_out = |tenth: &usize| power(tracks, *tenth, swell) >= power(tracks, *tenth, |t| !swell(t));
    let late = where_it_holds(LATE, |t| stands_out(&t)).unwrap_or(LATE);
    let flipped = where_it_holds(FLIPPED, |t| loss_db(mix, t) <= LOSS_DB).unwrap_or(FLIPPED);
    let fades = Stretch { start: LATE.start + 0.5, end: LATE.end - 0.5 };
    let loud = "tenths in which the swell is louder than all the rest of the mix";
    let lost = "tenths of the mix that lose 3.5 dB in mono";
    let mut all = vec![
        finding(Kind::Dropout, DROPOUT, EDGE_SECS, "a hole of digital silence in every stem"),
        PlantedFinding {
            right: Some(true),
            ..finding(Kind::OneSided, ONE_SIDED, EDGE_SECS, "the right side of the tower microphone is dead")
        },
        PlantedFinding {
            band_hz: Some([LATE_BAND.0, LATE_BAND.1]),
            ..finding(Kind::OutOfStep, late, AVERAGE_SECS, loud)
        },
        PlantedFinding {
            band_hz: Some(lost_band()),
            ..finding(
                Kind::MonoLoss,
                fades,
                AVERAGE_SECS,
                "thirds around the null at 1/(2τ); somewhere in the fades of 1 s",
            )
        },
        PlantedFinding {
            band_hz: Some([FLIPPED_BAND.0, FLIPPED_BAND.1]),
            ..finding(Kind::OutOfStep, flipped, AVERAGE_SECS, lost)
        },
        PlantedFinding {
            band_hz: Some([FLIPPED_BAND.0, FLIPPED_BAND.1]),
            ..finding(Kind::MonoLoss, flipped, EDGE_SECS, lost)
        },
        finding(Kind::Clipped, tenth_of(CLIP_SECS), EDGE_SECS, "the thump that the bus clips"),
        finding(Kind::TruePeak, tenth_of(CLIP_SECS), EDGE_SECS, "the thump reaches full scale"),
        finding(Kind::TruePeak, tenth_of(PING_SECS), EDGE_SECS, "the ping peaks between its samples"),
    ];
    let because = "K-weighted energies of the stems over 3 s, by the scene's own filters; dated by the middle of the 3 s";
    all.extend(
        off_balance(tracks, energies).into_iter().map(|s| finding(Kind::Balance, s, AVERAGE_SECS, because)),
    );
    all
}

/// Clear transitions: the mason's entries after the tower alone and after the rope, and the middles of the swells'
/// fades.
pub(crate) fn joins(tracks: &[Track]) -> Vec<PlantedJoin> {
    let mason = |t: &Track| t.file == "boom.wav" || t.file == "lavalier.wav";
    let rest = |t: &Track| !mason(t);
    let sets_in = |from: f64| {
        let within = Stretch { start: from, end: from + 3.0 };
        where_it_holds(within, |t| power(tracks, t, mason) >= power(tracks, t, rest)).map(|s| s.start)
    };
    let join =
        |at_secs: f64, what: &str| PlantedJoin { at_secs, tolerance_secs: JOIN_SECS, what: what.to_owned() };
    let mut all: Vec<PlantedJoin> =
        [(11.2, "the mason sets in after the tower alone"), (38.4, "the mason sets in after the rope")]
            .into_iter()
            .filter_map(|(from, what)| Some(join(sets_in(from)?, what)))
            .collect();
    all.push(join(LATE.start + 0.5, "the late swell fades in"));
    all.push(join(LATE.end - 0.5, "the late swell fades out"));
    all.push(join(FLIPPED.start + 0.5, "the inverted swell fades in"));
    all.push(join(FLIPPED.end - 0.5, "the inverted swell fades out"));
    all
}
