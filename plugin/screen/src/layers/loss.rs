//! Mono loss of the mix by layer.

use super::title::title;
use crate::frame_data::Scene;
use crate::painter::{Painter, named_area};
use crate::tokens::{size, space};
use crate::words;
use egui::{Align2, Rect, Ui, pos2};

const TIP: &str = "Mono loss of the mix in its worst band, in dB, and what is left of that loss without one or two \
                   layers: from the cross spectra of the mix with each layer over the last seconds. Most helpful \
                   first. Check by muting.";

pub(super) fn loss_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    if rect.height() < 24.0 || rect.width() < 120.0 {
        return;
    }
    let (theme, session) = (scene.theme, &*scene.view.session);
    painter.block(rect, theme.panel);
    let Some(loss) = &session.loss else {
        let inside = title(painter, rect, "Mono loss by layer");
        let text = if session.mix.is_none() {
            "No mix is heard: a layer with the role Mix on the bus shows the mono loss."
        } else {
            "No band of the mix loses enough in mono to name a layer."
        };
        paragraph(painter, inside, text, false);
        named_area(ui, rect, "loss", || format!("Mono loss by layer. {text}")).on_hover_text(TIP);
        return;
    };
    let said = words::loss(loss, session);
    let mut inside = title(painter, rect, &said.head);
    for row in &said.rows {
        if inside.height() < space::LINE {
            break;
        }
        let galley = painter.fitted(row, size::SMALL, inside.width());
        painter.put(pos2(inside.left(), inside.top() + space::LINE / 2.0), Align2::LEFT_CENTER, galley);
        inside.min.y += space::LINE + 1.0;
    }
    if let Some(behind) = &said.behind {
        paragraph(painter, inside.with_min_y((inside.top() + 2.0).min(inside.bottom())), behind, true);
    }
    named_area(ui, rect, "loss", || {
        let behind = said.behind.clone().unwrap_or_default();
        format!("{} {}. {behind}", said.head, said.rows.join(". "))
    })
    .on_hover_text(TIP);
}

/// Wrapped text, painted if it fits.
fn paragraph(painter: &Painter, rect: Rect, text: &str, weak: bool) {
    let (ink, size) =
        if weak { (painter.theme.muted, size::AXIS) } else { (painter.theme.text, size::SMALL) };
    let galley = painter.wrapped(text, size, ink, rect.width().max(1.0));
    if galley.size().y <= rect.height() + 2.0 {
        painter.put(rect.left_top(), Align2::LEFT_TOP, galley);
    }
}
