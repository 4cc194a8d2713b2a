//! The search for layers that the mix does not contain, by comparing their audio on the board.
//!
//! One layer is looked for at a time, the one that has waited longest. This works on the song grid only: on the clock
//! grid, layers are positioned by the arrival of their audio.
//!
//! A layer counts as absent only if another layer was found since it went missing, or if it was once found and no other
//! layer is missing. If all go missing at once, the latency to the mix may have become too long, and none counts as
//! absent.

use super::mono_loss::plays_with;
use crate::board::{BoardEntry, BoardReader};
use plumbline_measure::{Grid, SampleRate};
use plumbline_programme::presence::{Evidence, Passage, Presence, Standing, Told};
use plumbline_programme::{LayerId, Role};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::time::Duration;

/// Pause between two looks: while the layer is watched, and at other times. A look takes the worker some milliseconds.
const LOOK_STEP: Duration = Duration::from_millis(250);
const RARE_STEP: Duration = Duration::from_secs(1);
/// Pause before a layer is looked for again: after it was found, and after it was not.
const FOUND_STEP: Duration = Duration::from_secs(6);
const AGAIN_STEP: Duration = Duration::from_secs(2);
/// Seconds of audio compared.
const SECS: u32 = 2;
/// The longest gap, in tenths, between two passages without a layer that counts as without it too.
const MOST_BETWEEN: i64 = 40;
/// The most stretches without a layer that are kept.
const MOST_STRETCHES: usize = 8;

/// A change found by a look.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum News {
    /// The mix does not contain a layer.
    Absent {
        layer: LayerId,
        /// The tenths of song time in which the mix does not contain it.
        tenths: Vec<RangeInclusive<i64>>,
    },
    /// The mix contains the layer again, or its absence is no longer known.
    Present {
        layer: LayerId,
        /// The first tenth of song time in which it counts as present.
        from: i64,
    },
}

/// The state of one layer.
#[derive(Debug, Default)]
struct Known {
    standing: Standing,
    /// Stretches of tenths without the layer since it was last found.
    unfound: Vec<RangeInclusive<i64>>,
    /// Time from which it may be looked for again, and time at which it was last found.
    due: Duration,
    found: Option<Duration>,
    /// Time at which it went missing.
    missed: Option<Duration>,
    absent: bool,
}

impl Known {
    /// Adds the tenths of a passage without the layer, merged with the previous one if that is near.
    fn lacked(&mut self, passage: RangeInclusive<i64>) {
        if let Some(last) = self.unfound.last_mut()
            && (last.start()..=&last.end().saturating_add(MOST_BETWEEN)).contains(&passage.start())
        {
            *last = *last.start()..=*last.end().max(passage.end());
            return;
        }
        self.unfound.push(passage);
        if self.unfound.len() > MOST_STRETCHES {
            self.unfound.remove(0);
        }
    }
}

/// The state of all layers of a session.
#[derive(Debug, Default)]
pub(super) struct InMix {
    planned: Option<(SampleRate, Presence)>,
    mix: Option<LayerId>,
    layers: BTreeMap<LayerId, Known>,
    looked: Option<Duration>,
}

impl InMix {
    /// Whether the mix is known not to contain a layer.
    pub(super) fn is_absent(&self, layer: LayerId) -> bool {
        self.layers.get(&layer).is_some_and(|known| known.absent)
    }

    /// Drops a layer that left.
    pub(super) fn forget(&mut self, layer: LayerId) {
        self.layers.remove(&layer);
    }

    /// Looks for the layer that has waited longest, if it is time.
    pub(super) fn look(
        &mut self,
        board: &BoardReader,
        letter: char,
        mix: LayerId,
        often: bool,
        now: Duration,
    ) -> Option<News> {
        if self.mix.replace(mix) != Some(mix) {
            // Another mix contains other layers.
            self.layers.values_mut().for_each(|known| {
                *known = Known { absent: known.absent, ..Known::default() };
            });
        }
        let step = if often { LOOK_STEP } else { RARE_STEP };
        if self.looked.is_some_and(|t| now.saturating_sub(t) < step) {
            return None;
        }
        let mix = board.layer(mix).filter(|mix| mix.running && mix.newest.grid == Grid::Song)?;
        let due =
            |layer: &BoardEntry| self.layers.get(&layer.head.id).map_or(Duration::ZERO, |known| known.due);
        let layer = board
            .session(letter)
            .filter(|layer| layer.head.identity.role != Role::Mix && plays_with(layer, mix))
            .filter(|layer| due(layer) <= now)
            .min_by_key(|layer| due(layer))?;
        self.looked = Some(now);
        self.look_for(layer, mix, board, now)
    }

    fn look_for(
        &mut self,
        layer: &BoardEntry,
        mix: &BoardEntry,
        board: &BoardReader,
        now: Duration,
    ) -> Option<News> {
        let (id, rate) = (layer.head.id, mix.head.rate);
        let known = self.layers.entry(id).or_default();
        known.due = now.saturating_add(AGAIN_STEP);
        let frames = i64::from(rate.hz() * SECS);
        let end = layer.newest.sample.min(mix.newest.sample).saturating_add(1);
        let start = end.saturating_sub(frames);
        let read = |of: &BoardEntry| {
            let mut audio = vec![vec![0.0; usize::try_from(frames).ok()?]; usize::from(of.head.channels)];
            board.read_audio(of.head.id, Grid::Song, start, &mut audio).then_some(audio)
        };
        // After a jump the passage is not complete; the next one may be.
        let (of_layer, of_mix) = (read(layer)?, read(mix)?);
        let presence = match &mut self.planned {
            Some((planned, presence)) if *planned == rate => presence,
            other => &mut other.insert((rate, Presence::new(rate))).1,
        };
        let passage = Passage { mix: &slices(&of_mix), layer: &slices(&of_layer), start };
        let evidence = presence.ask(&passage);
        let found = evidence.as_ref().map(Evidence::is_found);
        known.standing.take(evidence);

        let tenth = |sample: i64| rate.tenth_of(sample);
        let standing = known.standing.told();
        if standing == Told::In && (found == Some(true) || known.absent) {
            known.due = now.saturating_add(FOUND_STEP);
            known.found = Some(now);
            known.unfound.clear();
            known.missed = None;
            let was = std::mem::take(&mut known.absent);
            return was.then_some(News::Present { layer: id, from: tenth(start) });
        }
        if found == Some(false) {
            known.missed.get_or_insert(now);
            known.lacked(tenth(start)..=tenth(end.saturating_sub(1)));
        }
        let (missed, own) = (known.missed, known.found.is_some());
        let mut others = self.layers.iter().filter(|(other, _)| **other != id).map(|(_, known)| known);
        let proof = others.clone().any(|other| other.found.is_some_and(|found| Some(found) >= missed))
            || (own && others.all(|other| other.missed.is_none()));
        let known = self.layers.get_mut(&id)?;
        match standing {
            Told::Out if proof && !known.absent => {
                known.absent = true;
                // The audio since the passage was not compared, and also counts as without the layer.
                known.lacked(tenth(start)..=tenth(layer.newest.sample));
                Some(News::Absent { layer: id, tenths: std::mem::take(&mut known.unfound) })
            }
            // After a long silence of the layer, nothing is known of it any more.
            Told::Unknown if known.absent => {
                known.absent = false;
                Some(News::Present { layer: id, from: tenth(end) })
            }
            _ => None,
        }
    }
}

fn slices(of: &[Vec<f32>]) -> Vec<&[f32]> {
    of.iter().map(Vec::as_slice).collect()
}

#[cfg(test)]
mod tests;
