//! Findings about several layers: balance off target, a layer covered.

use super::cusum::Step;
use super::off_balance::{Off, Passage};
use super::store::Store;
use super::{Concerned, Kind};
use crate::balance::JointTenth;
use crate::role::{PARTS, Role};
use crate::session::{BalanceTarget, LayerId};
use plumbline_measure::loudness::TENTHS_PER_SHORT_TERM;
use std::collections::BTreeMap;

/// Half of the window of covers, tenths.
const HALF: i64 = TENTHS_PER_SHORT_TERM as i64 / 2;
/// Tenths without an occurrence after which a finding ends.
const QUIET: i64 = 5;

/// A state that holds from window to window.
#[derive(Clone, Copy, Debug)]
struct So {
    first: i64,
    last: i64,
    worst: f64,
    at: i64,
    stands: bool,
}

impl So {
    fn take(known: Option<Self>, index: i64, worst: f64) -> Self {
        match known {
            Some(so) if worst.abs() > so.worst.abs() => Self { last: index, worst, at: index, ..so },
            Some(so) => Self { last: index, ..so },
            None => Self { first: index, last: index, worst, at: index, stands: false },
        }
    }

    fn secs(&self) -> f64 {
        self.last.saturating_sub(self.first).saturating_add(1) as f64 / 10.0
    }

    /// The tenth after the last.
    fn after(&self) -> i64 {
        self.last.saturating_add(1)
    }

    fn is_over(&self, index: i64) -> bool {
        index.saturating_sub(self.last) >= QUIET
    }
}

/// State kept between tenths.
#[derive(Debug, Default)]
pub(super) struct BetweenLayers {
    last: Option<i64>,
    passage: Passage,
    off: Option<OffAim>,
    covered: BTreeMap<LayerId, (So, Concerned, Concerned)>,
}

/// A role that is off its aim.
#[derive(Clone, Copy, Debug)]
struct OffAim {
    role: Role,
    /// The tenth since which the role is off: the middle of the stretch that first showed it, or the passage's start.
    since: i64,
    so: So,
}

impl BetweenLayers {
    pub(super) fn push(
        &mut self,
        store: &mut Store,
        together: &JointTenth,
        target: &BalanceTarget,
        name: &dyn Fn(LayerId) -> String,
    ) {
        let index = together.index;
        if self.last.is_some_and(|last| last.checked_add(1) != Some(index)) {
            self.stop(store);
        }
        self.last = Some(index);
        self.passage.push(if together.compared { together.energies } else { [0.0; PARTS] });
        self.balance(store, index, target);
        self.cover(store, together, name);
    }

    /// Begins a new passage with the next tenth; a role that was off stops being off here.
    pub(super) fn begin_passage(&mut self, store: &mut Store) {
        if let (Some(off), Some(last)) = (self.off.take(), self.last) {
            end_balance(store, &off, last.saturating_add(1));
        }
        self.passage.begin();
    }

    pub(super) fn stop(&mut self, store: &mut Store) {
        if let Some(off) = self.off {
            let end = off.so.after();
            end_balance(store, &off, if self.last == Some(off.so.last) { end } else { self.middle(end) });
        }
        // With no tenth after it, the state ended with the audio.
        let end = |so: &So| if self.last == Some(so.last) { so.after() } else { middle(so.after()) };
        for (so, whom, by) in self.covered.values() {
            end_cover(store, *so, whom, by, end(so));
        }
        *self = Self::default();
    }

    /// The middle of the stretch of the passage that ends at a tenth.
    fn middle(&self, index: i64) -> i64 {
        index.saturating_sub(i64::try_from(self.passage.length() / 2).unwrap_or(0))
    }

