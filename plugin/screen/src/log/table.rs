//! The findings, two lines each: what and where on the first, what to do on the second.

use super::{Order, grade_shape, rewind};
use crate::header::fitted_in;
use crate::painter::{Painter, name_only};
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space, stroke};
use crate::when;
use egui::{Align2, Rangef, Rect, Sense, Stroke, Ui, UiBuilder, WidgetInfo, accesskit, pos2, vec2};
use plumbline_programme::findings::Grade;
use plumbline_programme::{Finding, MOST_ENTRIES};
use plumbline_report::words;

pub(super) const ROW: f32 = 38.0;
const HEADS: f32 = 18.0;
/// Room for the shape of the grade.
const SHAPE: f32 = 22.0;
const SEEN: f32 = 40.0;

/// Heads with their width, tooltip, and the order that a click on them takes. The width of 0 takes what is left.
const COLUMNS: [(&str, f32, Option<Order>, &str); 6] = [
    (
        "Time",
        86.0,
        Some(Order::Time),
        "Where it starts: timecode as of SMPTE ST 12-1 on song time, hours to tenths of seconds on clock time.",
    ),
    (
        "Lasts",
        96.0,
        None,
        "How long it lasts, in seconds; a finding that goes on has no end yet. Tenths of seconds are the grid of the \
         measurement.",
    ),
    ("What", 100.0, Some(Order::Kind), "The rule that it went past; the rules say from where on."),
    (
        "Where",
        124.0,
        None,
        "Where in frequency, in Hz: edges of one-third-octave bands (IEC 61260-1); \"all\" is the whole range.",
    ),
    ("Whose", 0.0, None, "Which layers it concerns, which role is off its aim, which channel."),
    (
        "How bad",
        116.0,
        Some(Order::Grade),
        "The worst value, in its unit. Bars at the left of the row: one is slight, two are clear, three are grave. \
         Ordered by grade, then by rule, then by value.",
    ),
];

fn cells(row: Rect) -> [Rangef; 6] {
    let fixed: f32 = COLUMNS.iter().map(|column| column.1).sum();
    let left = row.left() + SHAPE;
    let free = (row.right() - SEEN - left - fixed).max(0.0);
    let mut x = left;
    COLUMNS.map(|(_, width, ..)| {
        let from = x.min(row.right());
        x += if width == 0.0 { free } else { width };
        Rangef::new(from, (x - space::NEAR).clamp(from, row.right()))
    })
}

pub(super) fn table_ui(
    screen: &mut Screen,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
    rows: &[usize],
) {
    painter.block(rect, scene.theme.panel);
    let inside = rect.shrink2(vec2(space::NEAR, 1.0));
    if inside.width() < 120.0 || inside.height() < HEADS + ROW {
        return;
    }
    let heads = inside.with_max_y(inside.top() + HEADS);
    heads_ui(screen, ui, painter, heads);
    let mut body = inside.with_min_y(heads.bottom());
    let log = &*scene.view.log;
    if let Some(text) = dropped(log.dropped) {
        let line = body.with_max_y((body.top() + space::LINE).min(body.bottom()));
        let galley =
            fitted_in(painter, &text, size::AXIS, (line.width() - SHAPE).max(0.0), scene.theme.muted);
        painter.put(pos2(line.left() + SHAPE, line.center().y), Align2::LEFT_CENTER, galley);
        name_only(ui, line, "dropped", || text.clone());
        body.min.y = line.bottom();
    }
    let mut child = ui.new_child(UiBuilder::new().id_salt("findings").max_rect(body));
    child.spacing_mut().item_spacing.y = 0.0;
    let mut scroll = egui::ScrollArea::vertical().id_salt("findings").auto_shrink([false, false]);
    let selected = screen.log.selected;
    if std::mem::take(&mut screen.log.seek)
        && let Some(at) = rows.iter().position(|index| Some(log.findings[*index].id) == selected)
    {
        scroll = scroll.vertical_scroll_offset(offset(at, rows.len(), body.height()));
    }
    scroll.show_rows(&mut child, ROW, rows.len(), |ui, range| {
        for at in range {
            let Some(finding) = rows.get(at).and_then(|index| log.findings.get(*index)) else { continue };
            let (row, _) = ui.allocate_exact_size(vec2(inside.width(), ROW), Sense::hover());
            row_ui(screen, ui, scene, finding, at, row);
        }
    });
}

