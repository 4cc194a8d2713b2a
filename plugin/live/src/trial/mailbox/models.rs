//! A model of the mailbox: see [`crate::models`].

use super::*;
use crate::models::explore;
use loom::thread;
use std::sync::Arc;

/// Two plans that differ in every word, weights included.
fn plans() -> [ChannelDelays; 2] {
    let way = |flip, delay, kernel| ChannelDelay { flip, delay, kernel };
    [
        ChannelDelays { ways: [way(true, 100, Some([0.1; TAPS])), way(false, 200, None)] },
        ChannelDelays { ways: [way(false, 300, Some([0.3; TAPS])), way(true, 400, None)] },
    ]
}

#[test]
fn a_plan_is_taken_whole_once_and_in_order() {
    explore("mailbox", &["no plan", "plan 0", "plan 1"], |reached| {
        let mailbox = Arc::new(Mailbox::new());
        mailbox.put(&plans()[0]);
        let theirs = Arc::clone(&mailbox);
        let writer = thread::spawn(move || theirs.put(&plans()[1]));
        let mut seen = 0;
        let taken = mailbox
            .take(&mut seen)
            .map(|plan| plans().iter().position(|whole| *whole == plan).expect("a plan mixed from two"));
        reached.note(taken.map_or("no plan".to_owned(), |n| format!("plan {n}")));
        writer.join().unwrap();
        // The newest plan stays until it is taken.
        assert_eq!(mailbox.take(&mut seen), (taken != Some(1)).then(|| plans()[1]));
        assert_eq!(mailbox.take(&mut seen), None);
    });
}

#[test]
fn a_new_tap_gets_a_whole_plan_or_knows_that_there_is_none() {
    explore("mailbox, first plan", &["no plan", "a plan"], |reached| {
        let mailbox = Arc::new(Mailbox::new());
        let theirs = Arc::clone(&mailbox);
        let writer = thread::spawn(move || theirs.put(&plans()[0]));
        match mailbox.first(&mut 0) {
            Some(plan) => {
                assert_eq!(plan, plans()[0]);
                reached.note("a plan");
            }
            None => reached.note("no plan"),
        }
        writer.join().unwrap();
        assert_eq!(mailbox.first(&mut 0), Some(plans()[0]));
    });
}
