//! One frame: keys, blocks, intents.

mod act;

use crate::keys::{self, Command};
use crate::layout::Plan;
use crate::painter::Painter;
use crate::settings::Settings;
use crate::tokens::Theme;
use crate::{cards, controls, footer, header, joins, lanes, layers, log, mics, now, panels, time};
use egui::Ui;
use plumbline_programme::{LayerId, Mark, Mic, Role, TimeWindow, Trial, View};

/// What is known of the layer beside its measurement.
#[derive(Clone, Debug)]
pub struct Info<'a> {
    /// Name of the layer; may be empty.
    pub name: &'a str,
    /// What it holds.
    pub role: Role,
    /// The host's track colour.
    pub colour: Option<[u8; 3]>,
    /// Letter of the session, A to H.
    pub session: char,
    /// Whether the picture is held.
    pub held: bool,
    /// What became of the last export.
    pub exported: Option<&'a Exported>,
}

/// What became of an export.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// Whether it failed; nothing was written then, or what was is named.
    pub failed: bool,
    /// What was written and where, or why not and what to do.
    pub words: String,
}

/// What the user wants of those who own the measurement.
#[derive(Clone, Debug, PartialEq)]
pub enum Intent {
    /// Forget averages, peaks, maxima and the programme's loudness.
    Reset,
    /// Hold the picture, or let it go on; measuring goes on in any case.
    Hold(bool),
    /// [`Screen::settings`] changed: save them, and hand target and band edges to the measurement.
    SettingsChanged,
    /// Give this layer a name, at most [`LONGEST_NAME`] bytes of UTF-8; empty takes the host's track name again.
    Rename(String),
    /// Say what this layer holds.
    SetRole(Role),
    /// Move this layer to another session, A to H.
    SetSession(char),
    /// A new passage begins at the present position.
    Mark,
    /// Match these two layers, `(change, like)`; none takes the default pair.
    Pair(Option<(LayerId, LayerId)>),
    /// Compare these two layers as microphones whatever else is compared; none takes the choice back.
    CompareMics(Option<[Mic; 2]>),
    /// Try a repair out on this layer, or end the trial.
    Try(Option<Trial>),
    /// Show this stretch of time in the time lanes.
    Look(TimeWindow),
    /// Show everything as of the end of a tenth that has passed; none returns to now.
    Rewind(Option<Mark>),
    /// Take a mark away.
    Unmark(Mark),
    /// Put marks back that were taken away.
    PutMarks(Vec<Mark>),
    /// A finding was seen to, or not, by its number.
    Seen(u64, bool),
    /// Write log, joins and statistics into the folder of [`Settings::export_folder`].
    Export,
}

/// Longest name of a layer, in bytes of UTF-8.
pub const LONGEST_NAME: usize = 64;

/// A page of the screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Page {
    /// One bus: width, mono, phase, balance or delivery.
    #[default]
    Bus,
    /// All layers of the session: shares, who covers whom, match, mono loss.
    Layers,
    /// Pairs of microphones: delay, polarity, drift, and what to move.
    Mics,
    /// Transitions: what jumps there; and statistics by passage.
    Joins,
    /// Findings with timecode, their rules, and export.
    Log,
}

impl Page {
    /// All pages, in the order of their keys.
    pub const ALL: [Self; 5] = [Self::Bus, Self::Layers, Self::Mics, Self::Joins, Self::Log];

    /// Name for its tab.
    pub fn name(self) -> &'static str {
        match self {
            Self::Bus => "Bus",
            Self::Layers => "Layers",
            Self::Mics => "Mics",
            Self::Joins => "Joins",
            Self::Log => "Log",
        }
    }
}

/// Something that was lost by a click and can be had back for a while.
#[derive(Clone, Debug)]
pub(crate) struct Undo {
    /// What happened, in words.
    pub(crate) what: &'static str,
    before: Before,
    until_secs: f64,
}

/// How what was lost is had back.
#[derive(Clone, Debug)]
enum Before {
    /// Settings as they were.
    Settings(Box<Settings>),
    /// Marks that were taken away.
    Marks(Vec<Mark>),
}

