//! The editor in a window of the demo's host, shown for a while in real time.

use crate::Outcome;
use crate::play::Play;
use plumbline_tests::rig::embed::{DRAWN, Embedding, Socket};
use std::path::Path;
use std::time::{Duration, Instant};

/// Start of the live stretch, which ends in the scene's late swell. A shorter file is played from its start.
const FROM_SECS: f64 = 39.0;
/// How long the window is shown.
const SHOWN: Duration = Duration::from_secs(12);
/// The host's delay before it maps the editor: its window redirects, as in many hosts.
const MAPPED_AFTER: Duration = Duration::from_millis(100);
/// How far ahead of the clock the host processes.
const AHEAD: Duration = Duration::from_millis(20);

/// Opens the editor in a redirecting window, plays a stretch in real time, and saves a picture of the window.
pub(crate) fn show(mut play: Play, picture: &Path) -> Outcome<()> {
    if std::env::var_os("DISPLAY").is_none_or(|display| display.is_empty()) {
        return Err("there is no display (DISPLAY is not set); use --headless to skip the window".into());
    }
    let from = if play.secs() > FROM_SECS + SHOWN.as_secs_f64() { FROM_SECS } else { 0.0 };
    let mut window = Socket::open([1_180, 760], Embedding::Redirecting(MAPPED_AFTER))?;
    let size = play.mix().instance.open_editor(window.id())?;
    window.resize(size)?;
    window.shown();
    play.live(from)?;
    println!("demo: the editor is open for {} s", SHOWN.as_secs());
    let start = Instant::now();
    let first = play.secs();
    while start.elapsed() < SHOWN && !play.has_ended() {
        play.until(first + (start.elapsed() + AHEAD).as_secs_f64())?;
        window.idle()?;
        std::thread::sleep(Duration::from_millis(5));
    }
    let seen = window.picture()?;
    seen.save(picture)?;
    play.mix().instance.close_editor()?;
    if seen.colours() < DRAWN {
        return Err(format!("it stayed blank; see {}", picture.display()).into());
    }
    println!("demo: a picture of the window is in {}", picture.display());
    Ok(())
}
