//! The line of delay over time on which most windows are.

use super::{Found, Polarity, WINDOW_SECS};

/// Largest distance of a window from the line: 5 cm of path. Windows of 2 s in a room scatter less; another echo, or
/// the next cycle of a low note, is further away.
pub(super) const TOLERANCE_SECS: f64 = 0.15e-3;

/// Steepest line. The clocks of recorders are accurate to 100 ppm or better each, those of cameras and phones to a few
/// hundred (common practice, no source); a walking source changes the delay several times as fast.
const STEEPEST: f64 = 600e-6;

/// Smallest distance in seconds of two windows that give a slope; nearer ones overlap too much.
const APART_SECS: f64 = 1.0;

/// Part of a mean vote by which a slope must beat the best level line.
const SLOPE_HANDICAP: f64 = 0.5;

#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    pub(super) at: f64,
    pub(super) delay: f64,
    pub(super) polarity: Polarity,
    pub(super) weight: f64,
}

impl Point {
    pub(super) fn new(at: f64, found: Found) -> Self {
        Self { at, delay: found.delay_secs, polarity: found.polarity, weight: found.confidence }
    }
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    middle: f64,
    delay: f64,
    pub(super) slope: f64,
    pub(super) polarity: Polarity,
    /// Standard deviation of the slope, ppm.
    pub(super) drift: Option<f64>,
    /// Standard deviation of the delay in the middle, seconds.
    sigma: f64,
    /// Time from the first to the last window on the line.
    pub(super) span_secs: f64,
}

impl Line {
    fn through(point: &Point, slope: f64) -> Self {
        Self {
            middle: point.at,
            delay: point.delay,
            slope,
            polarity: point.polarity,
            drift: None,
            sigma: 0.0,
            span_secs: 0.0,
        }
    }

    pub(super) fn at(&self, secs: f64) -> f64 {
        self.delay + self.slope * (secs - self.middle)
    }

    pub(super) fn sigma_at(&self, secs: f64) -> f64 {
        self.sigma.hypot(self.drift.unwrap_or(0.0) * 1e-6 * (secs - self.middle))
    }

    pub(super) fn holds(&self, point: &Point) -> bool {
        point.polarity == self.polarity && (point.delay - self.at(point.at)).abs() <= TOLERANCE_SECS
    }

    fn votes(&self, points: &[Point]) -> f64 {
        points.iter().filter(|p| self.holds(p)).map(|p| p.weight).sum()
    }
}

/// The line with the most votes, among lines through each point and through each pair of points.
pub(super) fn vote(points: &[Point]) -> Option<Line> {
    let level = points.iter().map(|p| Line::through(p, 0.0));
    let mut best = None;
    let mut most = 0.0;
    for line in level {
        let votes = line.votes(points);
        if votes > most {
            (best, most) = (Some(line), votes);
        }
    }
    // Slopes are only tried if a level line leaves a window out: most pairs do not drift.
    let total: f64 = points.iter().map(|p| p.weight).sum();
    let mean = total / points.len().max(1) as f64;
    let handicap = SLOPE_HANDICAP * mean;
    if most + handicap >= total {
        return best;
    }
    let mut most = most + handicap;
    for (i, first) in points.iter().enumerate() {
        for second in &points[i + 1..] {
            let secs = second.at - first.at;
            let slope = (second.delay - first.delay) / secs;
            if secs < APART_SECS || slope.abs() > STEEPEST || first.polarity != second.polarity {
                continue;
            }
            let line = Line::through(first, slope);
            let votes = line.votes(points);
            if votes > most {
                (best, most) = (Some(line), votes);
            }
        }
    }
    best
}

/// Number of windows that count as one, because they share most of their samples.
fn sharing(points: &[Point], span: f64) -> f64 {
    let independent = (span / WINDOW_SECS + 1.0).min(points.len() as f64);
    points.len() as f64 / independent
}

fn span(points: &[Point]) -> f64 {
    let ends = points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| (a.min(p.at), b.max(p.at)));
    (ends.1 - ends.0).max(0.0)
}

/// Least squares over points. With fewer than three, returns `like`.
pub(super) fn fit(points: &[Point], like: &Line) -> Line {
    let n = points.len() as f64;
    if points.len() < 3 {
        return *like;
    }
    let middle = points.iter().map(|p| p.at).sum::<f64>() / n;
    let delay = points.iter().map(|p| p.delay).sum::<f64>() / n;
    let spread: f64 = points.iter().map(|p| (p.at - middle).powi(2)).sum();
    if spread <= 0.0 {
        return *like;
    }
    let slope = points.iter().map(|p| (p.at - middle) * (p.delay - delay)).sum::<f64>() / spread;
    let line = Line { middle, delay, slope, ..*like };
    let rest: f64 = points.iter().map(|p| (p.delay - line.at(p.at)).powi(2)).sum();
    let variance = rest / (n - 2.0);
    let span_secs = span(points);
    let sharing = sharing(points, span_secs);
    Line {
        drift: Some((variance * sharing / spread).sqrt() * 1e6),
        sigma: (variance * sharing / n).sqrt(),
        span_secs,
        ..line
    }
}

/// The delay of points that do not drift, and its standard deviation, from the median.
pub(super) fn level(points: &[Point]) -> (f64, f64) {
    let mut delays: Vec<f64> = points.iter().map(|p| p.delay).collect();
    delays.sort_by(f64::total_cmp);
    let n = delays.len();
    if n == 0 {
        return (0.0, f64::INFINITY);
    }
    let median = (delays[n / 2] + delays[(n - 1) / 2]) / 2.0;
    let variance = delays.iter().map(|d| (d - median).powi(2)).sum::<f64>() / n as f64;
    // The median of Gaussian values deviates √(π/2) times as far as their mean.
    let share = sharing(points, span(points)) / n as f64;
    (median, (variance * share * std::f64::consts::FRAC_PI_2).sqrt())
}
