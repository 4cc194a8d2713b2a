//! The demo's host: an instance of the built plug-in on the mix bus and one on each stem, all rendered together.

use crate::Outcome;
use crate::heard::{Heard, Wires};
use crate::seat::{Seat, Track};
use plumbline_measure::Tenth;
use plumbline_programme::{Session, View};
use plumbline_tests::rig::clap::{Label, Library};
use plumbline_tests::rig::readings::{Port, Readings};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// The most frames that the latest view may lack: those waiting for a full chunk.
const BEHIND_FRAMES: i64 = 64;
/// The longest wait for the measurement: a stuck worker must not hang the demo.
const PATIENCE: Duration = Duration::from_secs(60);
/// Seconds before a moment in which the host renders in real time: views are made at that pace, and the search for the
/// layers that cause a mono loss runs every two seconds.
const PACED_SECS: f64 = 2.5;
/// How long a session must stay the same to count as complete.
const SETTLED: Duration = Duration::from_millis(300);
/// The longest wait for that; after that the session is used as it is.
const SETTLING: Duration = Duration::from_secs(5);
/// Enough tenths for an hour, the most that the plug-in keeps.
const ALL_TENTHS: u32 = 36_000;

/// A programme being played through the plug-in.
pub(crate) struct Play {
    // Dropped before the library. The mix first, then the stems, in the port's order.
    seats: Vec<Seat>,
    port: Port,
    _library: Library,
}

impl Play {
    /// Loads the plug-in and makes an instance on the mix bus and on each stem.
    pub(crate) fn start(clap: &Path, mix: Track, stems: Vec<Track>) -> Outcome<Self> {
        let library = Library::load(clap)?;
        let port = Port::open(&library_file(clap))?;
        let mut seats = vec![Seat::take(&library, mix, Label::new("Mix bus", [0x56, 0xB4, 0xE9]))?];
        for stem in stems {
            seats.push(Seat::take(&library, stem, Label::default())?);
        }
        for seat in &mut seats {
            seat.activate(true)?;
        }
        // Views are made only for watchers.
        port.watch(0, true)?;
        Ok(Self { seats, port, _library: library })
    }

    /// The instance on the mix.
    pub(crate) fn mix(&mut self) -> &mut Seat {
        &mut self.seats[0]
    }

    /// Plays up to a time, or to the end of the files.
    pub(crate) fn until(&mut self, secs: f64) -> Outcome<()> {
        let goal = self.frame_at(secs);
        while self.step(goal)? {}
        Ok(())
    }

    /// Plays up to a time, the last part in real time, and returns the view.
    pub(crate) fn view_at(&mut self, secs: f64) -> Outcome<View> {
        self.until(secs - PACED_SECS)?;
        let goal = self.frame_at(secs);
        let (start, first) = (Instant::now(), self.seats[0].frame());
        while self.step(goal)? {
            let played = (self.seats[0].frame() - first) as f64 / self.seats[0].rate_hz();
            std::thread::sleep(Duration::from_secs_f64(played).saturating_sub(start.elapsed()));
        }
        self.view()
    }

    /// Plays one block of every track. False at the end.
    fn step(&mut self, goal: i64) -> Outcome<bool> {
        let mut any = false;
        for seat in &mut self.seats {
            any |= seat.step(goal)?;
        }
        Ok(any)
    }

    fn frame_at(&self, secs: f64) -> i64 {
        #[expect(clippy::cast_possible_truncation, reason = "saturates where the whole file is meant")]
        let frame = (secs * self.seats[0].rate_hz()).round() as i64;
        frame
    }

    /// The view of everything played so far.
    fn view(&self) -> Outcome<View> {
        let played = self.seats[0].frame();
        let all_in =
            |r: &Readings| r.view.serial > 0 && r.view.clock.position.sample + BEHIND_FRAMES >= played;
        Ok(self.wait(0, 0, all_in)?.view)
    }