    fn balance(&mut self, store: &mut Store, index: i64, target: &BalanceTarget) {
        let rule = store.rules.get(Kind::Balance);
        let found = self.passage.off(target, rule.limit / 100.0, self.off.map(|off| off.role));
        let is_same = |off: &OffAim, found: &Off| off.role == found.role && found.points * off.so.worst > 0.0;
        match (found, self.off) {
            (Some(found), Some(off)) if is_same(&off, &found) => {
                self.off = Some(OffAim { so: So::take(Some(off.so), index, found.points), ..off });
            }
            (Some(found), former) => {
                if let Some(off) = former {
                    end_balance(store, &off, self.middle(off.so.after()));
                }
                let whole = i64::try_from(self.passage.length()).unwrap_or(0);
                let first = self.passage.is_first_judged();
                let since =
                    if first { index.saturating_add(1).saturating_sub(whole) } else { self.middle(index) };
                self.off = Some(OffAim { role: found.role, since, so: So::take(None, index, found.points) });
            }
            (None, Some(off)) if off.so.is_over(index) => {
                end_balance(store, &off, self.middle(off.so.after()));
                self.off = None;
            }
            (None, _) => {}
        }
        let Some(off) = &mut self.off else { return };
        let step = if off.so.stands {
            Step::Goes { end: off.so.after() }
        } else if off.so.secs() >= rule.secs && found.is_some_and(|found| found.confirmed) {
            off.so.stands = true;
            Step::Began { start: off.since, end: off.so.after() }
        } else {
            Step::Nothing
        };
        tell_balance(store, off, step);
    }

    fn cover(&mut self, store: &mut Store, together: &JointTenth, name: &dyn Fn(LayerId) -> String) {
        let (index, rule) = (together.index, store.rules.get(Kind::Covered));
        for (id, covered) in together.covered.iter().filter(|(_, covered)| covered.by_db >= rule.limit) {
            let known = self.covered.remove(id);
            let concerned = |id: LayerId| Concerned { id, name: name(id) };
            let so = So::take(known.as_ref().map(|k| k.0), index, covered.by_db);
            self.covered.insert(*id, (so, concerned(*id), concerned(covered.by)));
        }
        let over: Vec<LayerId> =
            self.covered.iter().filter(|(_, (so, ..))| so.is_over(index)).map(|(id, _)| *id).collect();
        for id in over {
            if let Some((so, whom, by)) = self.covered.remove(&id) {
                end_cover(store, so, &whom, &by, middle(so.after()));
            }
        }
        for (so, whom, by) in self.covered.values_mut() {
            let end = so.after();
            let step = if so.stands {
                Step::Goes { end }
            } else if so.secs() >= rule.secs && so.last == index {
                so.stands = true;
                Step::Began { start: middle(so.first), end }
            } else {
                Step::Nothing
            };
            tell_cover(store, *so, whom, by, step);
        }
    }
}

/// The middle of the 3 s that end at a tenth.
fn middle(index: i64) -> i64 {
    index.saturating_sub(HALF)
}

fn tell_balance(store: &mut Store, off: &OffAim, step: Step) {
    store.follow(Kind::Balance, step, |f| {
        (f.worst, f.role) = (off.so.worst, Some(off.role));
        f.at = off.so.at.clamp(f.start, f.end.saturating_sub(1).max(f.start));
    });
}

fn end_balance(store: &mut Store, off: &OffAim, end: i64) {
    if !off.so.stands {
        return;
    }
    let start = store.open(Kind::Balance, |_| true).map_or(end, |f| f.start);
    tell_balance(store, off, Step::Ended { end: end.max(start.saturating_add(1)) });
}

fn end_cover(store: &mut Store, so: So, whom: &Concerned, by: &Concerned, end: i64) {
    if so.stands {
        let start = store.open(Kind::Covered, |f| is_about(f, whom)).map_or(so.first, |f| f.start);
        tell_cover(store, so, whom, by, Step::Ended { end: end.max(start.saturating_add(1)) });
    }
}

fn is_about(finding: &super::Finding, whom: &Concerned) -> bool {
    finding.layers.first().is_some_and(|first| first.id == whom.id)
}

fn tell_cover(store: &mut Store, so: So, whom: &Concerned, by: &Concerned, step: Step) {
    store.follow_one(
        Kind::Covered,
        |f| is_about(f, whom),
        step,
        |f| {
            f.worst = so.worst;
            f.layers = vec![whom.clone(), by.clone()];
            f.at = so.at.clamp(f.start, f.end.saturating_sub(1).max(f.start));
        },
    );
}
