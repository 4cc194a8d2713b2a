//! Pairs of microphones: what to do about each, and its delay over time.

use super::plot::{Plot, steps};
use crate::figures::{percent, plain, signed, unit};
use crate::html::text::escaped;
use crate::moment::Time;
use crate::survey::sentences;
use crate::words;
use plumbline_programme::pair::{Polarity, metres};
use plumbline_programme::survey::{Pair, Survey};

/// Least half height of the axis of delay, ms.
const LEAST_MS: f64 = 0.5;

pub(super) fn section(survey: &Survey) -> String {
    let pairs = &survey.pairs.pairs;
    if pairs.is_empty() {
        return String::new();
    }
    let mut out = String::from("<h2>Pairs</h2>\n<p class=\"note\">Who costs the sum most comes first.");
    if survey.pairs.uncompared > 0 {
        out += &format!(" {} more microphones were not compared.", survey.pairs.uncompared);
    }
    out += "</p>\n<div class=\"pics\">\n";
    for pair in pairs {
        out += &one(pair, survey);
    }
    out + "</div>\n"
}

fn one(pair: &Pair, survey: &Survey) -> String {
    let text = sentences::pair(pair, survey.start.rate(), survey.celsius);
    let names = pair.names.each_ref().map(|name| words::name(name));
    let head = escaped(&format!("{} and {}", names[0], names[1]));
    let mut out = format!(
        "<figure class=\"pair\"><h3>{head}</h3>\n<p><strong>{}</strong> {}</p>\n",
        escaped(&text.head),
        escaped(&text.sentence)
    );
    if let Ok(agreed) = pair.line.reading.outcome {
        // Other outcomes have no delay over time worth a picture.
        if matches!(sentences::outcome(&pair.line), "repair" | "in_step") {
            out += &picture(pair, survey, &head);
            out += "<p class=\"note\">Delay over time, ms.</p>\n";
        }
        let polarity = match agreed.polarity {
            Polarity::Same => "same polarity",
            Polarity::Inverted => "opposite polarity",
        };
        let secs = agreed.delay_secs;
        let mut facts = vec![
            format!(
                "{} ± {}",
                signed(Some(secs * 1e3), 2),
                unit(plain(Some(agreed.sigma_secs * 1e3), 2), "ms")
            ),
            unit(signed(Some(secs * f64::from(pair.line.rate_hz)), 1), "samples"),
            unit(signed(Some(metres(secs, survey.celsius)), 2), "m"),
            polarity.to_owned(),
            format!("confidence {}", percent(Some(agreed.confidence))),
        ];
        if let Some(drift) = agreed.drift {
            facts.push(format!("drift {}", words::with_sigma(signed(Some(drift.ppm), 1), drift.sigma_ppm)));
        }
        if let Some(cost) = pair.line.cost_db {
            facts.push(format!("costs the sum {}", unit(plain(Some(cost), 1), "dB")));
        }
        out += &format!("<figcaption>{}</figcaption>\n", escaped(&facts.join(" · ")));
    }
    out + "</figure>\n"
}

/// Delays of single windows over time, and the reading as a line across.
fn picture(pair: &Pair, survey: &Survey, head: &str) -> String {
    let Ok(agreed) = pair.line.reading.outcome else { return String::new() };
    let centre = agreed.delay_secs * 1e3;
    if !centre.is_finite() {
        return String::new();
    }
    // Windows upset by another sound may be anywhere: the agreeing ones set the scale.
    let near = pair.delays.iter().map(|[_, delay]| delay * 1e3 - centre).filter(|off| off.abs() < 3.0);
    let half = near.map(f64::abs).fold(LEAST_MS, f64::max) * 1.1;
    let secs = survey.frames as f64 / survey.rate.as_f64();
    let plot = Plot::over(centre - half, centre + half, 0.0, secs);
    let mut dots = String::new();
    for [at, delay] in &pair.delays {
        let off = delay * 1e3;
        if (off - centre).abs() <= half {
            dots += &format!("M{:.1} {:.1}h2.4v2.4h-2.4Z", plot.x(*at) - 1.2, plot.y(off) - 1.2);
        }
    }
    let drawn = plot.across("mark", centre) + &format!("<path class=\"dots\" d=\"{dots}\"/>\n");
    let label = |share: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "a sample of the line")]
        let sample = (survey.frames as f64 * share) as i64;
        Time::of(survey).label(sample)
    };
    let (first, last) = (label(0.0), label(1.0));
    plot.svg(
        &format!("Delay over time of {head}, ms"),
        &steps(centre - half, centre + half, half, |value| plain(Some(value), 1)),
        &[(0.0, first.as_str()), (secs, last.as_str())],
        &drawn,
    )
}
