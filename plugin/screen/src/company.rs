//! What the screen needs to know of a session that is not a number in it: who is heard, under which name, and who
//! leads where.

use plumbline_measure::bands::THIRDS;
use plumbline_programme::session::{COVERED_DB, LayerLine};
use plumbline_programme::{LayerId, Role, Session};

/// Whether there is something to compare: another layer than the own one, and one that has a share.
pub(crate) fn has_layers(session: &Session) -> bool {
    session.layers.iter().any(|line| !line.own)
        && session.layers.iter().any(|line| line.identity.role != Role::Mix)
}

/// Layers heard beside the own one.
pub(crate) fn others(session: &Session) -> u32 {
    u32::try_from(session.layers.iter().filter(|line| !line.own).count()).unwrap_or(u32::MAX)
}

/// Whether others are heard and all of them are mixes, as they are before anybody gave them roles.
pub(crate) fn only_mixes(session: &Session) -> bool {
    others(session) > 0 && session.layers.iter().all(|line| line.identity.role == Role::Mix)
}

/// The name to show; a layer need not have one.
pub(crate) fn name(line: &LayerLine) -> &str {
    shown_name(&line.identity.name)
}

/// A name to show in place of any text.
pub(crate) fn shown_name(name: &str) -> &str {
    let name = name.trim();
    if name.is_empty() { "Unnamed layer" } else { name }
}

/// The name of this layer as others see it, so that it is the same in every window. While a change of `given`, the name
/// that the user or the host gave, is on its way to the others, it is that one.
pub(crate) fn own_name<'a>(given: &'a str, session: &'a Session) -> &'a str {
    let given = given.trim();
    let told_apart = |own: &&str| {
        let behind = own.strip_prefix(given);
        given.is_empty() || behind.is_some_and(|behind| behind.is_empty() || behind.starts_with(" ("))
    };
    let own = session.layers.iter().find(|line| line.own).map(name);
    own.filter(told_apart).unwrap_or(shown_name(given))
}

/// Name of a layer by its number; one that left has none.
pub(crate) fn name_of(session: &Session, id: LayerId) -> &str {
    session.layer(id).map_or("a layer that left", name)
}

/// Layers that have a share, in session order.
pub(crate) fn parts(session: &Session) -> impl Iterator<Item = &LayerLine> {
    session.layers.iter().filter(|line| line.identity.role != Role::Mix)
}

/// Roles that some layer has, in the order of [`Role::PARTS`], with their place in it.
pub(crate) fn roles(session: &Session) -> impl Iterator<Item = (usize, Role)> + '_ {
    Role::PARTS.into_iter().enumerate().filter(|(at, _)| session.roles[*at].layers > 0)
}

/// Who leads a third.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Leader {
    /// Which layer.
    pub(crate) id: LayerId,
    /// How far it is over the next loudest layer, dB; ∞ where it sounds alone.
    pub(crate) by_db: f64,
}

