//! Any split into blocks gives bit-identical tenths; a reset analyser equals a new one.

use crate::numbers::{difference, of_glance, of_tenths};
use crate::strategies::{RATES, holds_for, hostile_signal};
use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate, Tenth};

use plumbline_tests::signal::{Noise, single};
use proptest::prelude::*;

/// An event between two stretches of contiguous audio.
#[derive(Clone, Debug)]
enum Break {
    /// The transport jumps by `by` samples.
    Jump { by: i64 },
    /// Samples are lost while the song goes on.
    Loss { frames: u32 },
    /// The transport stops or starts: a position on the other grid.
    OtherGrid { at: i64 },
    /// All tenths are flushed.
    Flush,
}

#[derive(Clone, Debug)]
struct Session {
    rate: u32,
    channels: usize,
    seed: u64,
    start: i64,
    /// Length of each stretch in ms, and the event after it.
    stretches: Vec<(u32, Break)>,
}

fn breaks() -> impl Strategy<Value = Break> {
    prop_oneof![
        (-200_000_i64..200_000).prop_map(|by| Break::Jump { by }),
        (-2_000_i64..2_000).prop_map(|by| Break::Jump { by }),
        (1_u32..5_000).prop_map(|frames| Break::Loss { frames }),
        (-100_000_i64..100_000).prop_map(|at| Break::OtherGrid { at }),
        Just(Break::Flush),
    ]
}

fn sessions() -> impl Strategy<Value = Session> {
    let stretches = prop::collection::vec((1_u32..700, breaks()), 1..5);
    (0..RATES.len(), 1_usize..3, any::<u64>(), -500_000_i64..500_000, stretches).prop_map(
        |(rate, channels, seed, start, stretches)| Session {
            rate: RATES[rate],
            channels,
            seed,
            start,
            stretches,
        },
    )
}

/// Runs a session in blocks of the given sizes, in rotation; without sizes, in one block per stretch.
fn run(analyzer: &mut Analyzer, session: &Session, blocks: &[usize]) -> (Vec<Tenth>, Glance) {
    let mut at = Position { grid: Grid::Song, sample: session.start };
    let mut tenths = Vec::new();
    let mut sizes = blocks.iter().copied().cycle();
    for (number, (ms, after)) in session.stretches.iter().enumerate() {
        let frames = *ms as usize * session.rate as usize / 1_000 + 1;
        let signal = hostile_signal(session.seed ^ number as u64, frames);
        let mut done = 0;
        while done < frames {
            let size = sizes.next().unwrap_or(frames).min(frames - done);
            let block: Vec<&[f32]> =
                signal[..session.channels].iter().map(|c| &c[done..done + size]).collect();
            analyzer.push(at, &block, &mut tenths);
            at.sample += i64::try_from(size).expect("small");
            done += size;
        }
        match *after {
            Break::Jump { by } => at.sample += by,
            Break::Loss { frames } => {
                analyzer.note_loss(frames);
                at.sample += i64::from(frames);
            }
            Break::OtherGrid { at: sample } => {
                let grid = if at.grid == Grid::Song { Grid::Clock } else { Grid::Song };
                at = Position { grid, sample };
            }
            Break::Flush => analyzer.flush(&mut tenths),
        }
    }
    let mut view = Glance::default();
    analyzer.fill(&mut view);
    analyzer.flush(&mut tenths);
    (tenths, view)
}

fn fresh(session: &Session) -> Analyzer {
    let rate = SampleRate::new(session.rate).expect("a rate that can be measured");
    Analyzer::new(rate, session.channels, BandEdges::default())
}

#[test]
fn any_split_gives_bit_equal_tenths() {
    let splits = prop::collection::vec(1_usize..=8_192, 1..40);
    holds_for(96, 0x5B11, (sessions(), splits), |(session, blocks)| {
        let whole = run(&mut fresh(&session), &session, &[]);
        let split = run(&mut fresh(&session), &session, &blocks);
        prop_assert!(!whole.0.is_empty());
        prop_assert_eq!(difference(&of_tenths(&whole.0), &of_tenths(&split.0)), None);
        prop_assert_eq!(difference(&of_glance(&whole.1), &of_glance(&split.1)), None);
        Ok(())
    });
}

