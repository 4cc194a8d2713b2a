//! The four verdicts, each with a shape, a head, a figure and a sentence.

use crate::frame_data::Scene;
use crate::painter::{Painter, named_area};
use crate::settings::Settings;
use crate::tokens::{size, space};
use crate::words::{self, Context, State, VerdictText};
use egui::{Align2, Rect, Ui, pos2, vec2};
use plumbline_report::figures::DASH;

const TIPS: [&str; 4] = [
    "Is it wide, and is the width real? Side share S/(M+S) of the slow average (1 s): 0 % mono, 50 % unrelated, \
     100 % all side. Out of step is the share of sound common to both channels that does not add up in phase.",
    "What a phone or any mono speaker loses: level of (L+R)/2 against the level of left and right, in dB. \
     0 identical, −3.0 unrelated, gone when they cancel.",
    "Do microphones fight? Left against right: coherence per bin over 2 s against correlation, from 20 Hz to 20 kHz. \
     Pairs of microphones: generalised cross-correlation with phase transform (Knapp, Carter 1976), windows of 2 s, \
     voted over 10 s. More on the Mics page (3).",
    "Loudness (ITU-R BS.1770-5, EBU Tech 3341), true peak (BS.1770-5 Annex 2), samples at full scale, dead channels \
     and DC, against the target in the settings.",
];

const BALANCE_TIP: &str = "The share of each role: its K-weighted energy (ITU-R BS.1770-5) over that of all layers \
                           except the mix, last 3 s, against the aims on the Layers page. Off its aim is a fault, \
                           unless the whole programme is within it. The suggested change assumes that the other \
                           layers stay unchanged.";

/// The words of the Mics card.
fn mics(scene: &Scene<'_>, settings: &Settings) -> VerdictText {
    let (view, units) = (scene.view, (settings.start.rate(), settings.celsius));
    words::mics(&view.verdicts.phase, &view.verdicts.mics, &view.mics, &view.session, units)
}

/// Paints the four cards.
pub(crate) fn cards_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, settings: &Settings) {
    let verdicts = &scene.view.verdicts;
    let layers = crate::session_view::has_layers(&scene.view.session);
    let last = if layers {
        ("Balance", words::balance(&verdicts.balance, &scene.view.session, &settings.balance))
    } else {
        (
            "Delivery",
            words::delivery(&verdicts.delivery, &scene.view.loudness, &settings.target, scene.info.role),
        )
    };
    let said = [
        ("Width", words::width(&verdicts.width, Context::Live)),
        ("Mono", words::mono(&verdicts.mono, Context::Live)),
        ("Mics", mics(scene, settings)),
        last,
    ];
    let tips = [TIPS[0], TIPS[1], TIPS[2], if layers { BALANCE_TIP } else { TIPS[3] }];
    for (((title, said), rect), tip) in said.iter().zip(scene.layout.cards).zip(tips) {
        card_ui(ui, painter, scene, rect, title, said, tip);
    }
}

fn card_ui(
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
    title: &str,
    said: &VerdictText,
    tip: &'static str,
) {
    let theme = scene.theme;
    let fault = said.state == State::Fault;
    painter.block(rect, if fault { theme.panel_fault } else { theme.panel });
    if fault {
        painter.fill(Rect::from_min_size(rect.min, vec2(3.0, rect.height())), theme.fault);
    }
    let inside = rect.shrink2(vec2(space::INSET + 2.0, space::NEAR + 1.0));
    let mark = if scene.layout.compact { 11.0 } else { 14.0 };
    let head_size = if scene.layout.compact { size::HEAD_COMPACT } else { size::HEAD };
    let head_ink = if fault { theme.fault_text } else { theme.text };

    // One line: shape, question, answer, and its number if it fits. Without a reading the shape is already a dash, so
    // the head is left out.
    let head = if said.head == DASH { "" } else { &said.head };
    let head = painter.line(head, head_size, head_ink);
    let height = head.size().y;
    let row_y = inside.top() + height / 2.0;
    painter.state(pos2(inside.left() + mark / 2.0, row_y), mark, said.state);
    let at = pos2(inside.left() + mark + space::INSET, row_y + 1.0);
    let question = painter.text(at, Align2::LEFT_CENTER, title, size::SMALL, theme.muted);
    let head_rect = painter.put(pos2(question.right() + space::INSET, row_y), Align2::LEFT_CENTER, head);
    let room = inside.right() - head_rect.right() - space::INSET;
    let at = pos2(inside.right(), row_y + 1.0);
    painter.text_if_fits(at, Align2::RIGHT_CENTER, &said.figure, size::SMALL, theme.text, room);
    let text_top = inside.top() + height + 2.0;
    let space_left = vec2(inside.width(), inside.bottom() - text_top + 2.0);
    let body = if scene.layout.compact { size::SMALL } else { size::BODY };
    let wordings = [said.sentence.as_str(), said.short.as_str()];
    let sentence = painter
        .first_that_fits(&wordings[..1], body, theme.text, space_left)
        .or_else(|| painter.first_that_fits(&wordings, size::SMALL, theme.text, space_left))
        .or_else(|| painter.first_that_fits(&wordings[1..], size::AXIS, theme.text, space_left));
    if let Some(galley) = sentence {
        painter.put(pos2(inside.left(), text_top), Align2::LEFT_TOP, galley);
    }
    let region = named_area(ui, rect, title, || said.aloud(title));
    region.on_hover_ui(|ui| {
        // In full, in case the card shows only the short form.
        ui.label(&said.sentence);
        ui.add_space(space::NEAR);
        ui.label(egui::RichText::new(tip).weak());
    });
}
