//! The findings that the scene must give, from how it was made: computed tenth by tenth, with its own arithmetic.

use super::design::{FLIPPED_BAND, LATE_BAND};
use super::mixdown::{FULL_SCALE, Pcm, Role, Track};
use super::plan::{
    CLIP_SECS, CUT_SECS, DROPOUT, FLIPPED, LATE, LATE_SAMPLES, ONE_SIDED, PING_SECS, Stretch, frame,
};
use super::shares::Energies;
use super::spectrum::{correlation_of_delay, pink};
use super::truth::{PlantedFinding, PlantedJoin};
use plumbline_programme::findings::Kind;

/// Tolerance of the edges of findings in seconds: the usual one, and that for averages over 2 or 3 s.
const EDGE_SECS: f64 = 0.15;
const AVERAGE_SECS: f64 = 0.5;
/// Tolerance of the time of a join in seconds, as for segments in mir_eval.segment.detection.
const JOIN_SECS: f64 = 0.5;
/// The mono loss of the whole range at which it becomes a finding, dB.
const LOSS_DB: f64 = -3.5;
/// The aim for the natural sound, its tolerance, and the hysteresis that ends a finding.
const AIM: (f64, f64, f64) = (0.7, 0.1, 0.02);
/// The least share of the other roles at which too much natural sound counts as a finding.
const BESIDE: f64 = 0.001;
/// In tenths: a passage, the shortest passage that is judged, and a long one.
const PASSAGE: usize = 200;
const LEAST: usize = 100;
const LONG: usize = 600;
/// In tenths: the shortest finding, and the shortest gap that ends it.
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

/// The adjacent thirds around the late swell's first null, 1/(2τ), with a mono loss of [`LOSS_DB`] or more.
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

/// A role off its aim in the passage that ends with a tenth.
#[derive(Clone, Copy)]
struct Off {
    /// Whether the share is too large.
    over: bool,
    /// Whether the whole scene so far, or the last minute, is off in the same direction.
    confirmed: bool,
}

/// The distance from its aim of the natural sound's share over some tenths.
fn off_aim(tracks: &[Track], energies: &Energies, tenths: std::ops::Range<usize>) -> f64 {
    let sum = |role| tenths.clone().map(|t| energies.of_role(tracks, role, t)).sum::<f64>();
    sum(Role::Natural) / Role::ALL.into_iter().map(sum).sum::<f64>() - AIM.0
}

/// Whether the natural sound is off its aim over the 20 s that end with a tenth, or over as many as there are.
fn off_at(tracks: &[Track], energies: &Energies, end: usize, held: f64) -> Option<Off> {
    let count = end + 1;
    let so_far = |role| (0..count).map(|t| energies.of_role(tracks, role, t)).sum::<f64>();
    let all: f64 = Role::ALL.into_iter().map(so_far).sum();
    // The default aim is for natural sound with Foley.
    if count < LEAST || [Role::Natural, Role::Foley].iter().any(|role| so_far(*role) < BESIDE * all) {
        return None;
    }
    let off = off_aim(tracks, energies, count.saturating_sub(PASSAGE)..count);
    if off.abs() <= AIM.1 - held || (off > 0.0 && 1.0 - AIM.0 - off < BESIDE) {
        return None;
    }
    let same = |other: f64| other * off.signum() > AIM.1;
    let minute = count >= LONG && same(off_aim(tracks, energies, count - LONG..count));
    Some(Off { over: off > 0.0, confirmed: same(off_aim(tracks, energies, 0..count)) || minute })
}

/// Stretches in which the share of the natural sound over 20 s is off its aim for 3 s, confirmed by a longer stretch;
/// dated by the middle of the 20 s, or by the ends of the scene.
fn off_balance(tracks: &[Track], energies: &Energies) -> Vec<Stretch> {
    struct So {
        over: bool,
        since: f64,
        first: usize,
        last: usize,
        stands: bool,
    }
    let half = |count: usize| count.min(PASSAGE) as f64 / 2.0;
    let mut found = Vec::new();
    let mut so: Option<So> = None;
    let mut close = |so: So, end: f64| {
        if so.stands {
            found.push(Stretch { start: so.since / 10.0, end: end / 10.0 });
        }
    };
    for end in 0..energies.tenths() {
        let middle = |tenth: usize| tenth as f64 - half(end + 1);
        let held = if so.is_some() { AIM.2 } else { 0.0 };
        let off = off_at(tracks, energies, end, held);
        let known = so.take();
        so = match (off, known) {
            (Some(off), Some(known)) if off.over == known.over => {
                let stands = known.stands || (off.confirmed && end + 1 - known.first >= LASTS);
                Some(So { last: end, stands, ..known })
            }
            (Some(off), known) => {
                if let Some(known) = known {
                    let at = middle(known.last + 1);
                    close(known, at);
                }
                let since = if end + 1 == LEAST { 0.0 } else { middle(end) };
                Some(So { over: off.over, since, first: end, last: end, stands: false })
            }
            (None, Some(known)) if end - known.last >= OVER => {
                let at = middle(known.last + 1);
                close(known, at);
                None
            }
            (None, known) => known,
        };
    }
    if let Some(known) = so {
        let at = (known.last + 1) as f64;
        close(known, at);
    }
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
    let because = "K-weighted energies of the stems over 20 s and so far, by the scene's own filters; dated by the middle of \
                   the 20 s";
    all.extend(
        off_balance(tracks, energies).into_iter().map(|s| finding(Kind::Balance, s, AVERAGE_SECS, because)),
    );
    all
}

/// Clear transitions: the cut, the mason's entries after the tower alone and after the rope, and the middles of the
/// swells' fades.
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
    all.push(join(CUT_SECS, "a cut from behind the closed door to the tower"));
    all.push(join(LATE.start + 0.5, "the late swell fades in"));
    all.push(join(LATE.end - 0.5, "the late swell fades out"));
    all.push(join(FLIPPED.start + 0.5, "the inverted swell fades in"));
    all.push(join(FLIPPED.end - 0.5, "the inverted swell fades out"));
    all
}