#[test]
fn long_stretches_split_alike_at_every_rate() {
    // Long enough for coherence, short-term loudness and the since-reset average of both.
    let mut cases = 0;
    for (number, rate) in RATES.into_iter().enumerate() {
        for channels in [1, 2] {
            let ms = if rate > 96_000 { 2_600 } else { 4_200 };
            let stretches = vec![(ms, Break::Flush)];
            let session = Session { rate, channels, seed: number as u64, start: 77, stretches };
            let whole = run(&mut fresh(&session), &session, &[]);
            let blocks: &[usize] = if number % 2 == 0 { &[64] } else { &[1, 8_192, 3, 511, 512, 1_023] };
            let split = run(&mut fresh(&session), &session, blocks);
            assert_eq!(difference(&of_tenths(&whole.0), &of_tenths(&split.0)), None, "{rate}");
            assert_eq!(difference(&of_glance(&whole.1), &of_glance(&split.1)), None, "{rate}");
            assert!(whole.0.iter().any(|tenth| tenth.coherent_whole.coherence.get().is_some()), "{rate}");
            cases += 1;
        }
    }
    assert_eq!(cases, 2 * RATES.len());
}

#[test]
fn single_samples_give_the_tenths_of_one_block() {
    let stretches = vec![(900, Break::Jump { by: -4_000 }), (700, Break::Flush)];
    let session = Session { rate: 22_050, channels: 2, seed: 1, start: -3, stretches };
    let whole = run(&mut fresh(&session), &session, &[]);
    let split = run(&mut fresh(&session), &session, &[1]);
    assert!(whole.0.len() >= 15);
    assert_eq!(difference(&of_tenths(&whole.0), &of_tenths(&split.0)), None);
}

#[test]
fn reset_equals_new() {
    holds_for(40, 0x2E5E7, (sessions(), sessions()), |(first, second)| {
        let before = Session { channels: second.channels, rate: second.rate, ..first };
        let mut used = fresh(&before);
        used.note_loss(5);
        run(&mut used, &before, &[100, 1_000]);
        used.note_loss(7);
        used.reset();
        let again = run(&mut used, &second, &[333]);
        let new = run(&mut fresh(&second), &second, &[333]);
        prop_assert_eq!(difference(&of_tenths(&new.0), &of_tenths(&again.0)), None);
        prop_assert_eq!(difference(&of_glance(&new.1), &of_glance(&again.1)), None);
        Ok(())
    });
}

#[test]
fn forgetting_leaves_the_newest_readings_and_clears_the_rest() {
    holds_for(16, 0xF0, sessions(), |session| {
        let mut analyzer = fresh(&session);
        let (_, mut before) = run(&mut analyzer, &session, &[512]);
        // The last cell was already measured at the end of the session.
        analyzer.fill(&mut before);
        analyzer.forget();
        let mut after = Glance::default();
        analyzer.fill(&mut after);
        for (average, kept) in [(0, true), (1, true), (2, false)] {
            if kept {
                prop_assert_eq!(&before.averages[average], &after.averages[average]);
            } else {
                prop_assert_eq!(after.averages[average].whole, Default::default());
                prop_assert!(after.averages[average].lines_dbfs.iter().all(|l| *l == f32::NEG_INFINITY));
            }
        }
        prop_assert_eq!(before.loudness.momentary_lufs, after.loudness.momentary_lufs);
        prop_assert_eq!(before.meters.level_slow_dbfs, after.meters.level_slow_dbfs);
        prop_assert_eq!(after.loudness.max_momentary_lufs, None);
        prop_assert_eq!(after.loudness.max_short_term_lufs, None);
        prop_assert_eq!(after.loudness.true_peak_dbtp, [None; 2]);
        prop_assert_eq!(after.meters.max_peak_dbfs, [None; 2]);
        prop_assert_eq!(after.meters.overs, [0; 2]);
        prop_assert_eq!(after.not_finite, 0);
        Ok(())
    });
}

#[test]
fn forgotten_sound_is_in_no_average_since() {
    // Four seconds of one sound in both channels, a reset, then five of unrelated noise.
    let rate = SampleRate::new(48_000).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, 2, BandEdges::default());
    let mut noise = Noise::new(0xF0);
    let [same, left, right] = [4, 5, 5].map(|secs| single(&noise.white(48_000 * secs, 0.1)));
    let (mut at, mut tenths, mut view) = (Position::default(), Vec::new(), Glance::default());
    analyzer.push(at, &[&same, &same], &mut tenths);
    analyzer.fill(&mut view);
    let before = view.averages[2].whole;
    assert!(before.coherence.is_some_and(|c| c > 0.99), "{before:?}");
    analyzer.forget();
    at.sample += 48_000 * 4;
    analyzer.push(at, &[&left, &right], &mut tenths);
    analyzer.fill(&mut view);
    let after = view.averages[2].whole;
    // The 2 s of coherence still contain the old sound at first: less than half of 2 s in five. Without a reset they
    // would read 0.5 or more.
    assert!(after.coherence.is_some_and(|c| c < 0.3), "{after:?}");
    assert!(after.correlation.is_some_and(|c| c.abs() < 0.1), "{after:?}");
}
