//! The time lanes: values over time on one axis, and the way back to any moment.
//!
//! Columns come ready-made with the view. `Command::ShowTime` asks for a stretch, `Command::Rewind` for a moment; the
//! lanes paint the view, which may be a frame late.

mod axis;
mod banner;
mod controls;
mod findings;
mod layout;
mod state;
mod traces;
mod viewport;

pub(crate) use banner::banner_ui;
pub(crate) use state::TimeState;

use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area, tooltip_area};
use crate::settings::Settings;
use crate::time_label;
use crate::tokens::{size, space, stroke};
use axis::TimeAxis;
use egui::{Align2, Rect, Sense, Ui, WidgetInfo, accesskit, pos2};
use layout::{TimeLayout, TimeRow};
use plumbline_programme::{MOST_COLUMNS, View};

/// Paints the lanes and follows the pointer on them.
pub(crate) fn time_ui(
    shared: &mut Shared,
    state: &mut TimeState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    let (view, theme) = (scene.view, scene.theme);
    let layout = TimeLayout::new(rect, scene.layout.axis, view.lanes.has_shares());
    if layout.x.span() < 1.0 || layout.field.height() < 1.0 {
        return;
    }
    let axis = TimeAxis::of(&view.lanes, layout.x);
    let response = ui.interact(layout.field, ui.scope_id().with("time lanes"), Sense::click_and_drag());
    response
        .widget_info(|| WidgetInfo::labeled(accesskit::Role::Button, true, aloud(&shared.settings, view)));
    let pointed = state.follow(ui, view, axis, &response, shared);
    match layout.tools {
        Some(row) => controls::controls_ui(shared, state, ui, painter, scene, row, pointed),
        None => {
            let gutter = Rect::from_min_max(
                pos2(rect.left(), layout.findings.top()),
                pos2(layout.x.min - space::NEAR, layout.labels.bottom()),
            );
            controls::small_controls_ui(shared, state, ui, view, gutter);
        }
    }
    #[expect(clippy::cast_possible_truncation, reason = "bounded")]
    let columns = layout.x.span().round().clamp(1.0, f32::from(MOST_COLUMNS)) as u16;
    state.look(view, columns, shared);

    let settings = &shared.settings;
    let plots: Vec<Rect> =
        layout.rows.iter().map(|(_, rect)| Rect::from_x_y_ranges(layout.x, rect.y_range())).collect();
    for (&(row, rect), plot) in layout.rows.iter().zip(&plots) {
        painter.fill(*plot, theme.plot);
        title(
            ui,
            painter,
            settings,
            row,
            Rect::from_x_y_ranges(rect.left()..=layout.x.min - space::NEAR, rect.y_range()),
        );
        values_ui(painter, settings, row, *plot);
    }
    let strip = Rect::from_x_y_ranges(layout.x, layout.findings.y_range());
    painter.fill(strip, theme.plot);
    if view.lanes.columns.is_empty() {
        nothing(painter, &plots);
        return;
    }
    grid(painter, scene, settings, axis, &layout);
    let inside = painter.within(Rect::from_x_y_ranges(layout.x, layout.field.y_range()));
    traces::gaps(&inside, &view.lanes, axis, &plots);
    for (&(row, _), plot) in layout.rows.iter().zip(&plots) {
        traces::row_ui(&painter.within(*plot), &view.lanes, axis, row, *plot, settings);
    }
    findings::row_ui(&inside, &view.log, &view.lanes, axis, strip);
    let rows = Rect::from_x_y_ranges(layout.x, layout.field.top()..=layout.findings.bottom());
    findings::ticks_ui(&inside, &view.log, &view.lanes, axis, rows);
    findings_name(ui, painter, scene, settings, axis, &layout);
    if let Some(tenth) = pointed {
        let x = axis.x(tenth);
        inside.hairline(pos2(x, rows.top()), pos2(x, rows.bottom()), theme.grid_strong);
    }
    moment(&inside, view, axis, rows);
}

