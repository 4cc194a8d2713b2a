//! Combines many windows of one pair into one reading that a single loud event cannot upset.

mod line;
mod sums;

pub use sums::ThirdReading;

use super::window::{CannotTell, Found, Polarity, Window};
use super::window_lengths::WINDOW_SECS;
use line::{Line, Point};
use plumbline_measure::bands::THIRDS;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;
use sums::Sums;

/// Seconds of windows that vote on the delay.
pub const VOTE_SECS: f64 = 10.0;

/// Seconds of windows kept for the drift, whose uncertainty falls with the 1.5th power of time.
pub const DRIFT_SECS: f64 = 60.0;

/// Shortest time of agreeing windows for a drift, in seconds.
const LEAST_DRIFT_SECS: f64 = 8.0;

/// Fewest windows that must agree: 2.5 s of sound.
const FEWEST: usize = 3;

/// Least part of the windows with a delay that must agree; with fewer the source is moving.
const LEAST_AGREED: f64 = 0.5;

/// Least part of the windows with sound that must agree. Occasional speech over unrelated ambience is enough; chance
/// peaks, which do not agree with each other, are not.
const LEAST_OF_SOUNDING: f64 = 0.25;

/// Distance of a second delay from the first, seconds.
const SECOND_SECS: f64 = 1e-3;
/// Magnitude, as a part of the peak, from which a value far from it may be a second delay.
const SECOND_PART: f64 = 0.25;

/// Shortest time after the last window before a seam at which a window counts as after the seam, seconds.
const SEAM_SECS: f64 = 1e-6;

/// Standard deviations from which a drift is clear; the delay then follows the slope.
const PLAIN_DRIFT: f64 = 4.0;

/// The drift between two clocks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Growth of the delay in parts per million; positive when the second falls further behind.
    pub ppm: f64,
    /// Its standard deviation, from the scatter of the windows.
    pub sigma_ppm: f64,
    /// Whether the drift is clear: at least four standard deviations.
    pub plain: bool,
}

/// Change of a delay in seconds that a move still tolerates: 5 cm of path.
const BORNE_SECS: f64 = line::TOLERANCE_SECS;

impl Drift {
    /// Whether the delay changes too much within `secs` for one move.
    pub fn moves(&self, secs: f64) -> bool {
        (self.ppm * 1e-6 * secs).abs() > BORNE_SECS
    }
}

/// The result that the windows of the last 10 s agree on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Agreed {
    /// Delay in seconds at the end of the latest window; positive if the second trails.
    pub delay_secs: f64,
    /// Its standard deviation in seconds, from the scatter of the windows.
    pub sigma_secs: f64,
    /// Polarity.
    pub polarity: Polarity,
    /// Confidence, 0…1: mean confidence of the agreeing windows, times their part of those with a delay.
    pub confidence: f64,
    /// A second delay that at least half of the windows show as well, seconds: another source, or an echo.
    pub second_secs: Option<f64>,
    /// The drift; absent with less than 8 s of agreeing windows.
    pub drift: Option<Drift>,
    /// Windows of the last 10 s that agree, and windows in which both sounded.
    pub windows: [u16; 2],
}

/// The latest reading of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Delay and polarity, or why they are unknown.
    pub outcome: Result<Agreed, CannotTell>,
    /// The thirds, 20 Hz to 20 kHz, over about 5 s.
    pub thirds: [ThirdReading; THIRDS],
    /// Coherence, 0…1: mean over the thirds within 30 dB of the loudest.
    pub coherence: Option<f64>,
    /// Level of the second relative to the first, dB.
    pub level_db: Option<f64>,
    /// Power that the repair adds to the blend, as a part of the power of both: 0 if they already add up, 2 if two
    /// equal copies cancel. Absent if no delay is known.
    pub won: Option<f64>,
    /// Gain of the K-weighted sum of both by the repair, losses counted like gains, dB. Absent if no delay is known.
    pub net_gain_db: Option<f64>,
}

impl Reading {
    /// Gain of the repair in the sum of everything compared, dB, if the pair holds the part `part` (0…1) of its
    /// power.
    pub fn cost_db(&self, part: f64) -> Option<f64> {
        self.won.map(|won| 10.0 * (1.0 + won.max(0.0) * part.clamp(0.0, 1.0)).log10())
    }
}

#[derive(Clone, Copy, Debug)]
struct Seen {
    /// Middle of the window in seconds.
    at: f64,
    outcome: Result<Found, CannotTell>,
}

