//! Pictures over frequency: long-term spectrum by layer; width, correlation and mono loss per third; shares per third;
//! and the changes that would make one layer sound like another.

use super::plot::{self, HERTZ, Plot, legend, legend_of_roles, steps, whole};
use crate::html::text::escaped;
use crate::survey::sentences;
use crate::words;
use plumbline_measure::Readings;
use plumbline_measure::bands::THIRDS;
use plumbline_programme::Role;
use plumbline_programme::session::Match;
use plumbline_programme::survey::{Layer, Survey};

/// Most layers that get a line: the loudest.
const MOST_LINES: usize = 8;
/// Length of the level axis, dB.
const LEVELS_DB: f64 = 70.0;
/// Lowest value on the axis of mono loss, dB.
const DEEPEST_DB: f64 = -12.0;

fn figure(name: &str, picture: &str, note: &str) -> String {
    format!("<figure><h3>{name}</h3>\n{picture}<figcaption>{note}</figcaption></figure>\n")
}

pub(super) fn section(survey: &Survey) -> String {
    let thirds = &survey.bus.sound.spectral.thirds;
    if thirds.iter().all(|third| third.level_dbfs.is_none()) {
        return String::from(
            "<h2>Over frequency</h2>\n<p class=\"note\">Nothing is over the gate of −105 dBFS.</p>\n",
        );
    }
    let mut out = String::from(
        "<h2>Over frequency</h2>\n<p class=\"note\">Of all of it, by third.</p>\n<div class=\"pics\">\n",
    );
    out += &spectrum(survey);
    out +=
        &figure("Width", &width(thirds), "Side share: 0 % is mono, 50 % unrelated channels, 100 % all side.");
    out += &figure(
        "Correlation and coherence",
        &phase(thirds),
        "Correlation (line), coherence (dashed). Filled: the part of the common sound that is out of step.",
    );
    out += &figure(
        "Mono loss",
        &mono(thirds),
        "What a phone loses, dB; a bar to the foot is 12 dB or more. Unrelated channels lose 3 dB (dashed).",
    );
    if let Some(picture) = shares(survey) {
        let has = |role: &Role| survey.layers.iter().any(|layer| layer.role == *role);
        let names: Vec<&str> = Role::PARTS.iter().filter(|role| has(role)).map(|role| role.name()).collect();
        out += &figure(
            "Shares of the roles",
            &(picture + &legend_of_roles(&names)),
            "Of the energy of all layers.",
        );
    }
    out + "</div>\n"
}

/// The layers that get a line, each with its class: the colour of its role, dashed for the second of a role.
fn lines(survey: &Survey) -> Vec<(&Layer, String)> {
    let mut layers: Vec<&Layer> = survey.layers.iter().collect();
    let level = |layer: &Layer| layer.sound.spectral.whole.level_dbfs.unwrap_or(f64::NEG_INFINITY);
    layers.sort_by(|a, b| level(b).total_cmp(&level(a)));
    layers.truncate(MOST_LINES);
    layers.sort_by_key(|layer| (layer.role, layer.id));
    let mut seen: Vec<Role> = Vec::new();
    layers
        .into_iter()
        .map(|layer| {
            let before = seen.iter().filter(|role| **role == layer.role).count();
            seen.push(layer.role);
            let dash = ["", " second", " third", " fourth"][before.min(3)];
            (layer, format!("{}{dash}", layer.role.name().to_lowercase()))
        })
        .collect()
}

fn levels(thirds: &[Readings; THIRDS]) -> impl Iterator<Item = (f64, Option<f64>)> + '_ {
    thirds.iter().enumerate().map(|(at, third)| (at as f64, third.level_dbfs))
}

fn spectrum(survey: &Survey) -> String {
    let lines = lines(survey);
    let bus = &survey.bus.sound.spectral.thirds;
    let all = lines.iter().map(|(layer, _)| &layer.sound.spectral.thirds).chain([bus]);
    let loudest = all
        .flat_map(|thirds| levels(thirds).filter_map(|(_, level)| level.filter(|level| level.is_finite())))
        .fold(-120.0, f64::max);
    let top = ((loudest + 1.0) / 10.0).ceil() * 10.0;
    let plot = Plot::over_thirds(top - LEVELS_DB, top);
    // Levels below the field are not drawn along its edge.
    let shown =
        |thirds| levels(thirds).map(|(at, level)| (at, level.filter(|level| *level >= top - LEVELS_DB)));
    let mut drawn = String::new();
    let mut entries = vec![("bus".to_owned(), words::name(&survey.bus.name))];
    for (layer, class) in &lines {
        drawn += &plot.line(class, shown(&layer.sound.spectral.thirds));
        entries.push((class.clone(), words::name(&layer.name)));
    }
    drawn += &plot.line("bus", shown(bus));
    let left_out = survey.layers.len() - lines.len();
    let note = if left_out > 0 {
        format!("Level, dBFS. The {MOST_LINES} loudest layers; {left_out} more are in the tables.")
    } else {
        "Level, dBFS.".to_owned()
    };
    let picture =
        plot.svg("Long-term spectrum by layer", &steps(top - LEVELS_DB, top, 10.0, whole), &HERTZ, &drawn);
    figure("Spectrum by layer", &(picture + &legend(&entries)), &note)
}

