//! Shares over a whole programme of any length, from tenths that come once and in order: for files, not for a song
//! that is replayed.

use super::gated_sums::weights;
use super::layer_page::Page;
use super::packed_energy::Packed;
use super::page_sums::{Member, PageSums};
use super::shares::{BandWeights, Parts, unaccounted};
use super::tone_match::{Pairs, both_sound, least_of};
use super::totals::Totals;
use crate::paged::{PAGE, index_of, ones, place};
use crate::role::{PARTS, Role};
use crate::session::{LayerId, MOST_LAYERS, Match, Part, Unaccounted};
use plumbline_measure::Digest;
use plumbline_measure::bands::{BandEdges, THIRDS};

/// Most tenths kept for matches: ten minutes in which Foley and natural sound play together. When there are more,
/// every second page of 6.4 s is dropped and from then on only every second page is kept, and so on.
const MOST_MATCHED: u32 = 6_000;

/// The store of a whole programme.
///
/// # Shape
/// [`Whole::take`] takes a tenth of one layer, given by its index. The layers may come in any order within a page of
/// 64 tenths; a tenth of an earlier page is ignored.
///
/// # Definition
/// Bit-equal to the programme in the answer of [`Balance::ask`](super::Balance::ask), for programmes no longer than a
/// balance keeps. Each Foley layer is matched with the loudest natural one.
///
/// # Memory
/// Four bytes per tenth and layer, because the gate is not known before the end (BS.1770 gates against the mean of
/// all). For matches, the thirds of the tenths in which a Foley layer and a natural one sound, at most ten minutes of
/// them.
///
/// # Accuracy
/// `whole_programmes_are_answered_as_a_balance_answers` compares it with [`Balance`](super::Balance).
#[derive(Debug)]
pub struct Whole {
    roles: Vec<(LayerId, Role)>,
    members: Vec<Member>,
    number: Option<i64>,
    open: Vec<Box<Page>>,
    totals: Totals,
    past: Vec<Past>,
    loudest: Vec<f32>,
    matched: Vec<Both>,
    /// Pages so far in which a Foley layer and a natural one sounded; one in `one_of` is kept.
    of_both: u64,
    one_of: u64,
    /// Tenths in the pages kept.
    kept: u32,
    count: u64,
}

/// The tenths of a page in which a Foley layer and a natural one sound.
#[derive(Debug)]
struct Both {
    slots: u64,
    /// For each layer, its tenths if it is Foley or natural.
    layers: Box<[Option<Tones>]>,
}

/// The kept tenths of one layer in a page.
#[derive(Debug)]
struct Tones {
    slots: u64,
    tones: Box<[Tone]>,
}

/// The part of a tenth that a match needs.
#[derive(Debug)]
struct Tone {
    k: f32,
    thirds: [Packed; THIRDS],
    windows: u8,
}

impl Tones {
    fn of(page: &Page, slots: u64) -> Self {
        let tone =
            |slot: usize| Tone { k: page.k[slot], thirds: page.thirds[slot], windows: page.windows[slot] };
        Self { slots, tones: ones(slots).map(tone).collect() }
    }

    /// A page with the kept tenths.
    fn page(&self) -> Box<Page> {
        let mut page = Box::<Page>::default();
        for (slot, tone) in ones(self.slots).zip(&self.tones) {
            page.k[slot] = tone.k;
            page.thirds[slot] = tone.thirds;
            page.windows[slot] = tone.windows;
        }
        page.used = self.slots;
        page
    }
}

/// The part of a complete page that gating needs.
#[derive(Debug)]
struct Past {
    number: i64,
    layers: u64,
    whole: u64,
    used: Box<[u64]>,
    k: Box<[[f32; PAGE]]>,
}

/// The results for a whole programme.
#[derive(Clone, Debug, PartialEq)]
pub struct ProgrammeAnswer {
    /// The layers in the order of [`Whole::new`]; for a mix only the loudness.
    pub layers: Vec<Part>,
    /// The roles, in the order of [`Role::PARTS`].
    pub roles: [Part; PARTS],
    /// Seconds reported by any layer.
    pub secs: f64,
    /// The first layer of role [`Role::Mix`] against the sum of the layers that are not mixes.
    pub unaccounted: Unaccounted,
    /// Each Foley layer against the loudest natural one, in the order of the layers.
    pub matches: Vec<Match>,
}

