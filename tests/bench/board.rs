//! The cost of the board for 64 layers: the worker's time with a board and without one, in separate processes.

use crate::{Line, crowd, median};
use plumbline_programme::session::MOST_LAYERS;
use plumbline_tests::rig::board::{FOLDER_VARIABLE, Folder};
use std::process::Command;

/// The argument that makes this program one of the two processes.
pub(crate) const PART: &str = "board-part";
/// Runs of each process; the median counts.
const RUNS: usize = 3;

pub(crate) fn run() -> Line {
    let (mut with, mut without) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let folder = Folder::make().expect("a board folder");
        let (share, heard) = part(&folder.path().to_string_lossy());
        assert_eq!(heard, MOST_LAYERS, "the mix must hear all layers");
        with.push(share);
        // A board cannot be at a relative path, so every layer is alone.
        let (share, heard) = part("no-board-here");
        assert!(heard <= 1, "{heard} layers were heard without a board");
        without.push(share);
    }
    let (with, without) = (100.0 * median(with), 100.0 * median(without));
    Line {
        what: "board reading and account, 64 layers",
        bound: "one core",
        found: with - without,
        budget: 5.0,
        unit: "%",
        behind: format!(
            "worker {with:.2} % with a board, {without:.2} % without, middle of {RUNS} runs each"
        ),
    }
}

/// Runs one of the two processes. Returns the worker's share of a core and the number of layers in the mix's session.
fn part(board: &str) -> (f64, usize) {
    let output = Command::new(std::env::current_exe().expect("this program has a path"))
        .arg(PART)
        .env(FOLDER_VARIABLE, board)
        .output()
        .expect("this program can be run again");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut words = text.split_whitespace();
    let mut next =
        || words.next().unwrap_or_else(|| panic!("a part of the bench ended without figures: {text}"));
    (next().parse().expect("a share"), next().parse().expect("a count"))
}

/// The body of these processes: prints the figures for [`part`].
pub(crate) fn print_part() {
    let cost = crowd::spent(MOST_LAYERS);
    println!("{} {}", cost.share, cost.heard);
}
