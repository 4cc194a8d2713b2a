//! The comb of a pair's blend, as it is and as repaired; gain and coherence of each third.

use super::title::titled;
use crate::cursor::{Cursor, tag};
use crate::mapping::{FrequencyAxis, LABELLED_HZ, ValueAxis};
use crate::painter::{Painter, named_area};
use crate::tokens::{size, space, stroke};
use egui::{Align2, Pos2, Rangef, Rect, Ui, pos2};
use plumbline_measure::bands::{THIRD_LABELS, THIRDS, third_at, third_span};
use plumbline_programme::PairLine;
use plumbline_programme::pair::Comb;
use plumbline_report::figures;

/// Upper end of the axis, dB: two equal copies add up to +6.
const TOP_DB: f64 = 9.0;
const BOTTOM_DB: f64 = -24.0;
/// Half the axis of a third's gain, dB.
const WON_DB: f64 = 12.0;
const TIP: &str = "Upper plot, computed: the comb that two copies of one sound make at this delay and level, in dB \
                   above the louder one alone, as it is and with the delay removed. Lower plot, measured: bars are \
                   what the repair gains in each third of the blend, in dB; dots are the coherence of each third at \
                   the delay, 0 to 1. Where coherence is low, the comb is faint and the repair gains nothing.";

pub(super) fn comb_ui(
    cursor: &mut Cursor,
    ui: &Ui,
    painter: &Painter,
    line: &PairLine,
    kept: Option<&PairLine>,
    rect: Rect,
) {
    let comb = line.comb();
    let inside = titled(painter, rect, &title(comb.as_ref()));
    let theme = painter.theme;
    let x = Rangef::new(inside.left() + 26.0, inside.right() - 30.0);
    if x.span() < 80.0 || inside.height() < 60.0 {
        return;
    }
    let axis = FrequencyAxis { x };
    let bottom = inside.bottom() - space::LINE;
    let middle = inside.top() + (bottom - inside.top()) * 0.56;
    let upper = Rect::from_x_y_ranges(x, inside.top()..=middle - 2.0);
    let lower = Rect::from_x_y_ranges(x, middle + 2.0..=bottom);
    for plot in [upper, lower] {
        painter.fill(plot, theme.plot);
        for (hz, _) in LABELLED_HZ {
            painter.hairline(pos2(axis.x(hz), plot.top()), pos2(axis.x(hz), plot.bottom()), theme.grid);
        }
    }
    for (hz, label) in LABELLED_HZ {
        let anchor = if hz >= 20_000.0 { Align2::RIGHT_CENTER } else { Align2::CENTER_CENTER };
        let at = pos2(axis.x(hz).max(x.min + 6.0), bottom + space::LINE / 2.0);
        painter.text(at, anchor, label, size::AXIS, theme.muted);
    }
    upper_ui(painter, comb.as_ref(), kept.and_then(PairLine::comb).as_ref(), axis, upper);
    lower_ui(painter, line, axis, lower);
    let Some(hz) = cursor.follow(ui, "comb cursor", Rect::from_x_y_ranges(x, inside.top()..=bottom), axis)
    else {
        named_area(ui, rect.with_max_y(inside.top()), "comb", || title(comb.as_ref())).on_hover_text(TIP);
        return;
    };
    let at = axis.x(hz).clamp(x.min, x.max);
    painter.hairline(pos2(at, upper.top()), pos2(at, lower.bottom()), theme.plumb);
    let mut lines = vec![figures::hz(hz)];
    if let Some(comb) = &comb {
        lines[0] +=
            &format!("  ·  blend {}", figures::unit(figures::signed(Some(comb.gain_db(hz)), 1), "dB"));
    }
    if let Some(third) = third_at(hz) {
        let reading = &line.reading.thirds[third];
        lines.push(format!(
            "third {}: gain {}, coherence {}",
            THIRD_LABELS[third],
            figures::unit(figures::signed(reading.gain_db.get(), 1), "dB"),
            figures::plain(reading.coherence.get(), 2)
        ));
    }
    tag(painter, upper, at, &lines);
}

fn title(comb: Option<&Comb>) -> String {
    let Some(comb) = comb else { return "Comb of the blend, and the gain in each third".to_owned() };
    let notches: Vec<String> =
        comb.notches_hz(20_000.0).filter(|hz| *hz >= 1.0).take(3).map(figures::hz).collect();
    let ripple = comb.ripple_db();
    let ripple = if ripple.is_finite() {
        format!("{} deep", figures::db(Some(ripple)))
    } else {
        "infinitely deep".to_owned()
    };
    if notches.is_empty() {
        "Comb of the blend: none, the two are in time".to_owned()
    } else {
        format!("Comb of the blend: notches at {} …, {ripple}; dashed: repaired", notches.join(", "))
    }
}

