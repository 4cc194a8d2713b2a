//! The report of a survey as one page: the verdicts in words on top, then pictures and tables. It needs nothing but itself,
//! has no script, follows the reader's choice of dark or light, reads on a phone and prints.

mod pairs;
mod plot;
mod spectra;
mod tables;

use super::{Survey, document, say};
use crate::figures::{self, percent, plain, unit};
use crate::html::text::escaped;
use crate::html::{self, joins, time};
use crate::words::{self, Said, State};
use plumbline_measure::Maybe;
use plumbline_programme::findings::Grade;
use plumbline_programme::{Column, Lanes, MinMax};

/// What this page adds to the sheet of the plug-in's.
const STYLE: &str = include_str!("page/page.css");
/// The picture over time on a phone: width, and steps between labels.
const NARROW: (f64, i64) = (360.0, 2);
/// Columns of the wide picture that become one of the narrow.
const NARROWED_BY: usize = 3;

pub(super) fn page(survey: &Survey) -> String {
    let document = survey.document();
    let name = words::name(&survey.bus.name);
    let title = escaped(&name);
    let mut page = html::opening(&title, "survey", &format!("{}{STYLE}", html::STYLE));
    page += &format!("<h1>{title}</h1>\n<p class=\"about\">{}</p>\n", escaped(&about(survey, &document)));
    page += &verdicts(survey);
    page += &numbers(survey);
    page += &over_time(survey);
    page += &html::tables::findings(&survey.findings, survey.dropped, survey.start, survey.rate);
    page += &spectra::section(survey);
    page += &tables::layers(survey);
    page += &spectra::matches(survey);
    page += &pairs::section(survey);
    page += &losses(survey);
    page += &joins::section(&survey.joins, survey.start, survey.rate);
    page += &tables::bands(survey);
    page += &tables::files(survey, &document);
    page += &html::tables::rules(&document.rules);
    page + html::FOOT
}

fn about(survey: &Survey, document: &document::Document) -> String {
    let programme = &document.programme;
    let layers = figures::count(survey.layers.len() as f64, "layer", "layers");
    let of = if survey.bus.is_mix { format!("mix, {layers}") } else { format!("sum of {layers}") };
    let date = survey.date.as_deref().map(|date| format!(" · {date}")).unwrap_or_default();
    format!(
        "Survey of a {of}{date} · {} from {} to {}, {} fps · {}",
        words::length(programme.seconds),
        programme.start_timecode,
        programme.end_timecode,
        programme.frame_rate.name,
        unit(programme.sample_rate_hz.to_string(), "Hz")
    )
}

/// What a verdict is on, for a reader.
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

/// A shape of its own for each state, never colour alone.
fn shape(state: State) -> &'static str {
    match state {
        State::Unknown => "<path d=\"M2 6H10\"/>",
        State::Fine => "<circle cx=\"6\" cy=\"6\" r=\"4.5\"/>",
        State::Note => "<circle cx=\"6\" cy=\"6\" r=\"3.8\" class=\"ring\"/>",
        State::Fault => "<path d=\"M6 1L11.5 11H0.5Z\"/>",
    }
}

fn verdict(on: &str, said: &Said) -> String {
    let figure = match said.figure.as_str() {
        "" => String::new(),
        figure => format!(" <span class=\"figure\">{}</span>", escaped(figure)),
    };
    format!(
        "<article class=\"v is-{}\"><h3>{on}</h3>\n<p class=\"head\"><svg class=\"shape\" viewBox=\"0 0 12 12\" role=\"img\" \
         aria-label=\"{}\">{}</svg> {}{figure}</p>\n<p>{}</p></article>\n",
        said.state.key(),
        said.state.name(),
        shape(said.state),
        escaped(&said.head),
        escaped(&said.sentence)
    )
}

fn verdicts(survey: &Survey) -> String {
    let mut out = String::from("<section class=\"verdicts\" aria-label=\"Verdicts\">\n");
    for (on, said) in say::verdicts(survey) {
        out += &verdict(title(on), &said);
    }
    if let Some(said) = say::unaccounted(survey.unaccounted) {
        out += &verdict("Mix against its layers", &said);
    }
    out + "</section>\n"
}

