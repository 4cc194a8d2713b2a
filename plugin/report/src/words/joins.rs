//! The jumps at a join, in words.

use crate::figures::{self, DASH};
use plumbline_programme::joins::{JUMP_LU, JUMP_SHARE, JUMP_TONE};
use plumbline_programme::{Join, Role};

/// Part of a jump from which a change is worth a word: the smallest that a rule of jumps accepts.
const WORTH_A_WORD: f64 = 0.25;

/// The jumps at a join: "9.4 LU louder, brighter by 3.9 dB/oct, 48 points wider, in 0.3 s". Changes under a quarter of
/// a jump are left out.
pub fn join(join: &Join) -> String {
    let took = join.takes_secs.map(|secs| figures::unit(figures::plain(Some(secs), 1), "s"));
    let took = took.filter(|took| took != DASH).map(|took| format!("in {took}"));
    let whole = match (join.before.loudness_lufs, join.after.loudness_lufs) {
        (None, Some(_)) if join.before.tenths > 0 => Some("out of silence"),
        (Some(_), None) if join.after.tenths > 0 => Some("into silence"),
        (None, Some(_)) => Some("nothing before it to compare with"),
        (Some(_), None) => Some("nothing after it to compare with"),
        _ => None,
    };
    let mut parts: Vec<String> = whole.map(str::to_owned).into_iter().collect();
    parts.extend(changes(join));
    if parts.is_empty() {
        let nothing = if compared(join) { "no jump found" } else { "nothing to compare" };
        return nothing.to_owned();
    }
    parts.extend(took);
    parts.join(", ")
}

fn compared(join: &Join) -> bool {
    let shares = (0..Role::PARTS.len()).any(|part| join.share(part).is_some());
    join.loudness_lu().is_some() || join.tone().is_some() || join.width().is_some() || shares
}

fn changes(join: &Join) -> Vec<String> {
    let worth = |change: Option<f64>, one: f64| {
        change.filter(|change| change.is_finite() && change.abs() >= one * WORTH_A_WORD)
    };
    let way = |change: f64, down: &'static str, up: &'static str| if change < 0.0 { down } else { up };
    let mut parts = Vec::new();
    if let Some(change) = worth(join.loudness_lu(), JUMP_LU) {
        let size = figures::unit(figures::plain(Some(change.abs()), 1), "LU");
        parts.push(format!("{size} {}", way(change, "quieter", "louder")));
    }
    if let Some(change) = worth(join.tone(), JUMP_TONE) {
        let size = figures::unit(figures::plain(Some(change.abs()), 1), "dB/oct");
        parts.push(format!("{} by {size}", way(change, "darker", "brighter")));
    }
    if let Some(change) = worth(join.width(), JUMP_SHARE) {
        parts.push(format!("{} {}", points(change), way(change, "narrower", "wider")));
    }
    for (part, role) in Role::PARTS.into_iter().enumerate() {
        if let Some(change) = worth(join.share(part), JUMP_SHARE) {
            parts.push(format!("{} {} {}", points(change), way(change, "less", "more"), role.name()));
        }
    }
    parts
}

fn points(change: f64) -> String {
    figures::count((change * 100.0).abs(), "point", "points")
}