fn upper_ui(painter: &Painter, comb: Option<&Comb>, kept: Option<&Comb>, axis: FrequencyAxis, plot: Rect) {
    let theme = painter.theme;
    let values = ValueAxis { bottom: BOTTOM_DB, top: TOP_DB, y: plot.y_range() };
    for (db, label) in [(6.0, "+6"), (0.0, "0 dB"), (-12.0, "−12")] {
        let ink = if db == 0.0 { theme.grid_strong } else { theme.grid };
        painter.hairline(pos2(plot.left(), values.y(db)), pos2(plot.right(), values.y(db)), ink);
        painter.text(
            pos2(plot.right() + 4.0, values.y(db)),
            Align2::LEFT_CENTER,
            label,
            size::AXIS,
            theme.muted,
        );
    }
    let painter = painter.within(plot);
    if let Some(kept) = kept {
        painter.path(teeth(kept, axis, &values, plot), stroke::HAIR, theme.trace_reference);
    }
    let Some(comb) = comb else { return };
    painter.path(teeth(comb, axis, &values, plot), stroke::THIN, theme.trace);
    let y = values.y(comb.peak_db());
    let mut left = plot.left();
    while left < plot.right() {
        painter.path(
            vec![pos2(left, y), pos2((left + 7.0).min(plot.right()), y)],
            stroke::TRACE,
            theme.plumb,
        );
        left += 12.0;
    }
}

/// The response, column by column; where the comb's teeth are closer than columns, a column spans from notch to peak.
fn teeth(comb: &Comb, axis: FrequencyAxis, values: &ValueAxis, plot: Rect) -> Vec<Pos2> {
    let mut points = Vec::new();
    let spacing = comb.spacing_hz().unwrap_or(f64::INFINITY);
    let mut x = plot.left();
    let mut down = false;
    while x <= plot.right() {
        let (hz, next) = (axis.hz(x), axis.hz(x + 1.0));
        if spacing < 3.0 * (next - hz) {
            let ends = [comb.notch_db(), comb.peak_db()].map(|db| values.y(db));
            points.push(pos2(x, ends[usize::from(down)]));
            points.push(pos2(x, ends[usize::from(!down)]));
            down = !down;
        } else {
            // More points than columns, so that narrow teeth show their full depth.
            points.extend(
                [0.0, 0.25, 0.5, 0.75].map(|part| pos2(x + part, values.y(comb.gain_db(axis.hz(x + part))))),
            );
        }
        x += 1.0;
    }
    points
}

fn lower_ui(painter: &Painter, line: &PairLine, axis: FrequencyAxis, plot: Rect) {
    let theme = painter.theme;
    let won = ValueAxis { bottom: -WON_DB, top: WON_DB, y: plot.y_range() };
    let shared = ValueAxis { bottom: 0.0, top: 1.0, y: plot.y_range() };
    for (db, label) in [(6.0, "+6"), (0.0, "0 dB"), (-6.0, "−6")] {
        let ink = if db == 0.0 { theme.grid_strong } else { theme.grid };
        painter.hairline(pos2(plot.left(), won.y(db)), pos2(plot.right(), won.y(db)), ink);
        painter.text(
            pos2(plot.right() + 4.0, won.y(db)),
            Align2::LEFT_CENTER,
            label,
            size::AXIS,
            theme.muted,
        );
    }
    for (value, label, y) in [(1.0, "1", 5.0), (0.0, "0", -5.0_f32)] {
        let at = pos2(plot.left() - 4.0, shared.y(value) + y);
        painter.text(at, Align2::RIGHT_CENTER, label, size::AXIS, theme.coherence);
    }
    let painter = painter.within(plot);
    for third in 0..THIRDS {
        let (span, reading) = (third_span(third), &line.reading.thirds[third]);
        let (left, right) = (axis.x(span.low_hz).max(plot.left()), axis.x(span.high_hz).min(plot.right()));
        if let Some(db) = reading.gain_db.get().filter(|db| db.is_finite()) {
            let (a, b) = (won.y(db), won.y(0.0));
            let heard = reading.under_loudest_db.get().is_some_and(|under| under >= -30.0);
            let ink = if heard { theme.bar } else { theme.bar_faint };
            painter.fill(Rect::from_min_max(pos2(left + 1.0, a.min(b)), pos2(right - 1.0, a.max(b))), ink);
        }
        if let Some(coherence) = reading.coherence.get().filter(|c| c.is_finite()) {
            let at = pos2(f32::midpoint(left, right), shared.y(coherence));
            painter.egui.circle_filled(at, 2.5, theme.coherence);
        }
    }
    let legend = painter.line("bars: what the repair wins  ·  dots: coherence", size::AXIS, theme.muted);
    if legend.size().x <= plot.width() - 10.0 && plot.height() >= 50.0 {
        let at = plot.left_bottom() + egui::vec2(5.0, -1.0);
        painter
            .fill(Align2::LEFT_BOTTOM.anchor_size(at, legend.size()).expand(2.0).intersect(plot), theme.plot);
        painter.put(at, Align2::LEFT_BOTTOM, legend);
    }
}
