//! The delivery verdict in words.

use super::{Said, State};
use crate::figures;
use plumbline_measure::Loudness;
use plumbline_measure::delivery::{DeliveryVerdict, SETTLED_SECS, Target};

/// The delivery verdict: loudness, peaks, clipping, dead channels and DC against a target.
pub fn delivery(verdict: &DeliveryVerdict, loudness: &Loudness, target: &Target) -> Said {
    let faults = faults(verdict, target);
    let figure = figures::unit(figures::signed(verdict.off_target_lu, 1), "LU");
    let Some((head, _)) = faults.first() else { return without_fault(verdict, loudness, target, figure) };
    let sentence = faults.iter().map(|(_, sentence)| sentence.as_str()).collect::<Vec<_>>().join(" ");
    let figure = if verdict.off_target_lu.is_some() { figure } else { String::new() };
    Said::new(State::Fault, head, figure).saying(sentence, faults[0].1.clone())
}

fn without_fault(verdict: &DeliveryVerdict, loudness: &Loudness, target: &Target, figure: String) -> Said {
    let aim = figures::unit(figures::plain(Some(target.integrated_lufs), 1), "LUFS");
    if verdict.off_target_lu.is_none() {
        let why = format!("No integrated loudness yet; the target is {aim}.");
        return Said::new(State::Unknown, figures::DASH, "").saying(why, "No loudness yet.");
    }
    if loudness.measured_secs < SETTLED_SECS {
        let so_far = figures::plain(Some(loudness.measured_secs.floor()), 0);
        let needed = figures::plain(Some(SETTLED_SECS), 0);
        return Said::new(State::Unknown, "Settling", figure).saying(
            format!("{so_far} of {needed}\u{a0}s measured against {aim}; no fault so far."),
            format!("{so_far} of {needed}\u{a0}s measured."),
        );
    }
    Said::new(State::Fine, "On target", figure).saying(
        format!("Within tolerance of {aim}; peaks and channels are in order."),
        format!("Within tolerance of {aim}."),
    )
}

/// Each fault as a head and a sentence, the worst to deliver first.
fn faults(verdict: &DeliveryVerdict, target: &Target) -> Vec<(&'static str, String)> {
    let lu = |value: f64| figures::unit(figures::plain(Some(value), 1), "LU");
    let mut faults: Vec<(&'static str, String)> = Vec::new();
    if let Some(right) = verdict.dead_channel {
        let side = if right { "right" } else { "left" };
        faults.push(("Dead channel", format!("The {side} channel is silent.")));
    }
    if verdict.overs > 0 {
        let samples = figures::count(verdict.overs, "sample", "samples");
        faults.push(("Clipped", format!("{samples} at full scale: lower the gain before it.")));
    }
    if let Some(over) = verdict.true_peak_over_db {
        let ceiling = figures::unit(figures::plain(Some(target.true_peak_dbtp), 1), "dBTP");
        faults.push(("Peak over", format!("True peak {} above {ceiling}.", figures::db(Some(over)))));
    }
    if let Some(off) = verdict.off_target_lu.filter(|_| verdict.loudness_off) {
        let (head, way) = if off > 0.0 { ("Too loud", "over") } else { ("Too quiet", "under") };
        let aim = figures::unit(figures::plain(Some(target.integrated_lufs), 1), "LUFS");
        faults.push((head, format!("{} {way} {aim}.", lu(off.abs()))));
    }
    if let Some(over) = verdict.short_term_over_lu {
        faults.push(("Passage too loud", format!("Short-term loudness {} over its limit.", lu(over))));
    }
    if let Some(dc) = verdict.dc {
        let share = figures::unit(figures::plain(Some(dc * 100.0), 1), "%");
        faults.push(("DC offset", format!("DC of {share} of full scale: use a high-pass.")));
    }
    faults
}