/// Follows one pair over time.
///
/// # Shape
/// Takes a window every [`HOP_SECS`](super::HOP_SECS) or more; about 20 kB at most. A position that goes back, or
/// [`DRIFT_SECS`] without a window, restarts the track.
///
/// # Definition
/// Over the delays of the last 10 s, the line (delay over time, at most 600 ppm steep) that has the most windows within
/// 0.15 ms, weighted by confidence; then least squares over those windows and over older ones that continue it. Up to
/// half of the windows may be upset by something else.
#[derive(Clone, Debug, Default)]
pub struct Track {
    seen: VecDeque<Seen>,
    sums: Sums,
    /// The result of the vote; `None` before the first window.
    newest: Option<Result<Agreed, CannotTell>>,
    /// Windows after this time count alone as soon as enough of them agree; the sums are of these windows only.
    seam: Option<(f64, Sums)>,
}

impl Track {
    /// A track without windows.
    pub fn new() -> Self {
        Self::default()
    }

    /// Discards everything, for moved microphones or another take.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// Notes that what follows may differ from what came before: playback restarted or jumped. The reading stays
    /// until three windows after this point agree; from then on only those count.
    pub fn seam(&mut self) {
        self.seam = self.seen.back().map(|last| (last.at, Sums::default()));
    }

    /// Takes a window that ends at `end_secs` (song time or any other steady clock). Ignored if the time is NaN or
    /// infinite.
    pub fn push(&mut self, end_secs: f64, window: &Window) {
        if !end_secs.is_finite() {
            return;
        }
        let at = end_secs - WINDOW_SECS / 2.0;
        if self.seen.back().is_some_and(|last| at <= last.at || at > last.at + DRIFT_SECS) {
            self.clear();
        }
        self.seen.push_back(Seen { at, outcome: window.outcome });
        while self.seen.front().is_some_and(|first| first.at < at - DRIFT_SECS) {
            self.seen.pop_front();
        }
        let before = self.agreed();
        self.newest = Some(self.agree());
        self.settle_seam(before);
        let agrees = match (window.outcome, self.agreed()) {
            (Ok(found), Some(agreed)) => {
                found.polarity == agreed.polarity
                    && (found.delay_secs - agreed.delay_secs).abs() <= 2.0 * line::TOLERANCE_SECS
            }
            _ => false,
        };
        self.sums.take(window, agrees);
        if let Some((_, sums)) = &mut self.seam {
            sums.take(window, agrees);
        }
    }

    fn agreed(&self) -> Option<Agreed> {
        self.newest.and_then(Result::ok)
    }

    /// Ends a seam as soon as the windows after it agree. If they agree with what came before, everything continues;
    /// otherwise what came before is discarded.
    fn settle_seam(&mut self, before: Option<Agreed>) {
        let Some((seam, last)) = self.seam.as_ref().map(|(at, _)| *at).zip(self.seen.back().map(|s| s.at))
        else {
            return;
        };
        let Ok(behind) = self.agree_from(last, (last - VOTE_SECS).max(seam + SEAM_SECS)) else { return };
        let goes_on = before.is_some_and(|before| {
            before.polarity == behind.polarity
                && (before.delay_secs - behind.delay_secs).abs() <= 2.0 * line::TOLERANCE_SECS
        });
        let sums = self.seam.take().map(|(_, sums)| sums);
        if !goes_on {
            self.seen.retain(|seen| seen.at > seam + SEAM_SECS);
            self.sums = sums.unwrap_or_default();
            self.newest = Some(Ok(behind));
        }
    }

    /// The middle of the earliest window of the last [`VOTE_SECS`] that has the agreed delay, seconds.
    pub fn agreed_since(&self) -> Option<f64> {
        let agreed = self.agreed()?;
        let has = |seen: &&Seen| {
            seen.outcome.is_ok_and(|found| {
                found.polarity == agreed.polarity
                    && (found.delay_secs - agreed.delay_secs).abs() <= 2.0 * line::TOLERANCE_SECS
            })
        };
        self.recent().find(has).map(|seen| seen.at)
    }

    /// Delays found, oldest first: time of the middle of the window, and delay, both in seconds. Covers at most 60 s.
    pub fn delays(&self) -> impl Iterator<Item = (f64, f64)> {
        self.seen.iter().filter_map(|seen| seen.outcome.ok().map(|found| (seen.at, found.delay_secs)))
    }

    /// The reading of the windows so far.
    pub fn reading(&self) -> Reading {
        let outcome = self.newest.unwrap_or(Err(CannotTell::TooShort));
        let thirds = self.sums.thirds(outcome.is_ok());
        let known = |value: Option<f64>| value.filter(|_| outcome.is_ok());
        Reading {
            outcome,
            coherence: self.sums.coherence(),
            level_db: self.sums.level_db(),
            thirds,
            won: known(self.sums.won()),
            net_gain_db: known(self.sums.net_gain_db()),
        }
    }

    fn recent(&self) -> impl Iterator<Item = &Seen> {
        self.since(self.seen.back().map_or(0.0, |last| last.at - VOTE_SECS))
    }

