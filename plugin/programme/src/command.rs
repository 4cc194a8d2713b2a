//! A user's requests to a layer: settings, which hold until changed, and commands, carried out once.

use crate::balance::Mark;
use crate::delivery::Target;
use crate::findings::Rules;
use crate::mics::{Mic, Trial};
use crate::recording::Recording;
use crate::session::{BalanceTarget, Identity, LayerId};
use crate::time_lanes::TimeWindow;
use plumbline_measure::BandEdges;

/// The settings of a layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Name, role and colour.
    pub identity: Identity,
    /// Letter of the session, A to H.
    pub session: char,
    /// How the sound was recorded.
    pub recording: Recording,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Delivery target.
    pub delivery: Target,
    /// Target shares.
    pub balance: BalanceTarget,
    /// Rules for findings. Findings made under other rules stay.
    pub rules: Rules,
    /// The two layers whose tone is matched, `(change, like)`; `None` uses the default pair.
    pub match_pair: Option<(LayerId, LayerId)>,
    /// The two microphones that are always compared; `None` compares the loudest.
    pub mic_pair: Option<[Mic; 2]>,
    /// The repair being tried out.
    pub trial: Option<Trial>,
    /// The stretch of time shown in the time lanes.
    pub window: TimeWindow,
    /// The past tenth that views show; `None` shows the present.
    pub rewound: Option<Mark>,
    /// Whether a screen is open on the layer. Views are built only then.
    pub watched: bool,
}

/// Letters of sessions.
pub const SESSIONS: std::ops::RangeInclusive<char> = 'A'..='H';

impl Default for Settings {
    fn default() -> Self {
        Self {
            identity: Identity::default(),
            session: *SESSIONS.start(),
            recording: Recording::default(),
            band_edges: BandEdges::default(),
            delivery: Target::default(),
            balance: BalanceTarget::default(),
            rules: Rules::default(),
            match_pair: None,
            mic_pair: None,
            trial: None,
            window: TimeWindow::default(),
            rewound: None,
            watched: false,
        }
    }
}

impl Settings {
    /// Carries out a command if it only changes a setting. Returns whether it did.
    pub fn obey(&mut self, command: &Command) -> bool {
        match command {
            Command::Match(pair) => self.match_pair = *pair,
            Command::CompareMics(pair) => self.mic_pair = *pair,
            Command::Try(trial) => self.trial = *trial,
            Command::ShowTime(window) => self.window = *window,
            Command::Rewind(at) => self.rewound = *at,
            _ => return false,
        }
        true
    }

    /// The settings within their bounds. An invalid delivery target becomes the default, an invalid aim is dropped, a
    /// letter outside A to H becomes A, a trial that alters nothing is dropped, and an unwatched layer returns to the
    /// present.
    #[must_use]
    pub fn sane(mut self) -> Self {
        let letter = self.session.to_ascii_uppercase();
        self.session = if SESSIONS.contains(&letter) { letter } else { *SESSIONS.start() };
        self.recording = self.recording.sane();
        self.delivery = self.delivery.sane();
        self.balance = self.balance.sane();
        self.trial = self.trial.map(Trial::sane).filter(Trial::alters);
        self.rewound = self.rewound.filter(|_| self.watched);
        self
    }
}

/// A command to a layer, from a click.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Restarts averages, holds, maxima, programme and health after the audio handed over so far. The history stays.
    Reset,
    /// Starts a passage at the tenth of the latest sample measured.
    Mark,
    /// Removes a mark.
    Unmark(Mark),
    /// Adds marks.
    PutMarks(Vec<Mark>),
    /// Replaces all marks by these, when a project is loaded.
    ReplaceMarks(Vec<Mark>),
    /// Marks a finding, by its number, as done or not.
    SetDone(u64, bool),
    /// Sets [`Settings::match_pair`].
    Match(Option<(LayerId, LayerId)>),
    /// Sets [`Settings::mic_pair`].
    CompareMics(Option<[Mic; 2]>),
    /// Sets [`Settings::trial`].
    Try(Option<Trial>),
    /// Sets [`Settings::window`].
    ShowTime(TimeWindow),
    /// Sets [`Settings::rewound`].
    Rewind(Option<Mark>),
}
