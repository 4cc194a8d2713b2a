//! The largest joins as pictures, and all of them as a table.

use super::tables::table;
use super::text::escaped;
use crate::figures::{plain, signed, unit};
use crate::moment::Time;
use crate::words;
use plumbline_measure::Grid;
use plumbline_measure::bands::THIRDS;
use plumbline_programme::Join;
use plumbline_programme::joins::Side;

/// Most joins that get a picture.
const PICTURES: usize = 6;
const WIDTH: f64 = 320.0;
const HEIGHT: f64 = 150.0;
const LEFT: f64 = 30.0;
const BOTTOM: f64 = 130.0;
/// Least length of the level axis, dB.
const LEAST_DB: f64 = 30.0;

/// The section on joins, with the names of their marks.
pub(crate) fn section<'a>(
    joins: &'a [Join],
    name: &dyn Fn(&'a Join) -> Option<&'a str>,
    time: Time,
) -> String {
    let mut out = String::from("<h2>Joins</h2>\n");
    if joins.is_empty() {
        return out + "<p class=\"note\">None.</p>\n";
    }
    let mut largest: Vec<&Join> = joins.iter().collect();
    // Of equal ones the earlier comes first.
    largest.sort_by(|a, b| b.size().total_cmp(&a.size()));
    out += "<p class=\"note\">The largest first. Level by third in dBFS, 2 s before (dashed) against 2 s after.</p>\n";
    out += "<div class=\"joins\">\n";
    for join in largest.iter().take(PICTURES) {
        let label = match name(join) {
            Some(name) => escaped(&format!("{} · {name}", label(join, time))),
            None => escaped(&label(join, time)),
        };
        out += &format!(
            "<figure><h3>{label}</h3>\n{}<figcaption>{}</figcaption></figure>\n",
            picture(join, &label),
            escaped(&words::join(join))
        );
    }
    out += "</div>\n";
    let named = joins.iter().any(|join| name(join).is_some());
    let rows: Vec<Vec<String>> = largest
        .iter()
        .map(|join| {
            let by = match (join.marked, join.found) {
                (true, true) => "mark and change",
                (true, false) => "mark",
                (false, _) => "change",
            };
            let mut row = vec![
                escaped(&label(join, time)),
                signed(join.loudness_lu(), 1),
                signed(join.tone(), 1),
                signed(join.width().map(|width| width * 100.0), 0),
                unit(plain(join.takes_secs, 1), "s"),
                format!("{} ×", plain(Some(join.size()), 1)),
                by.to_owned(),
                escaped(&words::join(join)),
            ];
            if named {
                row.insert(1, escaped(name(join).unwrap_or_default()));
            }
            row
        })
        .collect();
    let mut columns = vec![
        "t:Where",
        "n:Loudness, LU",
        "n:Tone, dB/oct",
        "n:Width, points",
        "n:Takes",
        "n:Size",
        "t:Found by",
        "long:What jumps",
    ];
    if named {
        columns.insert(1, "t:Name");
    }
    out + &table("plain", &columns, &rows)
}

fn label(join: &Join, time: Time) -> String {
    match join.grid {
        Grid::Song => time.label(join.sample),
        Grid::Clock => words::place(join.grid, join.at, time.start, time.rate),
    }
}

fn levels(side: &Side) -> impl Iterator<Item = (usize, f64)> + '_ {
    let levels = side.thirds_dbfs.iter().enumerate();
    levels.filter_map(|(third, level)| {
        level.get().filter(|level| level.is_finite()).map(|level| (third, level))
    })
}

fn picture(join: &Join, label: &str) -> String {
    let all = || levels(&join.before).chain(levels(&join.after)).map(|(_, level)| level);
    let (Some(low), Some(high)) = (all().reduce(f64::min), all().reduce(f64::max)) else {
        return "<p class=\"note\">No levels to draw.</p>\n".to_owned();
    };
    let top = (high / 10.0).ceil() * 10.0;
    let bottom = ((low / 10.0).floor() * 10.0).min(top - LEAST_DB);
    let x = |third: usize| LEFT + third as f64 / (THIRDS - 1) as f64 * (WIDTH - LEFT - 14.0);
    let y = |level: f64| 8.0 + (top - level) / (top - bottom) * (BOTTOM - 8.0);
    let mut out = format!(
        "<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"Levels of the thirds before and after {label}\">\n"
    );
    for level in [top, f64::midpoint(top, bottom), bottom] {
        out += &format!(
            "<path class=\"rule\" d=\"M{LEFT} {y:.1}H{WIDTH}\"/><text x=\"{end}\" y=\"{base:.1}\" \
             text-anchor=\"end\">{name}</text>\n",
            y = y(level),
            base = y(level) + 4.0,
            end = LEFT - 4.0,
            name = plain(Some(level), 0)
        );
    }
    // Thirds 7, 17 and 27 are 100 Hz, 1 kHz and 10 kHz.
    for (third, name) in [(7, "100 Hz"), (17, "1 kHz"), (27, "10 kHz")] {
        out += &format!(
            "<text x=\"{:.1}\" y=\"{}\" text-anchor=\"middle\">{name}</text>\n",
            x(third),
            HEIGHT - 4.0
        );
    }
    for (class, side) in [("before", &join.before), ("after", &join.after)] {
        let mut path = String::new();
        let mut last = None;
        for (third, level) in levels(side) {
            let letter = if last.is_some_and(|last| last + 1 == third) { 'L' } else { 'M' };
            path += &format!("{letter}{:.1} {:.1}", x(third), y(level));
            last = Some(third);
        }
        if !path.is_empty() {
            out += &format!("<path class=\"{class}\" d=\"{path}\"/>\n");
        }
    }
    out + "</svg>\n"
}
