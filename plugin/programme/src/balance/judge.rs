//! The verdict on the balance over the last 3 s.

use crate::role::Role;
use crate::session::{Aim, BalanceTarget, BalanceVerdict, SOUNDS_SHARE, Session, Stretch};

/// How far inside its tolerance a role must be before a standing off verdict ends, so that the words do not flicker:
/// a share.
const HELD_SHARE: f64 = 0.02;
/// Rounding error in a share that is ignored.
const ROUNDING: f64 = 1e-9;

/// Judges. *Alone*: nothing can be compared, because the asking layer is the only one or there are only mixes.
pub(super) fn judge(session: &Session, target: &BalanceTarget, before: BalanceVerdict) -> BalanceVerdict {
    let compared = session.layers.iter().any(|line| line.identity.role != Role::Mix);
    if !compared || session.layers.iter().all(|line| line.own) {
        return BalanceVerdict::Alone;
    }
    let share = |role: Role| session.part(role, Stretch::Now).and_then(|part| part.share);
    if Role::PARTS.iter().all(|role| share(*role).is_none()) {
        return BalanceVerdict::Silent;
    }
    let sounds = |role: Role| {
        let share = |stretch| session.part(role, stretch).and_then(|part| part.share);
        Stretch::ALL.into_iter().filter_map(share).any(|share| share >= SOUNDS_SHARE)
    };
    let target = target.in_force(sounds);
    let aims = Role::PARTS.into_iter().zip(target.aims).filter_map(|(role, aim)| Some((role, aim?)));
    let aimed: Vec<_> = aims.filter_map(|(role, aim)| Some((role, share(role)?, aim))).collect();
    let Some((first, its_share, _)) = aimed.first().copied() else { return BalanceVerdict::Free };
    let off = |role: Role, share: f64, aim: Aim| {
        let stands = matches!(before, BalanceVerdict::Off { role: r, aim: a, .. } if r == role && a == aim);
        let held = if stands { HELD_SHARE.min(aim.tolerance / 2.0) } else { 0.0 };
        (share - aim.share).abs() > aim.tolerance - held + ROUNDING
    };
    let distance = |share: f64, aim: Aim| (share - aim.share).abs() / aim.tolerance;
    aimed
        .into_iter()
        .filter(|(role, share, aim)| off(*role, *share, *aim))
        .max_by(|a, b| distance(a.1, a.2).total_cmp(&distance(b.1, b.2)))
        .map_or(BalanceVerdict::On { role: first, share: its_share }, |(role, share, aim)| {
            BalanceVerdict::Off { role, share, aim }
        })
}

#[cfg(test)]
mod tests;
