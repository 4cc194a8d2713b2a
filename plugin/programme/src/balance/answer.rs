//! Answers a question with a session.

use super::cover::Cover;
use super::gated_sums::{ALWAYS, LayerStores};
use super::layer_store::LayerStore;
use super::now_window::{self, SHOWN, Standing};
use super::page_sums::Member;
use super::shares::{BandWeights, Parts, unaccounted};
use super::tone_match::ToneMatcher;
use super::totals::Totals;
use super::{Balance, Mark, Peer, Question, late};
use crate::role::Role;
use crate::session::{LayerId, LayerLine, MOST_LAYERS, Match, RolePart, Session, Unaccounted, order_key};
use plumbline_measure::Grid;
use plumbline_measure::bands::{THIRDS, third_centre_hz, window_for};
use plumbline_measure::cross::StereoPower;
use plumbline_measure::loudness::TENTHS_PER_SHORT_TERM;
use plumbline_measure::reading::{Coherent, Gate, Maybe, Readings};
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

/// An empty range.
const NEVER: RangeInclusive<i64> = RangeInclusive::new(1, 0);

/// The last 3 s: the grid and the tenths.
struct Now {
    grid: Grid,
    range: RangeInclusive<i64>,
}

/// Everything that an answer is made from.
struct Sight<'a> {
    peers: &'a [&'a Peer],
    members: &'a [Member],
    stores: &'a LayerStores<'a>,
    own: LayerId,
    now: Now,
    tallies: [Totals; 3],
    mix: Option<usize>,
}

impl Balance {
    /// Answers a question. Fills everything of a session except letter, loss and notes.
    ///
    /// The answer is always exact for all tenths taken so far. It costs little when few pages have changed since
    /// the last call; the first call after a layer came, left or changed its role walks over all tenths.
    pub fn ask(&mut self, question: &Question<'_>) -> Session {
        let mut seen = BTreeSet::new();
        let peers: Vec<&Peer> =
            question.peers.iter().filter(|p| seen.insert(p.id)).take(MOST_LAYERS).collect();
        let members: Vec<Member> =
            peers.iter().map(|p| Member { id: p.id, part: p.identity.role.part() }).collect();
        self.asked = members.iter().map(|m| m.id).collect();
        let Balance { stores, aggregate, matcher, .. } = self;
        aggregate.refresh(&members, stores);
        let stores: Vec<Option<&LayerStore>> = members.iter().map(|m| stores.get(&m.id)).collect();

        let standing: Vec<Standing<'_>> = peers
            .iter()
            .zip(&stores)
            .filter_map(|(peer, store)| {
                let own = peer.id == question.own;
                Some(Standing { own, running: peer.running, store: (*store)? })
            })
            .collect();
        let now = match question.at {
            Some(at) => Now::ending(at.grid, Some(at.index)),
            None => now(&standing),
        };
        let has_song = standing.iter().any(|s| s.store.has(Grid::Song));
        let song = if has_song { Grid::Song } else { Grid::Clock };
        let present = question.at.filter(|at| at.grid == song).map(|at| at.index);
        let passage =
            passage(question.marks, song, present.or_else(|| now_window::end(&standing, song, SHOWN)));
        let tallies = [
            aggregate.totals(&stores, now.grid, &now.range),
            aggregate.totals(&stores, song, &passage),
            aggregate.programme(&stores, song),
        ];
        let mix = mix(&peers, question.own, &tallies[2]);
        let weights = BandWeights::new(question.edges);
        let parts = [0, 1, 2].map(|at| Parts::of(&tallies[at], &members, &weights));
        let sight =
            Sight { peers: &peers, members: &members, stores: &stores, own: question.own, now, tallies, mix };
        Session {
            layers: sight.lines(&parts),
            roles: std::array::from_fn(|role| RolePart {
                layers: members.iter().map(|m| u32::from(m.part == Some(role))).sum(),
                parts: [0, 1, 2].map(|stretch| parts[stretch].roles[role]),
            }),
            secs: [0, 1, 2].map(|stretch| f64::from(sight.tallies[stretch].tenths) / 10.0),
            unaccounted: [0, 1, 2].map(|stretch| match mix {
                Some(mix) => unaccounted(&sight.tallies[stretch].layers[mix]),
                None => Unaccounted::default(),
            }),
            mix: mix.map(|at| peers[at].id),
            matched: sight.matched(matcher, question.pair, song, &passage),
            ..Session::default()
        }
    }
}

