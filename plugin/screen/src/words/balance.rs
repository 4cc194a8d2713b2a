//! The balance of layers in words: the newest 3 s beside the whole programme.

use plumbline_programme::session::BalanceVerdict;
use plumbline_programme::{BalanceTarget, Role, Session, Stretch};
use plumbline_report::figures;
use plumbline_report::words::{self, Context, State, VerdictText};

/// The balance verdict: shares of the newest 3 s against the aims, beside the whole programme. A role that is off its
/// aim now is a fault, unless it meets its aim over the whole programme.
pub fn balance(verdict: &BalanceVerdict, session: &Session, target: &BalanceTarget) -> VerdictText {
    let share_of = |role, stretch| {
        session.part(role, stretch).and_then(|part| part.share).filter(|share: &f64| share.is_finite())
    };
    let now = session.roles_present().filter_map(|(_, role)| Some((role, share_of(role, Stretch::Now)?)));
    let said = words::balance(verdict, target, &now.collect::<Vec<(Role, f64)>>(), Context::Live);
    let (role, aim) = match *verdict {
        BalanceVerdict::On { role, .. } => (role, None),
        BalanceVerdict::Off { role, aim, .. } => (role, Some(aim)),
        _ => return said,
    };
    let Some(whole) = share_of(role, Stretch::Programme) else { return said };
    let whole_is_on = aim.is_some_and(|aim| aim.holds(whole));
    let whole = figures::percent(Some(whole));
    VerdictText {
        state: if whole_is_on { State::Note } else { said.state },
        sentence: format!("{} The programme has {whole} {}.", said.sentence, role.name()),
        ..said
    }
}
