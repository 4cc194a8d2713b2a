//! Hostile tenths: no panic, and no invalid finding.

use super::laws::{finder, sound};
use crate::strategies::holds_for;
use plumbline_measure::{Coherent, Faults, Grid, Maybe, Onset, Span, StereoPower, Tenth, TimeSums};
use plumbline_programme::session::Covered;
use plumbline_programme::{BalanceTarget, Join, JointTenth, Kind, LayerId, Rules};
use plumbline_tests::signal::Noise;
use proptest::prelude::*;

/// A number as a faulty host or file might give it, or an ordinary one.
fn hostile(noise: &mut Noise) -> f64 {
    match noise.bits() % 16 {
        0 => f64::NAN,
        1 => f64::INFINITY,
        2 => f64::NEG_INFINITY,
        3 => f64::MAX,
        4 => -f64::MAX,
        5 => 1e-310,
        6 | 7 => 0.0,
        8 => -1.0,
        _ => noise.uniform(),
    }
}

fn whole(noise: &mut Noise, below: u64) -> u32 {
    u32::try_from(noise.bits() % below).expect("small")
}

#[expect(clippy::cast_possible_truncation, reason = "infinite is hostile as well")]
pub(crate) fn hostile_tenth(noise: &mut Noise, grid: Grid, index: i64) -> Tenth {
    let mut of = || hostile(noise);
    let sums = TimeSums { ll: of(), rr: of(), lr: of(), dc: [of(), of()], k: of(), frames: 0 };
    let thirds = std::array::from_fn(|_| StereoPower { ll: of(), rr: of(), re: of() }.into());
    let bands = std::array::from_fn(|_| StereoPower { ll: of(), rr: of(), re: of() }.into());
    let all = StereoPower { ll: of(), rr: of(), re: of() }.into();
    let mut coherent = || Coherent { coherence: Maybe::new(Some(of())), out_of_step: Maybe::new(Some(of())) };
    let (coherent_thirds, coherent_bands) =
        (std::array::from_fn(|_| coherent()), std::array::from_fn(|_| coherent()));
    let coherent_whole = coherent();
    let peaks = [of() as f32, of() as f32, of() as f32, of() as f32];
    let strength = of() as f32;
    let most = u64::from(u32::MAX) + 1;
    let mut count = |usual: u64| {
        let below = if noise.bits().is_multiple_of(8) { most } else { usual };
        whole(noise, below)
    };
    let frames_of = std::array::from_fn(|_| u16::try_from(count(4) % 65_536).expect("small"));
    Tenth {
        grid,
        index,
        sums: TimeSums { frames: count(4_801), ..sums },
        length: count(4_801),
        faults: Faults { lost: count(2), not_finite: count(2) },
        sample_peak: [peaks[0], peaks[1]],
        true_peak: [peaks[2], peaks[3]],
        overs: [count(2), count(2)],
        zeros: count(4_801),
        onset: Onset { at: count(4_800), strength },
        frames_of,
        thirds,
        bands,
        whole: all,
        coherent_thirds,
        coherent_bands,
        coherent_whole,
        ..Tenth::default()
    }
}

/// The next index of a tenth: forward, back, far away, or at the limits of its type.
pub(crate) fn wander(noise: &mut Noise, index: i64) -> i64 {
    match noise.bits() % 40 {
        0 => i64::MIN,
        1 => i64::MAX,
        2 => i64::MAX - 3,
        3 => i64::MIN + 3,
        4 => 0,
        5 => index,
        6 => index.saturating_sub(20),
        7 => index.saturating_add(7),
        // Backwards.
        8..=11 => index.saturating_sub(1),
        _ => index.wrapping_add(1),
    }
}

#[test]
fn hostile_tenths_leave_sound_findings() {
    let seen = std::cell::Cell::new(0);
    holds_for(60, 0xBAD7, any::<u64>(), |seed| {
        let noise = &mut Noise::new(seed);
        let mut finder = finder(Rules::default());
        let (mut grid, mut index) = (Grid::Song, 0);
        for step in 0..600 {
            if noise.bits().is_multiple_of(50) {
                grid = if grid == Grid::Song { Grid::Clock } else { Grid::Song };
            }
            index = wander(noise, index);
            // Runs of the same tenth, so that some findings last.
            let mut tenth = hostile_tenth(&mut Noise::new(seed ^ (step / 25)), grid, index);
            tenth.index = index;
            finder.push(&tenth);
            let by = Covered {
                by_db: hostile(noise) * 40.0,
                by: LayerId(noise.bits()),
                span: Span { low_hz: hostile(noise), high_hz: hostile(noise) },
            };
            let steady = &mut Noise::new(seed ^ (step / 100));
            let energies = std::array::from_fn(|_| hostile(steady));
            let covered = vec![(LayerId(noise.bits() % 3), by)];
            let together = JointTenth { grid, index, energies, compared: true, covered };
            finder.among(&together, &BalanceTarget::default(), &|id| format!("{id:?}"));
            let join = Join {
                id: noise.bits() % 20,
                grid,
                at: index,
                takes_secs: Some(hostile(noise) * 3.0),
                found: true,
                ..Join::default()
            };
            let mut join = join;
            join.before.side_share = Some(hostile(noise));
            join.after.side_share = Some(hostile(noise));
            finder.join(&join);
            sound(&finder.findings())?;
        }
        finder.end();
        sound(&finder.findings())?;
        prop_assert!(finder.findings().iter().all(|f| !f.open || f.kind == Kind::Jump));
        seen.set(seen.get() + finder.findings().len());
        Ok(())
    });
    assert!(seen.get() > 1_000, "{} findings in hostile tenths", seen.get());
}