/// The screen of one layer.
#[derive(Debug, Default)]
pub struct Screen {
    pub(crate) settings: Settings,
    page: Page,
    pub(crate) cursor: lanes::Cursor,
    pub(crate) panel: Option<panels::Panel>,
    pub(crate) forms: panels::Forms,
    pub(crate) undo: Option<Undo>,
    pub(crate) scope: now::ScopeGain,
    pub(crate) layers: layers::Memory,
    pub(crate) mics: mics::Memory,
    pub(crate) joins: joins::Memory,
    pub(crate) log: log::Memory,
    pub(crate) time: time::Memory,
    pub(crate) intents: Vec<Intent>,
    /// Whether a field had the keyboard when the last frame ended.
    typing: bool,
}

/// What all blocks of a frame share.
pub(crate) struct Scene<'a> {
    pub(crate) view: &'a View,
    pub(crate) info: &'a Info<'a>,
    pub(crate) plan: Plan,
    pub(crate) theme: &'static Theme,
}

impl Screen {
    /// Seconds for which something lost can be had back.
    pub const UNDO_SECS: f64 = 10.0;

    /// A screen with saved settings.
    pub fn new(settings: Settings) -> Self {
        Self { settings, ..Self::default() }
    }

    /// What the user chose, as it is to be saved.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The page shown.
    pub fn page(&self) -> Page {
        self.page
    }

    /// Whether a field has the keyboard: every key belongs to it then.
    pub fn is_typing(&self) -> bool {
        self.typing
    }

    /// Paints one frame into the whole of `ui` and returns what the user wants. Any view is painted, whatever is
    /// in it; the only repaint asked for is the one that ends an undo or follows a change made in this frame.
    pub fn ui(&mut self, ui: &mut Ui, view: &View, info: &Info<'_>) -> Vec<Intent> {
        self.adopt_style(ui);
        let now_secs = ui.input(|input| input.time);
        self.expire_undo(ui, now_secs);
        let before = self.settings.clone();
        self.meet_past(view);
        let shown = self.panel;
        for command in keys::commands(ui.ctx(), self.typing) {
            self.obey(ui, command, view, info);
        }
        if self.panel != shown {
            self.forms = panels::Forms::default();
        }
        // A click may close a panel whose field it leaves: it is shown once more, to take what was typed.
        let panel = self.panel;

        let mut area = ui.max_rect();
        let whole = area;
        // What is altered, and what has passed, is said on every page, over everything.
        let mut banner = |on: bool| {
            on.then(|| {
                let rect = area.with_max_y((area.top() + mics::BANNER).min(area.bottom()));
                area.min.y = rect.bottom();
                rect
            })
        };
        let (altered, passed) = (banner(view.trial.is_some()), banner(view.past.is_some()));
        let theme = self.settings.theme.theme();
        let scene =
            Scene { view, info, plan: Plan::new(area, crate::company::has_layers(&view.session)), theme };
        let painter = Painter::of(ui, theme);
        painter.fill(ui.ctx().content_rect().union(whole), theme.page);
        if let Some(rect) = altered {
            mics::banner_ui(self, ui, &painter, &scene, rect.shrink2(egui::vec2(2.0, 1.0)));
        }
        if let Some(rect) = passed {
            time::banner_ui(self, ui, &painter, &scene, rect.shrink2(egui::vec2(2.0, 1.0)));
        }
        match self.page {
            Page::Bus => self.bus_ui(ui, &painter, &scene),
            Page::Layers => self.layers_ui(ui, &painter, &scene),
            Page::Mics => self.mics_ui(ui, &painter, &scene),
            Page::Joins => self.joins_ui(ui, &painter, &scene),
            Page::Log => self.log_ui(ui, &painter, &scene),
        }
        panels::show_ui(self, ui, &scene, panel);

        self.after(ui, before, now_secs);
        std::mem::take(&mut self.intents)
    }

    fn bus_ui(&mut self, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
        header::header_ui(self, ui, painter, scene);
        cards::cards_ui(ui, painter, scene, &self.settings);
        controls::controls_ui(self, ui, scene);
        lanes::lanes_ui(self, ui, painter, scene);
        if let Some(rect) = scene.plan.now {
            now::now_ui(self, ui, painter, scene, rect);
        }
        if let Some(rect) = scene.plan.time {
            time::time_ui(self, ui, painter, scene, rect);
        }
        footer::footer_ui(self, ui, painter, scene);
    }

