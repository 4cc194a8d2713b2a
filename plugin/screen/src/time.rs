//! The time lanes: what happened over time on one shared axis, and the way back to any moment of it.
//!
//! Columns come ready made with the view; what is shown is asked for by [`Intent::Look`], and a moment by
//! [`Intent::Rewind`]. What is painted is what the view holds, which may be a frame behind the wish.

mod axis;
mod banner;
mod findings;
mod plan;
mod tools;
mod traces;
mod wish;

pub(crate) use banner::banner_ui;
pub(crate) use plan::{FULL, SHORT};

use crate::keys::Command;
use crate::painter::{Painter, name_only, place as pen_place};
use crate::screen::{Intent, Scene, Screen};
use crate::settings::Settings;
use crate::tokens::{size, space, stroke};
use axis::TimeAxis;
use egui::{Align2, Event, Rect, Response, Sense, Ui, WidgetInfo, accesskit, pos2};
use plan::{Plan, Row};
use plumbline_measure::{Grid, SampleRate};
use plumbline_programme::{MOST_COLUMNS, Mark, TimeWindow, View};
use wish::Wish;

/// What the lanes remember while the window is open.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Memory {
    wish: Wish,
    /// What was asked for last.
    sent: Option<TimeWindow>,
    /// A moment that was asked for while the view has not answered.
    asked: Option<Mark>,
    /// The moment that the view showed last.
    seen: Option<Mark>,
    /// The moment asked for by the drag that goes on.
    dragged: Option<Mark>,
}

/// A tenth as a label: timecode of song time, else clock time.
fn place(view: &View, settings: &Settings, grid: Grid, tenth: i64) -> String {
    // Tenths start at the same instant at any rate, so before the first block one is as good as another.
    let rate = rate(view);
    rate.map_or_else(
        || plumbline_report::figures::DASH.to_owned(),
        |rate| plumbline_report::words::place(grid, tenth, settings.start, rate),
    )
}

fn rate(view: &View) -> Option<SampleRate> {
    SampleRate::new(view.clock.rate_hz).or_else(|_| SampleRate::new(48_000)).ok()
}

impl Screen {
    /// Takes note of which moment the view shows.
    pub(crate) fn meet_past(&mut self, view: &View) {
        let at = view.past.map(|past| past.at);
        if at != self.time.seen {
            self.time.seen = at;
            self.time.asked = None;
        }
    }

    /// Whether a moment that has passed is shown or asked for.
    pub(crate) fn in_the_past(&self, view: &View) -> bool {
        view.past.is_some() || self.time.asked.is_some()
    }

    fn rewind(&mut self, mark: Mark) {
        self.time.asked = Some(mark);
        self.intents.push(Intent::Rewind(Some(mark)));
    }

    /// Leaves the past, where that is what is shown.
    pub(crate) fn leave_past(&mut self, view: &View) -> bool {
        let there = self.in_the_past(view);
        if there {
            self.time.asked = None;
            self.intents.push(Intent::Rewind(None));
        }
        there
    }

    /// Leaves the past and follows the newest.
    pub(crate) fn return_to_now(&mut self, view: &View) {
        self.leave_past(view);
        self.time.wish.end = None;
    }

    /// Keys of the lanes.
    pub(crate) fn obey_on_time(&mut self, command: Command, view: &View) {
        let chosen = self.settings.reach.tenths();
        let lanes = &view.lanes;
        let wish = &mut self.time.wish;
        match command {
            Command::Earlier => wish.pan(-0.25, chosen, lanes),
            Command::Later => wish.pan(0.25, chosen, lanes),
            Command::Closer => wish.zoom(1.0 / 1.5, None, chosen, lanes),
            Command::Wider => wish.zoom(1.5, None, chosen, lanes),
            Command::Now => self.return_to_now(view),
            Command::Step(tenths) => self.step_moment(i64::from(tenths), view),
            _ => {}
        }
    }

