//! Loudness against the target.

use crate::frame_data::Scene;
use crate::mapping::ValueAxis;
use crate::painter::{Painter, named_area};
use crate::session_view;
use crate::settings::Settings;
use crate::tokens::{size, space};
use crate::words::{self, State};
use egui::{Align2, Rangef, Rect, Ui, pos2};
use plumbline_measure::Loudness;
use plumbline_programme::delivery::{PRESETS, Target};
use plumbline_programme::{Role, View};
use plumbline_report::figures;

/// The scale below the numbers, LU about the target: EBU Tech 3341 clause 2.4, "EBU +9".
const SCALE_LU: [f64; 2] = [-18.0, 9.0];

const TIP: &str = "Loudness (ITU-R BS.1770-5): momentary 400 ms, short-term 3 s, integrated since reset with both \
                   gates (EBU Tech 3341), range (EBU Tech 3342), highest true peak (BS.1770-5 Annex 2), peak to \
                   loudness: true peak minus integrated. The scale runs from −18 to +9 LU around the target (EBU \
                   Tech 3341); the hatched area is its tolerance.";

/// Width below which the rows are shortened.
const NARROW: f32 = 224.0;

/// Height of the block in points.
pub(super) fn height(narrow: bool, layers: bool) -> f32 {
    match (narrow, layers) {
        (true, true) => 163.0 - 3.0 * space::LINE,
        (true, false) => 163.0,
        (false, _) => 170.0,
    }
}

pub(super) fn loudness_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, settings: &Settings, rect: Rect) {
    let (theme, loudness) = (scene.theme, &scene.view.loudness);
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(egui::vec2(space::INSET, space::NEAR));
    let target = &settings.target;
    let figure = if rect.width() < 240.0 { size::FIGURE_COMPACT } else { size::FIGURE };

    // The integrated value has the largest type, because delivery depends on it.
    let big_y = inside.top() + figure * 0.62;
    let integrated = figures::plain(loudness.integrated_lufs, 1);
    let number =
        painter.text(pos2(inside.left(), big_y), Align2::LEFT_CENTER, &integrated, figure, theme.text);
    let unit_at = pos2(number.right() + space::NEAR, big_y + 2.0);
    let unit = painter.text(unit_at, Align2::LEFT_CENTER, "LUFS", size::SMALL, theme.muted);
    // A layer that is only part of the mix is not judged by the target for the whole.
    let judged = scene.info.role == Role::Mix;
    if judged {
        let off = figures::unit(figures::signed(target.off_lu(loudness.integrated_lufs), 1), "LU");
        let room = inside.right() - unit.right() - space::GAP;
        let at = pos2(inside.right(), big_y);
        painter.text_if_fits(at, Align2::RIGHT_CENTER, &off, size::BODY, theme.text, room);
    }
    let under = big_y + figure * 0.62 + 5.0;
    let aim = target_words(target);
    // With other layers, the card shows balance, so delivery is here.
    let delivery = session_view::has_layers(&scene.view.session)
        .then(|| words::delivery(&scene.view.verdicts.delivery, loudness, target, scene.info.role));
    let (wordings, indent, ink) = match &delivery {
        Some(said) => {
            let ink = if said.state == State::Fault { theme.fault_text } else { theme.text };
            let head = if said.head == figures::DASH { "No loudness yet" } else { &said.head };
            painter.state(pos2(inside.left() + 4.0, under), 8.0, said.state);
            let of = if head.contains("target") { "" } else { "target " };
            let with_aim = [format!("{head}, {of}{aim}"), format!("{head}, {aim}")];
            let why = [format!("{head}: a part of the mix")];
            let mut wordings = if judged { with_aim.to_vec() } else { why.to_vec() };
            wordings.push(head.to_owned());
            (wordings, 13.0, ink)
        }
        None => {
            let with_aim = [format!("Integrated, target {aim}"), format!("Target {aim}")];
            let mut plain = if judged { with_aim.to_vec() } else { Vec::new() };
            plain.push("Integrated".to_owned());
            (plain, 0.0, theme.muted)
        }
    };
    for wording in wordings {
        let at = pos2(inside.left() + indent, under);
        if painter.text_if_fits(at, Align2::LEFT_CENTER, wording, size::AXIS, ink, inside.width() - indent) {
            break;
        }
    }
    let scale = Rect::from_x_y_ranges(inside.x_range(), under + 12.0..=under + 26.0);
    scale_ui(painter, scale, loudness, target, judged);
    let table = Rect::from_min_max(pos2(inside.left(), scale.bottom() + 16.0), inside.max);
    rows(painter, table, scene.view, target, judged);
    let region = named_area(ui, rect, "loudness", || {
        let delivery = delivery.as_ref().map(|said| said.aloud("Delivery"));
        [Some(aloud(loudness, target)), delivery].into_iter().flatten().collect::<Vec<_>>().join(". ")
    });
    region.on_hover_ui(|ui| {
        if let Some(said) = &delivery {
            ui.label(&said.sentence);
            ui.add_space(space::NEAR);
            ui.label(egui::RichText::new(TIP).weak());
        } else {
            ui.label(TIP);
        }
    });
}