impl Whole {
    /// An empty store for these layers; the first [`MOST_LAYERS`] count.
    pub fn new(layers: &[(LayerId, Role)]) -> Self {
        let roles: Vec<_> = layers.iter().copied().take(MOST_LAYERS).collect();
        let members: Vec<Member> =
            roles.iter().map(|(id, role)| Member { id: *id, part: role.part() }).collect();
        Self {
            open: members.iter().map(|_| Box::default()).collect(),
            totals: Totals::new(members.len()),
            loudest: vec![0.0; members.len()],
            roles,
            members,
            number: None,
            past: Vec::new(),
            matched: Vec::new(),
            of_both: 0,
            one_of: 1,
            kept: 0,
            count: 0,
        }
    }

    /// Takes a tenth of a layer, given by its index. Ignores a tenth before the current page, and layers that do not
    /// count.
    pub fn take(&mut self, layer: usize, digest: &Digest) {
        let (number, slot) = place(digest.index);
        match self.number {
            Some(open) if number < open => return,
            Some(open) if number > open => self.close(),
            _ => {}
        }
        self.number = Some(number);
        self.count += 1;
        if let Some(page) = self.open.get_mut(layer) {
            page.write(slot, digest, self.count);
        }
    }

    /// Adds the current page to the sums.
    fn close(&mut self) {
        let Some(number) = self.number.take() else { return };
        for page in &mut self.open {
            page.settle();
        }
        let used = |page: &Page| page.used != 0;
        let pages: Vec<(usize, Member, &Page)> = (0..)
            .zip(self.members.iter().zip(&self.open))
            .filter(|(_, (_, page))| used(page))
            .map(|(at, (member, page))| (at, *member, &**page))
            .collect();
        let Some(page_sums) = PageSums::of(&pages) else { return };
        self.totals.count(&page_sums, u64::MAX);
        page_sums.lines.iter().for_each(|line| self.totals.add(line));
        self.past.push(Past {
            number,
            layers: page_sums.layers,
            whole: page_sums.whole,
            used: self.open.iter().map(|page| page.used).collect(),
            k: self.open.iter().map(|page| page.k).collect(),
        });
        for (loudest, page) in self.loudest.iter_mut().zip(&self.open) {
            *loudest = page.k.iter().copied().fold(*loudest, f32::max);
        }
        self.keep_for_matches();
        self.open.iter_mut().filter(|page| page.used != 0).for_each(|page| **page = Page::default());
    }

    fn keep_for_matches(&mut self) {
        // A layer that sounds now may turn out too quiet later, but never the reverse.
        let sounding: Vec<u64> = (0..self.open.len()).map(|at| self.sounds(at)).collect();
        let of_role = |wanted: Role| {
            let layers = self.roles.iter().zip(&sounding).filter(|((_, role), _)| *role == wanted);
            layers.fold(0, |slots, (_, sounds)| slots | sounds)
        };
        let slots = of_role(Role::Foley) & of_role(Role::Natural);
        if slots == 0 {
            return;
        }
        let layers = self.open.iter().zip(&self.roles).zip(&sounding);
        let layers = layers.map(|((page, (_, role)), sounds)| {
            let its = slots & sounds;
            (its != 0 && matches!(role, Role::Foley | Role::Natural)).then(|| Tones::of(page, its))
        });
        self.of_both += 1;
        if !(self.of_both - 1).is_multiple_of(self.one_of) {
            return;
        }
        self.matched.push(Both { slots, layers: layers.collect() });
        self.kept += slots.count_ones();
        while self.kept > MOST_MATCHED {
            let mut place = 0;
            self.matched.retain(|_| {
                place += 1;
                place % 2 == 1
            });
            self.one_of *= 2;
            self.kept = self.matched.iter().map(|both| both.slots.count_ones()).sum();
        }
    }

    /// The slots of the open page in which a layer sounds, as far as is known so far.
    fn sounds(&self, layer: usize) -> u64 {
        let (page, least) = (&self.open[layer], least_of(self.loudest[layer]));
        ones(page.used)
            .filter(|slot| f64::from(page.k[*slot]) >= least)
            .fold(0, |slots, slot| slots | 1 << slot)
    }