    fn since(&self, from: f64) -> impl Iterator<Item = &Seen> {
        self.seen.iter().filter(move |seen| seen.at >= from)
    }

    fn agree(&self) -> Result<Agreed, CannotTell> {
        let last = self.seen.back().ok_or(CannotTell::TooShort)?;
        self.agree_from(last.at, last.at - VOTE_SECS)
    }

    fn agree_from(&self, last: f64, from: f64) -> Result<Agreed, CannotTell> {
        let points: Vec<Point> =
            self.since(from).filter_map(|seen| seen.outcome.ok().map(|f| Point::new(seen.at, f))).collect();
        let quiet = |seen: &&Seen| matches!(seen.outcome, Err(CannotTell::TooQuiet | CannotTell::TooShort));
        let sounding = self.since(from).count() - self.since(from).filter(quiet).count();
        let refused = || self.most_frequent_refusal();
        let vote = line::vote(&points).ok_or_else(refused)?;
        let agreed = points.iter().filter(|p| vote.holds(p)).count();
        if (agreed as f64) < LEAST_AGREED * points.len() as f64 {
            return Err(CannotTell::Moving);
        }
        if agreed < FEWEST || (agreed as f64) < LEAST_OF_SOUNDING * sounding as f64 {
            return Err(refused());
        }
        let end = last + WINDOW_SECS / 2.0;
        Ok(self.settle(&points, &vote, end, sounding))
    }

    fn settle(&self, points: &[Point], vote: &Line, end: f64, sounding: usize) -> Agreed {
        let inliers: Vec<Point> = points.iter().filter(|p| vote.holds(p)).copied().collect();
        let confidence = inliers.iter().map(|p| p.weight).sum::<f64>() / points.len().max(1) as f64;
        let mut all = inliers.clone();
        let first = inliers.first().map_or(end, |p| p.at);
        let older = self.seen.iter().rev().filter(|seen| seen.at < first);
        let older = older.filter_map(|seen| seen.outcome.ok().map(|f| Point::new(seen.at, f)));
        let mut line = line::fit(&all, vote);
        let mut missed = 0;
        for point in older {
            if line.holds(&point) {
                all.push(point);
                missed = 0;
                if all.len().is_multiple_of(8) {
                    line = line::fit(&all, vote);
                }
            } else {
                missed += 1;
                // As many windows in a row as one event can upset: before them there was another delay.
                if missed > 8 {
                    break;
                }
            }
        }
        let line = line::fit(&all, vote);
        let drift = line.drift.filter(|_| line.span_secs >= LEAST_DRIFT_SECS).map(|sigma_ppm| Drift {
            ppm: line.slope * 1e6,
            sigma_ppm,
            plain: (line.slope * 1e6).abs() >= PLAIN_DRIFT * sigma_ppm,
        });
        let (delay_secs, sigma_secs) = match drift {
            Some(drift) if drift.plain => (line.at(end), line.sigma_at(end)),
            _ => line::level(&inliers),
        };
        let count = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
        Agreed {
            delay_secs,
            sigma_secs,
            polarity: vote.polarity,
            confidence: confidence.clamp(0.0, 1.0),
            second_secs: self.second_delay(delay_secs, inliers.len()),
            drift,
            windows: [count(inliers.len()), count(sounding)],
        }
    }

    /// The delay apart from `first` that most windows of the vote show, as their own or as a strong second; `None` if
    /// fewer than half of `agreed` do.
    fn second_delay(&self, first: f64, agreed: usize) -> Option<f64> {
        let apart = |secs: &f64| (secs - first).abs() > SECOND_SECS;
        let of = |seen: &Seen| {
            let found = seen.outcome.ok()?;
            let [second, part] = found.second;
            let strong = Some(second).filter(|_| part >= SECOND_PART);
            Some(found.delay_secs).filter(apart).or(strong.filter(apart))
        };
        let mut delays: Vec<f64> = self.recent().filter_map(of).collect();
        delays.sort_by(f64::total_cmp);
        let near = |from: usize| delays[from..].partition_point(|d| d - delays[from] <= line::TOLERANCE_SECS);
        let most = (0..delays.len()).max_by_key(|from| near(*from))?;
        let count = near(most);
        (2 * count >= agreed).then(|| delays[most + count / 2])
    }

    fn most_frequent_refusal(&self) -> CannotTell {
        let refusals: Vec<CannotTell> = self.recent().filter_map(|seen| seen.outcome.err()).collect();
        let count = |reason: &CannotTell| refusals.iter().filter(|r| *r == reason).count();
        // Of equally frequent reasons, the latest.
        refusals.iter().copied().max_by_key(|reason| count(reason)).unwrap_or(CannotTell::TooShort)
    }
}