/// A target by the name of its preset, else its level.
fn target_words(target: &Target) -> String {
    let level = figures::plain(Some(target.integrated_lufs), 1);
    match PRESETS.iter().find(|preset| preset.target == *target) {
        Some(preset) => format!("{level} ({})", preset.name),
        None => format!("{level} LUFS"),
    }
}

/// Momentary, short-term and integrated loudness on one scale, with the tolerance about the target.
fn scale_ui(painter: &Painter, bar: Rect, loudness: &Loudness, target: &Target, judged: bool) {
    let theme = painter.theme;
    let axis = ValueAxis { bottom: SCALE_LU[0], top: SCALE_LU[1], y: Rangef::new(0.0, bar.width()) };
    let x = |lu: f64| bar.right() - axis.y(lu);
    let groove = Rect::from_x_y_ranges(bar.x_range(), bar.center().y - 3.0..=bar.center().y + 3.0);
    painter.fill(groove, theme.plot);
    let tolerance = x(-target.below_lu)..=x(target.above_lu).max(x(-target.below_lu) + 2.0);
    if judged {
        painter.fill(Rect::from_x_y_ranges(tolerance, bar.y_range()), theme.tolerance);
    }
    painter.hairline(pos2(x(0.0), bar.top() - 2.0), pos2(x(0.0), bar.bottom() + 2.0), theme.muted);
    for (lu, label) in [(-18.0, "−18"), (-9.0, "−9"), (0.0, "0"), (9.0, "+9 LU")] {
        let anchor = match lu {
            l if l <= SCALE_LU[0] => Align2::LEFT_CENTER,
            l if l >= SCALE_LU[1] => Align2::RIGHT_CENTER,
            _ => Align2::CENTER_CENTER,
        };
        painter.text(pos2(x(lu), bar.bottom() + 7.0), anchor, label, size::AXIS, theme.muted);
    }
    let off = |lufs: Option<f64>| target.off_lu(lufs).filter(|lu| lu.is_finite());
    if let Some(momentary) = off(loudness.momentary_lufs) {
        painter.fill(
            Rect::from_x_y_ranges(bar.left()..=x(momentary), groove.shrink(1.0).y_range()),
            theme.bar_faint,
        );
    }
    if let Some(short_term) = off(loudness.short_term_lufs) {
        painter
            .fill(Rect::from_x_y_ranges(bar.left()..=x(short_term), groove.shrink(2.0).y_range()), theme.bar);
    }
    if let Some(integrated) = off(loudness.integrated_lufs) {
        painter.triangle(pos2(x(integrated), groove.bottom()), 11.0, false, theme.text);
    }
}

