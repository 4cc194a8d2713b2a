//! Findings about several layers: balance off target, a layer covered.

use super::cusum::Step;
use super::store::Store;
use super::{Concerned, Kind};
use crate::balance::JointTenth;
use crate::role::{PARTS, Role};
use crate::session::{BalanceTarget, LayerId};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, TENTHS_PER_SHORT_TERM, mean_square_of};
use std::collections::{BTreeMap, VecDeque};

/// Half of the window of shares and covers, tenths.
const HALF: i64 = TENTHS_PER_SHORT_TERM as i64 / 2;
/// Least share of the other roles for too much of one to be a fault of balance. Natural sound alone has nothing to be
/// balanced with.
const BESIDE: f64 = 0.001;
/// Tenths after the last occurrence at which a finding ends.
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

/// What is kept between tenths.
#[derive(Debug, Default)]
pub(super) struct BetweenLayers {
    last: Option<i64>,
    energies: VecDeque<[f64; PARTS]>,
    off: Option<(Role, So)>,
    covered: BTreeMap<LayerId, (So, Concerned, Concerned)>,
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
        self.energies.push_back(if together.compared { together.energies } else { [0.0; PARTS] });
        if self.energies.len() > TENTHS_PER_SHORT_TERM {
            self.energies.pop_front();
        }
        self.balance(store, index, target);
        self.cover(store, together, name);
    }

    pub(super) fn stop(&mut self, store: &mut Store) {
        // With no tenth after it, the state ended with the audio.
        let end = |so: &So| if self.last == Some(so.last) { so.after() } else { middle(so.after()) };
        if let Some((role, so)) = self.off {
            Self::end_balance(store, role, so, end(&so));
        }
        for (so, whom, by) in self.covered.values() {
            end_cover(store, *so, whom, by, end(so));
        }
        *self = Self::default();
    }

    /// The role furthest off over the last 3 s, counted in tolerances, and by how many percentage points.
    fn off(&self, store: &Store, target: &BalanceTarget) -> Option<(Role, f64)> {
        let mut sums = [0.0; PARTS];
        for energies in &self.energies {
            sums.iter_mut().zip(energies).for_each(|(sum, energy)| *sum += energy);
        }
        let total: f64 = sums.iter().sum();
        let tenths = TENTHS_PER_SHORT_TERM as f64;
        if self.energies.len() < TENTHS_PER_SHORT_TERM || total / tenths < mean_square_of(ABSOLUTE_GATE_LUFS)
        {
            return None;
        }
        let more = store.rules.get(Kind::Balance).limit / 100.0;
        let standing = self.off.map(|(role, _)| role);
        Role::PARTS
            .into_iter()
            .zip(target.sane().aims)
            .enumerate()
            .filter_map(|(part, (role, aim))| {
                let (aim, share) = (aim?, sums[part] / total);
                let off = share - aim.share;
                if off > 0.0 && 1.0 - share < BESIDE {
                    return None;
                }
                // A standing finding is held a little longer.
                let held = if standing == Some(role) { 0.02 } else { 0.0 };
                (off.abs() > aim.tolerance + more - held).then_some((
                    role,
                    off * 100.0,
                    off.abs() / aim.tolerance,
                ))
            })
            .max_by(|a, b| a.2.total_cmp(&b.2))
            .map(|(role, off, _)| (role, off))
    }

    fn balance(&mut self, store: &mut Store, index: i64, target: &BalanceTarget) {
        let rule = store.rules.get(Kind::Balance);
        let found = self.off(store, target);
        let same =
            |role: Role, points: f64, so: &So| role_of(self.off) == Some(role) && points * so.worst > 0.0;
        match (found, self.off) {
            (Some((role, points)), Some((_, so))) if same(role, points, &so) => {
                self.off = Some((role, So::take(Some(so), index, points)));
            }
            (Some((role, points)), former) => {
                if let Some((role, so)) = former {
                    Self::end_balance(store, role, so, middle(so.after()));
                }
                self.off = Some((role, So::take(None, index, points)));
            }
            (None, Some((role, so))) if so.is_over(index) => {
                Self::end_balance(store, role, so, middle(so.after()));
                self.off = None;
            }
            (None, _) => {}
        }
        let Some((role, mut so)) = self.off else { return };
        let step = if so.stands {
            Step::Goes { end: so.after() }
        } else if so.secs() >= rule.secs && so.last == index {
            so.stands = true;
            Step::Began { start: middle(so.first), end: so.after() }
        } else {
            Step::Nothing
        };
        self.off = Some((role, so));
        tell_balance(store, role, so, step);
    }

    fn end_balance(store: &mut Store, role: Role, so: So, end: i64) {
        if !so.stands {
            return;
        }
        let start = store.open(Kind::Balance, |_| true).map_or(end, |f| f.start);
        tell_balance(store, role, so, Step::Ended { end: end.max(start.saturating_add(1)) });
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

fn role_of(off: Option<(Role, So)>) -> Option<Role> {
    off.map(|(role, _)| role)
}

fn tell_balance(store: &mut Store, role: Role, so: So, step: Step) {
    store.follow(Kind::Balance, step, |f| {
        (f.worst, f.role) = (so.worst, Some(role));
        f.at = so.at.clamp(f.start, f.end.saturating_sub(1).max(f.start));
    });
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
