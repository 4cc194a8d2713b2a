//! The editor in a window of the demo's host, live for a while.

use crate::Outcome;
use crate::play::Play;
use plumbline_tests::rig::display::HostWindow;
use std::path::Path;
use std::time::{Duration, Instant};

/// Where the live stretch begins, so that it ends in the scene's late swell. A shorter file is played from its start.
const FROM_SECS: f64 = 39.0;
/// How long the window stays.
const SHOWN: Duration = Duration::from_secs(12);
/// How far ahead of the clock the host processes.
const AHEAD: Duration = Duration::from_millis(20);

/// Opens the editor, plays a stretch in real time under it, and keeps a picture of the window.
pub(crate) fn show(mut play: Play, picture: &Path) -> Outcome<()> {
    if std::env::var_os("DISPLAY").is_none_or(|display| display.is_empty()) {
        return Err("there is no display (DISPLAY is not set); --headless leaves the window out".into());
    }
    let from = if play.secs() > FROM_SECS + SHOWN.as_secs_f64() { FROM_SECS } else { 0.0 };
    let window = HostWindow::open([1_180, 760])?;
    let size = play.mix().instance.open_editor(window.id())?;
    window.resize(size)?;
    play.live(from)?;
    println!("demo: the editor is open for {} s", SHOWN.as_secs());
    let start = Instant::now();
    let first = play.secs();
    while start.elapsed() < SHOWN && !play.has_ended() {
        play.until(first + (start.elapsed() + AHEAD).as_secs_f64())?;
        window.drain();
        std::thread::sleep(Duration::from_millis(5));
    }
    let seen = window.picture()?;
    seen.save(picture)?;
    play.mix().instance.close_editor()?;
    println!("demo: a picture of the window is in {}", picture.display());
    Ok(())
}
