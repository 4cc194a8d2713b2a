//! What a verdict in words is made of.

use crate::figures::DASH;

/// When something is told. It decides what is of help where no answer is to be had.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// While it sounds: more will come, and the faders are at hand.
    Now,
    /// Of a whole programme in files: no more will come.
    Whole,
}

impl Told {
    /// The one wording or the other.
    pub(super) fn pick<T>(self, now: T, whole: T) -> T {
        match self {
            Self::Now => now,
            Self::Whole => whole,
        }
    }
}

/// How a verdict is to be taken. Each state has a shape of its own, on the screen and on a page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum State {
    /// Nothing can be said: a short dash.
    #[default]
    Unknown,
    /// All is well: a filled disc.
    Fine,
    /// Worth knowing, no fault: a ring.
    Note,
    /// To be acted on: a triangle.
    Fault,
}

impl State {
    /// The state in a word, for those who hear the screen or the page.
    pub fn name(self) -> &'static str {
        match self {
            Self::Unknown => "not known",
            Self::Fine => "fine",
            Self::Note => "worth knowing",
            Self::Fault => "to be acted on",
        }
    }

    /// The word in files, and the class on the page.
    pub(crate) fn key(self) -> &'static str {
        match self {
            Self::Unknown => "unknown",
            Self::Fine => "fine",
            Self::Note => "note",
            Self::Fault => "fault",
        }
    }
}

/// A verdict in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// How to take it.
    pub state: State,
    /// One or two words; a dash where there is no reading.
    pub head: String,
    /// The number behind the head, with its unit; empty where there is none.
    pub figure: String,
    /// One plain sentence (two at most) with numbers and advice.
    pub sentence: String,
    /// The same in few words, for narrow screens.
    pub short: String,
}

impl Said {
    /// A verdict whose sentence is short enough for any place. A figure that is no reading is left out.
    pub fn new(
        state: State,
        head: impl Into<String>,
        figure: impl Into<String>,
        sentence: impl Into<String>,
    ) -> Self {
        let (figure, sentence) = (figure.into(), sentence.into());
        let figure = if figure == DASH { String::new() } else { figure };
        Self { state, head: head.into(), figure, short: sentence.clone(), sentence }
    }

    /// The same with fewer words where room is short.
    #[must_use]
    pub fn in_short(self, short: impl Into<String>) -> Self {
        Self { short: short.into(), ..self }
    }

    /// No verdict, and why.
    pub fn unknown(why: impl Into<String>) -> Self {
        Self::new(State::Unknown, DASH, "", why)
    }

    /// All of it in one line, as read aloud.
    pub fn aloud(&self, title: &str) -> String {
        let head = if self.head == DASH { "no reading" } else { &self.head };
        let figure = if self.figure.is_empty() { String::new() } else { format!(", {}", self.figure) };
        format!("{title}: {head}{figure}, {}. {}", self.state.name(), self.sentence)
    }
}
