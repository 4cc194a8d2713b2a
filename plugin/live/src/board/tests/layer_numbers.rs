//! Numbers of layers, taken by the workers of several processes.

use super::super::layer_numbers::Numbers;
use super::super::publisher::{Born, Publisher};
use super::super::reader::BoardReader;
use super::{Scratch, ms};
use plumbline_measure::SampleRate;
use plumbline_programme::{Identity, LayerId, Role};
use std::time::Duration;

/// A process: its layers, and the board as it reads it.
struct Process {
    board: BoardReader,
    publishers: Vec<Publisher>,
}

impl Process {
    fn new(scratch: &Scratch, joined: &[u64]) -> Self {
        let folder = scratch.folder();
        let publishers = joined.iter().map(|at| {
            // Ids in reverse order: numbers do not depend on them.
            let mut publisher = Publisher::new(Ok(folder.clone()), Born { id: LayerId(1_000 - at), at: *at });
            publisher.introduce(&Identity { role: Role::Foley, ..Identity::default() }, 'A');
            publisher.open(SampleRate::new(22_050).unwrap(), 1, Duration::ZERO);
            publisher
        });
        Self { publishers: publishers.collect(), board: BoardReader::new(Ok(folder.clone())) }
    }

    fn read(&mut self, now: Duration) {
        self.board.round(now, true);
    }

    fn give(&mut self, now: Duration) {
        let mut numbers = Numbers::default();
        self.publishers
            .iter_mut()
            .for_each(|publisher| publisher.take_number(&self.board, &mut numbers, now));
    }

    /// A round of the worker.
    fn round(&mut self, now: Duration) {
        self.read(now);
        self.give(now);
    }

    /// When each layer of a session joined, with its number, as this process sees it.
    fn numbers(&mut self, letter: char, now: Duration) -> Vec<(u64, u8)> {
        self.read(now);
        self.board.session(letter).map(|n| (n.head.joined, n.head.number)).collect()
    }
}

#[test]
fn layers_are_numbered_by_who_joined_first_and_keep_their_number() {
    let scratch = Scratch::new();
    let mut process = Process::new(&scratch, &[11, 12, 15]);
    process.round(ms(0));
    assert_eq!(process.numbers('A', ms(10)), [(11, 1), (12, 2), (15, 3)], "all in one round");
    // The first leaves; a new one joins.
    process.publishers.remove(0);
    let mut other = Process::new(&scratch, &[20]);
    for at in [120, 240] {
        process.round(ms(at));
        other.round(ms(at));
    }
    assert_eq!(other.numbers('A', ms(360)), [(12, 2), (15, 3), (20, 4)], "the same in every process");
    assert_eq!(process.numbers('A', ms(360)), [(12, 2), (15, 3), (20, 4)]);
    // Another session has its own numbers.
    process.publishers[1].introduce(&Identity::default(), 'B');
    process.round(ms(480));
    assert_eq!(process.numbers('B', ms(600)), [(15, 1)]);
    assert_eq!(process.numbers('A', ms(720)), [(12, 2), (20, 4)]);
    // A new format does not change the number.
    process.publishers[0].open(SampleRate::new(44_100).unwrap(), 2, ms(800));
    assert_eq!(process.numbers('A', ms(900)), [(12, 2), (20, 4)]);
}

#[test]
fn processes_that_start_together_give_no_number_twice() {
    let scratch = Scratch::new();
    let mut all: Vec<Process> = (1..=9).rev().map(|at| Process::new(&scratch, &[at])).collect();
    // All processes read before any takes a number: the worst case.
    for round in 0..20 {
        let now = ms(round * 110);
        all.iter_mut().for_each(|process| process.read(now));
        all.iter_mut().for_each(|process| process.give(now));
    }
    let expected: Vec<(u64, u8)> = (1..=9).map(|at| (at, u8::try_from(at).unwrap())).collect();
    for process in &mut all {
        assert_eq!(process.numbers('A', ms(3_000)), expected);
        assert!(!process.publishers[0].wants_number(ms(9_000)), "settled: the board is left alone again");
    }
}

#[test]
fn two_that_took_one_number_unseen_settle_it() {
    let scratch = Scratch::new();
    let (mut first, mut second) = (Process::new(&scratch, &[1]), Process::new(&scratch, &[2]));
    // Neither sees the other: each read the board before the other's file existed.
    first.give(ms(0));
    second.give(ms(0));
    assert_eq!(first.numbers('A', ms(1)), [(1, 1), (2, 1)]);
    for at in [110, 220] {
        first.round(ms(at));
        second.round(ms(at));
    }
    assert_eq!(second.numbers('A', ms(330)), [(1, 1), (2, 2)]);
}