/// The last 3 s that all layers have reported.
fn now(standing: &[Standing<'_>]) -> Now {
    let grid = now_window::grid_now(standing).unwrap_or_default();
    Now::ending(grid, now_window::end(standing, grid, SHOWN))
}

impl Now {
    fn ending(grid: Grid, end: Option<i64>) -> Self {
        let range = match end {
            Some(end) => end.saturating_sub(TENTHS_PER_SHORT_TERM as i64 - 1)..=end,
            None => NEVER,
        };
        Self { grid, range }
    }
}

/// The tenths between the marks on either side of the present position; all of them without marks.
fn passage(marks: &[Mark], grid: Grid, present: Option<i64>) -> RangeInclusive<i64> {
    let Some(present) = present else { return ALWAYS };
    let indices = || marks.iter().filter(|mark| mark.grid == grid).map(|mark| mark.index);
    let first = indices().filter(|index| *index <= present).max().unwrap_or(i64::MIN);
    let next = indices().filter(|index| *index > present).min();
    first..=next.map_or(i64::MAX, |next| next.saturating_sub(1))
}

/// The mix compared: the layer that asks, if it is a mix, otherwise the loudest mix of the programme.
fn mix(peers: &[&Peer], own: LayerId, programme: &Totals) -> Option<usize> {
    let mixes = || (0..peers.len()).filter(|at| peers[*at].identity.role == Role::Mix);
    let energy = |at: usize| (programme.layers[at].energy, programme.layers[at].ungated);
    mixes().find(|at| peers[*at].id == own).or_else(|| {
        // The first of equally loud ones.
        mixes().rev().max_by(|a, b| {
            let (a, b) = (energy(*a), energy(*b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        })
    })
}

impl Sight<'_> {
    fn lines(&self, parts: &[Parts; 3]) -> Vec<LayerLine> {
        let tenths = self.tallies[0].tenths;
        let thirds: Vec<[f64; THIRDS]> = self.stores.iter().map(|a| self.thirds(*a, tenths)).collect();
        let cover = Cover::new(self.members, &thirds);
        let end = *self.now.range.end();
        let playing = self
            .peers
            .iter()
            .zip(self.stores)
            .any(|(peer, store)| peer.running && store.is_some_and(|a| a.latest() == Some(Grid::Song)));
        let mut lines: Vec<LayerLine> = (0..self.peers.len())
            .map(|at| {
                let (peer, store) = (self.peers[at], self.stores[at]);
                let has_part = self.members[at].part.is_some();
                let stereo = store
                    .and_then(|a| a.stereo(self.now.grid, &self.now.range))
                    .map(|cross| Readings::of(&cross, Coherent::default(), Gate::broadband()))
                    .unwrap_or_default();
                let mix = self.mix.and_then(|mix| self.stores[mix]).filter(|_| has_part);
                LayerLine {
                    id: peer.id,
                    identity: peer.identity.clone(),
                    own: peer.id == self.own,
                    running: peer.running,
                    on_song: !playing || store.is_some_and(LayerStore::sang),
                    parts: [0, 1, 2].map(|stretch| parts[stretch].layers[at]),
                    thirds_dbfs: levels(&thirds[at]),
                    side_share: stereo.side_share,
                    mono_loss_db: stereo.mono_loss_db,
                    covered: (has_part && self.tallies[0].layers[at].sounds).then(|| cover.of(at)).flatten(),
                    late_secs: store
                        .zip(mix)
                        .and_then(|(layer, mix)| late::late_secs(layer, mix, self.now.grid, end)),
                    missed: peer.missed,
                    altered: peer.altered,
                    absent: peer.absent,
                }
            })
            .collect();
        lines.sort_by_cached_key(|line| (line.identity.role, order_key(&line.identity.name), line.id));
        lines
    }

    /// Mean squares of the thirds over the last 3 s. A tenth that the layer did not report is silent; a tenth
    /// reported without a frame of the third's window does not count.
    fn thirds(&self, store: Option<&LayerStore>, tenths: u32) -> [f64; THIRDS] {
        let Some(store) = store else { return [0.0; THIRDS] };
        let (sums, unmeasured) = store.thirds(self.now.grid, &self.now.range);
        std::array::from_fn(|third| {
            let measured = tenths.saturating_sub(unmeasured[window_for(third_centre_hz(third))]);
            if measured == 0 { 0.0 } else { sums[third] / f64::from(measured) }
        })
    }

    /// The match asked for, or that of the loudest Foley layer of the programme with the loudest natural one.
    fn matched(
        &self,
        matcher: &mut ToneMatcher,
        pair: Option<(LayerId, LayerId)>,
        grid: Grid,
        passage: &RangeInclusive<i64>,
    ) -> Option<Match> {
        let loudest = |role: Role| {
            let energy = |at: &usize| self.tallies[2].layers[*at].energy;
            (0..self.peers.len())
                .filter(|at| self.peers[*at].identity.role == role && energy(at) > 0.0)
                .max_by(|a, b| energy(a).total_cmp(&energy(b)))
                .map(|at| self.peers[at].id)
        };
        let (change, like) = pair.or_else(|| loudest(Role::Foley).zip(loudest(Role::Natural)))?;
        let store = |id: LayerId| {
            let at = self.members.iter().position(|m| m.id == id)?;
            self.stores[at]
        };
        matcher.matched((change, like), [store(change)?, store(like)?], grid, passage)
    }
}

/// Levels of the thirds in dBFS, where they are over their gate.
fn levels(means: &[f64; THIRDS]) -> [Maybe; THIRDS] {
    let gate = Gate::bands(means.iter().copied().fold(0.0, f64::max));
    means.map(|mean| {
        let cross = StereoPower { ll: mean, ..StereoPower::default() };
        Maybe::new(gate.open(&cross).then(|| cross.level_dbfs()))
    })
}
