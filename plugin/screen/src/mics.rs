//! The Mics page: which microphones fight, by how much, and what to move.

mod comb;
mod drift;
mod lag;
mod list;
mod plan;
mod said;
mod trial;

pub(crate) use trial::{BANNER, banner_ui};

use crate::keys::Command;
use crate::painter::Painter;
use crate::screen::{Intent, Scene, Screen};
use crate::settings::Settings;
use crate::tokens::{size, space};
use crate::words;
use egui::{Align, Align2, FontId, Layout, Rect, Ui, UiBuilder, pos2};
use plan::Plan;
use plumbline_programme::{LayerId, Mic, Mics, PairLine, Session, View};

/// What the right column shows where there is no room for all of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Part {
    #[default]
    Lag,
    Comb,
    Drift,
}

/// What the page remembers while the window is open.
#[derive(Clone, Debug, Default)]
pub(crate) struct Memory {
    /// The pair that is looked at; none takes the first.
    pub(crate) selected: Option<[Mic; 2]>,
    /// A reading kept to be compared with the present one.
    pub(crate) kept: Option<PairLine>,
    /// The layers picked to be compared, before both are known.
    picked: [Option<LayerId>; 2],
    part: Part,
    /// When the advice was copied, in seconds of the frame's clock.
    copied: Option<f64>,
    seek: bool,
}

impl Memory {
    /// The line of the pair that is looked at.
    pub(crate) fn shown<'a>(&self, mics: &'a Mics) -> Option<&'a PairLine> {
        self.selected.and_then(|two| mics.line(two)).or_else(|| mics.lines.first())
    }
}

impl Screen {
    /// Keys of the page.
    pub(crate) fn obey_on_mics(&mut self, ui: &Ui, command: Command, view: &View) {
        match command {
            Command::RowUp => self.step_pair(&view.mics, -1),
            Command::RowDown => self.step_pair(&view.mics, 1),
            Command::Copy => self.copy_advice(ui, view),
            Command::Keep => self.keep_reading(&view.mics),
            Command::Try => self.turn_trial(view),
            _ => {}
        }
    }

    fn step_pair(&mut self, mics: &Mics, by: isize) {
        let at = self.mics.selected.and_then(|two| mics.lines.iter().position(|line| line.is_of(two)));
        let next = match at {
            Some(at) => at.saturating_add_signed(by).min(mics.lines.len().saturating_sub(1)),
            None => usize::from(by > 0).min(mics.lines.len().saturating_sub(1)),
        };
        self.mics.selected = mics.lines.get(next).map(|line| line.mics);
        self.mics.seek = true;
    }

    pub(crate) fn copy_advice(&mut self, ui: &Ui, view: &View) {
        let Some(line) = self.mics.shown(&view.mics) else { return };
        let said = words::pair(line, &view.session, self.settings.start.rate(), self.settings.celsius);
        // Plain spaces: what is pasted is searched and wrapped by others.
        ui.ctx().copy_text(said.sentence.replace('\u{a0}', " "));
        self.mics.copied = Some(ui.input(|input| input.time));
    }

    /// Keeps the present reading, or drops the one that is kept of the same pair.
    pub(crate) fn keep_reading(&mut self, mics: &Mics) {
        let shown = self.mics.shown(mics).cloned();
        let same = |kept: &PairLine| shown.as_ref().is_some_and(|line| line.is_of(kept.mics));
        self.mics.kept = if self.mics.kept.as_ref().is_some_and(same) { None } else { shown };
    }

    /// Switches the trial off, or on for the pair that is looked at.
    pub(crate) fn turn_trial(&mut self, view: &View) {
        if view.trial.is_some() {
            self.intents.push(Intent::Try(None));
        } else if let Some(line) = self.mics.shown(&view.mics)
            && let Ok(trial) = trial::of(line, &view.session, &self.settings)
        {
            self.intents.push(Intent::Try(Some(trial)));
        }
    }
}

/// The own layer's number, where the session is known.
fn own_id(session: &Session) -> Option<LayerId> {
    session.layers.iter().find(|line| line.own).map(|line| line.id)
}

/// Paints the page.
pub(crate) fn mics_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
    let plan = Plan::new(&scene.plan, scene.view.trial.is_some());
    tools_ui(screen, ui, painter, scene, plan.tools);
    let view = scene.view;
    if view.mics.lines.is_empty() {
        nobody(painter, scene, plan.all);
        return;
    }
    list::list_ui(screen, ui, painter, scene, plan.list);
    let Some(line) = screen.mics.shown(&view.mics).cloned() else { return };
    said::said_ui(screen, ui, painter, scene, &line, plan.said);
    let kept = screen.mics.kept.clone().filter(|kept| kept.is_of(line.mics));
    let kept = kept.as_ref();
    if let [Some(lag), Some(comb), Some(drift)] = plan.pictures {
        lag::lag_ui(ui, painter, &line, kept, names(&line, scene), screen.settings(), lag);
        comb::comb_ui(screen, ui, painter, &line, kept, comb);
        drift::drift_ui(ui, painter, &line, drift);
    } else if let Some(rect) = plan.one {
        let rect = parts_ui(screen, ui, rect);
        match screen.mics.part {
            Part::Lag => lag::lag_ui(ui, painter, &line, kept, names(&line, scene), screen.settings(), rect),
            Part::Comb => comb::comb_ui(screen, ui, painter, &line, kept, rect),
            Part::Drift => drift::drift_ui(ui, painter, &line, rect),
        }
    }
}

fn names(line: &PairLine, scene: &Scene<'_>) -> [String; 2] {
    line.mics.map(|mic| words::mic_name(mic, &scene.view.session))
}

