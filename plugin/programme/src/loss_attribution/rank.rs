//! The gain of leaving out each layer, and pairs that win clearly more than either alone.

use super::fit::Fit;
use super::gram::Gram;
use super::passage::{CANCELLED_DB, DEEPEST_DB, LEAST_WIN_DB, NOTHING_LEFT_DB, Part, Passage};
use crate::session::{LeftOut, LossByLayer};
use plumbline_measure::cross::{StereoPower, db_power};

/// Level of the mid of two layers together under the sum of their separate mids at which they oppose each other, dB.
/// For unrelated layers both differ by a fraction of this (common practice, no source).
const OPPOSED_DB: f64 = -3.0;

/// Most entries in an answer.
const MOST_LINES: usize = 8;

/// One or two layers left out, and the gain in dB.
struct Trial {
    left_out: LeftOut,
    win_db: f64,
}

/// Leaves out each layer and each pair, sorted by what it wins.
pub(super) fn ranked(passage: &Passage<'_>, gram: &Gram, fit: &Fit, parts: &[Part]) -> LossByLayer {
    let mix = gram.mix();
    let loss_db = mix.mono_loss_db().unwrap_or(0.0);
    let without = |left: &[&Part]| -> Trial {
        let loss = loss_without(gram, &gains_of(fit, left, -1.0), mix.total());
        Trial {
            // If nothing is left, nothing is lost.
            win_db: loss.unwrap_or(0.0).max(DEEPEST_DB) - loss_db.max(DEEPEST_DB),
            left_out: LeftOut { layers: left.iter().map(|part| part.id).collect(), loss_db: loss },
        }
    };
    let single: Vec<Trial> = parts.iter().map(|part| without(&[part])).collect();
    let mid_alone: Vec<f64> =
        parts.iter().map(|part| gram.of(0.0, &gains_of(fit, &[part], 1.0)).mid()).collect();
    let mut pairs = Vec::new();
    for second in 0..parts.len() {
        for first in 0..second {
            let both = [&parts[first], &parts[second]];
            let together = gram.of(0.0, &gains_of(fit, &both, 1.0)).mid();
            let apart = mid_alone[first] + mid_alone[second];
            let oppose = together < apart * db_power(OPPOSED_DB);
            let wins = [first, second].map(|i| single[i].win_db);
            // Two layers that each cause loss may be named together; a wide one beside a faulty one may not.
            let both_lose = wins.iter().all(|win| *win >= LEAST_WIN_DB);
            if !(oppose || both_lose) {
                continue;
            }
            let trial = without(&both);
            let better = wins[0].max(wins[1]);
            // An empty rest says something about the pair only if neither helps alone.
            let telling = trial.left_out.loss_db.is_some() || better < LEAST_WIN_DB;
            if telling && trial.win_db >= better.max(0.0) + LEAST_WIN_DB {
                pairs.push(trial);
            }
        }
    }
    let mut trials: Vec<Trial> =
        single.into_iter().chain(pairs).filter(|t| t.win_db >= LEAST_WIN_DB).collect();
    // The sort is stable: equal wins keep the order of the layers, single layers before pairs.
    trials.sort_by(|a, b| b.win_db.total_cmp(&a.win_db));
    trials.truncate(MOST_LINES);
    LossByLayer {
        band: passage.band,
        span: passage.span,
        loss_db,
        left_out: trials.into_iter().map(|t| t.left_out).collect(),
        explained: 1.0 - fit.unexplained,
    }
}

/// Mono loss of the mix with some gains added, dB; `None` if nothing is left.
fn loss_without(gram: &Gram, gains: &[[f64; 2]], mix_total: f64) -> Option<f64> {
    let rest: StereoPower = gram.of(1.0, gains);
    if rest.total() < mix_total * db_power(NOTHING_LEFT_DB) {
        return None;
    }
    rest.mono_loss_db().map(|loss| if loss < CANCELLED_DB { f64::NEG_INFINITY } else { loss })
}

/// The fitted gains of some layers times `sign`; 0 for all others.
fn gains_of(fit: &Fit, parts: &[&Part], sign: f64) -> Vec<[f64; 2]> {
    let mut gains = vec![[0.0; 2]; fit.gains.len()];
    for part in parts {
        for column in part.columns.clone() {
            gains[column] = fit.gains[column].map(|gain| gain * sign);
        }
    }
    gains
}
