//! Layers in words: their balance, what the mix has beyond them, what a match asks for, who loses in mono.

use super::{Said, State, amount, db};
use crate::figures::{self, percent, plain, signed, unit};
use crate::survey::{Loss, Survey};
use crate::words;
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::session::{Aim, BalanceVerdict, Match, UNACCOUNTED_DB, Unaccounted};
use plumbline_measure::{LayerId, Role};

/// Tenths under which a match is said to rest on little.
const FEW_TENTHS: u32 = 50;
/// Share of a band's energy that the layers must explain for the list of them to be taken as the whole truth.
const EXPLAINED: f64 = 0.7;

/// The balance of the whole programme against its aims.
pub(in crate::survey) fn balance(survey: &Survey) -> Said {
    match survey.verdicts.balance {
        BalanceVerdict::Alone => Said::unknown("There are no layers to compare."),
        BalanceVerdict::Silent => Said::unknown("None of the layers is over the gate: there are no shares."),
        BalanceVerdict::Free => {
            Said::new(State::Fine, "No aim", "", format!("{} No role has an aim.", heard(survey)))
        }
        BalanceVerdict::On { role, share } => {
            let aim = survey.balance.aims.get(role.part().unwrap_or(usize::MAX)).copied().flatten();
            let figure = aim.map_or(String::new(), |aim| format!("aim {}", aim_words(&aim)));
            Said::new(State::Fine, head(role, share), figure, heard(survey))
        }
        BalanceVerdict::Off { role, share, aim } => off(survey, role, share, aim),
    }
}

fn off(survey: &Survey, role: Role, share: f64, aim: Aim) -> Said {
    let (way, do_it, other) =
        if share < aim.share { ("under", "Raise it", "lower") } else { ("over", "Lower it", "raise") };
    let by = figures::count(((share - aim.share) * 100.0).abs(), "point", "points");
    let gain = 10.0 * (aim.share * (1.0 - share) / (share * (1.0 - aim.share))).log10();
    let by_db =
        if gain.is_finite() && gain.abs() < 60.0 { format!(" by {}", db(gain.abs())) } else { String::new() };
    let rival = Role::PARTS
        .into_iter()
        .zip(&survey.roles)
        .filter(|(rival, part)| *rival != role && part.share.is_some_and(|share| share >= 0.005))
        .max_by(|a, b| a.1.share.unwrap_or(0.0).total_cmp(&b.1.share.unwrap_or(0.0)))
        .map(|(rival, _)| format!(", or {other} {}", rival.name()))
        .unwrap_or_default();
    let sentence = format!("{} is {by} {way} its aim. {do_it}{by_db}{rival}. {}", role.name(), heard(survey));
    Said::new(State::Fault, head(role, share), format!("aim {}", aim_words(&aim)), sentence)
}

fn aim_words(aim: &Aim) -> String {
    let whole = |share: f64| plain(Some(share * 100.0), 0);
    format!("{} ± {}", whole(aim.share), unit(whole(aim.tolerance), "%"))
}

fn head(role: Role, share: f64) -> String {
    format!("{} {}", role.name(), percent(Some(share)))
}

/// "Of all that is heard 64 % is Natural, 21 % Foley, 15 % Design."
fn heard(survey: &Survey) -> String {
    let mut shares = Role::PARTS.into_iter().zip(&survey.roles).filter_map(|(role, part)| {
        let has = survey.layers.iter().any(|layer| layer.role == role);
        Some((role, part.share.filter(|_| has)?))
    });
    let Some((first, share)) = shares.next() else { return String::new() };
    let mut words = format!("Of all that is heard {} is {}", percent(Some(share)), first.name());
    for (role, share) in shares {
        words.push_str(&format!(", {} {}", percent(Some(share)), role.name()));
    }
    words + "."
}

