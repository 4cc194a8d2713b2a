//! Layers in words: flags, match, mono loss, notes on the session.

use crate::session_view;
use plumbline_programme::session::{LayerLine, LossByLayer, Match, SessionNote};
use plumbline_programme::{Role, Session};
use plumbline_report::figures;
use plumbline_report::words::{self, Context, LossWords, MOVE_DB, State};

/// A flag on a layer: its state, a short text, and a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flag {
    /// Whether it is good, worth knowing, or a fault.
    pub state: State,
    /// A few words.
    pub short: String,
    /// The full sentence.
    pub sentence: String,
}

fn flag(state: State, short: impl Into<String>, sentence: impl Into<String>) -> Flag {
    Flag { state, short: short.into(), sentence: sentence.into() }
}

/// The flags of a layer, the gravest first.
pub fn flags(line: &LayerLine, session: &Session) -> Vec<Flag> {
    let mut flags = Vec::new();
    if !line.running {
        flags.push(flag(
            State::Note,
            "not running",
            "No audio reaches it: its track is off, or its host is not playing. Its last shares stay.",
        ));
    }
    if line.absent {
        flags.push(flag(
            State::Note,
            "not in the mix",
            "Its sound is not found in the mix: it is muted, or goes elsewhere. It counts as silent until it is \
             found again. A layer that reaches the mix more than 0.1\u{a0}s late is not found either.",
        ));
    }
    if let Some(covered) = &line.covered {
        let (by, db) = (session_view::name_of(session, covered.by), figures::plain(Some(covered.by_db), 0));
        let span = figures::hz_span(&covered.span);
        flags.push(flag(
            State::Fault,
            format!("covered {db}\u{a0}dB by {by}"),
            format!(
                "The others are at least {db}\u{a0}dB above it wherever it has energy, {span}; {by} leads there. \
                 Raise it, or make room for it."
            ),
        ));
    }
    if let Some(late) = line.late_secs.filter(|late| late.is_finite()) {
        let (way, size) = (if late < 0.0 { "early" } else { "late" }, figures::plain(Some(late.abs()), 1));
        flags.push(flag(
            State::Fault,
            format!("{size}\u{a0}s {way}"),
            format!(
                "Its level moves {size}\u{a0}s {way} against the mix: delay compensation, or a clip out of place. \
                 Its shares compare the wrong moments."
            ),
        ));
    }
    if line.altered {
        flags.push(flag(
            State::Fault,
            "altered",
            "A repair is being tried on it: its output is delayed, polarity inverted, or both. End the trial on its \
             own Mics page.",
        ));
    }
    if !line.on_song {
        flags.push(flag(
            State::Note,
            "no song position",
            "Its host gives no song position: it is compared by the computer's clock, and a loop counts each time.",
        ));
    }
    if line.missed > 0 {
        let tenths = figures::count(line.missed as f64, "tenth", "tenths");
        flags.push(flag(
            State::Note,
            format!("{tenths} missed"),
            format!("{tenths} of a second it measured did not arrive here; shares leave them out."),
        ));
    }
    flags
}

/// A match in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchWords {
    /// "To make Foley chisel sound like Tower ambience".
    pub title: String,
    /// "cut 4 dB around 250 Hz, add 3 dB around 4 kHz".
    pub moves: String,
    /// The length of time measured, and the level offset.
    pub behind: String,
}

/// A match in words: what to change on one layer to give it the tone of another.
pub fn matched(matched: &Match, session: &Session) -> MatchWords {
    let [change, like] = [matched.change, matched.like].map(|id| session_view::name_of(session, id));
    let mut moves = words::moves(matched);
    if moves.is_empty() && words::is_unclear(matched) {
        moves = "no move is advised: the difference scatters more than it amounts to".to_owned();
    } else if moves.is_empty() {
        moves = format!("nothing to change: alike within {}", figures::db(Some(MOVE_DB)));
    }
    let louder = figures::unit(figures::signed(Some(matched.louder_db), 1), "dB");
    MatchWords {
        title: format!("To make {change} sound like {like}"),
        moves,
        behind: format!("{} Level offset: {louder}.", words::rests_on(matched, Context::Live)),
    }
}

