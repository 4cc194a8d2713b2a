//! Which layer is the loudest in each third, and in which thirds the others cover a layer.

use super::{COVERED_DB, LayerId, LayerLine, RIVAL_DB, Session};
use crate::role::Role;
use plumbline_measure::bands::THIRDS;

/// The loudest layer of a third.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leader {
    /// Which layer.
    pub id: LayerId,
    /// Distance to the next loudest layer, dB; ∞ where no other layer sounds.
    pub by_db: f64,
}

impl Session {
    /// The layers that have a share, in session order: all except mixes.
    pub fn parts(&self) -> impl Iterator<Item = &LayerLine> {
        self.layers.iter().filter(|line| line.identity.role != Role::Mix)
    }

    /// The roles held by at least one layer, each with its index in [`Role::PARTS`].
    pub fn roles_present(&self) -> impl Iterator<Item = (usize, Role)> + '_ {
        Role::PARTS.into_iter().enumerate().filter(|(at, _)| self.roles[*at].layers > 0)
    }

    /// The own layer; `None` before it has joined a board.
    pub fn own(&self) -> Option<&LayerLine> {
        self.layers.iter().find(|line| line.own)
    }

    /// The layer with the largest share over the last 3 s; the last of equal ones. `None` if there are only mixes.
    pub fn largest(&self) -> Option<&LayerLine> {
        let share = |line: &&LayerLine| line.parts[0].share.unwrap_or(-1.0);
        self.parts().max_by(|a, b| share(a).total_cmp(&share(b)))
    }

    /// The leader of each third over the last 3 s; `None` where no layer sounds.
    pub fn leaders(&self) -> [Option<Leader>; THIRDS] {
        std::array::from_fn(|third| {
            let mut best: Option<(LayerId, f64)> = None;
            let mut next = f64::NEG_INFINITY;
            for line in self.parts() {
                let Some(level) = line.thirds_dbfs[third].get() else { continue };
                match best {
                    Some((_, loudest)) if level <= loudest => next = next.max(level),
                    before => {
                        next = before.map_or(next, |(_, loudest)| loudest);
                        best = Some((line.id, level));
                    }
                }
            }
            best.map(|(id, level)| Leader { id, by_db: level - next })
        })
    }

    /// Level of each third over the last 3 s, dBFS: that of the mix, or without a mix the sum of the layers. Absent
    /// where nothing sounds.
    pub fn mix_thirds_dbfs(&self) -> [Option<f64>; THIRDS] {
        let mix = self.mix.and_then(|id| self.layer(id));
        std::array::from_fn(|third| match mix {
            Some(mix) => mix.thirds_dbfs[third].get(),
            None => sum_db(self.parts().filter_map(|line| line.thirds_dbfs[third].get())),
        })
    }

    /// The thirds in which the others cover `layer`: their sum is above it by [`COVERED_DB`] or more, and the loudest
    /// of them by [`RIVAL_DB`] or more.
    pub fn covered_thirds(&self, layer: &LayerLine) -> [bool; THIRDS] {
        std::array::from_fn(|third| {
            let others = || {
                let others = self.parts().filter(|line| line.id != layer.id);
                others.filter_map(|line| line.thirds_dbfs[third].get())
            };
            let (Some(own), Some(sum)) = (layer.thirds_dbfs[third].get(), sum_db(others())) else {
                return false;
            };
            sum - own >= COVERED_DB && others().any(|other| other - own >= RIVAL_DB)
        })
    }
}

fn sum_db(levels: impl Iterator<Item = f64>) -> Option<f64> {
    let sum: f64 = levels.map(|level| 10_f64.powf(level / 10.0)).sum();
    (sum > 0.0).then(|| 10.0 * sum.log10())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Identity;
    use plumbline_measure::reading::Maybe;

    fn line(id: u64, level: Option<f64>) -> LayerLine {
        LayerLine {
            id: LayerId(id),
            identity: Identity { role: Role::Foley, ..Identity::default() },
            thirds_dbfs: [Maybe::new(level); THIRDS],
            ..LayerLine::default()
        }
    }

    fn session(levels: &[Option<f64>]) -> Session {
        let layers = (1..).zip(levels).map(|(id, level)| line(id, *level)).collect();
        Session { layers, ..Session::default() }
    }

    #[test]
    fn the_loudest_leads_by_its_distance_to_the_next_whatever_their_order() {
        for levels in [[-20.0, -26.0, -23.0], [-26.0, -23.0, -20.0], [-23.0, -20.0, -26.0]] {
            let leader = session(&levels.map(Some)).leaders()[3].expect("three sound");
            assert_eq!(levels[usize::try_from(leader.id.0).expect("small") - 1], -20.0);
            assert!((leader.by_db - 3.0).abs() < 1e-4, "{leader:?}");
        }
        assert_eq!(session(&[None, None]).leaders()[3], None);
        assert_eq!(session(&[None, Some(-30.0)]).leaders()[3].map(|l| l.by_db), Some(f64::INFINITY));
    }

    #[test]
    fn two_quiet_layers_cover_together_and_silence_is_not_covered() {
        // 10·lg 2 = 3.01: two layers, each 8 dB above in a third, are together 11 dB above.
        let three = session(&[Some(-30.0), Some(-22.0), Some(-22.0)]);
        assert!(three.covered_thirds(&three.layers[0])[7]);
        assert!(!three.covered_thirds(&three.layers[1])[7]);
        assert!(!three.covered_thirds(&line(1, None))[7]);
        // 9.8 dB under the other layer is not covered, although it is 10.2 dB under the sum of both.
        let close = session(&[Some(-30.0), Some(-20.2)]);
        assert!(!close.covered_thirds(&close.layers[0])[7]);
        let sum = three.mix_thirds_dbfs()[7].expect("they sound");
        assert!((sum + 18.66).abs() < 0.01, "−22 + 3.01 + 0.33: {sum}");
    }
}
