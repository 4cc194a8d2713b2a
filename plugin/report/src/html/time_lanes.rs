//! Loudness, width, correlation and shares over time, with the findings marked.

use super::text::escaped;
use crate::figures::plain;
use crate::moment::Time;
use crate::words;
use plumbline_measure::Maybe;
use plumbline_programme::findings::Grade;
use plumbline_programme::{Column, Finding, Lanes, MinMax, Role};

const LEFT: f64 = 48.0;
const LANE: f64 = 90.0;
const GAP: f64 = 26.0;
/// Loudness axis, LUFS.
const LOUD: (f64, f64) = (-60.0, 0.0);
/// Height of the strip of findings.
const STRIP: f64 = 16.0;

/// The content of a picture over time, and its size.
#[derive(Clone, Copy)]
pub(crate) struct Over<'a> {
    pub(crate) lanes: &'a Lanes,
    pub(crate) findings: &'a [Finding],
    /// Target of integrated loudness, LUFS.
    pub(crate) target_lufs: f64,
    pub(crate) time: Time,
    /// Width in units of the picture.
    pub(crate) width: f64,
    /// Steps between labels on the time axis.
    pub(crate) ticks: i64,
}

/// A whole page wide: width, and steps between labels.
pub(crate) const WIDE: (f64, i64) = (1_040.0, 6);

impl Over<'_> {
    fn place(&self, tenth: i64) -> String {
        words::place(self.lanes.grid, tenth, self.time.start, self.time.rate)
    }

    /// A name, or a shorter one where there is no room.
    fn name<'a>(&self, long: &'a str, short: &'a str) -> &'a str {
        if self.width < WIDE.0 / 2.0 { short } else { long }
    }

    fn draws(&self) -> bool {
        self.lanes.right > self.lanes.left && self.lanes.columns.iter().any(|column| column.tenths > 0)
    }
}

/// The horizontal scale: tenths to units of the picture.
struct Map<'a> {
    lanes: &'a Lanes,
    width: f64,
}

impl Map<'_> {
    fn x(&self, tenth: f64) -> f64 {
        let (left, right) = (self.lanes.left as f64, self.lanes.right as f64);
        (LEFT + (tenth - left) / (right - left) * (self.width - LEFT)).clamp(LEFT, self.width)
    }

    /// Left and right edge of a column.
    fn edges(&self, column: usize) -> (f64, f64) {
        let per = f64::from(self.lanes.per_column.max(1));
        let from = self.lanes.first as f64 + column as f64 * per;
        (self.x(from), self.x(from + per))
    }
}

/// One lane: its top, and the ends of its axis.
struct Lane {
    width: f64,
    top: f64,
    low: f64,
    high: f64,
}

impl Lane {
    fn y(&self, value: f64) -> f64 {
        let share = (self.high - value) / (self.high - self.low);
        self.top + share.clamp(0.0, 1.0) * LANE
    }

    fn frame(&self, name: &str, ticks: &[(f64, &str)]) -> String {
        let width = self.width;
        let mut out = format!(
            "<rect class=\"field\" x=\"{LEFT}\" y=\"{:.1}\" width=\"{}\" height=\"{LANE}\"/>\
             <text class=\"name\" x=\"{LEFT}\" y=\"{:.1}\">{name}</text>\n",
            self.top,
            width - LEFT,
            self.top - 6.0
        );
        for (value, label) in ticks {
            let y = self.y(*value);
            out += &format!(
                "<path class=\"rule\" d=\"M{LEFT} {y:.1}H{width}\"/><text x=\"{}\" y=\"{:.1}\" \
                 text-anchor=\"end\">{label}</text>\n",
                LEFT - 5.0,
                y + 4.0
            );
        }
        out
    }
}

/// The section on time: a heading, and the picture.
pub(crate) fn section(over: &Over<'_>) -> String {
    if !over.draws() { String::new() } else { head(over) + &picture(over) }
}

/// The heading alone; empty without a picture.
pub(crate) fn head(over: &Over<'_>) -> String {
    if !over.draws() {
        return String::new();
    }
    let (from, to) = (over.place(over.lanes.left), over.place(over.lanes.right));
    format!(
        "<h2>Over time</h2>\n<p class=\"note\">From {from} to {to}. A gap is where nothing was heard.</p>\n"
    )
}

