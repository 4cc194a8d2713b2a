//! The verdicts on a whole programme in words. Sentences shared with the screen are in [`words`].

use super::worst_stretch;
use crate::figures::{self, plain};
use crate::moment::Time;
use crate::words::{self, Context, State, VerdictText};
use plumbline_measure::FrameRate;
use plumbline_programme::delivery::SETTLED_SECS;
use plumbline_programme::mics::LEAST_COST_DB;
use plumbline_programme::pair::{Advice, NoFix};
use plumbline_programme::session::{Match, Unaccounted};
use plumbline_programme::survey::{Loss, Pair, Survey};
use plumbline_programme::verdict::{Phase, Width};
use plumbline_programme::{LayerId, Mic, PairLine, Role};

/// All verdicts, each with its subject.
pub(super) fn verdicts(survey: &Survey) -> Vec<(&'static str, VerdictText)> {
    let mut all = vec![
        ("width", width(survey)),
        ("mono", worst_stretch::mono(words::mono(&survey.verdicts.mono, Context::Files), survey)),
        ("mics", mics(survey)),
    ];
    if !survey.layers.is_empty() {
        all.push(("balance", worst_stretch::balance(balance(survey), survey)));
    }
    if let Some(first) = survey.matches.first() {
        all.push(("match", matched(first, survey)));
    }
    all.push(("joins", joins(survey)));
    all.push(("delivery", worst_stretch::delivery(delivery(survey), survey)));
    all
}

/// Why there is no coherence, if the programme sounds: "short", "few events"; nothing if it does not sound.
fn unsettled(survey: &Survey) -> Option<&'static str> {
    let whole = &survey.bus.sound.spectral.whole;
    let secs = survey.frames as f64 / survey.rate.as_f64();
    let why = if secs < SETTLED_SECS { "Too short" } else { "Too few events" };
    (whole.side_share.is_some() && whole.coherence.is_none()).then_some(why)
}

fn width(survey: &Survey) -> VerdictText {
    match (survey.verdicts.width, unsettled(survey)) {
        (Width::Unknown, Some(why)) => VerdictText::unknown(format!("{why} to tell how wide it is.")),
        (width, _) => words::width(&width, Context::Files),
    }
}

fn phase(survey: &Survey) -> VerdictText {
    match (survey.verdicts.phase, unsettled(survey)) {
        (Phase::Unknown, Some(why)) => {
            VerdictText::unknown(format!("{why} to tell whether left and right add up."))
        }
        (phase, _) => words::phase(&phase, Context::Files),
    }
}

/// The verdict on all pairs: left and right out of step first, then the layers that fight.
fn mics(survey: &Survey) -> VerdictText {
    let phase = || phase(survey);
    let advice = |of: &Pair| pair(of, survey.start.rate(), survey.celsius);
    let pairs = &survey.pairs.pairs;
    let of_stems = || pairs.iter().filter(|pair| matches!(pair.line.mics, [Mic::Layer(_), Mic::Layer(_)]));
    if let Phase::OutOfStep(found) = survey.verdicts.phase
        && found.is_fault()
    {
        let own = pairs.iter().find(|pair| pair.line.mics == [Mic::Left, Mic::Right]);
        return own.filter(|pair| outcome(&pair.line) == "repair").map_or_else(phase, advice);
    }
    let mut fights = of_stems().map(advice).filter(|text| text.state == State::Fault);
    if let Some(first) = fights.next() {
        return words::and_further(first, fights.count() as u64);
    }
    let count = |wanted: &str| of_stems().filter(|pair| outcome(&pair.line) == wanted).count();
    let (in_step, room) = (count("in_step") + count("repair"), count("room"));
    if in_step > 0 {
        let pairs = figures::count(in_step as f64, "pair of microphones adds", "pairs of microphones add");
        return VerdictText::new(
            State::Fine,
            "In step",
            "",
            format!("{pairs} up, or nothing is won by a move."),
        );
    }
    if room > 0 {
        let sentence = "What the microphones share is room, not a fault: keep them as they are.";
        return VerdictText::new(State::Fine, "Room", "", sentence);
    }
    of_stems().next().map_or_else(phase, advice)
}

/// Key in files of the outcome of a pair.
pub(super) fn outcome(line: &PairLine) -> &'static str {
    let by_stretch = line.advice_by_stretch(FrameRate::ALL[0], 20.0);
    let repairs = by_stretch.iter().find(|(_, advice)| matches!(advice, Advice::Repair(_)));
    let advice = repairs.or(by_stretch.first()).map(|(_, advice)| advice.clone());
    key(&advice.unwrap_or_else(|| line.advice(FrameRate::ALL[0], 20.0)))
}

