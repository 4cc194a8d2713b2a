//! Axes and lines of pictures over frequency and time: pure text, colours by class.

use crate::figures::plain;
use crate::html::text::escaped;
use plumbline_measure::bands::THIRDS;

/// Width of a picture: one fills a phone, two or three fit side by side on a desk.
pub(super) const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 210.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = 8.0;
const TOP: f64 = 8.0;
const BOTTOM: f64 = 24.0;

/// A plain field with a vertical axis.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plot {
    low: f64,
    high: f64,
    /// Ends of the horizontal axis.
    from: f64,
    to: f64,
}

impl Plot {
    /// A field over the thirds, from 20 Hz to 20 kHz.
    pub(super) fn over_thirds(low: f64, high: f64) -> Self {
        Self { low, high, from: -0.5, to: THIRDS as f64 - 0.5 }
    }

    /// A field over anything else.
    pub(super) fn over(low: f64, high: f64, from: f64, to: f64) -> Self {
        Self { low, high, from, to: if to > from { to } else { from + 1.0 } }
    }

    pub(super) fn x(&self, at: f64) -> f64 {
        let share = ((at - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        LEFT + share * (WIDTH - LEFT - RIGHT)
    }

    pub(super) fn y(&self, value: f64) -> f64 {
        let share = ((self.high - value) / (self.high - self.low)).clamp(0.0, 1.0);
        TOP + share * (HEIGHT - TOP - BOTTOM)
    }

    /// The picture: field, axes and drawing. Each label of the horizontal axis has its value.
    pub(super) fn svg(
        &self,
        name: &str,
        rules: &[(f64, String)],
        below: &[(f64, &str)],
        drawn: &str,
    ) -> String {
        let (bottom, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
        let mut out = format!(
            "<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"{}\">\n\
             <rect class=\"field\" x=\"{LEFT}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{:.1}\"/>\n",
            escaped(name),
            right - LEFT,
            bottom - TOP
        );
        for (value, label) in rules {
            let y = self.y(*value);
            out += &format!(
                "<path class=\"rule\" d=\"M{LEFT} {y:.1}H{right}\"/><text x=\"{:.1}\" y=\"{:.1}\" \
                 text-anchor=\"end\">{}</text>\n",
                LEFT - 5.0,
                y + 4.0,
                escaped(label)
            );
        }
        for (at, label) in below {
            let x = self.x(*at);
            // Labels at the ends stay inside the picture.
            let anchor = if x > right - 24.0 {
                "end"
            } else if x < LEFT + 12.0 {
                "start"
            } else {
                "middle"
            };
            out += &format!(
                "<path class=\"rule\" d=\"M{x:.1} {TOP}V{bottom}\"/><text x=\"{x:.1}\" y=\"{:.1}\" \
                 text-anchor=\"{anchor}\">{}</text>\n",
                HEIGHT - 6.0,
                escaped(label)
            );
        }
        out + drawn + "</svg>\n"
    }

    /// A line through the values present; it breaks where one is missing.
    pub(super) fn line(&self, class: &str, values: impl Iterator<Item = (f64, Option<f64>)>) -> String {
        let mut path = String::new();
        let mut pen_down = false;
        let mut alone: Option<(f64, f64)> = None;
        for (at, value) in values {
            let Some(value) = value.filter(|value| value.is_finite()) else {
                path += &dot(alone.take());
                pen_down = false;
                continue;
            };
            let (x, y) = (self.x(at), self.y(value));
            path += &format!("{}{x:.1} {y:.1}", if pen_down { 'L' } else { 'M' });
            alone = if pen_down { None } else { Some((x, y)) };
            pen_down = true;
        }
        path += &dot(alone);
        if path.is_empty() { path } else { format!("<path class=\"line {class}\" d=\"{path}\"/>\n") }
    }

    /// A bar for each third, from `from` to the value.
    pub(super) fn bars(&self, class: &str, from: f64, values: impl Iterator<Item = (usize, f64)>) -> String {
        let mut path = String::new();
        for (third, value) in values.filter(|(_, value)| value.is_finite()) {
            let (left, right) = (self.x(third as f64 - 0.42), self.x(third as f64 + 0.42));
            let (one, other) = (self.y(from), self.y(value));
            let (top, bottom) = (one.min(other), one.max(other).max(one.min(other) + 0.8));
            path += &format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}Z");
        }
        if path.is_empty() { path } else { format!("<path class=\"{class}\" d=\"{path}\"/>\n") }
    }

    /// A horizontal line at a value.
    pub(super) fn across(&self, class: &str, value: f64) -> String {
        format!("<path class=\"{class}\" d=\"M{LEFT} {:.1}H{}\"/>\n", self.y(value), WIDTH - RIGHT)
    }
}

/// A dot for a value without neighbours, which would be invisible as a line.
fn dot(at: Option<(f64, f64)>) -> String {
    at.map(|(x, y)| format!("M{:.1} {y:.1}H{:.1}", x - 2.0, x + 2.0)).unwrap_or_default()
}

/// Labels of an axis over the thirds: five thirds, two octaves apart.
pub(super) const HERTZ: [(f64, &str); 5] =
    [(5.0, "63"), (11.0, "250"), (17.0, "1k"), (23.0, "4k"), (29.0, "16k Hz")];

/// Rules in steps from the lowest to the highest value, with their labels.
pub(super) fn steps(low: f64, high: f64, step: f64, name: impl Fn(f64) -> String) -> Vec<(f64, String)> {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few rules")]
    let count = ((high - low) / step).round().clamp(0.0, 20.0) as usize;
    (0..=count).map(|at| low + at as f64 * step).map(|value| (value, name(value))).collect()
}

/// A number without decimals.
pub(super) fn whole(value: f64) -> String {
    plain(Some(value), 0)
}

/// A legend for lines: the class of each, and its name.
pub(super) fn legend(entries: &[(String, String)]) -> String {
    let mut out = String::from("<ul class=\"legend\">\n");
    for (class, name) in entries {
        out += &format!(
            "<li><svg viewBox=\"0 0 22 10\" aria-hidden=\"true\"><path class=\"line {class}\" d=\"M0 5H22\"/></svg>{}</li>\n",
            escaped(name)
        );
    }
    out + "</ul>\n"
}

/// A legend for areas of roles.
pub(super) fn legend_of_roles(names: &[&str]) -> String {
    if names.is_empty() {
        return String::new();
    }
    let mut out = String::from("<ul class=\"legend\">\n");
    for name in names {
        out += &format!(
            "<li><svg viewBox=\"0 0 22 10\" aria-hidden=\"true\"><rect class=\"{}\" width=\"22\" height=\"10\"/></svg>{name}</li>\n",
            name.to_lowercase()
        );
    }
    out + "</ul>\n"
}