/// The picture alone; empty if there is nothing to draw.
pub(crate) fn picture(over: &Over<'_>) -> String {
    if !over.draws() {
        return String::new();
    }
    let lanes = over.lanes;
    let width_of_all = over.width;
    let map = Map { lanes, width: width_of_all };
    let lane =
        |at: u8, low, high| Lane { width: width_of_all, top: GAP + f64::from(at) * (LANE + GAP), low, high };
    let height = GAP + 4.0 * (LANE + GAP) + STRIP + 24.0;
    let mut out = format!(
        "<svg viewBox=\"0 0 {width_of_all} {height}\" role=\"img\" aria-label=\"Loudness, width, correlation and shares over \
         time\">\n"
    );
    out += &loudness(&map, &lane(0, LOUD.0, LOUD.1), over);
    let width = lane(1, 0.0, 1.0);
    out += &width.frame("Width: side share", &[(0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")]);
    out += &reaches(&map, &width, "trace", |column| column.width);
    let correlation = lane(2, -1.0, 1.0);
    out += &correlation.frame("Lowest correlation", &[(-1.0, "−1"), (0.0, "0"), (1.0, "+1")]);
    out += &reaches(&map, &correlation, "trace", |column| MinMax {
        low: column.correlation,
        high: column.correlation,
    });
    out += &shares(&map, &lane(3, 0.0, 1.0), over);
    let top = GAP + 4.0 * (LANE + GAP) - 6.0;
    out += &findings(&map, top, over);
    let ticks = over.ticks.max(1);
    for tick in 0..=ticks {
        let tenth = lanes.left.saturating_add(lanes.right.saturating_sub(lanes.left) / ticks * tick);
        let anchor = match tick {
            0 => "start",
            last if last == ticks => "end",
            _ => "middle",
        };
        out += &format!(
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\">{}</text>\n",
            map.x(tenth as f64),
            height - 4.0,
            over.place(tenth)
        );
    }
    out + "</svg>\n"
}

fn loudness(map: &Map<'_>, lane: &Lane, over: &Over<'_>) -> String {
    let target = over.target_lufs;
    let mut out = lane.frame(
        over.name(
            "Loudness, LUFS: momentary (pale), short-term, target (dashed)",
            "LUFS: momentary (pale), short-term, target",
        ),
        &[(-60.0, "−60"), (-40.0, "−40"), (-20.0, "−20"), (0.0, "0")],
    );
    out += &reaches(map, lane, "reach", |column| column.momentary);
    out += &reaches(map, lane, "trace", |column| column.short_term);
    out += &format!(
        "<path class=\"target\" d=\"M{LEFT} {:.1}H{}\"><title>target {} LUFS</title></path>\n",
        lane.y(target),
        map.width,
        plain(Some(target), 1)
    );
    out
}

fn finite(value: Maybe) -> Option<f64> {
    value.get().filter(|value| value.is_finite())
}

/// A run of columns as one continuous band between lowest and highest.
fn reaches(map: &Map<'_>, lane: &Lane, class: &str, of: impl Fn(&Column) -> MinMax) -> String {
    let mut path = String::new();
    let mut before: Option<[f64; 2]> = None;
    for (at, column) in map.lanes.columns.iter().enumerate() {
        let reach = of(column);
        let (left, right) = map.edges(at);
        let here = finite(reach.low).zip(finite(reach.high)).filter(|_| column.tenths > 0 && right > left);
        let last = std::mem::replace(&mut before, here.map(|(low, high)| [low, high]));
        let Some((low, high)) = here else { continue };
        // A trace is one line, however fast it moves: each column extends to the range of the one before.
        let (low, high) = last.map_or((low, high), |[l, h]| (low.min(h), high.max(l)));
        // Thin bands stay visible.
        let (top, bottom) = (lane.y(high) - 0.4, lane.y(low) + 0.4);
        path += &format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}Z");
    }
    if path.is_empty() { path } else { format!("<path class=\"{class}\" d=\"{path}\"/>\n") }
}

fn shares(map: &Map<'_>, lane: &Lane, over: &Over<'_>) -> String {
    let mut paths: [String; Role::PARTS.len()] = Default::default();
    for (at, column) in map.lanes.columns.iter().enumerate() {
        let (left, right) = map.edges(at);
        let mut from = 0.0;
        for (path, share) in paths.iter_mut().zip(column.shares) {
            let Some(share) = finite(share).filter(|share| *share > 0.0 && right > left) else { continue };
            let (bottom, top) = (lane.y(from), lane.y(from + share));
            from += share;
            *path += &format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}Z");
        }
    }
    let drawn: Vec<(&str, &String)> =
        Role::PARTS.iter().map(|role| role.name()).zip(&paths).filter(|(_, path)| !path.is_empty()).collect();
    if drawn.is_empty() {
        return lane.frame(
            over.name("Shares of the roles: no other layer was heard", "Shares: no other layer was heard"),
            &[],
        );
    }
    let names: Vec<&str> = drawn.iter().map(|(name, _)| *name).collect();
    let title = format!("Shares of the roles, from below: {}", names.join(", "));
    let mut out =
        lane.frame(over.name(&title, "Shares of the roles"), &[(0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")]);
    for (name, path) in drawn {
        out +=
            &format!("<path class=\"{}\" d=\"{path}\"><title>{name}</title></path>\n", name.to_lowercase());
    }
    out
}

fn findings(map: &Map<'_>, top: f64, over: &Over<'_>) -> String {
    let lanes = map.lanes;
    let mut out =
        format!("<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">Found</text>\n", LEFT - 5.0, top + 12.0);
    for finding in over.findings {
        if finding.grid != lanes.grid || finding.end <= lanes.left || finding.start >= lanes.right {
            continue;
        }
        let (left, right) = (map.x(finding.start as f64), map.x(finding.end as f64));
        let class = match finding.grade {
            Grade::Slight => "m-slight",
            Grade::Clear => "m-clear",
            Grade::Grave => "m-grave",
        };
        let place = words::place(finding.grid, finding.start, over.time.start, over.time.rate);
        out += &format!(
            "<rect class=\"{class}\" x=\"{left:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{STRIP}\" opacity=\"0.75\">\
             <title>{}</title></rect>\n",
            (right - left).max(2.0),
            escaped(&format!("{}, {place}, {}", words::kind(finding.kind), words::worst(finding)))
        );
    }
    out
}