    /// Moves the moment that is shown; from now, to before the newest tenth.
    fn step_moment(&mut self, by: i64, view: &View) {
        let lanes = &view.lanes;
        let past = self.time.asked.or(view.past.map(|past| past.at));
        if past.is_none() && (by > 0 || lanes.columns.is_empty()) {
            return;
        }
        let from = past.unwrap_or(Mark { grid: lanes.grid, index: lanes.newest });
        let mut index = from.index.saturating_add(by);
        if from.grid == lanes.grid && !lanes.columns.is_empty() {
            index = index.clamp(lanes.extent[0], lanes.extent[1].saturating_sub(1).max(lanes.extent[0]));
        }
        if past.is_none() || index != from.index {
            self.rewind(Mark { grid: from.grid, index });
        }
    }

    /// Follows hands on the lanes; returns the tenth under the pointer.
    fn hands_on_time(&mut self, ui: &Ui, view: &View, axis: TimeAxis, response: &Response) -> Option<i64> {
        let lanes = &view.lanes;
        if lanes.columns.is_empty() {
            return None;
        }
        let pressed = response.is_pointer_button_down_on() && ui.input(|input| input.pointer.primary_down());
        let at = response.interact_pointer_pos().filter(|_| pressed || response.clicked());
        if let Some(index) = at.and_then(|at| tools::heard(lanes, axis, axis.tenth(at.x))) {
            let mark = Mark { grid: lanes.grid, index };
            if self.time.dragged != Some(mark) {
                self.time.dragged = Some(mark);
                self.rewind(mark);
            }
        }
        if !pressed {
            self.time.dragged = None;
        }
        let hover = ui.input(|input| input.pointer.hover_pos()).filter(|_| response.contains_pointer());
        let pointed = hover.map(|at| axis.tenth(at.x));
        if let Some(about) = pointed {
            let chosen = self.settings.reach.tenths();
            let wish = &mut self.time.wish;
            ui.input(|input| {
                for event in &input.events {
                    match event {
                        Event::MouseWheel { unit, delta, modifiers, .. } => {
                            let lines = lines(*unit, *delta);
                            if modifiers.shift || lines.x.abs() > lines.y.abs() {
                                let by = if lines.x.abs() > lines.y.abs() { lines.x } else { lines.y };
                                wish.pan(f64::from(-by) * PAN_A_LINE, chosen, lanes);
                            } else {
                                wish.zoom(ZOOM_A_LINE.powf(f64::from(-lines.y)), Some(about), chosen, lanes);
                            }
                        }
                        Event::Zoom(factor) => {
                            wish.zoom(1.0 / f64::from(*factor), Some(about), chosen, lanes)
                        }
                        _ => {}
                    }
                }
            });
        }
        pointed
    }

    /// Asks for what the user wants to see, where that is not what was asked for last.
    fn look(&mut self, view: &View, columns: u16) {
        let lens = self.time.wish.lens(self.settings.reach.tenths(), &view.lanes, columns);
        if self.time.sent != Some(lens) {
            self.time.sent = Some(lens);
            self.intents.push(Intent::Look(lens));
        }
    }
}

/// Share of the length by which a line of the wheel moves.
const PAN_A_LINE: f64 = 0.1;
/// By how much a line of the wheel zooms.
const ZOOM_A_LINE: f64 = 1.25;

/// Turns of a wheel in lines, bounded.
fn lines(unit: egui::MouseWheelUnit, delta: egui::Vec2) -> egui::Vec2 {
    let scale = match unit {
        egui::MouseWheelUnit::Line => 1.0,
        egui::MouseWheelUnit::Point => 1.0 / 40.0,
        egui::MouseWheelUnit::Page => 4.0,
    };
    let bounded = |v: f32| if v.is_finite() { (v * scale).clamp(-8.0, 8.0) } else { 0.0 };
    egui::vec2(bounded(delta.x), bounded(delta.y))
}