/// Who leads each third over the newest 3 s; none where no layer sounds.
pub(crate) fn leaders(session: &Session) -> [Option<Leader>; THIRDS] {
    std::array::from_fn(|third| {
        let mut best: Option<(LayerId, f64)> = None;
        let mut next = f64::NEG_INFINITY;
        for line in parts(session) {
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

/// Level of the mix per third, dBFS: its own, or the sum of the layers where no mix is heard.
pub(crate) fn mix_thirds(session: &Session) -> [Option<f64>; THIRDS] {
    let mix = session.mix.and_then(|id| session.layer(id));
    std::array::from_fn(|third| match mix {
        Some(mix) => mix.thirds_dbfs[third].get(),
        None => sum_db(parts(session).filter_map(|line| line.thirds_dbfs[third].get())),
    })
}

/// Thirds in which the other layers together are over a layer by [`COVERED_DB`] or more.
pub(crate) fn covered_thirds(session: &Session, layer: &LayerLine) -> [bool; THIRDS] {
    std::array::from_fn(|third| {
        let others = parts(session).filter(|line| line.id != layer.id);
        let others = sum_db(others.filter_map(|line| line.thirds_dbfs[third].get()));
        let own = layer.thirds_dbfs[third].get();
        own.zip(others).is_some_and(|(own, others)| others - own >= COVERED_DB)
    })
}

fn sum_db(levels: impl Iterator<Item = f64>) -> Option<f64> {
    let sum: f64 = levels.map(|level| 10_f64.powf(level / 10.0)).sum();
    (sum > 0.0).then(|| 10.0 * sum.log10())
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::reading::Maybe;
    use plumbline_programme::Identity;

    fn line(id: u64, role: Role, level: Option<f64>) -> LayerLine {
        LayerLine {
            id: LayerId(id),
            identity: Identity { role, ..Identity::default() },
            own: id == 9,
            thirds_dbfs: [Maybe::new(level); THIRDS],
            ..LayerLine::default()
        }
    }

    fn session(lines: Vec<LayerLine>) -> Session {
        Session { layers: lines, ..Session::default() }
    }

    #[test]
    fn there_is_something_to_compare_from_the_second_layer_on() {
        let mix = line(9, Role::Mix, None);
        assert!(!has_layers(&session(vec![])));
        assert!(!has_layers(&session(vec![mix.clone()])));
        assert!(!has_layers(&session(vec![line(9, Role::Foley, None)])));
        assert!(
            !has_layers(&session(vec![mix.clone(), line(1, Role::Mix, None)])),
            "two mixes have no shares"
        );
        assert!(has_layers(&session(vec![mix.clone(), line(1, Role::Foley, None)])));
        assert!(has_layers(&session(vec![line(9, Role::Foley, None), line(1, Role::Mix, None)])));
    }

    #[test]
    fn the_own_name_is_the_one_that_others_see_but_for_a_change_under_way() {
        let own = |name: &str| {
            let mut own = line(9, Role::Foley, None);
            own.identity.name = name.to_owned();
            session(vec![line(1, Role::Mix, None), own])
        };
        assert_eq!(own_name("", &own("Layer 2")), "Layer 2");
        assert_eq!(own_name(" Boom ", &own("Boom (2)")), "Boom (2)");
        assert_eq!(own_name("Boom", &own("Boom")), "Boom");
        assert_eq!(own_name("Bell", &own("Bell tower")), "Bell", "it was renamed just now");
        assert_eq!(own_name("Boom", &Session::default()), "Boom");
        assert_eq!(own_name("", &Session::default()), "Unnamed layer");
    }

    #[test]
    fn the_loudest_leads_by_its_distance_to_the_next_whatever_their_order() {
        let of = |levels: &[Option<f64>]| {
            let lines = levels.iter().zip(1..).map(|(level, id)| line(id, Role::Natural, *level)).collect();
            leaders(&session(lines))[3]
        };
        for levels in [[-20.0, -26.0, -23.0], [-26.0, -23.0, -20.0], [-23.0, -20.0, -26.0]] {
            let leader = of(&levels.map(Some)).expect("three sound");
            assert_eq!(levels[usize::try_from(leader.id.0).expect("small") - 1], -20.0);
            assert!((leader.by_db - 3.0).abs() < 1e-4, "{leader:?}");
        }
        assert_eq!(of(&[None, None]), None);
        assert_eq!(of(&[None, Some(-30.0)]).map(|l| l.by_db), Some(f64::INFINITY));
    }

    #[test]
    fn two_quiet_layers_cover_together_and_silence_is_not_covered() {
        // 10·lg 2 = 3.01: two layers 8 dB over the third are 11 dB over it together.
        let lines = [-30.0, -22.0, -22.0].into_iter().zip(1..).map(|(l, id)| line(id, Role::Foley, Some(l)));
        let session = session(lines.collect());
        assert!(covered_thirds(&session, &session.layers[0])[7]);
        assert!(!covered_thirds(&session, &session.layers[1])[7]);
        assert!(!covered_thirds(&session, &line(1, Role::Foley, None))[7]);
        // 9.8 dB under the other is not covered, though it is 10.2 dB under the sum with itself.
        let close =
            super::tests::session(vec![line(1, Role::Foley, Some(-30.0)), line(2, Role::Foley, Some(-20.2))]);
        assert!(!covered_thirds(&close, &close.layers[0])[7]);
        let sum = mix_thirds(&session)[7].expect("they sound");
        assert!((sum + 18.66).abs() < 0.01, "−22 + 3.01 + 0.33: {sum}");
    }
}