    /// The answer for everything taken.
    pub fn answer(mut self, edges: &BandEdges) -> ProgrammeAnswer {
        self.close();
        let mut totals = std::mem::replace(&mut self.totals, Totals::new(0));
        self.gate(&mut totals);
        let parts = Parts::of(&totals, &self.members, &BandWeights::new(edges));
        let mix = self.members.iter().position(|member| member.part.is_none());
        ProgrammeAnswer {
            layers: parts.layers,
            roles: parts.roles,
            secs: f64::from(totals.tenths) / 10.0,
            unaccounted: mix.map(|at| unaccounted(&totals.layers[at])).unwrap_or_default(),
            matches: self.matches(&totals),
        }
    }

    /// Replaces the energies over all tenths by those over the passing gating blocks.
    fn gate(&self, totals: &mut Totals) {
        let tenths: Vec<(i64, f64, bool)> = self
            .past
            .iter()
            .flat_map(|past| {
                ones(past.layers).map(|slot| {
                    let whole = past.whole >> slot & 1 == 1;
                    (index_of(past.number, slot), past.total(slot, &self.members), whole)
                })
            })
            .collect();
        let mut next = weights(&tenths).into_iter();
        drop(tenths);
        totals.begin_gated();
        for past in &self.past {
            let mut of_page = [0_u8; PAGE];
            ones(past.layers).zip(&mut next).for_each(|(slot, weight)| of_page[slot] = weight);
            totals.weight += of_page.iter().map(|weight| f64::from(*weight)).sum::<f64>();
            let by_weight = |at: usize, of: &dyn Fn(usize) -> f64| {
                ones(past.used[at]).map(|slot| f64::from(of_page[slot]) * of(slot)).sum::<f64>()
            };
            for (at, (member, sums)) in self.members.iter().zip(&mut totals.layers).enumerate() {
                let energy = by_weight(at, &|slot| f64::from(past.k[at][slot]));
                sums.energy += energy;
                if member.part.is_none() {
                    sums.share([energy, by_weight(at, &|slot| past.total(slot, &self.members))]);
                }
            }
        }
        totals.sounds = totals.weight > 0.0;
    }

    fn matches(&self, totals: &Totals) -> Vec<Match> {
        let of_role = |wanted: Role| {
            (0..self.roles.len())
                .filter(move |at| self.roles[*at].1 == wanted)
                .filter(|at| totals.layers[*at].energy > 0.0)
        };
        let energy = |at: usize| totals.layers[at].energy;
        let Some(like) = of_role(Role::Natural).max_by(|a, b| energy(*a).total_cmp(&energy(*b))) else {
            return Vec::new();
        };
        of_role(Role::Foley).filter_map(|change| self.matched([change, like])).collect()
    }

    fn matched(&self, places: [usize; 2]) -> Option<Match> {
        let least = places.map(|at| least_of(self.loudest[at]));
        let mut pairs = Pairs::default();
        for both in &self.matched {
            if let [Some(first), Some(second)] = places.map(|at| both.layers[at].as_ref().map(Tones::page)) {
                let slots = both_sound([&first, &second], least);
                pairs.join(&Pairs::of(&first, &second, slots));
            }
        }
        pairs.matched((self.members[places[0]].id, self.members[places[1]].id))
    }

    /// Bytes kept, without the lists around them.
    pub fn bytes(&self) -> usize {
        let layers = self.members.len();
        let tones: usize =
            self.matched.iter().flat_map(|both| &both.layers).flatten().map(|t| t.tones.len()).sum();
        self.past.len() * (size_of::<Past>() + layers * size_of::<(u64, [f32; PAGE])>())
            + self.matched.len() * (size_of::<Both>() + layers * size_of::<Option<Tones>>())
            + tones * size_of::<Tone>()
            + self.open.len() * size_of::<Page>()
    }
}

impl Past {
    /// Energy of the layers, mixes excluded, in a tenth.
    fn total(&self, slot: usize, members: &[Member]) -> f64 {
        let layers = members.iter().zip(&self.k).filter(|(member, _)| member.part.is_some());
        layers.map(|(_, k)| f64::from(k[slot])).sum()
    }
}

#[cfg(test)]
mod tests;