/// The layers that cause the mono loss, in words.
pub fn loss(loss: &LossByLayer, session: &Session) -> LossWords {
    words::loss(loss, "", |id| session_view::name_of(session, id).to_owned())
}

/// A note on the session: its state and its text.
pub fn note(note: &SessionNote) -> (State, String) {
    match note {
        SessionNote::Alone(why) => {
            let why: String = why.trim().trim_end_matches('.').chars().take(160).collect();
            (State::Fault, format!("Other layers cannot be heard: {why}. This layer still measures."))
        }
        SessionNote::TooMany { beyond, own } => {
            let more = figures::count(f64::from(*beyond), "layer is", "layers are");
            let most = plumbline_programme::session::MOST_LAYERS;
            let own = if *own { " This layer is one of them." } else { "" };
            (
                State::Fault,
                format!("{more} beyond the {most} of one session and not counted.{own} Use another letter."),
            )
        }
        SessionNote::Unreadable { files } => {
            let files = figures::count(f64::from(*files), "layer", "layers");
            (State::Note, format!("{files} of another version of Plumbline not read: update it."))
        }
    }
}

/// The same in a few words, for the footer of a page.
pub(crate) fn note_in_short(of: &SessionNote) -> (State, String) {
    let words = match of {
        SessionNote::Alone(_) => "Other layers cannot be heard: see the Layers page".to_owned(),
        SessionNote::TooMany { .. } => "More layers than one session counts".to_owned(),
        SessionNote::Unreadable { files } => {
            format!("{} of another version", figures::count(f64::from(*files), "layer", "layers"))
        }
    };
    (note(of).0, words)
}

/// Letter and other layers: "session A, 4 layers heard".
pub(crate) fn session(letter: char, session: &Session) -> String {
    let letter = shown(letter);
    match session_view::others(session) {
        0 => format!("session {letter}"),
        n => format!("session {letter}, {} heard", figures::count(f64::from(n), "layer", "layers")),
    }
}

/// The same for tight space: "A, 4 layers".
pub(crate) fn session_in_short(letter: char, of: &Session) -> String {
    session(letter, of).replace("session ", "").replace(" heard", "")
}

/// What to do while every layer is a mix: "8 layers heard, all with the role Mix: give them roles".
pub(crate) fn without_roles(session: &Session) -> Option<String> {
    let n = session_view::others(session);
    session_view::only_mixes(session).then(|| match n {
        1 => "1\u{a0}layer heard, with the role Mix: give it a role".to_owned(),
        _ => {
            let layers = figures::count(f64::from(n), "layer", "layers");
            format!("{layers} heard, all with the role Mix: give them roles")
        }
    })
}

fn shown(letter: char) -> char {
    if letter.is_control() { '–' } else { letter }
}

/// Head and sentence of the Layers page when nothing can be compared.
pub(crate) fn no_layers(own: Role, letter: char, session: &Session) -> [String; 2] {
    if let Some(head) = without_roles(session) {
        return [head, give_roles(session)];
    }
    let letter = shown(letter);
    let head = format!("No other layer is heard in session {letter}");
    let own = match own {
        Role::Mix => "this one stays on the mix",
        _ => "one of role Mix goes on the mix bus",
    };
    let body = format!(
        "Insert Plumbline on each track or bus whose share of the mix you want to know, after its fader; {own}. Give \
         each the session letter {letter} and a role. They find each other on this computer within a third of a \
         second, CLAP and VST3 alike."
    );
    [head, body]
}

/// The most layers to name in a sentence.
const NAMED: usize = 4;

fn give_roles(session: &Session) -> String {
    let names: Vec<&str> = session.layers.iter().filter(|line| !line.own).map(session_view::name).collect();
    let shown = names.iter().take(NAMED).copied().collect::<Vec<_>>().join(", ");
    let more = match names.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!(
        "Heard: {shown}{more}. A mix is the sum of layers and has no share in itself, so there is nothing to compare \
         yet. Keep the role Mix for the one on the mix bus, and give every other layer its own: Natural, Foley, \
         Design, Voice or Music. A layer's role is set in its own window: open Plumbline on that track and click its \
         name at the top, or press N. Set the role of this layer here:"
    )
}
