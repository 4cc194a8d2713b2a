//! The balance of layers in words: the verdict, and the difference between the mix and its layers.

use super::{Context, State, VerdictText, points_off};
use crate::figures::{self, percent};
use plumbline_programme::session::{Aim, BalanceVerdict, UNACCOUNTED_DB, Unaccounted};
use plumbline_programme::{BalanceTarget, Role};

/// Least share of a role that may be changed instead of the one that is off its aim.
const RIVAL_SHARE: f64 = 0.005;

/// The balance verdict: the `shares` of what is heard, in the order of [`Role::PARTS`], against the aims.
pub fn balance(
    verdict: &BalanceVerdict,
    target: &BalanceTarget,
    shares: &[(Role, f64)],
    context: Context,
) -> VerdictText {
    match *verdict {
        BalanceVerdict::Alone => VerdictText::unknown(context.pick(
            "No other layer is heard. Insert Plumbline on each layer: same session letter, a role for each.",
            "No layers were given to compare.",
        )),
        BalanceVerdict::Silent => VerdictText::unknown(context.pick(
            "Layers are heard, and none of them sounds at the moment.",
            "None of the layers is over the gate: there are no shares.",
        )),
        BalanceVerdict::Free => {
            let sentence = format!("{} No role has an aim.", heard(shares, context));
            VerdictText::new(State::Fine, "No aim", "", sentence)
                .in_short("No role has an aim; Layers page sets them.")
        }
        BalanceVerdict::On { role, share } => {
            let aim = target.aims.get(role.part().unwrap_or(usize::MAX)).copied().flatten();
            let aim = aim.map(|aim| aim_words(&aim));
            let figure = aim.as_ref().map_or(String::new(), |aim| format!("aim {aim}"));
            let short = aim.map_or("Within its aim.".to_owned(), |aim| format!("Within its aim of {aim}."));
            VerdictText::new(State::Fine, head(role, share), figure, heard(shares, context)).in_short(short)
        }
        BalanceVerdict::Off { role, share, aim } => off(role, share, aim, shares, context),
    }
}

fn off(role: Role, share: f64, aim: Aim, shares: &[(Role, f64)], context: Context) -> VerdictText {
    let (do_it, other) = if share < aim.share { ("Raise it", "lower") } else { ("Lower it", "raise") };
    let by = gain_db(share, aim.share)
        .map(|db| format!(" by {}", figures::db(Some(db.abs()))))
        .unwrap_or_default();
    let rivals = shares.iter().filter(|(rival, has)| *rival != role && *has >= RIVAL_SHARE);
    let rival = rivals.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(rival, has)| {
        let has = context.pick(format!(", which has {}", percent(Some(*has))), String::new());
        format!(", or {other} {}{has}", rival.name())
    });
    let all = context.pick(String::new(), format!(" {}", heard(shares, context)));
    let sentence = format!(
        "{} is {} its aim. {do_it}{by}{}.{all}",
        role.name(),
        points_off((share - aim.share) * 100.0),
        rival.unwrap_or_default()
    );
    VerdictText::new(State::Fault, head(role, share), format!("aim {}", aim_words(&aim)), sentence)
        .in_short(format!("{do_it}{by}."))
}

/// "70 ± 10 %".
pub fn aim_words(aim: &Aim) -> String {
    let whole = |share: f64| figures::plain(Some(share * 100.0), 0);
    format!("{} ± {}", whole(aim.share), figures::unit(whole(aim.tolerance), "%"))
}

fn head(role: Role, share: f64) -> String {
    format!("{} {}", role.name(), percent(Some(share)))
}

/// "Of what is heard now 64 % is Natural, 21 % Foley, 15 % Design."
fn heard(shares: &[(Role, f64)], context: Context) -> String {
    let Some(((first, share), others)) = shares.split_first() else {
        return context.pick("Nothing sounds now.", "Nothing sounds.").to_owned();
    };
    let of = context.pick("Of what is heard now", "Of all that is heard");
    let others = others.iter().map(|(role, share)| format!(", {} {}", percent(Some(*share)), role.name()));
    format!("{of} {} is {}{}.", percent(Some(*share)), first.name(), others.collect::<String>())
}

/// Gain that moves a role's share to its aim, dB, if all others stay as they are: energies add up, so the odds share/(1
/// − share) scale with the gain.
pub fn gain_db(share: f64, aim: f64) -> Option<f64> {
    let db = 10.0 * (aim * (1.0 - share) / (share * (1.0 - aim))).log10();
    (db.is_finite() && db.abs() < 60.0).then_some(db)
}

/// The difference between the mix and its layers, with the likely reason; `None` when they agree within
/// [`UNACCOUNTED_DB`].
pub fn unaccounted(unaccounted: Unaccounted, context: Context) -> Option<VerdictText> {
    let db = unaccounted.db.filter(|db| db.abs() >= UNACCOUNTED_DB)?;
    if db.is_infinite() {
        let (head, sentence, short) = if db < 0.0 {
            (
                "Layers cancel",
                "The mix is silent while its layers sound: they cancel, or it is muted after them.",
                "The layers cancel: the mix is silent.",
            )
        } else {
            (
                "No layer sounds",
                "The mix sounds while all of its layers are silent: the layer that sounds is missing here.",
                "The sounding layer is missing here.",
            )
        };
        return Some(VerdictText::new(State::Fault, head, "", sentence).in_short(short));
    }
    let (more, one, faders, bus) = if db > 0.0 {
        ("more", "a layer is missing here", "above", "adds to it")
    } else {
        ("less", "they cancel each other", "below", "takes away")
    };
    let size = figures::db(Some(db.abs()));
    // Live layers are measured after their faders; files have none.
    let faders = context.pick(String::new(), format!(", faders are {faders} these files"));
    let sentence = format!("The mix holds {size} {more} than its layers: {one}{faders}, or the bus {bus}.");
    let short = if db > 0.0 {
        format!("Mix {size} over its layers: one is missing?")
    } else {
        format!("Mix {size} under its layers: they cancel?")
    };
    let figure = figures::unit(figures::signed(Some(db), 1), "dB");
    Some(VerdictText::new(State::Note, "Unaccounted", figure, sentence).in_short(short))
}
