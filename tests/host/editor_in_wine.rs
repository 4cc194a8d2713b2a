//! The editor of the Windows build in Wine, observed on the display where it draws. `cargo xtask windows-editor` sets
//! the paths of Wine and the program.
#![cfg(target_os = "linux")]

use plumbline_tests::rig::child::MARK;
use plumbline_tests::rig::display::{Onlooker, Picture, Screen};
use std::env;
use std::ffi::OsString;
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The variables with Wine, the program containing the guest's half of this test, and the folder for pictures.
const VARIABLES: [&str; 3] = ["PLUMBLINE_WINE", "PLUMBLINE_WINE_PROGRAM", "PLUMBLINE_WINE_PICTURES"];
/// The test that is the guest's half.
const GUEST: &str = "editor_windows::clap_editor_opens_draws_takes_a_key_resizes_closes_and_reopens";
/// The stages reported by the guest, in order.
const STAGES: [&str; 10] =
    ["opened", "held", "mics", "bus", "reopened", "held", "mics", "bus", "smallest", "larger"];
/// The longest wait for drawing on a slow machine without a graphics card.
const PATIENCE: Duration = Duration::from_secs(60);
/// The least number of colours of a drawn window; a blank one has one, or two with a border.
const DRAWN: usize = 8;
/// The least number of pixels, of 900 000, that a change of page changes; a held picture changes none.
const ANOTHER_PAGE: usize = 20_000;

fn told(name: &str) -> OsString {
    env::var_os(name).unwrap_or_else(|| panic!("{name} is not set; `cargo xtask windows-editor` sets it"))
}

#[test]
#[ignore = "needs the Windows build and Wine; `cargo xtask windows-editor` runs it"]
fn the_editor_is_seen_in_a_window_of_wine() {
    let [wine, program, pictures] = VARIABLES.map(told);
    let pictures = PathBuf::from(pictures);
    let screen = Screen::start().unwrap();
    let onlooker = Onlooker::of(&screen).unwrap();
    let mut guest = Command::new(wine)
        .arg(program)
        .args([GUEST, "--exact", "--ignored", "--nocapture", "--test-threads=1"])
        .envs(screen.environment())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut orders = guest.stdin.take().expect("piped");
    let words = BufReader::new(guest.stdout.take().expect("piped"));
    let mut seen: Vec<(String, Picture)> = Vec::new();
    let mut ended = false;
    for line in words.lines() {
        let line = line.unwrap();
        println!("{line}");
        let Some((_, word)) = line.split_once(MARK) else { continue };
        let parts: Vec<&str> = word.split_whitespace().collect();
        let [stage, width, height] = parts[..] else {
            ended = word.trim() == "ended";
            continue;
        };
        let size = [width, height].map(|side| side.parse().unwrap());
        let held = seen.iter().rfind(|(stage, _)| stage == "held").map(|(_, picture)| picture);
        let picture = wait_for(&onlooker, size, |picture| {
            let page = match (stage, held) {
                ("mics", Some(held)) => picture.differing(held) >= ANOTHER_PAGE,
                ("bus", Some(held)) => picture == held,
                _ => true,
            };
            picture.colours() >= DRAWN && page
        });
        let file = pictures.join(format!("{}-{stage}.png", seen.len() + 1));
        picture.save(&file).unwrap();
        println!("{}: {} colours", file.display(), picture.colours());
        seen.push((stage.to_owned(), picture));
        writeln!(orders, "seen").unwrap();
    }
    let status = guest.wait().unwrap();
    assert!(status.success() && ended, "the guest ended with {status}");
    assert_eq!(seen.iter().map(|(stage, _)| stage.as_str()).collect::<Vec<_>>(), STAGES);
}

/// Waits until a window of a size meets `wanted`.
fn wait_for(onlooker: &Onlooker, size: [u32; 2], wanted: impl Fn(&Picture) -> bool) -> Picture {
    let start = Instant::now();
    loop {
        let pictures = onlooker.pictures(size).expect("the screen is there");
        let colours: Vec<usize> = pictures.iter().map(Picture::colours).collect();
        if let Some(picture) = pictures.into_iter().find(&wanted) {
            return picture;
        }
        assert!(
            start.elapsed() < PATIENCE,
            "no window of {size:?} shows what is wanted; the windows have {colours:?} colours"
        );
        std::thread::sleep(Duration::from_millis(50));
    }
}
