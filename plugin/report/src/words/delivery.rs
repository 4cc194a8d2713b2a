//! The delivery verdict in words.

use super::{Context, State, VerdictText};
use crate::figures;
use plumbline_measure::Loudness;
use plumbline_programme::Role;
use plumbline_programme::delivery::{DeliveryVerdict, SETTLED_SECS, Target};

/// The delivery verdict: loudness, peaks, clipping, dead channels and DC against a target, which may have a name.
///
/// The figure is LU off the target while audio plays, since a fader can mend that; for files it is the loudness.
pub fn delivery(
    verdict: &DeliveryVerdict,
    loudness: &Loudness,
    target: &Target,
    name: Option<&str>,
    context: Context,
) -> VerdictText {
    let off = figures::unit(figures::signed(verdict.off_target_lu, 1), "LU");
    let figure = context.pick(off, lufs(loudness.integrated_lufs));
    let aim = aim(target, name);
    let faults = faults(verdict, target, &aim);
    if let Some((head, first)) = faults.first() {
        return VerdictText::new(State::Fault, *head, figure, with_notes(&faults, verdict)).in_short(first);
    }
    if verdict.off_target_lu.is_none() {
        let why =
            context.pick("No integrated loudness yet", "Too quiet or too short for an integrated loudness");
        return VerdictText::unknown(format!("{why}; the target is {aim}.")).in_short("No loudness yet.");
    }
    if loudness.measured_secs < SETTLED_SECS {
        return unsettled(verdict, loudness.measured_secs, &aim, figure, context);
    }
    let notes = notes(verdict);
    if !notes.is_empty() {
        let sentence = format!("Within tolerance of {aim}. {}", notes.join(" "));
        return VerdictText::new(State::Note, "On target", figure, sentence)
            .in_short(format!("Within tolerance of {aim}."));
    }
    let sentence = format!("Within tolerance of {aim}; no fault found in peaks and channels.");
    VerdictText::new(State::Fine, "On target", figure, sentence)
        .in_short(format!("Within tolerance of {aim}."))
}

/// The delivery verdict on a layer that is a part of the mix: its loudness without a verdict, and why; faults of any
/// layer are reported as usual.
pub fn delivery_of_a_part(verdict: &DeliveryVerdict, loudness: &Loudness, role: Role) -> VerdictText {
    let figure = lufs(loudness.integrated_lufs);
    let faults = faults(&verdict.of_a_part(), &Target::default(), "");
    if let Some((head, first)) = faults.first() {
        return VerdictText::new(State::Fault, *head, figure, with_notes(&faults, verdict)).in_short(first);
    }
    let role = role.name();
    let why =
        format!("A {role} layer is a part of the mix: only a layer of role Mix is held against the target.");
    let (sentence, short) = match loudness.integrated_lufs {
        Some(_) if !notes(verdict).is_empty() => (
            format!("{figure} integrated. {}", notes(verdict).join(" ")),
            format!("{figure}. A part is not judged."),
        ),
        Some(_) => (format!("{figure} integrated. {why}"), format!("{figure}. A part is not judged.")),
        None => (format!("No integrated loudness yet. {why}"), "No loudness yet.".to_owned()),
    };
    VerdictText::new(State::Unknown, "Not judged", figure, sentence).in_short(short)
}

fn unsettled(
    verdict: &DeliveryVerdict,
    measured_secs: f64,
    aim: &str,
    figure: String,
    context: Context,
) -> VerdictText {
    let secs = |secs| figures::plain(Some(secs), 0);
    let needed = figures::unit(secs(SETTLED_SECS), "s");
    if context == Context::Files {
        let notes = notes(verdict);
        let rest = if notes.is_empty() {
            "No fault found in peaks and channels.".to_owned()
        } else {
            notes.join(" ")
        };
        let sentence = format!("Too short to be held against {aim}: under {needed}. {rest}");
        return VerdictText::new(State::Note, "Short", figure, sentence);
    }
    let so_far = secs(measured_secs.floor());
    let sentence = format!("{so_far} of {needed} measured against {aim}; no fault so far.");
    VerdictText::new(State::Unknown, "Settling", figure, sentence)
        .in_short(format!("{so_far} of {needed} measured."))
}

/// Each fault as a head and a sentence, the worst for delivery first.
fn faults(verdict: &DeliveryVerdict, target: &Target, aim: &str) -> Vec<(&'static str, String)> {
    let lu = |value| figures::unit(figures::plain(Some(value), 1), "LU");
    let mut faults = Vec::new();
    if let Some(right) = verdict.dead_channel {
        let side = if right { "right" } else { "left" };
        faults.push(("Dead channel", format!("The {side} channel is silent.")));
    }
    if verdict.flat > 0 {
        let samples = figures::count(verdict.flat as f64, "sample", "samples");
        faults.push(("Clipped", format!("{samples} at full scale: lower the gain before it.")));
    }
    if let Some(over) = verdict.true_peak_over_db {
        let ceiling = figures::unit(figures::plain(Some(target.true_peak_dbtp), 1), "dBTP");
        faults.push(("Peak over", format!("True peak {} above {ceiling}.", figures::db(Some(over)))));
    }
    if let Some(off) = verdict.off_target_lu.filter(|_| verdict.loudness_off) {
        let (head, way) = if off > 0.0 { ("Too loud", "over") } else { ("Too quiet", "under") };
        faults.push((head, format!("{} {way} {aim}.", lu(off.abs()))));
    }
    if let Some(over) = verdict.short_term_over_lu {
        faults.push(("Passage too loud", format!("Short-term loudness {} over its limit.", lu(over))));
    }
    if let Some(dc) = verdict.dc.filter(|_| verdict.has_dc_fault()) {
        let share = figures::unit(figures::plain(Some(dc * 100.0), 1), "%");
        faults.push(("DC offset", format!("DC of {share} of full scale: use a high-pass.")));
    }
    faults
}

/// Notes: worth knowing but not faults, a sentence each.
fn notes(verdict: &DeliveryVerdict) -> Vec<String> {
    let mut notes = Vec::new();
    if verdict.overs > 0 && verdict.flat == 0 {
        let samples = figures::count(verdict.overs as f64, "sample", "samples");
        notes.push(format!("{samples} at full scale, no three in a row."));
    }
    if let Some(dc) = verdict.dc.filter(|_| !verdict.has_dc_fault()) {
        notes.push(format!(
            "DC of {} of full scale.",
            figures::unit(figures::plain(Some(dc * 100.0), 1), "%")
        ));
    }
    notes
}

/// All faults, then all notes.
fn with_notes(faults: &[(&'static str, String)], verdict: &DeliveryVerdict) -> String {
    let faults = faults.iter().map(|(_, sentence)| sentence.clone());
    faults.chain(notes(verdict)).collect::<Vec<_>>().join(" ")
}

/// "−23.0 LUFS", or "−23.0 LUFS (EBU R 128)".
fn aim(target: &Target, name: Option<&str>) -> String {
    let lufs = lufs(Some(target.integrated_lufs));
    match name.map(str::trim).filter(|name| !name.is_empty()) {
        Some(name) => format!("{lufs} ({name})"),
        None => lufs,
    }
}

fn lufs(value: Option<f64>) -> String {
    figures::unit(figures::plain(value, 1), "LUFS")
}
