//! The banner on every page that says a past moment is shown.

use super::state::TimeState;
use crate::banner::Banner;
use crate::navigation::Page;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::settings::Settings;
use crate::time_label;
use egui::{Rect, Ui};
use plumbline_programme::{Past, View};
use plumbline_report::words::{self, State};

/// The moment shown, in words: full and short.
fn said(past: &Past, view: &View, settings: &Settings, page: Page) -> [String; 2] {
    let at = time_label::tenth_at_usual_rate(view, settings, past.at.grid, past.at.index);
    let ago = view.past_secs().map(|secs| {
        let length = words::length(secs.abs());
        if secs < 0.0 { format!(" ({length} ahead of the latest)") } else { format!(" ({length} ago)") }
    });
    let head = format!("Viewing {at}{}.", ago.unwrap_or_default());
    let [mut long, mut short] = [head.clone(), head];
    if past.absent {
        long += " Nothing was kept: nothing was heard there, or more than an hour of sound ago.";
        short += " Nothing was kept.";
    } else if past.rebuilt {
        long += " Reconstructed from 0.1 s readings, without spectrum lines, peak hold and scope.";
        short += " Rebuilt: no lines, no scope.";
    }
    if page == Page::Mics {
        long += " Pairs are live.";
        short += " Pairs are live.";
    }
    [long, short]
}

pub(crate) fn banner_ui(
    shared: &mut Shared,
    state: &mut TimeState,
    ui: &mut Ui,
    painter: &Painter,
    view: &View,
    rect: Rect,
) {
    let Some(past) = view.past else { return };
    let theme = painter.theme;
    let [long, short] = said(&past, view, &shared.settings, shared.page);
    let tip = "Returns to the present; measuring has continued (Esc, End)";
    let banner = Banner {
        id: "past",
        inks: [theme.panel, theme.plumb, theme.text],
        state: State::Note,
        words: [&long, &short],
        button: ["Now", "Return to now", tip],
    };
    if banner.ui(ui, painter, rect) {
        state.return_to_now(view, &mut shared.intents);
    }
}
