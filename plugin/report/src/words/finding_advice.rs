//! Advice on a finding. It says what was measured, and no more: only the ear can tell whether a delay or an all-pass
//! causes the out of step, or whether wind causes unrelated lows.

use super::{capital, channel, name, points_off, together};
use crate::figures::{self, DASH};
use plumbline_measure::Span;
use plumbline_measure::bands::WHOLE;
use plumbline_programme::Role;
use plumbline_programme::arrival::Cause;
use plumbline_programme::findings::{Finding, Kind};

/// The advice on a finding: one sentence.
pub fn advice(finding: &Finding) -> String {
    match finding.kind {
        Kind::OutOfStep => out_of_step(finding),
        Kind::MonoLoss => mono_loss(finding),
        Kind::OneSided => one_sided(finding),
        Kind::TruePeak => {
            let peak = match amount(finding.worst, "dBTP") {
                none if none.is_empty() => "is over the ceiling".to_owned(),
                size => format!("comes to {size}, over the ceiling"),
            };
            format!("Turn the level down here, or limit it: the true peak{} {peak}.", in_channel(finding))
        }
        Kind::Clipped => {
            let count = counted(finding.worst, "sample is", "samples are");
            let channel = in_channel(finding);
            format!(
                "{count} at full scale{channel}: turn down what comes before, or take the passage again from a \
                 source that is not clipped."
            )
        }
        Kind::Dropout => {
            let size = amount_whole(finding.worst, "ms");
            let size = if size.is_empty() { size } else { format!(" for {size}") };
            format!(
                "The sound breaks off into digital silence{size}{}: look for a hole between clips, a cut without a \
                 fade, or a transfer that lost samples.",
                of_layers(finding)
            )
        }
        Kind::Wind => wind(finding),
        Kind::Balance => balance(finding),
        Kind::Covered => covered(finding),
        Kind::Jump => {
            "Listen across this join and see what jumps in the list of joins: ride the level, match the tone \
                       or the width, or make the fade longer."
                .to_owned()
        }
        Kind::Gap => {
            let count = counted(finding.worst, "sample", "samples");
            format!(
                "{count} did not reach the analyser: raise the host's buffer, and play the passage again to have it \
                 measured."
            )
        }
    }
}

/// The layers as the subject of a sentence, or a substitute.
fn who(finding: &Finding, nobody: &str) -> String {
    if finding.layers.is_empty() { nobody.to_owned() } else { together(&finding.layers) }
}

/// " of X", or nothing.
fn of_layers(finding: &Finding) -> String {
    if finding.layers.is_empty() { String::new() } else { format!(" of {}", together(&finding.layers)) }
}

/// " in the right channel", or nothing.
fn in_channel(finding: &Finding) -> String {
    finding.right.map(|right| format!(" in the {}", channel(right))).unwrap_or_default()
}

/// The frequency range as the end of a phrase: " below 3.5 kHz", " above 2 kHz", " from 200 Hz to 2 kHz", or nothing
/// for the whole range.
fn where_in(span: Option<Span>) -> String {
    let Some(span) = span else { return String::new() };
    let (low, high) = (figures::hz(span.low_hz), figures::hz(span.high_hz));
    if low == DASH || high == DASH {
        return String::new();
    }
    // The outermost thirds reach a little beyond the measured range.
    let (from_below, to_above) = (span.low_hz <= WHOLE.low_hz, span.high_hz >= WHOLE.high_hz);
    match (from_below, to_above) {
        (true, true) => String::new(),
        (true, false) => format!(" below {high}"),
        (false, true) => format!(" above {low}"),
        (false, false) => format!(" from {low} to {high}"),
    }
}

/// A positive or negative amount with one decimal, or nothing.
fn amount(value: f64, unit: &str) -> String {
    if value.is_finite() { figures::unit(figures::plain(Some(value), 1), unit) } else { String::new() }
}

fn amount_whole(value: f64, unit: &str) -> String {
    if value.is_finite() { figures::unit(figures::plain(Some(value), 0), unit) } else { String::new() }
}