/// How far to scroll so that a row stands in the middle, where the ends of the list allow it.
fn offset(at: usize, rows: usize, height: f32) -> f32 {
    #[expect(clippy::cast_precision_loss, reason = "thousands of rows at most")]
    let (at, rows) = (at as f32, rows as f32);
    ((at + 0.5) * ROW - height / 2.0).clamp(0.0, (rows * ROW - height).max(0.0))
}

/// What is no longer in the log, in words.
pub(crate) fn dropped(count: u64) -> Option<String> {
    let entries = match count {
        0 => return None,
        1 => "1 older entry was".to_owned(),
        more => format!("{more} older entries were"),
    };
    Some(format!("{entries} let go: the log keeps {MOST_ENTRIES} findings and as many joins."))
}

fn heads_ui(screen: &mut Screen, ui: &Ui, painter: &Painter, rect: Rect) {
    let theme = painter.theme;
    for ((name, _, order, tip), x) in COLUMNS.into_iter().zip(cells(rect)) {
        let cell = Rect::from_x_y_ranges(x, rect.y_range());
        let sorted = order == Some(screen.log.order);
        let ink = if sorted { theme.text } else { theme.muted };
        let text = fitted_in(painter, name, size::AXIS, cell.width(), ink);
        let text = painter.put(cell.left_center(), Align2::LEFT_CENTER, text);
        if sorted {
            let y = cell.center().y + if screen.log.turned { -3.0 } else { 3.0 };
            painter.bob(pos2(text.right() + 6.0, y), 5.0, screen.log.turned, theme.text);
        }
        let Some(order) = order else {
            name_only(ui, cell, name, || format!("Column {name}")).on_hover_text(tip);
            continue;
        };
        let response = ui.interact(cell, ui.scope_id().with(("head", name)), Sense::click());
        response
            .widget_info(|| WidgetInfo::labeled(accesskit::Role::Button, true, format!("Order by {name}")));
        ring(painter, cell, response.has_focus());
        if response.clicked() {
            screen.log.order_by(order);
        }
        response.on_hover_text(format!("{tip} Click to order by it, once more to turn the order over (O)."));
    }
    let seen = rect.with_min_x((rect.right() - SEEN).max(rect.left()));
    painter.text(seen.center(), Align2::CENTER_CENTER, "Seen", size::AXIS, theme.muted);
    let tip = "Tick what you have seen to; it can be hidden then (V).";
    name_only(ui, seen, "Seen", || "Column Seen".to_owned()).on_hover_text(tip);
}

fn ring(painter: &Painter, rect: Rect, focus: bool) {
    if focus {
        let ring = Stroke::new(stroke::HAIR, painter.theme.plumb);
        painter.egui.rect_stroke(rect.shrink(0.5), 2.0, ring, egui::StrokeKind::Inside);
    }
}

/// How long a finding lasts, or that it goes on.
pub(super) fn lasts(finding: &Finding) -> String {
    let length = words::length(finding.secs());
    if finding.open { format!("{length}, goes on") } else { length }
}