/// The moment shown, as a vertical line with a triangle at its top.
fn moment(painter: &Painter, view: &View, axis: TimeAxis, rows: Rect) {
    let Some(past) = view.past.filter(|past| past.at.grid == view.lanes.grid) else { return };
    // The moment is the end of its tenth.
    let x = axis.x(past.at.index.saturating_add(1));
    let line = Rect::from_x_y_ranges(x - stroke::MARK / 2.0..=x + stroke::MARK / 2.0, rows.y_range());
    painter.fill(line, painter.theme.plumb);
    painter.triangle(pos2(x, rows.top() + 10.0), 10.0, false, painter.theme.plumb);
}

/// Accessible text of the lanes.
fn aloud(settings: &Settings, view: &View) -> String {
    let lanes = &view.lanes;
    if lanes.columns.is_empty() {
        return "Time lanes: nothing heard yet".to_owned();
    }
    let [left, right] = [lanes.left, lanes.right]
        .map(|tenth| time_label::tenth_at_usual_rate(view, settings, lanes.grid, tenth));
    let follows = match (lanes.follows, lanes.again) {
        (true, true) => ", following a passage played again",
        (true, false) => ", following",
        (false, _) => "",
    };
    let moment = match view.past {
        Some(past) => format!(
            ", showing {}",
            time_label::tenth_at_usual_rate(view, settings, past.at.grid, past.at.index)
        ),
        None => String::new(),
    };
    format!("Time lanes from {left} to {right}{follows}{moment}")
}

fn nothing(painter: &Painter, plots: &[Rect]) {
    let (Some(first), Some(last)) = (plots.first(), plots.last()) else { return };
    let all = first.union(*last);
    let words = ["Nothing heard yet: readings over time will appear here", "Nothing heard yet"];
    for text in words {
        let galley = painter.line(text, size::SMALL, painter.theme.muted);
        if galley.size().x <= all.width() {
            let room = Rect::from_center_size(all.center(), galley.size() + egui::vec2(12.0, 2.0));
            painter.fill(room, painter.theme.plot);
            painter.put(all.center(), Align2::CENTER_CENTER, galley);
            return;
        }
    }
}

/// The least distance in points between two labels of the axis.
const LABEL: f32 = 96.0;

fn grid(painter: &Painter, scene: &Scene<'_>, settings: &Settings, axis: TimeAxis, layout: &TimeLayout) {
    let theme = painter.theme;
    let Some(rate) = time_label::usual_rate(scene.view) else { return };
    let y = layout.labels.center().y;
    for (x, text) in axis::labels(axis, scene.view.lanes.grid, settings.start, rate, LABEL) {
        for (_, row) in &layout.rows {
            painter.hairline(pos2(x, row.top()), pos2(x, row.bottom()), theme.grid);
        }
        let galley = painter.line(text, size::AXIS, theme.muted);
        let half = galley.size().x / 2.0;
        let x = x.max(layout.x.min + half).min((layout.x.max - half).max(layout.x.min + half));
        painter.put(pos2(x, y), Align2::CENTER_CENTER, galley);
    }
}