/// Key in files of an advice.
pub(super) fn key(advice: &Advice) -> &'static str {
    match advice {
        Advice::Repair(_) => "repair",
        Advice::Leave(NoFix::NothingToWin) => "in_step",
        Advice::Leave(NoFix::Room) => "room",
        Advice::Leave(NoFix::Unrelated) => "unrelated",
        Advice::Leave(NoFix::Opposed) => "opposed",
        Advice::Leave(NoFix::Spaced) => "spaced",
        Advice::Leave(NoFix::SeveralDelays(_)) => "several_delays",
        Advice::Leave(NoFix::Drifts(_)) => "drift",
        Advice::Leave(NoFix::CannotTell(_)) => "cannot_tell",
    }
}

/// The advice on a pair, for picture at `frames` and air at `celsius` °C. A fight that hardly costs the sum anything is
/// not a fault.
pub(super) fn pair(pair: &Pair, frames: FrameRate, celsius: f64) -> VerdictText {
    let names = pair.names.each_ref().map(|name| words::name(name));
    let text = words::pair(&pair.line, &names, (frames, celsius), Context::Files);
    let costs = pair.line.cost_db.is_some_and(|db| db >= LEAST_COST_DB);
    if text.state == State::Fault && !costs { VerdictText { state: State::Note, ..text } } else { text }
}

/// The balance of the whole programme against its aims.
fn balance(survey: &Survey) -> VerdictText {
    let has = |role| survey.layers.iter().any(|layer| layer.role == role);
    let shares = Role::PARTS.into_iter().zip(&survey.roles).filter(|(role, _)| has(*role));
    let shares: Vec<(Role, f64)> = shares.filter_map(|(role, part)| Some((role, part.share?))).collect();
    words::balance(&survey.verdicts.balance, &survey.balance, &shares, Context::Files)
}

/// The difference between the mix and its layers; `None` when they agree.
pub(super) fn unaccounted(unaccounted: Unaccounted) -> Option<VerdictText> {
    words::unaccounted(unaccounted, Context::Files)
}

/// The changes that give one layer the tone of another.
pub(super) fn matched(matched: &Match, survey: &Survey) -> VerdictText {
    let [change, like] = [matched.change, matched.like].map(|id| words::name(survey.name_of(id)));
    let (moves, behind) = (words::moves(matched), words::rests_on(matched, Context::Files));
    if moves.is_empty() && words::is_unclear(matched) {
        let sentence = format!(
            "{change} differs from {like} in tone, but the difference scatters more than it amounts to: no move is advised. {behind}"
        );
        return VerdictText::new(State::Note, "Unsteady", "", sentence);
    }
    if moves.is_empty() {
        let within = figures::db(Some(words::MOVE_DB));
        let sentence = format!("{change} has the tone of {like} within {within}. {behind}");
        return VerdictText::new(State::Fine, "Alike", "", sentence);
    }
    let changes = (0..matched.change_db.len()).filter_map(|third| matched.advised_db(third));
    let largest = figures::db(Some(changes.map(f64::abs).fold(0.0, f64::max)));
    let sentence = format!("To make {change} sound like {like}: {moves}. {behind}");
    VerdictText::new(State::Note, "Differs", format!("up to {largest}"), sentence)
}

fn joins(survey: &Survey) -> VerdictText {
    let largest = survey.joins.iter().filter(|join| join.size().is_finite());
    let Some(largest) = largest.max_by(|a, b| a.size().total_cmp(&b.size())) else {
        return VerdictText::new(State::Fine, "None", "", "No join was found.");
    };
    let at = Time::of(survey).label(largest.sample);
    let count = figures::count(survey.joins.len() as f64, "join", "joins");
    let (state, head) = if largest.size() >= 1.0 { (State::Note, "Jumps") } else { (State::Fine, "Smooth") };
    let sentence = format!("The largest of {count}, at {at}: {}.", words::join(largest));
    VerdictText::new(state, head, format!("{} ×", plain(Some(largest.size()), 1)), sentence)
}

/// Whether the programme meets its delivery target.
fn delivery(survey: &Survey) -> VerdictText {
    let (verdict, loudness) = (&survey.verdicts.delivery, &survey.bus.sound.loudness);
    words::delivery(verdict, loudness, &survey.target, survey.target_name.as_deref(), Context::Files)
}

/// The layers that cause a mono loss: a sentence, and one for each layer that may be left out.
pub(super) fn losses(loss: &Loss, survey: &Survey) -> (String, Vec<String>) {
    let at = Time::of(survey).label(loss.start);
    let name = |id: LayerId| words::name(survey.name_of(id));
    let text = words::loss(&loss.loss, &format!(" in the 2\u{a0}s from {at}"), name);
    (text.head, text.rows.into_iter().chain(text.behind).collect())
}
