//! The screen of one layer: reads the keys, paints a frame, returns the user's intents.

use crate::frame_data::{Info, Scene};
use crate::intent::Intent;
use crate::keys::{self, KeyAction};
use crate::layout::ScreenLayout;
use crate::navigation::{Page, Panel};
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::panels::{self, Forms};
use crate::settings::Settings;
use crate::{
    banner, fields, footer, frequency_lanes, header, joins, lane_controls, layers, log, meters, mics,
    time_lanes,
};
use crate::{session_view, verdict_cards};
use egui::Ui;
use plumbline_programme::{Command, View};

/// The screen of one layer.
#[derive(Debug, Default)]
pub struct Screen {
    shared: Shared,
    forms: Forms,
    scope: meters::ScopeGain,
    layers: layers::LayersState,
    mics: mics::MicsState,
    joins: joins::JoinsState,
    log: log::LogState,
    time: time_lanes::TimeState,
    /// Whether a field had the keyboard when the last frame ended.
    typing: bool,
}

impl Screen {
    /// Seconds for which a loss can be undone.
    pub const UNDO_SECS: f64 = Shared::UNDO_SECS;

    /// A screen with saved settings.
    pub fn new(settings: Settings) -> Self {
        Self { shared: Shared { settings, ..Shared::default() }, ..Self::default() }
    }

    /// The settings, as they must be saved.
    pub fn settings(&self) -> &Settings {
        &self.shared.settings
    }

    /// The page shown.
    pub fn page(&self) -> Page {
        self.shared.page
    }

    /// Whether a field has the keyboard; then every key belongs to it.
    pub fn is_typing(&self) -> bool {
        self.typing
    }

    /// Paints one frame into the whole of `ui` and returns the user's intents. Any view can be painted. Asks for a
    /// repaint only to end an offer to undo or the word "Copied", or after a change made in this frame.
    pub fn ui(&mut self, ui: &mut Ui, view: &View, info: &Info<'_>) -> Vec<Intent> {
        self.adopt_style(ui);
        let now_secs = ui.input(|input| input.time);
        self.shared.expire_undo(ui, now_secs);
        let before = self.shared.settings.clone();
        self.time.note_past(view);
        let shown = self.shared.panel;
        for action in keys::actions(ui.ctx(), self.typing) {
            self.act(ui, action, view, info);
        }
        if self.shared.panel != shown {
            self.forms = Forms::default();
        }
        // A click may close the panel or page whose field it leaves: both are shown once more, to accept the typed
        // text.
        let (page, panel) = (self.shared.page, self.shared.panel);

        let whole = ui.max_rect();
        let mut area = whole;
        let mut banner_place = |on: bool| {
            on.then(|| {
                let rect = area.with_max_y((area.top() + banner::HEIGHT).min(area.bottom()));
                area.min.y = rect.bottom();
                rect.shrink2(egui::vec2(2.0, 1.0))
            })
        };
        let (altered, passed) = (banner_place(view.trial.is_some()), banner_place(view.past.is_some()));
        let theme = self.shared.settings.theme.theme();
        let layout = ScreenLayout::new(area, session_view::has_layers(&view.session));
        let scene = Scene { view, info, layout, theme, track_colours: self.shared.settings.track_colour };
        let painter = Painter::of(ui, theme);
        painter.fill(ui.ctx().content_rect().union(whole), theme.page);
        if let Some(rect) = altered {
            mics::banner_ui(&mut self.shared, ui, &painter, view, rect);
        }
        if let Some(rect) = passed {
            time_lanes::banner_ui(&mut self.shared, &mut self.time, ui, &painter, view, rect);
        }
        header::header_ui(&mut self.shared, ui, &painter, &scene);
        self.page_ui(page, ui, &painter, &scene);
        if footer::footer_ui(self.shared.undo.as_ref(), ui, &painter, &scene) && self.shared.take_back() {
            self.forms = Forms::default();
        }
        panels::show_ui(&mut self.shared, &mut self.forms, ui, &scene, panel);

        self.shared.date_undo(now_secs);
        if self.shared.settings != before {
            self.shared.intents.push(Intent::SettingsChanged);
            ui.ctx().request_repaint();
        }
        self.typing = fields::has_keyboard(ui.ctx());
        std::mem::take(&mut self.shared.intents)
    }

