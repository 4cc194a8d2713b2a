//! The choice of which layers of a session are compared.

use crate::board::BoardEntry;
use plumbline_measure::SampleRate;
use plumbline_programme::mics::MOST_MICS;
use plumbline_programme::{LayerId, Role, Session, Stretch};

/// How much louder a layer must be to replace another, LU: the list must not change with every breath.
const LOUDER_LU: f64 = 6.0;
/// Loudness assumed for a silent layer, LUFS.
const SILENCE_LUFS: f64 = -100.0;

/// The layers that are compared, and how many more are playing.
#[derive(Debug, Default)]
pub(super) struct Choice {
    pub(super) layers: Vec<LayerId>,
    pub(super) uncompared: u32,
}

impl Choice {
    /// Updates the choice. `all` are the layers of the session in order of joining. Layers at another rate cannot be
    /// compared. A mix contains its layers, so comparing it shows nothing; but with fewer than two layers of another
    /// role, mixes are compared too. The `own` layer ranks first, because it is watched.
    pub(super) fn follow<'a>(
        &mut self,
        all: impl Iterator<Item = &'a BoardEntry> + Clone,
        rate: SampleRate,
        own: LayerId,
        session: &Session,
    ) {
        let fitting = all.filter(|n| n.head.rate == rate);
        let is_part = |n: &&BoardEntry| n.head.identity.role != Role::Mix;
        let enough = fitting.clone().filter(is_part).count() >= 2;
        let there: Vec<LayerId> = fitting.filter(|n| !enough || is_part(n)).map(|n| n.head.id).collect();
        self.layers.retain(|id| there.contains(id));
        let loudness = |id: LayerId| {
            let line = session.layer(id)?;
            line.parts[Stretch::Now.place()].loudness_lufs.filter(|lufs| lufs.is_finite())
        };
        let rank = |id: LayerId| if id == own { f64::INFINITY } else { loudness(id).unwrap_or(SILENCE_LUFS) };
        let mut waiting: Vec<LayerId> =
            there.iter().copied().filter(|id| !self.layers.contains(id)).collect();
        // The sort is stable: among equally loud layers the earliest comes first.
        waiting.sort_by(|a, b| rank(*b).total_cmp(&rank(*a)));
        let mut waiting = waiting.into_iter();
        while self.layers.len() < MOST_MICS
            && let Some(id) = waiting.next()
        {
            self.layers.push(id);
        }
        for id in waiting.clone() {
            let quietest = self.layers.iter_mut().min_by(|a, b| rank(**a).total_cmp(&rank(**b)));
            match quietest {
                Some(place) if rank(id) >= rank(*place) + LOUDER_LU => *place = id,
                _ => break,
            }
        }
        let left = there.iter().filter(|id| !self.layers.contains(id) && loudness(**id).is_some());
        self.uncompared = u32::try_from(left.count()).unwrap_or(u32::MAX);
    }
}
