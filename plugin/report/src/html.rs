//! One self-contained page: no script, font or picture from elsewhere. It follows dark or light mode, and prints.
//!
//! Pictures are hand-written SVG: a few paths that take their colours from the page's style sheet. A plotting library
//! would write colours into every shape.

pub(crate) mod joins;
pub(crate) mod tables;
pub(crate) mod text;
pub(crate) mod time_lanes;

use crate::figures;
use crate::format::Session;
use crate::moment::Time;
use crate::words;
use plumbline_programme::{Lanes, Log};
use text::escaped;

/// The style sheet of the page.
pub(crate) const STYLE: &str = include_str!("html/page.css");

pub(crate) fn page(document: &Session, log: &Log, lanes: Option<&Lanes>, time: Time) -> String {
    let name = match document.layer.trim() {
        "" => format!("{} layer", document.role),
        name => words::name(name),
    };
    let title = escaped(&name);
    let mut page = opening(&title, "report", STYLE);
    page += &format!("<h1>{title}</h1>\n<p class=\"about\">{}</p>\n", about(document));
    page += &tables::summary(document);
    if let Some(lanes) = lanes {
        let (width, ticks) = time_lanes::WIDE;
        page += &time_lanes::section(&time_lanes::Over {
            lanes,
            findings: &log.findings,
            target_lufs: document.target.integrated_lufs,
            time,
            width,
            ticks,
        });
    }
    page += &tables::findings(&log.findings, log.dropped, time);
    page += &joins::section(&log.joins, &|_| None, time);
    page += &tables::passages(document, log, time);
    page += &tables::rules(&document.rules);
    page + FOOT
}

/// Opening of a page; `title` is already escaped.
pub(crate) fn opening(title: &str, what: &str, style: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{title}: Plumbline {what}</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
    )
}

/// End of a page.
pub(crate) const FOOT: &str = "<footer><p>A dash means that there was not enough signal for a reading. Check a fix by ear. A \
    broadcaster’s or platform’s own specification comes before these targets.</p></footer>\n</main>\n</body>\n</html>\n";

fn about(document: &Session) -> String {
    let programme = &document.programme;
    let rate = figures::unit(programme.sample_rate_hz.to_string(), "Hz");
    escaped(&format!(
        "{} · {} · timecode {} fps from {} · {rate}",
        document.role, document.date, programme.frame_rate.name, programme.start_timecode
    ))
}