/// The advice on a line in the user's units.
fn advice(line: &PairLine, scene: &Scene<'_>, settings: &Settings) -> words::Said {
    words::pair(line, &scene.view.session, settings.start.rate(), settings.celsius)
}

/// Which two layers are compared whatever else is, and what the list leaves out.
fn tools_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let session = &*scene.view.session;
    let builder =
        UiBuilder::new().id_salt("mic tools").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = space::NEAR;
    if session.layers.len() > 1 {
        let width = if scene.plan.compact { 130.0 } else { 190.0 };
        row.label("Compare");
        let before = screen.mics.picked;
        for (at, name) in ["First layer to compare", "Second layer to compare"].into_iter().enumerate() {
            if at == 1 {
                row.label("with");
            }
            layer_combo(&mut row, session, name, &mut screen.mics.picked[at], width);
        }
        if before != screen.mics.picked
            && let [Some(a), Some(b)] = screen.mics.picked
            && a != b
        {
            let two = [Mic::Layer(a), Mic::Layer(b)];
            screen.intents.push(Intent::CompareMics(Some(two)));
            screen.mics.selected = Some(two);
        }
        let chosen = screen.mics.picked != [None; 2];
        let tip = "Takes the choice back: the loudest layers are compared with each other in any case";
        let clear = row.add_enabled(chosen, egui::Button::new("Clear")).on_hover_text(tip);
        if clear.accessible_name("Clear the choice of layers").clicked() {
            screen.mics.picked = [None; 2];
            screen.intents.push(Intent::CompareMics(None));
        }
    }
    let left = row.min_rect().right() + space::GAP * 2.0;
    let mics = &*scene.view.mics;
    let note = match (&mics.trouble, mics.uncompared) {
        (Some(trouble), _) => Some((words::State::Fault, trouble.clone())),
        (None, 0) => None,
        (None, more) => {
            let more = plumbline_report::figures::count(f64::from(more), "layer", "layers");
            Some((words::State::Note, format!("{more} more sound and are not compared: choose them here")))
        }
    };
    if let Some((state, text)) = note
        && rect.right() - left > 60.0
    {
        let galley = crate::header::fitted(painter, &text, size::SMALL, rect.right() - left - 14.0);
        painter.state(pos2(left + 4.0, rect.center().y), 9.0, state);
        painter.put(pos2(left + 14.0, rect.center().y), Align2::LEFT_CENTER, galley);
        let place = rect.with_min_x(left);
        crate::painter::name_only(ui, place, "mic notes", || text.clone()).on_hover_text(&text);
    }
}

fn layer_combo(ui: &mut Ui, session: &Session, name: &str, picked: &mut Option<LayerId>, width: f32) {
    let shown: String =
        picked.map_or("any layer", |id| crate::company::name_of(session, id)).chars().take(64).collect();
    let combo =
        egui::ComboBox::from_id_salt(name).selected_text(shown).width(width).truncate().show_ui(ui, |ui| {
            for (index, line) in session.layers.iter().enumerate() {
                ui.push_id(index, |ui| {
                    let label: String = crate::company::name(line).chars().take(64).collect();
                    if ui.selectable_label(*picked == Some(line.id), label).clicked() {
                        *picked = Some(line.id);
                    }
                });
            }
        });
    combo.response.on_hover_text(name).accessible_name(name);
}

/// Buttons for what shares one place; returns what is left under them.
fn parts_ui(screen: &mut Screen, ui: &mut Ui, rect: Rect) -> Rect {
    let bar = rect.with_max_y((rect.top() + space::BUTTON).min(rect.bottom()));
    let builder =
        UiBuilder::new().id_salt("mic parts").max_rect(bar).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    for (part, label, tip) in [
        (Part::Lag, "Delay", "Correlation of the two against delay"),
        (Part::Comb, "Comb", "What the blend does to the spectrum, before and after"),
        (Part::Drift, "Drift", "The delay over the last minute"),
    ] {
        let chosen = screen.mics.part == part;
        if crate::controls::choice(&mut row, chosen, label, &format!("Show {label}"), tip).clicked() {
            screen.mics.part = part;
        }
    }
    rect.with_min_y((bar.bottom() + space::NEAR).min(rect.bottom()))
}

/// Says what there must be to be compared.
fn nobody(painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    if rect.width() < 120.0 || rect.height() < 60.0 {
        return;
    }
    let theme = scene.theme;
    painter.block(rect, theme.panel);
    let head = "No two microphones to compare yet";
    let body = "A stereo bus compares its left with its right. To compare tracks, put Plumbline on each of them with the \
                same session letter, or feed the second microphone to the side-chain. It takes 3 seconds of sound.";
    let width = (rect.width() - 4.0 * space::GAP).clamp(1.0, 560.0);
    let left = rect.center().x - width / 2.0;
    let head = painter.egui.layout(head.to_owned(), FontId::proportional(size::HEAD), theme.text, width);
    let body = painter.egui.layout(body.to_owned(), FontId::proportional(size::BODY), theme.text, width);
    let top = rect.center().y - (head.size().y + body.size().y + space::GAP) / 2.0;
    let under = top + head.size().y + space::GAP;
    painter.put(pos2(left, top), Align2::LEFT_TOP, head);
    painter.put(pos2(left, under), Align2::LEFT_TOP, body);
}

/// A title of a picture with its place under it.
fn titled(painter: &Painter, rect: Rect, title: &str) -> Rect {
    painter.block(rect, painter.theme.panel);
    let inside = rect.shrink2(egui::vec2(space::INSET, space::NEAR));
    let galley =
        crate::header::fitted_in(painter, title, size::SMALL, inside.width().max(0.0), painter.theme.muted);
    painter.put(inside.left_top(), Align2::LEFT_TOP, galley);
    inside.with_min_y((inside.top() + space::LINE + 2.0).min(inside.bottom()))
}
