//! Findings made from single tenths: peaks, clips, losses, dropouts, and a missing channel.

use super::Kind;
use super::cusum::{Cusum, Step};
use super::store::Store;
use plumbline_measure::Tenth;
use plumbline_measure::cross::{StereoPower, power_db};
use std::collections::VecDeque;

/// Level under which a tenth counts as not sounding, dBFS.
const SOUND_DBFS: f64 = -70.0;
/// Longest hole that counts as a dropout, seconds; a longer one is a pause.
const LONGEST_HOLE_SECS: f64 = 3.0;
/// Largest distance of the sound right before and after a hole under that of the 2 s before. Sound that has died away
/// is not a dropout.
const ALIVE_DB: f64 = 12.0;
/// Tenths of the 2 s before a hole. All must sound and have no hole: silence between the clips of a track is no fault.
const BEFORE: usize = 20;
/// Longest hole in a tenth, seconds, that leaves enough sound to judge.
const MOST_OF_TENTH_SECS: f64 = 0.075;
/// Tenths kept: the 2 s before a hole, and the longest hole.
const KEPT: usize = 52;

/// Power of a tenth without its DC.
pub(super) fn cross_of(tenth: &Tenth) -> StereoPower {
    tenth.sums.without_dc()
}

/// A run of tenths in which something is counted.
#[derive(Debug, Default)]
struct Count {
    track: Cusum,
    sum: f64,
    most: f64,
    at: i64,
}

impl Count {
    fn step(&mut self, store: &mut Store, kind: Kind, tenth: &Tenth, count: f64, adds: bool) {
        let over = count > store.rules.get(kind).limit;
        if over {
            self.sum += count;
            if count > self.most || self.most == 0.0 {
                (self.most, self.at) = (count, tenth.index);
            }
        }
        let worst = if adds { self.sum } else { self.most };
        let step = self.track.step(if over { 1.0 } else { -1.0 }, tenth.index, 0.0);
        self.note(store, kind, step, worst);
    }

    fn note(&mut self, store: &mut Store, kind: Kind, step: Step, worst: f64) {
        let at = self.at;
        store.follow(kind, step, |f| (f.worst, f.at) = (worst, at));
        if matches!(step, Step::Ended { .. }) || (step == Step::Nothing && !self.track.gathers()) {
            (self.sum, self.most) = (0.0, 0.0);
        }
    }
}

/// A hole of digital silence in progress.
#[derive(Clone, Copy, Debug)]
struct Hole {
    start: i64,
    secs: f64,
    /// Whether the sound was alive when the hole began.
    cut: bool,
    /// For a hole within a tenth that sounds: whether that sound was alive. The next tenth shows whether the hole
    /// ended there.
    inside: Option<bool>,
}

/// State kept between tenths.
#[derive(Debug, Default)]
pub(super) struct SingleTenth {
    peak: Count,
    clipped: Count,
    gap: Count,
    side: Cusum,
    side_worst: (f64, i64, bool),
    hole: Option<Hole>,
    /// Mean squares of the latest tenths; 0 for a tenth with a hole.
    before: VecDeque<f64>,
}

impl SingleTenth {
    pub(super) fn push(&mut self, store: &mut Store, tenth: &Tenth) {
        let cross = cross_of(tenth);
        self.count(store, tenth);
        self.one_sided(store, tenth, &cross);
        self.dropout(store, tenth, &cross);
        let hole_ms = f64::from(tenth.zeros) * 100.0 / f64::from(tenth.length.max(1));
        let whole = hole_ms < store.rules.get(Kind::Dropout).limit && tenth.sums.ll + tenth.sums.rr > 0.0;
        self.before.push_back(if whole { cross.total() } else { 0.0 });
        if self.before.len() > KEPT {
            self.before.pop_front();
        }
    }

    /// Closes what is open, where the audio stops being contiguous.
    pub(super) fn stop(&mut self, store: &mut Store) {
        if let Some(hole) = self.hole.take() {
            judge(store, hole, hole.start, hole.inside == Some(true));
        }
        for (count, kind) in
            [(&mut self.peak, Kind::TruePeak), (&mut self.clipped, Kind::Clipped), (&mut self.gap, Kind::Gap)]
        {
            let step = count.track.stop();
            store.follow(kind, step, |_| ());
        }
        let step = self.side.stop();
        store.follow(Kind::OneSided, step, |_| ());
        *self = Self::default();
    }

    fn count(&mut self, store: &mut Store, tenth: &Tenth) {
        let peak = f64::from(tenth.true_peak[0].max(tenth.true_peak[1]));
        let over_db = if peak > 0.0 { 20.0 * peak.log10() - store.ceiling_dbtp } else { f64::NEG_INFINITY };
        // Compared with the ceiling, reported as a level.
        let over = over_db > store.rules.get(Kind::TruePeak).limit;
        let level = 20.0 * peak.log10();
        let step = self.peak.track.step(if over { 1.0 } else { -1.0 }, tenth.index, 0.0);
        if over && (self.peak.most == 0.0 || level > self.peak.sum) {
            (self.peak.most, self.peak.sum, self.peak.at) = (1.0, level, tenth.index);
        }
        let worst = self.peak.sum;
        self.peak.note(store, Kind::TruePeak, step, worst);
        let flat = f64::from(tenth.flat[0]) + f64::from(tenth.flat[1]);
        self.clipped.step(store, Kind::Clipped, tenth, flat, true);
        self.gap.step(store, Kind::Gap, tenth, f64::from(tenth.faults.lost), true);
    }

