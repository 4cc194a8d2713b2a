//! What a user asks of a layer: settings that hold until they are changed, and commands.

use crate::balance::Mark;
use crate::delivery::Target;
use crate::findings::Rules;
use crate::lanes::TimeWindow;
use crate::mics::{Mic, Trial};
use crate::session::{BalanceTarget, Identity, LayerId};
use plumbline_measure::BandEdges;

/// What a layer is set to.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Name, role and colour.
    pub identity: Identity,
    /// Letter of the session, A to H.
    pub session: char,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Delivery target.
    pub delivery: Target,
    /// Shares that are aimed at.
    pub balance: BalanceTarget,
    /// Rules of the findings. What was found under other rules stays.
    pub rules: Rules,
    /// Layers whose tone is matched, `(change, like)`; none takes the default pair.
    pub match_pair: Option<(LayerId, LayerId)>,
    /// Layers that are compared as microphones in any case; the loudest are without it.
    pub mic_pair: Option<[Mic; 2]>,
    /// The repair that is tried out.
    pub trial: Option<Trial>,
    /// The stretch of time that the time lanes show.
    pub window: TimeWindow,
    /// The past tenth that views show; none is now.
    pub rewound: Option<Mark>,
    /// Whether somebody looks: only then views are made.
    pub watched: bool,
}

/// Letters of sessions.
pub const SESSIONS: std::ops::RangeInclusive<char> = 'A'..='H';

impl Default for Settings {
    fn default() -> Self {
        Self {
            identity: Identity::default(),
            session: *SESSIONS.start(),
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
    /// Carries out a command, if it is one that only sets something.
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

    /// Held to its bounds: a target that makes no sense is the default, such an aim is none, another letter than A to H is
    /// A, a trial that alters nothing is none, and who stops looking returns to now.
    #[must_use]
    pub fn sane(mut self) -> Self {
        let letter = self.session.to_ascii_uppercase();
        self.session = if SESSIONS.contains(&letter) { letter } else { *SESSIONS.start() };
        self.delivery = self.delivery.sane();
        self.balance = self.balance.sane();
        self.trial = self.trial.map(Trial::sane).filter(Trial::alters);
        self.rewound = self.rewound.filter(|_| self.watched);
        self
    }
}

/// What a click asks of a layer.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Averages, holds, maxima, programme and health begin anew behind the audio handed over so far. The history stays.
    Reset,
    /// A passage begins with the tenth of the newest sample measured.
    Mark,
    /// Takes a mark away.
    Unmark(Mark),
    /// Sets marks.
    PutMarks(Vec<Mark>),
    /// Takes all marks away and sets these: those of a project that is loaded.
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