/// The programme in a few numbers, with the target beside them.
fn numbers(survey: &Survey) -> String {
    let (sound, target) = (&survey.bus.sound, &survey.target);
    let (loudness, whole) = (&sound.loudness, &sound.spectral.whole);
    let aim = format!(
        "target {} LUFS, +{} −{} LU",
        plain(Some(target.integrated_lufs), 1),
        plain(Some(target.above_lu), 1),
        plain(Some(target.below_lu), 1)
    );
    let ceiling = format!("ceiling {} dBTP", plain(Some(target.true_peak_dbtp), 1));
    let short = target.max_short_term_lufs.map(|most| format!("ceiling {} LUFS", plain(Some(most), 1)));
    let peak = loudness.true_peak_dbtp.into_iter().flatten().reduce(f64::max);
    let grades = [Grade::Grave, Grade::Clear, Grade::Slight].map(|grade| {
        let count = survey.findings.iter().filter(|finding| finding.grade == grade).count();
        format!("{count} {}", words::grade(grade).to_lowercase())
    });
    let loss = match whole.mono_loss_db {
        Some(f64::NEG_INFINITY) => words::ALL_OF_IT.to_owned(),
        loss => unit(plain(loss, 1), "dB"),
    };
    let cells = [
        ("Integrated loudness", unit(plain(loudness.integrated_lufs, 1), "LUFS"), aim),
        ("Loudness range", unit(plain(loudness.range_lu, 1), "LU"), String::new()),
        (
            "Highest short-term",
            unit(plain(loudness.max_short_term_lufs, 1), "LUFS"),
            short.unwrap_or_default(),
        ),
        ("Highest true peak", unit(plain(peak, 1), "dBTP"), ceiling),
        ("Width", percent(whole.side_share), "side share".to_owned()),
        (
            "Correlation",
            figures::signed(whole.correlation, 2),
            format!("lowest {}", figures::signed(sound.lowest_correlation, 2)),
        ),
        ("Mono loss", loss, String::new()),
        ("Findings", survey.findings.len().to_string(), grades.join(", ")),
    ];
    let mut out = String::from("<dl>\n");
    for (name, value, beside) in cells {
        let beside = if beside.is_empty() { beside } else { format!("<small>{}</small>", escaped(&beside)) };
        out += &format!("<div><dt>{name}</dt><dd>{}{beside}</dd></div>\n", escaped(&value));
    }
    out + "</dl>\n"
}

/// Loudness, width, correlation and shares over time: wide, and narrow for a phone.
fn over_time(survey: &Survey) -> String {
    let over = |lanes, (width, ticks)| time::Over {
        lanes,
        findings: &survey.findings,
        target_lufs: survey.target.integrated_lufs,
        start: survey.start,
        rate: survey.rate,
        width,
        ticks,
    };
    let (wide, coarse) = (over(&survey.lanes, time::WIDE), coarser(&survey.lanes, NARROWED_BY));
    let picture = time::picture(&wide);
    if picture.is_empty() {
        return picture;
    }
    let narrow = time::picture(&over(&coarse, NARROW));
    let parts = survey.layers.iter().filter_map(|layer| layer.role.part());
    let mut roles: Vec<usize> = parts.collect();
    roles.sort_unstable();
    roles.dedup();
    let names: Vec<&str> = roles.iter().map(|part| plumbline_programme::Role::PARTS[*part].name()).collect();
    format!(
        "{}<div class=\"wide\">{picture}</div>\n<div class=\"narrow\">{narrow}</div>\n{}",
        time::head(&wide),
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
        let told: Vec<f64> = columns.iter().filter_map(|column| column.shares[part].get()).collect();
        Maybe::new((!told.is_empty()).then(|| told.iter().sum::<f64>() / told.len() as f64))
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

/// Which layers cause a mono loss.
fn losses(survey: &Survey) -> String {
    if survey.losses.is_empty() {
        return String::new();
    }
    let mut out = String::from(
        "<h2>Mono loss by layer</h2>\n<p class=\"note\">Of each band that loses, the worst 2 s.</p>\n",
    );
    for loss in &survey.losses {
        let (head, rows) = say::losses(loss, survey);
        out += &format!("<h3>{}</h3>\n<ul>\n", escaped(&head));
        for row in rows {
            out += &format!("<li>{}</li>\n", escaped(&row));
        }
        out += "</ul>\n";
    }
    out
}