    fn layers_ui(&mut self, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
        header::header_ui(self, ui, painter, scene);
        layers::layers_ui(self, ui, painter, scene);
        footer::footer_ui(self, ui, painter, scene);
    }

    fn mics_ui(&mut self, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
        header::header_ui(self, ui, painter, scene);
        mics::mics_ui(self, ui, painter, scene);
        footer::footer_ui(self, ui, painter, scene);
    }

    fn joins_ui(&mut self, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
        header::header_ui(self, ui, painter, scene);
        joins::joins_ui(self, ui, painter, scene);
        footer::footer_ui(self, ui, painter, scene);
    }

    fn log_ui(&mut self, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
        header::header_ui(self, ui, painter, scene);
        log::log_ui(self, ui, painter, scene);
        footer::footer_ui(self, ui, painter, scene);
    }

    fn adopt_style(&self, ui: &mut Ui) {
        let theme = self.settings.theme;
        theme.apply(ui.ctx());
        // The style of this very frame was taken before it could be applied.
        theme.theme().restyle(ui.style_mut());
        let zoom = f32::from(self.settings.scale_percent) / 100.0;
        if (ui.ctx().zoom_factor() - zoom).abs() > 1e-3 {
            ui.ctx().set_zoom_factor(zoom);
        }
    }

    fn obey(&mut self, ui: &Ui, command: Command, view: &View, info: &Info<'_>) {
        match command {
            Command::Hold => self.intents.push(Intent::Hold(!info.held)),
            Command::Reset => self.intents.push(Intent::Reset),
            Command::Theme => self.settings.theme = self.settings.theme.other(),
            Command::Averaging => self.settings.next_averaging(),
            Command::PeakHold => self.settings.peak_hold = !self.settings.peak_hold,
            Command::StoreReference => self.store_reference(view),
            Command::Larger => self.settings.scale_step(true),
            Command::Smaller => self.settings.scale_step(false),
            Command::Help => self.toggle(panels::Panel::Help),
            Command::Settings => self.toggle(panels::Panel::Settings),
            Command::CursorDown => self.cursor.step(-1),
            Command::CursorUp => self.cursor.step(1),
            Command::Escape => self.escape(view),
            Command::Mark => self.intents.push(Intent::Mark),
            Command::Identity => self.toggle(panels::Panel::Identity),
            Command::NextOrder | Command::RowUp | Command::RowDown if self.page == Page::Layers => {
                self.obey_on_layers(command, &view.session);
            }
            Command::RowUp | Command::RowDown | Command::Copy | Command::Keep if self.page == Page::Mics => {
                self.obey_on_mics(ui, command, view);
            }
            Command::Earlier | Command::Later | Command::Closer | Command::Wider
                if self.page == Page::Bus =>
            {
                self.obey_on_time(command, view);
            }
            Command::Now | Command::Step(_) => self.obey_on_time(command, view),
            // A trial can be ended from any page, and begun where it is seen what it does.
            Command::Try if self.page == Page::Mics || view.trial.is_some() => {
                self.obey_on_mics(ui, command, view);
            }
            Command::NextOrder
            | Command::RowUp
            | Command::RowDown
            | Command::Open
            | Command::Remove
            | Command::Export
                if self.page == Page::Joins =>
            {
                self.obey_on_joins(command, view);
            }
            Command::NextOrder
            | Command::RowUp
            | Command::RowDown
            | Command::Open
            | Command::Seen
            | Command::Export
                if self.page == Page::Log =>
            {
                self.obey_on_log(command, view);
            }
            Command::NextOrder
            | Command::RowUp
            | Command::RowDown
            | Command::Open
            | Command::Seen
            | Command::Export
            | Command::Remove
            | Command::Copy
            | Command::Keep
            | Command::Earlier
            | Command::Later
            | Command::Closer
            | Command::Wider
            | Command::Try => {}
            Command::Page(index) => self.page = Page::ALL.get(index).copied().unwrap_or(self.page),
        }
    }
}
