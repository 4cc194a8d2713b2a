//! Hostile sessions: more layers than a session counts, numbers that are NaN or infinite, names in any script.

use super::{any64, maybe};
use plumbline_measure::Span;
use plumbline_measure::bands::{BANDS, THIRDS};
use plumbline_measure::reading::Maybe;
use plumbline_programme::session::{
    Aim, BalanceVerdict, Covered, LayerLine, LeftOut, LossByLayer, MOST_LAYERS, Match, Part, RolePart,
    SessionNote, Unaccounted,
};
use plumbline_programme::{BalanceTarget, Identity, LayerId, PARTS, Role, Session};
use proptest::collection::vec;
use proptest::prelude::*;

fn part() -> impl Strategy<Value = Part> {
    vec(maybe(), 5).prop_map(|v| Part {
        share: v[0],
        lead: v[1],
        loudness_lufs: v[2],
        thirds: std::array::from_fn::<_, THIRDS, _>(|i| Maybe::new(v[i % 5])),
        bands: std::array::from_fn::<_, BANDS, _>(|i| Maybe::new(v[i % 4])),
    })
}

fn role() -> impl Strategy<Value = Role> {
    (0..Role::ALL.len()).prop_map(|i| Role::ALL[i])
}

/// Few ids, so that layers refer to each other, to themselves, and to missing ones.
pub(super) fn id() -> impl Strategy<Value = LayerId> {
    (0_u64..8).prop_map(LayerId)
}

prop_compose! {
    fn line()(
        id in id(),
        name in prop_oneof![".{0,70}", Just(String::new()), Just("x".repeat(64)), Just("\u{202e}\n\u{0}".to_owned())],
        role in role(),
        flags in any::<[bool; 4]>(),
        parts in [part(), part(), part()],
        v in vec(maybe(), 7),
        by in (any64(), id(), any64(), any64()),
        missed in any::<u64>(),
    ) -> LayerLine {
        LayerLine {
            id,
            identity: Identity { name, role, colour: flags[0].then_some([9, 99, 199]) },
            own: flags[1],
            running: flags[2],
            on_song: flags[3],
            parts,
            thirds_dbfs: std::array::from_fn(|i| Maybe::new(v[i % 4])),
            side_share: v[4],
            mono_loss_db: v[5],
            covered: flags[0].then_some(Covered {
                by_db: by.0,
                by: by.1,
                span: Span { low_hz: by.2, high_hz: by.3 },
            }),
            late_secs: v[6],
            missed,
            altered: flags[1],
            absent: flags[3],
        }
    }
}

prop_compose! {
    fn rest()(
        roles in vec((any::<u32>(), [part(), part(), part()]), PARTS),
        secs in any::<[f64; 3]>(),
        unaccounted in vec(maybe(), 3),
        ids in [id(), id(), id()],
        v in vec(any64(), 4),
        m in vec(maybe(), 2),
        flags in any::<[bool; 4]>(),
        band in 0_usize..9,
        letter in any::<char>(),
        tenths in any::<u32>(),
    ) -> Session {
        Session {
            letter,
            layers: Vec::new(),
            roles: std::array::from_fn(|i| RolePart { layers: roles[i].0, parts: roles[i].1 }),
            secs,
            unaccounted: [0, 1, 2].map(|i| Unaccounted { db: unaccounted[i] }),
            mix: flags[0].then_some(ids[2]),
            matched: flags[1].then_some(Match {
                change: ids[0],
                like: ids[1],
                change_db: std::array::from_fn(|i| Maybe::new(m[i % 2])),
                spread_db: std::array::from_fn(|i| Maybe::new(m[(i + 1) % 2])),
                louder_db: v[0],
                tenths,
            }),
            loss: flags[2].then(|| LossByLayer {
                band,
                span: Span { low_hz: v[0], high_hz: v[1] },
                loss_db: v[2],
                left_out: vec![
                    LeftOut { layers: vec![ids[0]], loss_db: Some(v[3]) },
                    LeftOut { layers: ids.to_vec(), loss_db: Some(f64::NEG_INFINITY) },
                    LeftOut { layers: vec![], loss_db: None },
                ],
                explained: v[0],
            }),
            notes: if flags[3] {
                vec![
                    SessionNote::Alone("why ".repeat(200)),
                    SessionNote::TooMany { beyond: tenths, own: flags[0] },
                    SessionNote::Unreadable { files: tenths },
                ]
            } else {
                Vec::new()
            },
        }
    }
}

/// Any session, from no layers to a few more than a session counts.
pub(super) fn session() -> impl Strategy<Value = Session> {
    let layers = prop_oneof![vec(line(), 0..5), vec(line(), MOST_LAYERS..MOST_LAYERS + 3)];
    (rest(), layers).prop_map(|(session, layers)| Session { layers, ..session })
}

pub(super) fn verdict() -> impl Strategy<Value = BalanceVerdict> {
    (role(), any64(), any64(), any64(), 0..5).prop_map(|(role, share, aim, tolerance, which)| match which {
        0 => BalanceVerdict::Alone,
        1 => BalanceVerdict::Silent,
        2 => BalanceVerdict::Free,
        3 => BalanceVerdict::On { role, share },
        _ => BalanceVerdict::Off { role, share, aim: Aim { share: aim, tolerance } },
    })
}

pub(super) fn target() -> impl Strategy<Value = BalanceTarget> {
    vec(proptest::option::of((any64(), any64())), PARTS).prop_map(|aims| BalanceTarget {
        aims: std::array::from_fn(|i| aims[i].map(|(share, tolerance)| Aim { share, tolerance })),
    })
}