fn title(ui: &Ui, painter: &Painter, settings: &Settings, row: TimeRow, gutter: Rect) {
    let theme = painter.theme;
    let (title, unit, tip) = match row {
        TimeRow::Loudness => (
            "Loudness",
            "LUFS",
            "Loudness over time: short-term (3 s) as a line, momentary (400 ms) as faint bars behind it (ITU-R \
             BS.1770-5, EBU Tech 3341), from −18 to +9 LU around the target, a horizontal line with its tolerance. \
             Where a column holds several tenths, the bar runs from the lowest to the highest. The thin second line \
             is the previous pass over the same song time. A thick top edge: louder than the axis reaches. A small \
             mark at the bottom: audio was lost there. Time not heard is blank. Marks cross all lanes, joins hang \
             from the top.",
        ),
        TimeRow::Width => (
            "Width",
            "side %",
            "Side share over time, 0 to 100 per cent: 0 mono, 50 unrelated, 100 all side. The thin second line is \
             the previous pass over the same song time.",
        ),
        TimeRow::Correlation => {
            ("Correlation", "lowest", "The lowest correlation (300 ms) in each stretch, −1 to +1.")
        }
        TimeRow::Shares => (
            "Layer share",
            "%",
            "Share of each role in the K-weighted energy of all layers except the mix (ITU-R BS.1770-5), in per \
             cent, stacked from the bottom: Natural, Foley, Design, Voice, Music.",
        ),
    };
    let y = if gutter.height() < space::LINE * 1.8 {
        gutter.center().y
    } else {
        gutter.top() + space::LINE / 2.0
    };
    let rect = painter.text(pos2(gutter.left(), y), Align2::LEFT_CENTER, title, size::SMALL, theme.text);
    if gutter.height() >= space::LINE * 1.8 {
        let at = pos2(gutter.left(), y + space::LINE);
        painter.text(at, Align2::LEFT_CENTER, unit, size::AXIS, theme.muted);
    } else {
        let at = pos2(rect.right() + space::NEAR, y);
        painter.text_if_fits(at, Align2::LEFT_CENTER, unit, size::AXIS, theme.muted, gutter.right() - at.x);
    }
    let target = settings.target.integrated_lufs;
    tooltip_area(ui, gutter, title, tip, || match row {
        TimeRow::Loudness => {
            format!("Loudness over time, target {} LUFS", plumbline_report::figures::plain(Some(target), 1))
        }
        TimeRow::Width => "Width over time".to_owned(),
        TimeRow::Correlation => "Lowest correlation over time".to_owned(),
        TimeRow::Shares => "Layer share over time".to_owned(),
    });
}

/// The label of the value with a meaning, at the right of the row.
fn values_ui(painter: &Painter, settings: &Settings, row: TimeRow, plot: Rect) {
    let (value, label) = match row {
        TimeRow::Loudness => {
            let target = settings.target.integrated_lufs;
            (target, plumbline_report::figures::plain(Some(target), 0))
        }
        TimeRow::Width | TimeRow::Shares => (0.5, "50".to_owned()),
        TimeRow::Correlation => (0.0, "0".to_owned()),
    };
    let at = pos2(plot.right() + 5.0, traces::values(row, settings, plot).y(value));
    painter.text(at, Align2::LEFT_CENTER, label, size::AXIS, painter.theme.muted);
}

const FINDINGS_TIP: &str = "Findings where they happened: the higher the bar, the worse. Ring: slight, diamond: \
                            clear, triangle: grave. Paler: done. The Log page lists them with advice.";

fn findings_name(
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    settings: &Settings,
    axis: TimeAxis,
    layout: &TimeLayout,
) {
    let view = scene.view;
    let count = findings::in_view(&view.log, &view.lanes);
    let row = layout.findings;
    if layout.tools.is_some() {
        let at = pos2(row.left(), row.center().y);
        painter.text(at, Align2::LEFT_CENTER, "Findings", size::SMALL, painter.theme.text);
        let gutter = row.with_max_x(layout.x.min - space::NEAR);
        tooltip_area(ui, gutter, "findings title", FINDINGS_TIP, || "Findings over time".to_owned());
    }
    let strip = Rect::from_x_y_ranges(layout.x, row.y_range());
    let response = named_area(ui, strip, "findings", || format!("Findings in view: {count}"));
    let told = response.hover_pos().map(|at| findings::told(view, settings, axis, at.x)).unwrap_or_default();
    if !told.is_empty() {
        response.on_hover_ui_at_pointer(|ui| {
            for line in told {
                ui.label(line);
            }
        });
    }
}