/// Paints the lanes and follows hands on them.
pub(crate) fn time_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let (view, theme) = (scene.view, scene.theme);
    let plan = Plan::new(rect, scene.plan.axis, traces::has_shares(&view.lanes));
    if plan.x.span() < 1.0 || plan.field.height() < 1.0 {
        return;
    }
    let axis = TimeAxis::of(&view.lanes, plan.x);
    let response = ui.interact(plan.field, ui.scope_id().with("time lanes"), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(accesskit::Role::Button, true, aloud(screen, view)));
    let pointed = screen.hands_on_time(ui, view, axis, &response);
    match plan.tools {
        Some(row) => tools::tools_ui(screen, ui, painter, scene, row, pointed),
        None => {
            let gutter = Rect::from_min_max(
                pos2(rect.left(), plan.findings.top()),
                pos2(plan.x.min - space::NEAR, plan.labels.bottom()),
            );
            tools::small_tools_ui(screen, ui, scene, gutter);
        }
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded")]
    let columns = plan.x.span().round().clamp(1.0, f32::from(MOST_COLUMNS)) as u16;
    screen.look(view, columns);

    let settings = &screen.settings;
    let plots: Vec<Rect> =
        plan.rows.iter().map(|(_, rect)| Rect::from_x_y_ranges(plan.x, rect.y_range())).collect();
    for (&(row, rect), plot) in plan.rows.iter().zip(&plots) {
        painter.fill(*plot, theme.plot);
        title(
            ui,
            painter,
            settings,
            row,
            Rect::from_x_y_ranges(rect.left()..=plan.x.min - space::NEAR, rect.y_range()),
        );
        values_ui(painter, settings, row, *plot);
    }
    let strip = Rect::from_x_y_ranges(plan.x, plan.findings.y_range());
    painter.fill(strip, theme.plot);
    if view.lanes.columns.is_empty() {
        nothing(painter, &plots);
        return;
    }
    grid(painter, scene, settings, axis, &plan);
    let inside = painter.within(Rect::from_x_y_ranges(plan.x, plan.field.y_range()));
    traces::gaps(&inside, &view.lanes, axis, &plots);
    for (&(row, _), plot) in plan.rows.iter().zip(&plots) {
        traces::row_ui(&painter.within(*plot), &view.lanes, axis, row, *plot, settings);
    }
    findings::row_ui(&inside, &view.log, &view.lanes, axis, strip);
    let rows = Rect::from_x_y_ranges(plan.x, plan.field.top()..=plan.findings.bottom());
    findings::ticks_ui(&inside, &view.log, &view.lanes, axis, rows);
    findings_name(ui, painter, scene, settings, axis, &plan);
    if let Some(tenth) = pointed {
        let x = axis.x(tenth);
        inside.hair(pos2(x, rows.top()), pos2(x, rows.bottom()), theme.grid_strong);
    }
    moment(&inside, view, axis, rows);
}

/// The moment that is shown, as an upright line with the bob at its top.
fn moment(painter: &Painter, view: &View, axis: TimeAxis, rows: Rect) {
    let Some(past) = view.past.filter(|past| past.at.grid == view.lanes.grid) else { return };
    // As of the end of its tenth.
    let x = axis.x(past.at.index.saturating_add(1));
    let line = Rect::from_x_y_ranges(x - stroke::MARK / 2.0..=x + stroke::MARK / 2.0, rows.y_range());
    painter.fill(line, painter.theme.plumb);
    painter.bob(pos2(x, rows.top() + 10.0), 10.0, false, painter.theme.plumb);
}

/// The lanes in words.
fn aloud(screen: &Screen, view: &View) -> String {
    let lanes = &view.lanes;
    if lanes.columns.is_empty() {
        return "Time lanes: nothing heard yet".to_owned();
    }
    let settings = screen.settings();
    let [left, right] = [lanes.left, lanes.right].map(|tenth| place(view, settings, lanes.grid, tenth));
    let follows = match (lanes.follows, lanes.again) {
        (true, true) => ", following a passage played again",
        (true, false) => ", following",
        (false, _) => "",
    };
    let moment = match view.past {
        Some(past) => format!(", showing {}", place(view, settings, past.at.grid, past.at.index)),
        None => String::new(),
    };
    format!("Time lanes from {left} to {right}{follows}{moment}")
}