fn width(thirds: &[Readings; THIRDS]) -> String {
    let plot = Plot::over_thirds(0.0, 100.0);
    let values = thirds.iter().enumerate().filter_map(|(at, third)| Some((at, third.side_share? * 100.0)));
    let drawn = plot.bars("trace", 0.0, values) + &plot.across("target", 50.0);
    plot.svg("Width per third", &steps(0.0, 100.0, 25.0, |v| format!("{} %", whole(v))), &HERTZ, &drawn)
}

fn phase(thirds: &[Readings; THIRDS]) -> String {
    let plot = Plot::over_thirds(-1.0, 1.0);
    let of = |read: fn(&Readings) -> Option<f64>| {
        thirds.iter().enumerate().map(move |(at, third)| (at as f64, read(third)))
    };
    let out_of_step = thirds.iter().enumerate().filter_map(|(at, third)| Some((at, third.out_of_step?)));
    let drawn = plot.bars("bad", 0.0, out_of_step)
        + &plot.across("zero", 0.0)
        + &plot.line("faint second", of(|third| third.coherence))
        + &plot.line("loud", of(|third| third.correlation));
    let rules = steps(-1.0, 1.0, 0.5, |value| {
        if value == 0.0 { "0".to_owned() } else { crate::figures::signed(Some(value), 1) }
    });
    plot.svg("Correlation, coherence and out of step per third", &rules, &HERTZ, &drawn)
}

fn mono(thirds: &[Readings; THIRDS]) -> String {
    let plot = Plot::over_thirds(DEEPEST_DB, 0.0);
    let values =
        thirds.iter().enumerate().filter_map(|(at, third)| Some((at, third.mono_loss_db?.max(DEEPEST_DB))));
    let drawn = plot.bars("trace", 0.0, values) + &plot.across("target", -3.0103);
    plot.svg("Mono loss per third", &steps(DEEPEST_DB, 0.0, 3.0, whole), &HERTZ, &drawn)
}

fn shares(survey: &Survey) -> Option<String> {
    let plot = Plot::over_thirds(0.0, 100.0);
    let mut drawn = String::new();
    for (part, role) in Role::PARTS.iter().enumerate() {
        let mut path = String::new();
        for third in 0..THIRDS {
            let below: f64 = survey.roles[..part].iter().filter_map(|role| role.thirds[third].get()).sum();
            let Some(share) = survey.roles[part].thirds[third].get().filter(|share| *share > 0.0) else {
                continue;
            };
            let (left, right) = (plot.x(third as f64 - 0.5), plot.x(third as f64 + 0.5));
            let (bottom, top) = (plot.y(below * 100.0), plot.y((below + share) * 100.0));
            path += &format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}Z");
        }
        if !path.is_empty() {
            let name = role.name();
            drawn += &format!(
                "<path class=\"{}\" d=\"{path}\"><title>{name}</title></path>\n",
                name.to_lowercase()
            );
        }
    }
    (!drawn.is_empty()).then(|| {
        plot.svg(
            "Shares of the roles per third",
            &steps(0.0, 100.0, 25.0, |v| format!("{} %", whole(v))),
            &HERTZ,
            &drawn,
        )
    })
}

/// The changes that would make each Foley layer sound like the natural sound.
pub(super) fn matches(survey: &Survey) -> String {
    if survey.matches.is_empty() {
        return String::new();
    }
    let mut out = String::from(
        "<h2>Match</h2>\n<p class=\"note\">What to change each third by; the difference in level is taken out. Pale: how much it \
         scatters over time.</p>\n<div class=\"pics\">\n",
    );
    for one in &survey.matches {
        let name = |id| words::name(survey.name_of(id));
        let title = escaped(&format!("{} like {}", name(one.change), name(one.like)));
        out += &figure(&title, &matched(one), &escaped(&sentences::matched(one, survey).sentence));
    }
    out + "</div>\n"
}

fn matched(of: &Match) -> String {
    let largest = of.change_db.iter().filter_map(|db| db.get()).map(f64::abs).fold(0.0, f64::max);
    let ends = (largest / 6.0).ceil().clamp(1.0, 10.0) * 6.0;
    let plot = Plot::over_thirds(-ends, ends);
    let mut spread = String::new();
    for third in 0..THIRDS {
        let (Some(db), Some(by)) = (of.change_db[third].get(), of.spread_db[third].get()) else { continue };
        let (left, right) = (plot.x(third as f64 - 0.5), plot.x(third as f64 + 0.5));
        let (top, bottom) = (plot.y(db + by), plot.y(db - by));
        spread += &format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}Z");
    }
    let spread = if spread.is_empty() { spread } else { format!("<path class=\"band\" d=\"{spread}\"/>\n") };
    let values = of.change_db.iter().enumerate().map(|(at, db)| (at as f64, db.get()));
    let drawn = spread + &plot.across("zero", 0.0) + &plot.line("loud", values);
    let rules = steps(-ends, ends, ends / 2.0, |value| {
        if value == 0.0 { "0 dB".to_owned() } else { crate::figures::signed(Some(value), 0) }
    });
    plot.svg("Difference in tone per third", &rules, &plot::HERTZ, &drawn)
}
