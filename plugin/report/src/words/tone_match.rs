//! A match as a few moves of an equaliser, in words.

use crate::figures;
use plumbline_measure::bands::{THIRD_LABELS, THIRDS, third_centre_hz};
use plumbline_programme::session::Match;

/// Least move in dB that is worth words (common practice, no source).
pub const MOVE_DB: f64 = 1.5;
/// Most moves named.
const MOVES: usize = 3;

/// "cut 4 dB around 250 Hz, add 3 dB around 4 kHz"; empty if both are alike within [`MOVE_DB`], or if the difference
/// scatters by more than its size: no move is right then.
pub fn moves(matched: &Match) -> String {
    let advised = std::array::from_fn(|third| matched.advised_db(third));
    let named = largest(&advised).into_iter().map(|(third, db)| {
        let size = figures::unit(figures::plain(Some(db.abs()), 0), "dB");
        let what = if db < 0.0 { "cut" } else { "add" };
        format!("{what} {size} around {}", figures::hz(nominal(third)))
    });
    named.collect::<Vec<_>>().join(", ")
}

/// Whether some third differs by [`MOVE_DB`] or more but no move there is advised.
pub fn is_unclear(matched: &Match) -> bool {
    let differs = |third: usize| matched.change_db[third].get().is_some_and(|db| db.abs() >= MOVE_DB);
    (0..THIRDS).any(|third| differs(third) && matched.advised_db(third).is_none())
}

/// The nominal middle of a third in Hz: 250 rather than 251.
fn nominal(third: usize) -> f64 {
    let label = THIRD_LABELS.get(third).copied().unwrap_or("");
    let (digits, factor) = label.strip_suffix('k').map_or((label, 1.0), |digits| (digits, 1_000.0));
    digits.parse::<f64>().map_or_else(|_| third_centre_hz(third), |v| v * factor)
}

/// The largest moves as third and dB, in order of frequency: one for each run of thirds that point the same way;
/// [`MOVES`] at most, each of at least [`MOVE_DB`].
fn largest(change_db: &[Option<f64>; THIRDS]) -> Vec<(usize, f64)> {
    let mut runs: Vec<(usize, f64)> = Vec::new();
    let mut before: Option<f64> = None;
    for (third, db) in change_db.iter().enumerate() {
        let db = db.filter(|db| db.is_finite() && db.abs() >= MOVE_DB);
        match (db, before, runs.last_mut()) {
            (Some(db), Some(other), Some(run)) if db.signum() == other.signum() => {
                if db.abs() > run.1.abs() {
                    *run = (third, db);
                }
            }
            (Some(db), ..) => runs.push((third, db)),
            (None, ..) => {}
        }
        before = db;
    }
    runs.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    runs.truncate(MOVES);
    runs.sort_by_key(|run| run.0);
    runs
}
