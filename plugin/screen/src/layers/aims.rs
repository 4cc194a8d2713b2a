//! Shares of the roles, and their aims, which are dragged or typed.

use crate::fields;
use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::role_marks;
use crate::tokens::{size, space, stroke};
use crate::widgets;
use crate::widgets::choice;
use crate::words;
use egui::{Align2, DragValue, Rect, Sense, StrokeKind, Ui, WidgetInfo, accesskit, pos2, vec2};
use plumbline_programme::session::Aim;
use plumbline_programme::{BalanceTarget, Role, Stretch};
use plumbline_report::figures;

/// Tolerance of a new aim.
const TOLERANCE: f64 = 0.10;
/// Width of the fields in a row, and of each number beside the bar.
const CONTROLS: f32 = 142.0;
const COLUMN: f32 = 34.0;
/// The least width at which numbers for all three stretches are beside the bar.
const NUMBERS_FROM: f32 = 372.0;

pub(super) fn aims_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let theme = scene.theme;
    if rect.height() < 40.0 || rect.width() < 260.0 {
        return;
    }
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(vec2(space::INSET, space::NEAR));
    let numbers = inside.width() >= NUMBERS_FROM;
    heads(shared, ui, painter, inside.with_max_y(inside.top() + 20.0), numbers);
    let rows = inside.with_min_y(inside.top() + 22.0);
    let height = (rows.height() / 5.0).min(26.0);
    if height < 17.0 {
        return;
    }
    for (place, role) in Role::PARTS.into_iter().enumerate() {
        let top = rows.top() + place as f32 * height;
        let row = Rect::from_x_y_ranges(rows.x_range(), top..=top + height);
        role_ui(shared, ui, painter, scene, row, place, role, numbers);
    }
}

fn heads(shared: &mut Shared, ui: &mut Ui, painter: &Painter, rect: Rect, numbers: bool) {
    let stretch = shared.settings.stretch.name().to_lowercase();
    let title = if numbers { "Roles and aims".to_owned() } else { format!("Share {stretch}, aims") };
    painter.text(rect.left_center(), Align2::LEFT_CENTER, title, size::SMALL, painter.theme.text);
    if numbers {
        let heads = ["prog.", "pass.", "now"].into_iter().zip(Stretch::ALL.into_iter().rev());
        let mut right = rect.right() - CONTROLS - space::INSET;
        for (head, of) in heads {
            let ink = if of == shared.settings.stretch { painter.theme.text } else { painter.theme.muted };
            painter.text(pos2(right, rect.center().y), Align2::RIGHT_CENTER, head, size::AXIS, ink);
            right -= COLUMN;
        }
    }
    let mut row = widgets::row_from_right(ui, "aims", rect);
    row.spacing_mut().interact_size.y = 18.0;
    row.spacing_mut().button_padding.y = 0.0;
    let standing = shared.settings.balance == BalanceTarget::default();
    let reset = row.add_enabled(!standing, egui::Button::new("Reset to default"));
    let tip = "Natural 70 ± 10 %, the rest free (common practice for hybrid location-sound mixes, no source); you \
               can undo this for 10 s";
    if reset.on_hover_text(tip).accessible_name("Reset aims to default").clicked() {
        shared.undoable("Aims reset.");
        shared.settings.balance = BalanceTarget::default();
    }
}

#[expect(clippy::too_many_arguments, reason = "a row needs its role and its place")]
fn role_ui(
    shared: &mut Shared,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    row: Rect,
    place: usize,
    role: Role,
    numbers: bool,
) {
    let (theme, session) = (scene.theme, &*scene.view.session);
    let layers = session.roles[place].layers;
    let parts_of = &session.roles[place].parts;
    let y = row.center().y;
    let ink = if layers > 0 { theme.text } else { theme.muted };
    role_marks::mark(painter, pos2(row.left() + 6.0, y), 10.0, role, theme.role(role));
    let label = if layers > 0 { format!("{} ×{layers}", role.name()) } else { role.name().to_owned() };
    painter.text_if_fits(pos2(row.left() + 15.0, y), Align2::LEFT_CENTER, label, size::SMALL, ink, 68.0);

    let controls = Rect::from_min_max(pos2(row.right() - CONTROLS, row.top()), row.max);
    let shares_w = if numbers { 3.0 * COLUMN + 6.0 } else { COLUMN };
    let bar = Rect::from_x_y_ranges(
        row.left() + 86.0..=(controls.left() - shares_w - 6.0).max(row.left() + 87.0),
        y - 6.0..=y + 5.0,
    );
    let shares = Stretch::ALL.map(|stretch| parts_of[stretch.place()].share);
    let shown = shares[shared.settings.stretch.place()];
    let mut right = controls.left() - space::INSET;
    let columns: &[Stretch] =
        if numbers { &Stretch::ALL } else { std::slice::from_ref(&shared.settings.stretch) };
    for stretch in columns.iter().rev() {
        let ink = if *stretch == shared.settings.stretch { theme.text } else { theme.muted };
        let share = figures::percent(shares[stretch.place()]);
        painter.text(pos2(right, y), Align2::RIGHT_CENTER, share, size::AXIS, ink);
        right -= COLUMN;
    }
    bar_ui(shared, ui, painter, bar, place, role, shown);
    controls_ui(shared, ui, controls, place, role, shown);
}

