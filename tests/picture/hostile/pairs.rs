//! Hostile pairs of microphones.

use super::{any32, any64, maybe, sessions};
use plumbline_measure::bands::THIRDS;
use plumbline_measure::reading::Maybe;
use plumbline_programme::mics::TRACE_POINTS;
use plumbline_programme::pair::{Agreed, CannotTell, Drift, Polarity, Reading, ThirdReading};
use plumbline_programme::{Mic, Mics, PairLine, Trial};
use proptest::collection::vec;
use proptest::prelude::*;

fn mic() -> impl Strategy<Value = Mic> {
    prop_oneof![
        Just(Mic::Left),
        Just(Mic::Right),
        Just(Mic::Main),
        Just(Mic::SideChain),
        sessions::id().prop_map(Mic::Layer)
    ]
}

prop_compose! {
    fn line()(
        mics in [mic(), mic()],
        v in vec(any64(), 8),
        m in vec(maybe(), 6),
        flags in any::<[bool; 4]>(),
        windows in any::<[u16; 2]>(),
        reason in prop_oneof![Just(CannotTell::TooShort), Just(CannotTell::Moving), Just(CannotTell::Unrelated),
            Just(CannotTell::BeyondRange), Just(CannotTell::Reverberant)],
        rate_hz in prop_oneof![Just(0), Just(48_000), any::<u32>()],
        spaced_secs in any64(),
        trace in prop_oneof![vec(any32(), 0..9), vec(any32(), TRACE_POINTS)],
        delays in vec([any64(), any64()], 0..30),
    ) -> PairLine {
        let agreed = Agreed {
            delay_secs: v[0],
            sigma_secs: v[1],
            polarity: if flags[0] { Polarity::Same } else { Polarity::Inverted },
            confidence: v[2],
            second_secs: flags[2].then_some(v[6]),
            drift: flags[1].then_some(Drift { ppm: v[3], sigma_ppm: v[4], plain: flags[2] }),
            windows,
        };
        let third = |i: usize| ThirdReading {
            under_loudest_db: Maybe::new(m[i % 6]),
            coherence: Maybe::new(m[(i + 1) % 6]),
            level_db: Maybe::new(m[(i + 2) % 6]),
            gain_db: Maybe::new(m[(i + 3) % 6]),
        };
        PairLine {
            mics,
            reading: Reading {
                outcome: if flags[3] { Ok(agreed) } else { Err(reason) },
                thirds: std::array::from_fn::<_, THIRDS, _>(third),
                coherence: m[0],
                level_db: m[1],
                won: m[2],
                net_gain_db: m[4],
            },
            cost_db: m[3],
            rate_hz,
            spaced_secs,
            trace,
            delays,
            heard: None,
            quiet_secs: v[5],
            stretches: Vec::new(),
        }
    }
}

pub(super) fn mics() -> impl Strategy<Value = Mics> {
    (vec(line(), 0..6), any::<u32>(), proptest::option::of(".{0,200}"))
        .prop_map(|(lines, uncompared, trouble)| Mics { lines, uncompared, trouble })
}

pub(super) fn trial() -> impl Strategy<Value = Option<Trial>> {
    let some =
        ([any64(), any64()], any::<[bool; 3]>()).prop_map(|(delay_secs, [left, right, in_renders])| Trial {
            delay_secs,
            flip: [left, right],
            in_renders,
        });
    proptest::option::of(some)
}