fn nothing(painter: &Painter, plots: &[Rect]) {
    let (Some(first), Some(last)) = (plots.first(), plots.last()) else { return };
    let all = first.union(*last);
    let words = ["Nothing heard yet: what happens over time will stand here", "Nothing heard yet"];
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

/// Points between two labels of the axis, at least.
const LABEL: f32 = 96.0;

fn grid(painter: &Painter, scene: &Scene<'_>, settings: &Settings, axis: TimeAxis, plan: &Plan) {
    let theme = painter.theme;
    let Some(rate) = rate(scene.view) else { return };
    let y = plan.labels.center().y;
    for (x, text) in axis::labels(axis, scene.view.lanes.grid, settings.start, rate, LABEL) {
        for (_, row) in &plan.rows {
            painter.hair(pos2(x, row.top()), pos2(x, row.bottom()), theme.grid);
        }
        let galley = painter.line(text, size::AXIS, theme.muted);
        let half = galley.size().x / 2.0;
        let x = x.max(plan.x.min + half).min((plan.x.max - half).max(plan.x.min + half));
        painter.put(pos2(x, y), Align2::CENTER_CENTER, galley);
    }
}

fn title(ui: &Ui, painter: &Painter, settings: &Settings, row: Row, gutter: Rect) {
    let theme = painter.theme;
    let (title, unit, tip) = match row {
        Row::Loudness => (
            "Loudness",
            "LUFS",
            "Loudness over time: short-term (3 s) as a line, momentary (400 ms) as faint bars behind it (ITU-R BS.1770-5, \
             EBU Tech 3341), from −18 to +9 LU about the target, which is the upright's cross line with its tolerance. \
             Where a column holds several tenths the bar reaches from the lowest to the highest. The thin second line \
             is the pass before over the same song time. A thick upper edge: louder than the axis reaches. A small mark \
             at the foot: audio was lost there. What was not heard is left open. Marks go through all lanes, joins hang from the top.",
        ),
        Row::Width => (
            "Width",
            "side %",
            "Side share over time, 0 to 100 per cent: 0 mono, 50 unrelated, 100 all side. The thin second line is the \
             pass before over the same song time.",
        ),
        Row::Correlation => {
            ("Correlation", "lowest", "The lowest correlation (300 ms) in each stretch, −1 to +1.")
        }
        Row::Shares => (
            "Layer share",
            "%",
            "Share of each role in the K-weighted energy of all layers but the mix (ITU-R BS.1770-5), in per cent, \
             stacked from the foot: Natural, Foley, Design, Voice, Music.",
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
    pen_place(ui, gutter, title, tip, || match row {
        Row::Loudness => {
            format!("Loudness over time, target {} LUFS", plumbline_report::figures::plain(Some(target), 1))
        }
        Row::Width => "Width over time".to_owned(),
        Row::Correlation => "Lowest correlation over time".to_owned(),
        Row::Shares => "Layer share over time".to_owned(),
    });
}

/// The value that means something, at the right of the row.
fn values_ui(painter: &Painter, settings: &Settings, row: Row, plot: Rect) {
    let (value, label) = match row {
        Row::Loudness => {
            let target = settings.target.integrated_lufs;
            (target, plumbline_report::figures::plain(Some(target), 0))
        }
        Row::Width | Row::Shares => (0.5, "50".to_owned()),
        Row::Correlation => (0.0, "0".to_owned()),
    };
    let at = pos2(plot.right() + 5.0, traces::values(row, settings, plot).y(value));
    painter.text(at, Align2::LEFT_CENTER, label, size::AXIS, painter.theme.muted);
}

const FINDINGS_TIP: &str = "What is worth acting on, where it happened: the higher the bar the worse. Ring: slight, diamond: \
                            clear, triangle: grave. Paler: seen to. The Log page lists them with advice.";

fn findings_name(
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    settings: &Settings,
    axis: TimeAxis,
    plan: &Plan,
) {
    let view = scene.view;
    let count = findings::in_view(&view.log, &view.lanes);
    let row = plan.findings;
    if plan.tools.is_some() {
        let at = pos2(row.left(), row.center().y);
        painter.text(at, Align2::LEFT_CENTER, "Findings", size::SMALL, painter.theme.text);
        let gutter = row.with_max_x(plan.x.min - space::NEAR);
        pen_place(ui, gutter, "findings title", FINDINGS_TIP, || "Findings over time".to_owned());
    }
    let strip = Rect::from_x_y_ranges(plan.x, row.y_range());
    let response = name_only(ui, strip, "findings", || format!("Findings in view: {count}"));
    let told = response.hover_pos().map(|at| findings::told(view, settings, axis, at.x)).unwrap_or_default();
    if !told.is_empty() {
        response.on_hover_ui_at_pointer(|ui| {
            for line in told {
                ui.label(line);
            }
        });
    }
}