/// The share as a bar, the aim as a triangle that can be dragged, and the tolerance behind both.
fn bar_ui(
    shared: &mut Shared,
    ui: &Ui,
    painter: &Painter,
    bar: Rect,
    place: usize,
    role: Role,
    share: Option<f64>,
) {
    let theme = painter.theme;
    let touch = bar.expand2(vec2(4.0, 5.0));
    let response = ui.interact(touch, ui.scope_id().with(("aim bar", place)), Sense::click_and_drag());
    if response.drag_started() || response.clicked() {
        shared.undoable("Aim moved.");
    }
    if (response.dragged() || response.drag_stopped() || response.clicked())
        && let Some(at) = response.interact_pointer_pos()
    {
        let share = f64::from((at.x - bar.left()) / bar.width().max(1.0)).clamp(0.0, 1.0);
        let tolerance = shared.settings.balance.aims[place].map_or(TOLERANCE, |aim| aim.tolerance);
        shared.settings.balance.aims[place] = Some(Aim { share: (share * 100.0).round() / 100.0, tolerance });
    }
    let aim = shared.settings.balance.aims[place];
    response.widget_info(|| {
        let aim = aim.map_or("free".to_owned(), |aim| words::aim_words(&aim));
        let name = format!("{}: share {}, aim {aim}", role.name(), figures::percent(share));
        WidgetInfo::labeled(accesskit::Role::Button, true, name)
    });
    painter.fill(bar, theme.plot);
    if let Some(aim) = aim {
        let [low, high] = aim.range().map(|s| role_marks::share_x(bar, s));
        painter.fill(Rect::from_x_y_ranges(low..=high, bar.y_range()), theme.tolerance);
    }
    if let Some(share) = role_marks::drawable(share) {
        let thin =
            Rect::from_x_y_ranges(bar.left()..=role_marks::share_x(bar, share), bar.shrink(2.5).y_range());
        painter.fill(thin, theme.role(role));
    }
    if let Some(aim) = aim {
        let x = role_marks::share_x(bar, aim.share);
        painter.path(vec![pos2(x, bar.top()), pos2(x, bar.bottom())], stroke::THIN, theme.text);
        painter.triangle(pos2(x, bar.bottom() - 2.0), 9.0, true, theme.text);
    }
    if response.has_focus() || response.hovered() {
        painter.outline(bar.expand(1.0), 0.0, stroke::HAIR, theme.plumb, StrokeKind::Outside);
    }
    response.on_hover_ui(|ui| {
        ui.label("Drag or click to set the aim.");
        if let Some((share, aim)) = share.zip(aim)
            && let Some(db) = words::gain_db(share, aim.share)
        {
            let change = figures::unit(figures::signed(Some(db), 1), "dB");
            ui.label(format!("{change} on {} brings it to its aim, all others unchanged.", role.name()));
        }
    });
}

fn controls_ui(shared: &mut Shared, ui: &mut Ui, rect: Rect, place: usize, role: Role, share: Option<f64>) {
    let mut row = widgets::row(ui, ("aim", place), rect);
    row.spacing_mut().item_spacing.x = 3.0;
    row.spacing_mut().interact_size = vec2(40.0, (rect.height() - 3.0).clamp(14.0, 20.0));
    row.spacing_mut().button_padding = vec2(5.0, 0.0);
    let aim = &mut shared.settings.balance.aims[place];
    if let Some(aim) = aim {
        let (mut at, mut off) = (aim.share * 100.0, aim.tolerance * 100.0);
        let drag = DragValue::new(&mut at).range(0.0..=100.0).speed(0.5).fixed_decimals(0).suffix(" %");
        let tip = "Share you want the role to have, in per cent: drag, or click and type";
        let moved = fields::number(&mut row, drag, &format!("Aim of {}", role.name()), tip).changed();
        let drag = DragValue::new(&mut off).range(1.0..=100.0).speed(0.3).fixed_decimals(0).prefix("± ");
        let tip = "Tolerance, in percentage points";
        let name = format!("Tolerance of {}", role.name());
        let widened = fields::number(&mut row, drag, &name, tip).changed();
        if moved || widened {
            *aim = Aim { share: (at / 100.0).clamp(0.0, 1.0), tolerance: (off / 100.0).clamp(0.01, 1.0) };
        }
    } else {
        row.add_space(87.0);
    }
    let free = aim.is_none();
    let tip = "A free role has no aim";
    if choice(&mut row, free, "Free", &format!("{} free", role.name()), tip).clicked() {
        let start = role_marks::drawable(share).map_or(0.2, |share| (share * 100.0).round() / 100.0);
        shared.undoable(if free { "Aim set." } else { "Aim removed." });
        shared.settings.balance.aims[place] = free.then_some(Aim { share: start, tolerance: TOLERANCE });
    }
}
