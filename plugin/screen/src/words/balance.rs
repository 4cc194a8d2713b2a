//! The balance of layers in words: the verdict, and what of the mix its layers do not account for.

use super::{Said, State};
use crate::company;
use crate::figures;
use plumbline_measure::session::{Aim, BalanceVerdict, UNACCOUNTED_DB, Unaccounted};
use plumbline_measure::{BalanceTarget, Role, Session, Stretch};

/// The balance verdict: who has which share of the newest 3 s, against the aims, beside the whole programme.
pub fn balance(verdict: &BalanceVerdict, session: &Session, target: &BalanceTarget) -> Said {
    match *verdict {
        BalanceVerdict::Alone => Said::unknown(
            "No other layer is heard. Insert Plumbline on each layer: same session letter, a role for each.",
        ),
        BalanceVerdict::Silent => Said::unknown("Layers are heard, and none of them sounds at the moment."),
        BalanceVerdict::Free => Said::new(State::Fine, "No aim", "").saying(
            format!("{} No role has an aim.", heard_now(session)),
            "No role has an aim; Layers page sets them.",
        ),
        BalanceVerdict::On { role, share } => {
            let aim = target.aims.get(role.part().unwrap_or(usize::MAX)).copied().flatten();
            on(role, share, aim, session)
        }
        BalanceVerdict::Off { role, share, aim } => off(role, share, aim, session),
    }
}

fn on(role: Role, share: f64, aim: Option<Aim>, session: &Session) -> Said {
    let figure = aim.map_or(String::new(), |aim| format!("aim {}", aim_words(&aim)));
    let sentence = format!("{}{}", heard_now(session), programme(role, session));
    let short = match aim {
        Some(aim) => format!("Within its aim of {}.", aim_words(&aim)),
        None => "Within its aim.".to_owned(),
    };
    Said::new(State::Fine, &head(role, share), figure).saying(sentence.trim_end(), short)
}

/// Off now is worth acting on, unless the programme as a whole is within its aim: then this passage merely differs.
fn off(role: Role, share: f64, aim: Aim, session: &Session) -> Said {
    let whole = share_of(role, session, Stretch::Programme);
    let whole_is_on = whole.is_some_and(|whole| (whole - aim.share).abs() <= aim.tolerance);
    let state = if whole_is_on { State::Note } else { State::Fault };
    let (way, do_it, other) =
        if share < aim.share { ("under", "Raise it", "lower") } else { ("over", "Lower it", "raise") };
    let by = figures::unit(figures::plain(Some((share - aim.share).abs() * 100.0), 0), "%");
    let amount = gain_db(share, aim.share)
        .map(|db| format!(" by {}", figures::db(Some(db.abs()))))
        .unwrap_or_default();
    let rival = largest_other(role, session)
        .map(|(rival, has)| {
            format!(", or {other} {}, which has {}", rival.name(), figures::percent(Some(has)))
        })
        .unwrap_or_default();
    let sentence =
        format!("{} is {by} {way} its aim. {do_it}{amount}{rival}.{}", role.name(), programme(role, session));
    let short = format!("{do_it}{amount}.");
    Said::new(state, &head(role, share), format!("aim {}", aim_words(&aim))).saying(sentence, short)
}

/// "70 ± 10 %".
pub(crate) fn aim_words(aim: &Aim) -> String {
    let whole = |share: f64| figures::plain(Some(share * 100.0), 0);
    format!("{} ± {}\u{a0}%", whole(aim.share), whole(aim.tolerance))
}

fn head(role: Role, share: f64) -> String {
    format!("{} {}", role.name(), figures::percent(Some(share)))
}

/// "Of what is heard now 64 % is Natural, 21 % Foley, 15 % Design."
fn heard_now(session: &Session) -> String {
    let mut shares = company::roles(session)
        .filter_map(|(at, role)| Some((role, session.roles[at].parts[Stretch::Now.place()].share?)));
    let Some((first, share)) = shares.next() else { return "Nothing sounds now.".to_owned() };
    let mut words = format!("Of what is heard now {} is {}", figures::percent(Some(share)), first.name());
    for (role, share) in shares {
        words.push_str(&format!(", {} {}", figures::percent(Some(share)), role.name()));
    }
    words.push('.');
    words
}

fn programme(role: Role, session: &Session) -> String {
    match share_of(role, session, Stretch::Programme) {
        Some(share) => {
            format!(" The programme has {} {}.", figures::percent(Some(share)), role.name())
        }
        None => String::new(),
    }
}

fn share_of(role: Role, session: &Session, stretch: Stretch) -> Option<f64> {
    session.part(role, stretch).and_then(|part| part.share).filter(|share| share.is_finite())
}

fn largest_other(role: Role, session: &Session) -> Option<(Role, f64)> {
    Role::PARTS
        .into_iter()
        .filter(|other| *other != role)
        .filter_map(|other| Some((other, share_of(other, session, Stretch::Now)?)))
        .filter(|(_, share)| *share >= 0.005)
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// What to change one role by so that its share moves to its aim, all others left alone: energies add up, so the
/// odds share/(1 − share) scale with its gain.
pub(crate) fn gain_db(share: f64, aim: f64) -> Option<f64> {
    let db = 10.0 * (aim * (1.0 - share) / (share * (1.0 - aim))).log10();
    (db.is_finite() && db.abs() < 60.0).then_some(db)
}

/// What the mix holds beyond or short of its layers, with the likely reason; nothing when they agree within
/// [`UNACCOUNTED_DB`].
pub fn unaccounted(unaccounted: Unaccounted) -> Option<Said> {
    let db = unaccounted.db.filter(|db| db.abs() >= UNACCOUNTED_DB)?;
    let size = figures::db(Some(db.abs()));
    Some(if db == f64::NEG_INFINITY {
        Said::new(State::Fault, "Layers cancel", "").saying(
            "The layers cancel: the mix is silent while its layers sound. Or the mix is muted after them.",
            "The layers cancel: the mix is silent.",
        )
    } else if db == f64::INFINITY {
        Said::new(State::Fault, "No layer sounds", "").saying(
            "The mix sounds while all of its layers are silent: the layer that sounds is missing here.",
            "The sounding layer is missing here.",
        )
    } else if db > 0.0 {
        Said::new(State::Note, "Unaccounted", format!("+{size}")).saying(
            format!(
                "The mix holds {size} more than its layers: a layer is missing here, or the bus adds to it."
            ),
            format!("Mix {size} over its layers: one is missing?"),
        )
    } else {
        Said::new(State::Note, "Unaccounted", format!("−{size}")).saying(
            format!(
                "The mix holds {size} less than its layers: they cancel each other, or the bus takes away."
            ),
            format!("Mix {size} under its layers: they cancel?"),
        )
    })
}
