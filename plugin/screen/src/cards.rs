//! The four verdicts: a shape, a head, a figure and a sentence each.

use crate::pen::{Pen, place};
use crate::screen::Scene;
use crate::settings::Settings;
use crate::tokens::{size, space};
use crate::words::{self, Said, State};
use egui::{Align2, Rect, Sense, Ui, pos2, vec2};

const TIPS: [&str; 4] = [
    "Is it wide, and is the width real? Side share S/(M+S) of the slow average (1 s): 0 % mono, 50 % unrelated, \
     100 % all side. Out of step is the share of sound common to both channels that does not add up in phase.",
    "What a phone or any mono speaker loses: level of (L+R)/2 against the level of left and right, in dB. \
     0 identical, −3.0 unrelated, gone when they cancel.",
    "Do the two channels fight? Coherence per bin over 2 s against correlation, from 20 Hz to 20 kHz.",
    "Loudness as of ITU-R BS.1770-5 and EBU Tech 3341, true peak as of BS.1770-5 Annex 2, samples at full scale, \
     dead channels and DC, against the target in the settings.",
];

/// Paints the four cards.
pub(crate) fn cards_ui(ui: &Ui, pen: &Pen<'_>, scene: &Scene<'_>, settings: &Settings) {
    let verdicts = &scene.view.verdicts;
    let said = [
        ("Width", words::width(&verdicts.width)),
        ("Mono", words::mono(&verdicts.mono)),
        ("Phase", words::phase(&verdicts.phase)),
        ("Delivery", words::delivery(&verdicts.delivery, &scene.view.loudness, &settings.target)),
    ];
    for (((title, said), rect), tip) in said.iter().zip(scene.plan.cards).zip(TIPS) {
        card_ui(ui, pen, scene, rect, title, said, tip);
    }
}

fn card_ui(ui: &Ui, pen: &Pen<'_>, scene: &Scene<'_>, rect: Rect, title: &str, said: &Said, tip: &'static str) {
    let theme = scene.theme;
    let fault = said.state == State::Fault;
    pen.block(rect, if fault { theme.panel_fault } else { theme.panel });
    if fault {
        pen.fill(Rect::from_min_size(rect.min, vec2(3.0, rect.height())), theme.fault);
    }
    let inside = rect.shrink2(vec2(space::INSET + 2.0, space::NEAR + 1.0));
    let mark = if scene.plan.compact { 11.0 } else { 14.0 };
    let head_size = if scene.plan.compact { size::HEAD_COMPACT } else { size::HEAD };
    let head_ink = if fault { theme.fault_text } else { theme.text };

    let head = pen.line(&said.head, head_size, head_ink);
    let row_y = inside.top() + head.size().y / 2.0;
    pen.state(pos2(inside.left() + mark / 2.0, row_y), mark, said.state);
    let head_rect = pen.put(pos2(inside.left() + mark + space::INSET, row_y), Align2::LEFT_CENTER, head);
    // The question, then its number: both at the right, the number first to stay.
    let mut room = inside.right() - head_rect.right() - space::GAP;
    let mut right = inside.right();
    let title_galley = pen.line(title, size::SMALL, theme.muted);
    let figure_galley = pen.line(&said.figure, size::SMALL, theme.text);
    if title_galley.size().x <= room {
        room -= title_galley.size().x + space::GAP;
        let placed = pen.put(pos2(right, row_y), Align2::RIGHT_CENTER, title_galley);
        right = placed.left() - space::GAP;
    }
    if !said.figure.is_empty() && figure_galley.size().x <= room {
        pen.put(pos2(right, row_y), Align2::RIGHT_CENTER, figure_galley);
    }
    let text_top = inside.top() + head_rect.height() + 1.0;
    let space_left = vec2(inside.width(), inside.bottom() - text_top + 2.0);
    let body = if scene.plan.compact { size::SMALL } else { size::BODY };
    let wordings = [said.sentence.as_str(), said.short.as_str()];
    let sentence = pen
        .first_that_fits(&wordings, body, theme.text, space_left)
        .or_else(|| pen.first_that_fits(&wordings, size::AXIS, theme.text, space_left));
    if let Some(galley) = sentence {
        pen.put(pos2(inside.left(), text_top), Align2::LEFT_TOP, galley);
    }
    let response = place(ui, rect, title, Sense::hover(), tip, || said.aloud(title));
    // The sentence in full, for when the card had only room for the short form.
    response.on_hover_ui(|ui| {
        ui.label(&said.sentence);
    });
}