    fn page_ui(&mut self, page: Page, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
        let shared = &mut self.shared;
        match page {
            Page::Bus => {
                verdict_cards::cards_ui(ui, painter, scene, &shared.settings);
                lane_controls::controls_ui(shared, ui, scene);
                frequency_lanes::lanes_ui(shared, ui, painter, scene);
                if let Some(rect) = scene.layout.meters {
                    meters::meters_ui(&mut shared.settings, &mut self.scope, ui, painter, scene, rect);
                }
                if let Some(rect) = scene.layout.time {
                    time_lanes::time_ui(shared, &mut self.time, ui, painter, scene, rect);
                }
            }
            Page::Layers => layers::layers_ui(shared, &mut self.layers, ui, painter, scene),
            Page::Mics => mics::mics_ui(shared, &mut self.mics, ui, painter, scene),
            Page::Joins => joins::joins_ui(shared, &mut self.joins, ui, painter, scene),
            Page::Log => log::log_ui(shared, &mut self.log, ui, painter, scene),
        }
    }

    fn adopt_style(&self, ui: &mut Ui) {
        let theme = self.shared.settings.theme;
        theme.apply(ui.ctx());
        // egui took this frame's style before the theme was applied.
        theme.theme().restyle(ui.style_mut());
        let zoom = f32::from(self.shared.settings.scale_percent) / 100.0;
        if (ui.ctx().zoom_factor() - zoom).abs() > 1e-3 {
            ui.ctx().set_zoom_factor(zoom);
        }
    }

    fn act(&mut self, ui: &Ui, action: KeyAction, view: &View, info: &Info<'_>) {
        let shared = &mut self.shared;
        match action {
            KeyAction::Hold => shared.intents.push(Intent::Hold(!info.held)),
            KeyAction::Reset => shared.intents.push(Intent::Command(Command::Reset)),
            KeyAction::Theme => shared.settings.theme = shared.settings.theme.other(),
            KeyAction::Averaging => shared.settings.next_averaging(),
            KeyAction::PeakHold => shared.settings.peak_hold = !shared.settings.peak_hold,
            KeyAction::StoreReference => shared.store_reference(view),
            KeyAction::Larger => shared.settings.scale_step(true),
            KeyAction::Smaller => shared.settings.scale_step(false),
            KeyAction::Help => shared.toggle(Panel::Help),
            KeyAction::Settings => shared.toggle(Panel::Settings),
            KeyAction::Identity => shared.toggle(Panel::Identity),
            KeyAction::CursorDown => shared.cursor.step(-1),
            KeyAction::CursorUp => shared.cursor.step(1),
            KeyAction::Mark => shared.intents.push(Intent::Command(Command::Mark)),
            KeyAction::Page(index) => shared.page = Page::ALL.get(index).copied().unwrap_or(shared.page),
            KeyAction::Escape => self.escape(view),
            KeyAction::Now | KeyAction::Step(_) => self.time.act(action, view, shared),
            // A trial can end from any page.
            KeyAction::Try if view.trial.is_some() => self.mics.act(ui, action, view, shared),
            // The other keys belong to the page's list or lanes.
            _ => match shared.page {
                Page::Bus => self.time.act(action, view, shared),
                Page::Layers => self.layers.act(action, &view.session, &shared.settings),
                Page::Mics => self.mics.act(ui, action, view, shared),
                Page::Joins => self.joins.act(action, &view.log, shared),
                Page::Log => self.log.act(action, &view.log, shared),
            },
        }
    }

    /// Esc closes the topmost thing: a panel, a past moment, the cursor, the selected layer. A name being typed is left
    /// unchanged.
    fn escape(&mut self, view: &View) {
        let shared = &mut self.shared;
        shared.typed_name = None;
        if shared.panel.take().is_none()
            && !self.time.leave_past(view, &mut shared.intents)
            && !shared.cursor.remove()
        {
            self.layers.selected = None;
        }
    }
}