fn row_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>, finding: &Finding, at: usize, rect: Rect) {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let selected = screen.log.selected == Some(finding.id);
    let texts = [
        when::tenth(scene, screen.settings(), finding.grid, finding.start),
        lasts(finding),
        words::kind(finding.kind).to_owned(),
        words::span(finding.span),
        words::concerns(finding),
        words::worst(finding),
    ];
    let advice = words::advice(finding);
    let response = ui.interact(rect, ui.scope_id().with(("finding", at, finding.id)), Sense::click());
    response.widget_info(|| {
        WidgetInfo::selected(accesskit::Role::Button, true, selected, aloud(finding, &texts, &advice))
    });
    if selected || response.hovered() {
        painter.fill(rect, if selected { theme.button } else { theme.plot });
    }
    if selected {
        painter.fill(rect.with_max_x(rect.left() + 2.0), theme.plumb);
    }
    ring(&painter, rect, response.has_focus());
    if response.clicked() {
        screen.log.selected = Some(finding.id);
        screen.intents.push(rewind(finding));
    }
    let (upper, lower) = (rect.top() + 11.0, rect.top() + 27.0);
    grade_shape(&painter, pos2(rect.left() + 12.0, upper), 10.0, finding.grade, finding.seen);
    for (column, (text, x)) in texts.iter().zip(cells(rect)).enumerate() {
        let ink = match (finding.seen, finding.grade) {
            (true, _) => theme.muted,
            (false, Grade::Grave) if column == 2 => theme.fault_text,
            (false, _) => theme.text,
        };
        painter.put(
            pos2(x.min, upper),
            Align2::LEFT_CENTER,
            fitted_in(&painter, text, size::SMALL, x.span(), ink),
        );
    }
    let left = rect.left() + SHAPE;
    let room = (rect.right() - SEEN - left).max(0.0);
    let galley = fitted_in(&painter, &advice, size::SMALL, room, theme.muted);
    painter.put(pos2(left, lower), Align2::LEFT_CENTER, galley);
    painter.hair(pos2(left, rect.bottom()), rect.right_bottom(), theme.grid);
    response.on_hover_ui(|ui| {
        ui.label(format!("{}  ·  {}", texts[2], words::grade(finding.grade)));
        if !texts[4].is_empty() {
            ui.label(&texts[4]);
        }
        ui.label(&advice);
        ui.weak("Click, or Enter: show the moment at which it is worst.");
    });
    seen_ui(screen, ui, finding, &texts, rect);
}

fn seen_ui(screen: &mut Screen, ui: &mut Ui, finding: &Finding, texts: &[String; 6], row: Rect) {
    let mut seen = finding.seen;
    let side = space::BUTTON;
    let rect = Rect::from_center_size(pos2(row.right() - SEEN / 2.0, row.top() + 14.0), vec2(side, side));
    if !row.contains_rect(rect) {
        return;
    }
    // A place of its own: what is put into the list itself would move the rows after it.
    let mut place = ui.new_child(UiBuilder::new().id_salt(("seen", finding.id)).max_rect(rect));
    let response = place.add(egui::Checkbox::without_text(&mut seen)).on_hover_text("Seen to (V)");
    if response.accessible_name(format!("Seen: {} at {}", texts[2], texts[0])).changed() {
        screen.intents.push(Intent::Seen(finding.id, seen));
    }
}

/// A row for those who hear the screen.
fn aloud(finding: &Finding, [time, lasts, kind, span, whose, worst]: &[String; 6], advice: &str) -> String {
    let grade = words::grade(finding.grade).to_lowercase();
    let seen = if finding.seen { ", seen" } else { "" };
    let whose = if whose.is_empty() { String::new() } else { format!(", {whose}") };
    format!("{kind}, {grade}{seen}: {time}, {lasts}, frequency {span}{whose}, worst {worst}. {advice}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_stand_side_by_side_in_any_row() {
        let mut ran = 0;
        for width in (0_u16..2_000).step_by(31) {
            let row = Rect::from_min_size(pos2(7.0, 3.0), vec2(f32::from(width), ROW));
            let cells = cells(row);
            for pair in cells.windows(2) {
                assert!(pair[0].max <= pair[1].min, "{width}: {pair:?}");
            }
            assert!(cells.iter().all(|cell| cell.span() >= 0.0 && cell.max <= row.right()), "{width}");
            ran += 1;
        }
        assert_eq!(ran, 65);
    }

    #[test]
    fn the_selected_row_is_brought_to_the_middle_but_the_list_ends_where_it_ends() {
        assert_eq!(offset(0, 100, 380.0), 0.0);
        assert_eq!(offset(99, 100, 380.0), 100.0 * ROW - 380.0);
        assert_eq!(offset(50, 100, 380.0), 50.5 * ROW - 190.0);
        assert_eq!(offset(3, 4, 380.0), 0.0, "all of it is in sight");
    }

    #[test]
    fn what_was_let_go_is_counted() {
        assert_eq!(dropped(0), None);
        assert!(dropped(1).is_some_and(|text| text.starts_with("1 older entry was let go")));
        assert!(dropped(312).is_some_and(|text| text.contains("312 older entries") && text.contains("2000")));
    }
}
