//! A verdict in words.

use crate::figures::DASH;

/// Where a verdict is read. Decides the advice where there is no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Context {
    /// While audio plays: more will come, and the faders are at hand.
    Live,
    /// For a whole programme in files: nothing more will come.
    Files,
}

impl Context {
    /// Picks the wording for this context.
    pub(super) fn pick<T>(self, live: T, files: T) -> T {
        match self {
            Self::Live => live,
            Self::Files => files,
        }
    }
}

/// State of a verdict; each has its own shape on screen and page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum State {
    /// Nothing can be said: a short dash.
    #[default]
    Unknown,
    /// All is well: a filled disc.
    Fine,
    /// Worth knowing, not a fault: a ring.
    Note,
    /// To be acted on: a triangle.
    Fault,
}

impl State {
    /// Its name, read aloud.
    pub fn name(self) -> &'static str {
        match self {
            Self::Unknown => "not known",
            Self::Fine => "fine",
            Self::Note => "worth knowing",
            Self::Fault => "to be acted on",
        }
    }

    /// Its name in files, and its class on the page.
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
pub struct VerdictText {
    /// State.
    pub state: State,
    /// One or two words; a dash where there is no reading.
    pub head: String,
    /// The number behind the head, with its unit; may be empty.
    pub figure: String,
    /// One or two sentences with numbers and advice.
    pub sentence: String,
    /// Short form of the sentence.
    pub short: String,
}

impl VerdictText {
    /// A verdict whose sentence fits anywhere. A figure that is a dash is left out.
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

    /// The same with a short sentence for narrow screens.
    #[must_use]
    pub fn in_short(self, short: impl Into<String>) -> Self {
        Self { short: short.into(), ..self }
    }

    /// No verdict, with the reason.
    pub fn unknown(why: impl Into<String>) -> Self {
        Self::new(State::Unknown, DASH, "", why)
    }

    /// One line, as read aloud.
    pub fn aloud(&self, title: &str) -> String {
        let head = if self.head == DASH { "no reading" } else { &self.head };
        let figure = if self.figure.is_empty() { String::new() } else { format!(", {}", self.figure) };
        format!("{title}: {head}{figure}, {}. {}", self.state.name(), self.sentence)
    }
}