/// "175 samples are", or "Samples are" if there is no count.
fn counted(value: f64, one: &str, many: &str) -> String {
    match figures::count(value, one, many) {
        none if none == DASH => capital(many),
        count => count,
    }
}

fn out_of_step(finding: &Finding) -> String {
    let place = where_in(finding.span);
    let of = of_layers(finding);
    let reach = if finding.layers.len() > 1 { "reach" } else { "reaches" };
    let who = who(finding, "One sound");
    match finding.cause {
        Some(Cause::Inverted) => {
            format!("Invert the polarity of one channel{of}: left and right oppose each other{place}.")
        }
        Some(Cause::Opposed) => format!(
            "Left and right{of} oppose each other{place} but share little, as if widened too far or one inverted: \
             check it in mono."
        ),
        Some(Cause::InvertedInPart) => format!(
            "Left and right{of} oppose each other{place} only, so inverting a channel would cost more \
             elsewhere: check it in mono."
        ),
        // The delay itself comes from the comparison: with tones, the thirds fit several.
        Some(Cause::Delayed { .. }) => format!(
            "{who} {reach} left and right twice{place}: shorten or remove the delay between the channels."
        ),
        _ => format!(
            "{who} {reach} left and right out of step{place}, and no cause is known: check it in mono."
        ),
    }
}

fn mono_loss(finding: &Finding) -> String {
    let place = where_in(finding.span);
    let of = of_layers(finding);
    if finding.follows.is_some() {
        return format!(
            "Mono loses sound{of}{place} because left and right are out of step here: repair that."
        );
    }
    let lost = match finding.worst {
        worst if worst == f64::INFINITY => {
            if finding.layers.is_empty() { "everything" } else { "all" }.to_owned()
        }
        worst => match amount(worst, "dB") {
            none if none.is_empty() => "sound".to_owned(),
            size => size,
        },
    };
    format!("Mono loses {lost}{of}{place}: check it in mono.")
}

fn one_sided(finding: &Finding) -> String {
    let side = finding
        .right
        .map_or("One channel", |right| if right { "The right channel" } else { "The left channel" });
    let how = match finding.worst {
        worst if worst == f64::INFINITY => "is silent".to_owned(),
        worst => match amount(worst, "dB") {
            none if none.is_empty() => "is far under the other".to_owned(),
            size => format!("is {size} under the other"),
        },
    };
    format!("{side}{} {how}: check its cable, its pan and its routing.", of_layers(finding))
}

fn wind(finding: &Finding) -> String {
    let lows = match finding.span.map(|span| figures::hz(span.high_hz)) {
        Some(high) if high != DASH => format!(" below {high}"),
        _ => String::new(),
    };
    let over = match amount(finding.worst, "dB") {
        none if none.is_empty() => "stand out".to_owned(),
        size => format!("stand {size} over the rest"),
    };
    format!(
        "High-pass {}{lows}, or use another take: its lows {over} and are unrelated, as in wind.",
        who(finding, "this passage")
    )
}

fn balance(finding: &Finding) -> String {
    let who = match finding.role {
        Some(role) if role != Role::Mix => role.name(),
        _ => "The balance",
    };
    let off = points_off(finding.worst);
    if off == DASH {
        return format!("{who} is off its aim: bring the layers of that role back to it.");
    }
    let (what, others) = if finding.worst < 0.0 { ("raise it", "lower") } else { ("lower it", "raise") };
    format!("{who} is {off} its aim: {what}, or {others} the others.")
}

fn covered(finding: &Finding) -> String {
    let place = where_in(finding.span);
    let over = match amount(finding.worst, "dB") {
        none if none.is_empty() => "cover it".to_owned(),
        size => format!("stand {size} over it"),
    };
    match finding.layers.as_slice() {
        [] => format!("Raise the covered layer, or make room for it{place}: the others {over}."),
        [one] => format!("Raise {}, or make room for it{place}: the others {over}.", name(&one.name)),
        [covered, by @ ..] => {
            format!(
                "Raise {}, or make room for it in {}{place}: the others {over}.",
                name(&covered.name),
                together(by)
            )
        }
    }
}
