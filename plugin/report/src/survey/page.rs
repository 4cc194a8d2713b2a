//! The report of a survey as one page: verdicts, pictures, tables. Self-contained; for screens, phones and paper.

mod pairs;
mod plot;
mod spectra;
mod tables;

use super::sentences;
use crate::figures::{self, signed, unit};
use crate::format;
use crate::html::text::escaped;
use crate::html::{self, joins, tables as html_tables, time_lanes};
use crate::moment::Time;
use crate::words::{self, State, VerdictText};
use plumbline_measure::Maybe;
use plumbline_programme::survey::Survey;
use plumbline_programme::{Column, Lanes, MinMax};

/// Style sheet added to that of the plug-in's page.
const STYLE: &str = include_str!("page/page.css");
/// The picture over time on a phone: width, and steps between labels.
const NARROW: (f64, i64) = (360.0, 2);
/// Columns of the wide picture in one of the narrow.
const NARROWED_BY: usize = 3;

pub(super) fn page(survey: &Survey, document: &format::Survey) -> String {
    let time = Time::of(survey);
    let name = words::name(&survey.bus.name);
    let title = escaped(&name);
    let mut page = html::opening(&title, "survey", &format!("{}{STYLE}", html::STYLE));
    page += &format!("<h1>{title}</h1>\n<p class=\"about\">{}</p>\n", escaped(&about(survey, document)));
    page += &verdicts(survey);
    page += &numbers(document);
    page += &over_time(survey);
    page += &html_tables::findings(&survey.findings, survey.dropped, time);
    page += &spectra::section(survey);
    page += &tables::layers(document);
    page += &spectra::matches(survey);
    page += &pairs::section(survey);
    page += &losses(survey);
    page += &joins::section(&survey.joins, &|join| survey.mark_of(join)?.name.as_deref(), time);
    page += &tables::bands(document);
    page += &tables::files(document);
    page += &html_tables::rules(&document.rules);
    page + html::FOOT
}

fn about(survey: &Survey, document: &format::Survey) -> String {
    let programme = &document.programme;
    let layers = figures::count(survey.layers.len() as f64, "layer", "layers");
    let of = if survey.bus.is_mix { format!("mix, {layers}") } else { format!("sum of {layers}") };
    let date = survey.date.as_deref().map(|date| format!(" · {date}")).unwrap_or_default();
    format!(
        "Survey of a {of}{date} · {} from {} to {}, {} fps · {}",
        words::length(programme.seconds.unwrap_or_default()),
        programme.start_timecode,
        programme.end_timecode.as_deref().unwrap_or_default(),
        programme.frame_rate.name,
        unit(programme.sample_rate_hz.to_string(), "Hz")
    )
}

/// Title of a verdict.
fn title(on: &str) -> &'static str {
    match on {
        "width" => "Width",
        "mono" => "Mono",
        "mics" => "Mics",
        "balance" => "Balance",
        "match" => "Match",
        "joins" => "Joins",
        _ => "Delivery",
    }
}

/// The shape of a state: states never differ by colour alone.
fn shape(state: State) -> &'static str {
    match state {
        State::Unknown => "<path d=\"M2 6H10\"/>",
        State::Fine => "<circle cx=\"6\" cy=\"6\" r=\"4.5\"/>",
        State::Note => "<circle cx=\"6\" cy=\"6\" r=\"3.8\" class=\"ring\"/>",
        State::Fault => "<path d=\"M6 1L11.5 11H0.5Z\"/>",
    }
}

fn verdict(on: &str, text: &VerdictText) -> String {
    let figure = match text.figure.as_str() {
        "" => String::new(),
        figure => format!(" <span class=\"figure\">{}</span>", escaped(figure)),
    };
    format!(
        "<article class=\"v is-{}\"><h3>{on}</h3>\n<p class=\"head\"><svg class=\"shape\" viewBox=\"0 0 12 12\" role=\"img\" \
         aria-label=\"{}\">{}</svg> {}{figure}</p>\n<p>{}</p></article>\n",
        text.state.key(),
        text.state.name(),
        shape(text.state),
        escaped(&text.head),
        escaped(&text.sentence)
    )
}

fn verdicts(survey: &Survey) -> String {
    let mut out = String::from("<section class=\"verdicts\" aria-label=\"Verdicts\">\n");
    for (on, text) in sentences::verdicts(survey) {
        out += &verdict(title(on), &text);
    }
    if let Some(text) = sentences::unaccounted(survey.unaccounted) {
        out += &verdict("Mix against its layers", &text);
    }
    out + "</section>\n"
}

