//! Three hundred hosts, each with a behaviour of every kind drawn at random.
//!
//! A run prints its seed, and each host's number before it starts, so that the last line of a process names a host that
//! crashed. `PLUMBLINE_HOSTS_SEED` sets another seed; `PLUMBLINE_HOSTS_ONLY` plays one host alone.
#![expect(clippy::print_stdout, reason = "a host that dies is named by what its process said last")]

use super::behaviour::Behaviour;
use super::rig::Rig;
use super::rng::Rng;
use crate::assert_quiet;
use plumbline_tests::rig::child::Finished;

/// The number of hosts.
const HOSTS: u64 = 300;
/// Processes that share them.
const PARTS: u64 = 6;
/// One in this many hosts opens an editor, if there is a display.
const EDITOR_ONCE_IN: usize = 5;
/// The variable with another seed.
const SEED_VARIABLE: &str = "PLUMBLINE_HOSTS_SEED";
/// The variable with the number of a host to play alone.
const ONLY_VARIABLE: &str = "PLUMBLINE_HOSTS_ONLY";
/// The default seed.
const SEED: u64 = 20_261_128;
/// The start of a line that names a host.
const MARK: &str = "host";

fn given(variable: &str) -> Option<u64> {
    let text = std::env::var(variable).ok()?;
    Some(text.parse().unwrap_or_else(|_| panic!("{variable} is {text:?}, which is no whole number")))
}

/// Plays one part of the hosts.
fn part(number: u64) {
    let seed = given(SEED_VARIABLE).unwrap_or(SEED);
    let only = given(ONLY_VARIABLE);
    let mine = (0..HOSTS).filter(|host| host % PARTS == number && only.is_none_or(|only| only == *host));
    let mine: Vec<u64> = mine.collect();
    println!("hosts {mine:?} of {SEED_VARIABLE}={seed}");
    let body = || {
        let rig = Rig::load();
        for host in &mine {
            // Each host has its own random numbers, so that it can be played alone.
            let mut rng = Rng::new(seed ^ host.wrapping_mul(0x9e37_79b9_7f4a_7c15));
            let behaviour = Behaviour::random(&mut rng);
            play(&rig, *host, seed, &behaviour, &mut rng);
        }
    };
    if let Some(finished) = run(body) {
        assert_quiet(&without_hosts(finished));
    }
}

fn announce(host: u64, seed: u64, behaviour: &dyn std::fmt::Debug) {
    println!("\n{MARK} {host} of {SEED_VARIABLE}={seed}: {behaviour:?}");
}

fn run(body: impl FnOnce()) -> Option<Finished> {
    crate::editor::with_display(body)
}

fn play(rig: &Rig, host: u64, seed: u64, behaviour: &Behaviour, rng: &mut Rng) {
    use super::window;
    let mut editor = rng.once_in(EDITOR_ONCE_IN).then(|| window::Behaviour::random(rng));
    // A host that closes the editor during the request has none left afterwards.
    if behaviour.tries && behaviour.restart == super::behaviour::Restart::AtOnce {
        editor = editor.map(|editor| window::Behaviour { end: window::End::Closed, two: false, ..editor });
    }
    announce(host, seed, &(behaviour, editor));
    match editor {
        Some(editor) => rig.play(behaviour, Some(&mut window::Editor::of(editor)), rng),
        None => rig.play(behaviour, None, rng),
    }
}

/// The output of a process without the lines that name its hosts, and without the result after the last of them.
fn without_hosts(mut finished: Finished) -> Finished {
    let lines = finished.stdout.lines();
    let others = lines.filter(|line| !line.starts_with(MARK) && *line != "ok");
    finished.stdout = others.collect::<Vec<_>>().join("\n");
    finished
}

macro_rules! parts {
    ($($name:ident $number:literal)*) => {
        $(#[test]
        fn $name() {
            part($number);
        })*

        #[test]
        fn every_host_has_its_part() {
            assert_eq!([$($number),*].len() as u64, PARTS);
            assert_eq!([$($number),*].into_iter().sum::<u64>(), PARTS * (PARTS - 1) / 2);
        }
    };
}

parts! {
    three_hundred_hosts_at_random_first_part 0
    three_hundred_hosts_at_random_second_part 1
    three_hundred_hosts_at_random_third_part 2
    three_hundred_hosts_at_random_fourth_part 3
    three_hundred_hosts_at_random_fifth_part 4
    three_hundred_hosts_at_random_last_part 5
}
