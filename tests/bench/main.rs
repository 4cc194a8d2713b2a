//! `cargo xtask bench`: the budgets, each as a ratio to a bound measured in the same run.
//!
//! Exit codes: 0 all budgets hold, 1 a budget is broken, 2 unknown budget.
#![expect(clippy::print_stdout, reason = "a command that prints a table")]

mod analysis;
mod audio;
mod board;
mod crowd;
mod delay;
mod memory;
mod mics;
mod screen;
mod survey;

use std::process::ExitCode;

/// One line of the table.
struct Line {
    /// The measured quantity.
    what: &'static str,
    /// The bound.
    bound: &'static str,
    /// The measured figure, in `unit`.
    found: f64,
    /// The allowed maximum, in `unit`.
    budget: f64,
    /// The unit: ×, % or ms.
    unit: &'static str,
    /// The figures behind the ratio.
    behind: String,
}

/// A budget's name, and the function that measures it.
type Part = (&'static str, fn() -> Line);

fn main() -> ExitCode {
    let only = std::env::args().nth(1);
    if only.as_deref() == Some(board::PART) {
        board::print_part();
        return ExitCode::SUCCESS;
    }
    // A separate board keeps the user's own session out of the measurement.
    let folder = plumbline_tests::rig::board::Folder::make().expect("a board folder");
    folder.claim();
    let parts: [Part; 11] = [
        ("audio", audio::run),
        ("analysis", analysis::run),
        ("crowd", crowd::run),
        ("board", board::run),
        ("pair", mics::one),
        ("mics", mics::eight),
        ("memory", memory::run),
        ("screen", screen::run),
        ("delay", delay::run),
        ("survey", survey::speed),
        ("length", survey::memory),
    ];
    let mut ran = 0;
    let mut broken = 0;
    println!("{:<44} {:>9} {:>9}   against", "what", "found", "budget");
    for (name, run) in parts {
        if only.as_deref().is_some_and(|o| o != name) {
            continue;
        }
        let line = run();
        let holds = line.found <= line.budget;
        ran += 1;
        broken += usize::from(!holds);
        println!(
            "{:<44} {:>7.2} {} {:>7.2} {}   {} — {}{}",
            line.what,
            line.found,
            line.unit,
            line.budget,
            line.unit,
            line.bound,
            line.behind,
            if holds { "" } else { "   BROKEN" },
        );
    }
    println!("{ran} budgets measured, {broken} broken");
    if ran == 0 {
        println!(
            "unknown budget; choose audio, analysis, crowd, board, pair, mics, memory, screen, delay, survey, length"
        );
        return ExitCode::from(2);
    }
    ExitCode::from(u8::from(broken > 0))
}

/// The median of repeated measurements: other work on the machine disturbs some of them, but not most.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Two channels of pink noise at 48 kHz, unrelated.
fn noise(secs: usize) -> [Vec<f32>; 2] {
    let mut noise = plumbline_tests::signal::Noise::new(7);
    [(); 2].map(|()| plumbline_tests::signal::single(&noise.pink(48_000 * secs, 0.1, 48_000.0)))
}