/// What the mix holds beyond or short of its layers; nothing when they agree.
pub(in crate::survey) fn unaccounted(unaccounted: Unaccounted) -> Option<Said> {
    let off = unaccounted.db.filter(|db| db.abs() >= UNACCOUNTED_DB)?;
    let size = db(off.abs());
    Some(if off == f64::NEG_INFINITY {
        Said::new(
            State::Fault,
            "Layers cancel",
            "",
            "The mix is silent while its layers sound: they cancel, or it is muted after them.",
        )
    } else if off == f64::INFINITY {
        Said::new(
            State::Fault,
            "No layer sounds",
            "",
            "The mix sounds while all of its layers are silent: the layer that sounds is missing here.",
        )
    } else if off > 0.0 {
        Said::new(
            State::Note,
            "Unaccounted",
            signed(Some(off), 1),
            format!(
                "The mix holds {size} more than its layers: a layer is missing here, faders stand above these files, or the bus adds to it."
            ),
        )
    } else {
        Said::new(
            State::Note,
            "Unaccounted",
            signed(Some(off), 1),
            format!(
                "The mix holds {size} less than its layers: they cancel each other, faders stand below these files, or the bus takes away."
            ),
        )
    })
}

/// What to change on one layer so that its tone is that of another.
pub(in crate::survey) fn matched(matched: &Match, survey: &Survey) -> Said {
    let name = |id: LayerId| words::name(survey.name_of(id));
    let (change, like) = (name(matched.change), name(matched.like));
    let moves = words::moves(&matched.change_db.map(|db| db.get()));
    let secs = unit(plain(Some(f64::from(matched.tenths) / 10.0), 1), "s");
    let few = if matched.tenths < FEW_TENTHS { ", which is little" } else { "" };
    let behind = format!("From {secs} in which both sound{few}.");
    if moves.is_empty() {
        let sentence = format!("{change} has the tone of {like} within {}. {behind}", db(words::MOVE_DB));
        return Said::new(State::Fine, "Alike", "", sentence);
    }
    let largest = moves.iter().map(|(_, db)| db.abs()).fold(0.0, f64::max);
    let told: Vec<String> = moves
        .into_iter()
        .map(|(third, db)| {
            let what = if db < 0.0 { "cut" } else { "add" };
            let size = unit(plain(Some(db.abs()), 0), "dB");
            format!("{what} {size} around {}", figures::hz(words::nominal(third)))
        })
        .collect();
    let sentence = format!("To make {change} sound like {like}: {}. {behind}", told.join(", "));
    Said::new(State::Note, "Differs", format!("up to {}", db(largest)), sentence)
}

/// Who causes a mono loss: a sentence, and one for each layer that may be left out.
pub(in crate::survey) fn losses(loss: &Loss, survey: &Survey) -> (String, Vec<String>) {
    let band = BAND_NAMES.get(loss.loss.band).copied().unwrap_or("a band");
    let at = survey.time().sample(plumbline_measure::Grid::Song, loss.start).timecode.unwrap_or_default();
    let head = format!(
        "In the 2 s from {at} mono loses {} of {band} ({}).",
        amount(loss.loss.loss_db),
        figures::hz_span(&loss.loss.span)
    );
    let together = |layers: &[LayerId]| {
        layers.iter().map(|id| words::name(survey.name_of(*id))).collect::<Vec<_>>().join(" with ")
    };
    let mut rows: Vec<String> = loss
        .loss
        .left_out
        .iter()
        .filter(|out| !out.layers.is_empty())
        .map(|out| {
            let left = match out.loss_db {
                None => format!("nothing of {band} is left"),
                Some(db) => format!("{} lost", amount(db)),
            };
            format!("Without {}: {left}", together(&out.layers))
        })
        .collect();
    if rows.is_empty() {
        rows.push("No single layer or pair of layers explains it.".to_owned());
    }
    if loss.loss.explained.is_finite() && loss.loss.explained < EXPLAINED {
        rows.push(format!(
            "The layers explain {} of this band: one is missing here, or the bus changes the sum.",
            percent(Some(loss.loss.explained.max(0.0)))
        ));
    }
    (head, rows)
}