    /// Waits until the mix's session is complete: the layers are measured one by one.
    fn settled(&self) -> Outcome<()> {
        let start = Instant::now();
        let mut since = start;
        let mut was = Session::default();
        while since.elapsed() < SETTLED && start.elapsed() < SETTLING {
            let now = self.port.glimpse(0)?.session;
            if now != was {
                (was, since) = (now, Instant::now());
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        Ok(())
    }

    /// Waits until every layer has measured and reported everything played.
    fn ended(&self) -> Outcome<()> {
        for index in (0_u32..).take(self.seats.len()) {
            self.wait(index, 0, |readings| readings.settled)?;
        }
        Ok(())
    }

    /// Ends the programme and returns its measurements.
    pub(crate) fn finish(&mut self, views: Vec<View>) -> Outcome<Heard> {
        self.until(f64::INFINITY)?;
        self.view()?;
        self.settled()?;
        let mut wires = Wires::default();
        for (index, seat) in (0_u32..).zip(&mut self.seats) {
            seat.deactivate();
            wires.differing += seat.differing;
            if index > 0 {
                self.port.watch(index, true)?;
            }
        }
        for index in 1..u32::try_from(self.seats.len())? {
            let stem = self.measured(index)?;
            self.port.watch(index, false)?;
            wires.lost_frames += stem.view.health.lost_frames;
            wires.note_partial(&stem.tenths);
        }
        self.ended()?;
        let mix = self.measured(0)?;
        wires.lost_frames += mix.view.health.lost_frames;
        wires.note_partial(&mix.tenths);
        Ok(Heard::new(views, mix.view, mix.tenths, wires))
    }

    /// An instance's readings, once it has measured everything.
    fn measured(&self, index: u32) -> Outcome<Readings> {
        let seat = &self.seats[index as usize];
        let secs = seat.frame() as f64 / seat.rate_hz();
        #[expect(clippy::cast_possible_truncation, reason = "a whole number of Hz")]
        let last = (seat.frame() - 1) * 10 / seat.rate_hz() as i64;
        let complete = |tenths: &[Tenth]| tenths.last().is_some_and(|t| t.index >= last);
        // The measured seconds show whether the programme's loudness includes the last tenth.
        self.wait(index, ALL_TENTHS, |r| {
            r.view.serial > 0 && complete(&r.tenths) && r.view.loudness.measured_secs >= secs - 0.1
        })
    }

    /// Waits until an instance's readings meet `done`.
    fn wait(&self, index: u32, tenths: u32, done: impl Fn(&Readings) -> bool) -> Outcome<Readings> {
        let start = Instant::now();
        loop {
            let readings = self.port.readings(index, tenths)?;
            if let Some(trouble) = &readings.trouble {
                return Err(format!("the plug-in does not measure: {trouble}").into());
            }
            if done(&readings) {
                return Ok(readings);
            }
            if start.elapsed() > PATIENCE {
                return Err(format!(
                    "instance {index} did not come to the end of what was played ({} frames) in {} s; its newest \
                     view stands at frame {}",
                    self.seats[index as usize].frame(),
                    PATIENCE.as_secs(),
                    readings.view.clock.position.sample
                )
                .into());
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Restarts in real time with another stretch of the files.
    #[cfg(target_os = "linux")]
    pub(crate) fn live(&mut self, from_secs: f64) -> Outcome<()> {
        for seat in &mut self.seats {
            seat.rewind_to(from_secs)?;
            seat.activate(false)?;
        }
        Ok(())
    }

    /// Seconds of the programme played.
    #[cfg(target_os = "linux")]
    pub(crate) fn secs(&self) -> f64 {
        self.seats[0].frame() as f64 / self.seats[0].rate_hz()
    }

    /// Whether the mix has ended.
    #[cfg(target_os = "linux")]
    pub(crate) fn has_ended(&self) -> bool {
        self.seats[0].has_ended()
    }
}

/// The library inside a bundle: the bundle itself, or on macOS a file in its folder.
pub(crate) fn library_file(clap: &Path) -> PathBuf {
    if clap.is_dir() { clap.join("Contents/MacOS/Plumbline") } else { clap.to_owned() }
}