    fn one_sided(&mut self, store: &mut Store, tenth: &Tenth, cross: &StereoPower) {
        let rule = store.rules.get(Kind::OneSided);
        let sounds = cross.level_dbfs() >= SOUND_DBFS;
        let (loud, quiet) = if cross.rr > cross.ll { (cross.rr, cross.ll) } else { (cross.ll, cross.rr) };
        let apart_db = if quiet > 0.0 { power_db(loud / quiet) } else { f64::INFINITY };
        let right_is_quiet = cross.rr < cross.ll;
        let evidence = match (sounds, apart_db >= rule.limit) {
            (true, true) => 1.0,
            (true, false) => -1.0,
            (false, _) => -0.25,
        };
        if sounds && apart_db >= rule.limit && (apart_db > self.side_worst.0 || !self.side.gathers()) {
            self.side_worst = (apart_db, tenth.index, right_is_quiet);
        }
        let step = self.side.step(evidence, tenth.index, rule.secs);
        let (worst, at, right) = self.side_worst;
        store.follow(Kind::OneSided, step, |f| (f.worst, f.at, f.right) = (worst, at, Some(right)));
        if !self.side.gathers() {
            self.side_worst = (0.0, tenth.index, false);
        }
    }

    fn dropout(&mut self, store: &mut Store, tenth: &Tenth, cross: &StereoPower) {
        let rule = store.rules.get(Kind::Dropout);
        let length = f64::from(tenth.length.max(1));
        let empty = tenth.sums.frames > 0 && tenth.sums.ll == 0.0 && tenth.sums.rr == 0.0;
        let zeros =
            if empty { f64::from(tenth.zeros.max(tenth.sums.frames)) } else { f64::from(tenth.zeros) };
        let run_secs = zeros / length / 10.0;
        if let Some(hole) = &mut self.hole
            && empty
        {
            hole.secs = (hole.secs + 0.1).max(run_secs);
            hole.inside = None;
            return;
        }
        // If little of a tenth sounds, the next one shows whether the sound is alive.
        let here = self.is_alive(Some(cross.total()));
        let alive = |hole_secs: f64| (hole_secs <= MOST_OF_TENTH_SECS).then_some(here);
        if let Some(mut hole) = self.hole {
            // If the hole reaches into this tenth, that part counts and the hole ended here; otherwise it ended in
            // the previous tenth.
            let reached = (run_secs - hole.secs).max(0.0);
            let grew = reached > 0.0;
            hole.secs = hole.secs.max(run_secs);
            let ended = if grew { alive(reached) } else { hole.inside.or_else(|| alive(0.0)) };
            self.hole = ended.is_none().then_some(Hole { inside: None, ..hole });
            if let Some(alive) = ended {
                judge(store, hole, tenth.index, alive);
            }
            if grew || hole.inside.is_none() {
                return;
            }
        }
        if run_secs * 1_000.0 < rule.limit {
            return;
        }
        let cut = self.is_alive(self.before.back().copied());
        let inside = if empty { None } else { alive(run_secs) };
        self.hole = Some(Hole { start: tenth.index, secs: run_secs, cut, inside });
    }

    /// Whether a mean square is not far under the sound of the 2 s before.
    fn is_alive(&self, total: Option<f64>) -> bool {
        let Some(total) = total else { return false };
        let holes = self.tenths_of_hole();
        let sounding = || self.before.iter().copied().rev().skip(holes).take(BEFORE);
        let count = sounding().count();
        if count == 0 || sounding().any(|t| power_db(t) < SOUND_DBFS) {
            return false;
        }
        let mean = sounding().sum::<f64>() / count as f64;
        power_db(total) >= SOUND_DBFS && power_db(total / mean) >= -ALIVE_DB
    }

    /// Tenths at the end that belong to the hole being judged.
    fn tenths_of_hole(&self) -> usize {
        self.before.iter().rev().take_while(|t| **t == 0.0).count()
    }
}

/// Reports a hole that ended in tenth `last`, if it is a dropout. `alive` describes the sound after it.
fn judge(store: &mut Store, hole: Hole, last: i64, alive: bool) {
    let least_ms = store.rules.get(Kind::Dropout).limit;
    let fits = hole.secs <= LONGEST_HOLE_SECS && hole.secs * 1_000.0 >= least_ms;
    if !fits || !hole.cut || !alive {
        return;
    }
    let tenths = ((hole.secs * 10.0 - 1e-6).ceil()).max(1.0);
    #[expect(clippy::cast_possible_truncation, reason = "30 at most")]
    let end = hole.start.saturating_add(tenths as i64).min(last.saturating_add(1));
    let (start, worst) = (hole.start, hole.secs * 1_000.0);
    store.follow(Kind::Dropout, Step::Began { start, end }, |f| (f.worst, f.at) = (worst, start));
    store.follow(Kind::Dropout, Step::Ended { end }, |_| ());
}