/// Rows of numbers: name, value, maximum.
fn rows(painter: &Painter, rect: Rect, view: &View, target: &Target, judged: bool) {
    let (loudness, one) = (&view.loudness, |value: Option<f64>| figures::plain(value, 1));
    let over = judged && target.is_peak_over(view.true_peak_dbtp());
    let passage_over = judged && target.is_short_term_over(loudness.max_short_term_lufs);
    let (max_m, max_s) = (one(loudness.max_momentary_lufs), one(loudness.max_short_term_lufs));
    let [left, right] = loudness.true_peak_dbtp.map(one);
    let narrow = rect.width() < NARROW;
    let table = [
        NumberRow("Short-term", one(loudness.short_term_lufs), "LUFS", format!("max {max_s}"), passage_over),
        NumberRow("Momentary", one(loudness.momentary_lufs), "LUFS", format!("max {max_m}"), false),
        NumberRow("Range", one(loudness.range_lu), "LU", String::new(), false),
        NumberRow(
            "True peak",
            one(view.true_peak_dbtp()),
            "dBTP",
            if narrow { String::new() } else { format!("L {left}  R {right}") },
            over,
        ),
        NumberRow("Peak to loudness", one(view.peak_to_loudness_db()), "dB", String::new(), false),
    ];
    // If space is tight, range, momentary loudness and the ratio are left out.
    let short = rect.height() < space::LINE * 4.5;
    let shown = table.iter().enumerate().filter(|(row, _)| !short || [0, 3].contains(row));
    for (row, (_, content)) in shown.enumerate() {
        let row = f32::from(u8::try_from(row).unwrap_or(u8::MAX));
        let y = rect.top() + space::LINE * (row + 0.5);
        content.paint(painter, rect, y);
    }
}

/// Name, value, unit, a second value beside it, and whether it is a fault.
struct NumberRow(&'static str, String, &'static str, String, bool);

impl NumberRow {
    fn paint(&self, painter: &Painter, rect: Rect, y: f32) {
        let theme = painter.theme;
        let Self(name, value, unit, beside, fault) = self;
        let narrow = rect.width() < NARROW;
        let value_x = rect.left() + if narrow { 98.0 } else { 130.0 };
        let name = if narrow && name.len() > 12 { "Peak ratio" } else { name };
        painter.text(pos2(rect.left(), y), Align2::LEFT_CENTER, name, size::SMALL, theme.muted);
        let ink = if *fault { theme.fault_text } else { theme.text };
        let number = painter.text(pos2(value_x, y), Align2::RIGHT_CENTER, value, size::SMALL, ink);
        if *fault {
            painter.triangle(pos2(number.left() - 8.0, y - 3.5), 7.0, true, theme.fault);
        }
        // A narrow row has no room for the unit beside the maximum.
        let at = pos2(rect.right(), y);
        let room = rect.right() - value_x - space::INSET;
        let muted = theme.muted;
        if narrow
            && !beside.is_empty()
            && painter.text_if_fits(at, Align2::RIGHT_CENTER, beside, size::SMALL, muted, room)
        {
            return;
        }
        let unit =
            painter.text(pos2(value_x + space::NEAR, y), Align2::LEFT_CENTER, *unit, size::AXIS, theme.muted);
        let room = rect.right() - unit.right() - space::NEAR;
        painter.text_if_fits(at, Align2::RIGHT_CENTER, beside, size::SMALL, theme.muted, room);
    }
}

fn aloud(loudness: &Loudness, target: &Target) -> String {
    let one = |value: Option<f64>| figures::plain(value, 1);
    format!(
        "Loudness: integrated {} LUFS, target {}, short-term {} LUFS, momentary {} LUFS, range {} LU, true peak left {} \
         right {} dBTP",
        one(loudness.integrated_lufs),
        target_words(target),
        one(loudness.short_term_lufs),
        one(loudness.momentary_lufs),
        one(loudness.range_lu),
        one(loudness.true_peak_dbtp[0]),
        one(loudness.true_peak_dbtp[1])
    )
}
