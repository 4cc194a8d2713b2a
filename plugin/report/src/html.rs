//! One page that needs nothing but itself: no script, no picture, font or sheet from elsewhere. It follows the reader's
//! choice of dark or light, and prints.
//!
//! Pictures are written as SVG by hand: they are a few paths and rectangles that take their colours from the page's own
//! sheet, which a plotting library that writes colours into every shape cannot give.

pub(crate) mod joins;
pub(crate) mod tables;
pub(crate) mod text;
pub(crate) mod time;

use crate::document::Document;
use crate::figures;
use crate::report::Report;
use crate::words;
use text::escaped;

/// The sheet of the page.
pub(crate) const STYLE: &str = include_str!("html/page.css");

pub(crate) fn page(report: &Report<'_>, document: &Document) -> String {
    let name = match report.layer.trim() {
        "" => format!("{} layer", document.role),
        _ => words::name(report.layer),
    };
    let title = escaped(&name);
    let mut page = opening(&title, "report", STYLE);
    page += &format!("<h1>{title}</h1>\n<p class=\"about\">{}</p>\n", about(document));
    page += &tables::summary(document);
    if let Some(lanes) = report.lanes {
        let (width, ticks) = time::WIDE;
        page += &time::section(&time::Over {
            lanes,
            findings: &report.log.findings,
            target_lufs: report.target.integrated_lufs,
            start: report.start,
            rate: report.rate,
            width,
            ticks,
        });
    }
    page += &tables::findings(&report.log.findings, report.log.dropped, report.start, report.rate);
    page += &joins::section(&report.log.joins, report.start, report.rate);
    page += &tables::passages(document, report);
    page += &tables::rules(&document.rules);
    page + FOOT
}

/// What a page begins with; `title` is escaped already.
pub(crate) fn opening(title: &str, what: &str, style: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{title}: Plumbline {what}</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
    )
}

/// What a page ends with.
pub(crate) const FOOT: &str = "<footer><p>A dash stands where there was not enough signal for a reading. Check a fix by ear. A \
    broadcaster’s or platform’s own specification stands above these targets.</p></footer>\n</main>\n</body>\n</html>\n";

fn about(document: &Document) -> String {
    let rate = figures::unit(document.sample_rate_hz.to_string(), "Hz");
    escaped(&format!(
        "{} · {} · timecode {} fps from {} · {rate}",
        document.role, document.date, document.frame_rate.name, document.start_timecode
    ))
}