/// The programme in a few numbers, with the target beside them.
fn numbers(document: &format::Survey) -> String {
    let measured = &document.bus.sound.measured;
    let severities = ["grave", "clear", "slight"].map(|severity| {
        let count = document.findings.iter().filter(|finding| finding.severity == severity).count();
        format!("{count} {severity}")
    });
    let lowest = format!("lowest {}", signed(measured.lowest_correlation, 2));
    let mut facts = html_tables::loudness_facts(&measured.loudness, &document.target).to_vec();
    facts.extend([
        ("Width", html_tables::percent(measured.whole.width_percent), "side share".to_owned()),
        ("Correlation", signed(measured.whole.correlation, 2), lowest),
        ("Mono loss", html_tables::mono_loss_with_unit(&measured.whole), String::new()),
        ("Findings", document.findings.len().to_string(), severities.join(", ")),
    ]);
    html_tables::facts(&facts)
}

/// Loudness, width, correlation and shares over time: wide, and narrow for a phone.
fn over_time(survey: &Survey) -> String {
    let over = |lanes, (width, ticks)| time_lanes::Over {
        lanes,
        findings: &survey.findings,
        target_lufs: survey.target.integrated_lufs,
        time: Time::of(survey),
        width,
        ticks,
    };
    let (wide, coarse) = (over(&survey.lanes, time_lanes::WIDE), coarser(&survey.lanes, NARROWED_BY));
    let picture = time_lanes::picture(&wide);
    if picture.is_empty() {
        return picture;
    }
    let narrow = time_lanes::picture(&over(&coarse, NARROW));
    let parts = survey.layers.iter().filter_map(|layer| layer.role.part());
    let mut roles: Vec<usize> = parts.collect();
    roles.sort_unstable();
    roles.dedup();
    let names: Vec<&str> = roles.iter().map(|part| plumbline_programme::Role::PARTS[*part].name()).collect();
    format!(
        "{}<div class=\"wide\">{picture}</div>\n<div class=\"narrow\">{narrow}</div>\n{}",
        time_lanes::head(&wide),
        plot::legend_of_roles(&names)
    )
}

/// The same lanes in fewer columns.
fn coarser(lanes: &Lanes, by: usize) -> Lanes {
    let per_column = lanes.per_column.saturating_mul(u32::try_from(by).unwrap_or(1));
    let columns = lanes.columns.chunks(by.max(1)).map(joined).collect();
    Lanes { per_column, columns, ..lanes.clone() }
}

fn joined(columns: &[Column]) -> Column {
    let ends = |of: fn(&Column) -> MinMax| {
        let values =
            |end: fn(&MinMax) -> Maybe| columns.iter().filter_map(move |column| end(&of(column)).get());
        MinMax {
            low: Maybe::new(values(|reach| reach.low).reduce(f64::min)),
            high: Maybe::new(values(|reach| reach.high).reduce(f64::max)),
        }
    };
    let share = |part: usize| {
        let heard: Vec<f64> = columns.iter().filter_map(|column| column.shares[part].get()).collect();
        Maybe::new((!heard.is_empty()).then(|| heard.iter().sum::<f64>() / heard.len() as f64))
    };
    Column {
        tenths: columns.iter().map(|column| column.tenths).sum(),
        broken: columns.iter().map(|column| column.broken).sum(),
        momentary: ends(|column| column.momentary),
        short_term: ends(|column| column.short_term),
        width: ends(|column| column.width),
        correlation: ends(|column| MinMax { low: column.correlation, high: column.correlation }).low,
        shares: std::array::from_fn(share),
        ..Column::default()
    }
}

/// The layers that cause a mono loss.
fn losses(survey: &Survey) -> String {
    if survey.losses.is_empty() {
        return String::new();
    }
    let mut out = String::from(
        "<h2>Mono loss by layer</h2>\n<p class=\"note\">Of each band that loses, the worst 2 s.</p>\n",
    );
    for loss in &survey.losses {
        let (head, rows) = sentences::losses(loss, survey);
        out += &format!("<h3>{}</h3>\n<ul>\n", escaped(&head));
        for row in rows {
            out += &format!("<li>{}</li>\n", escaped(&row));
        }
        out += "</ul>\n";
    }
    out
}
