//! One instance of the built plug-in on the mix bus of a host that renders.

use crate::Outcome;
use crate::heard::Heard;
use plumbline_measure::{Tenth, View};
use plumbline_survey::Reader;
use plumbline_tests::rig::Moment;
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::readings::{Port, Readings};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Frames of a block.
const BLOCK: usize = 512;
/// How far behind the newest view may be and still show all that was played: what waits for a full chunk.
const BEHIND_FRAMES: i64 = 64;
/// How long the plug-in may take to measure what was played: a stuck worker must not hang the demo.
const PATIENCE: Duration = Duration::from_secs(60);
/// More tenths than an hour has, which is all that the plug-in keeps.
const ALL_TENTHS: u32 = 36_000;

/// A programme on its way through the plug-in.
pub(crate) struct Play {
    // Fields go in this order: what lives in the library goes before it.
    processor: Option<Processor>,
    pub(crate) instance: Instance,
    port: Port,
    _library: Library,
    reader: Reader,
    block: Vec<Vec<f32>>,
    rate_hz: f64,
    frame: i64,
    ended: bool,
    differing: u64,
}

impl Play {
    /// Loads the plug-in and puts one instance on the bus.
    pub(crate) fn start(clap: &Path, reader: Reader) -> Outcome<Self> {
        let library = Library::load(clap)?;
        let port = Port::open(&library_file(clap))?;
        let class = library.classes()?.into_iter().next().ok_or("the plug-in offers no class")?;
        let mut instance = library.create(&class.id, Label::new("Mix bus", [0x56, 0xB4, 0xE9]))?;
        let channels = u32::try_from(reader.channels())?;
        let layout = instance
            .layouts()?
            .iter()
            .position(|layout| layout.channels == [channels; 2])
            .ok_or_else(|| format!("the plug-in offers no layout of {channels} channels"))?;
        instance.select_layout(layout)?;
        instance.set_offline(true)?;
        let rate_hz = reader.rate().as_f64();
        let processor = instance.activate(rate_hz, BLOCK)?;
        // Views are made only while somebody looks.
        port.watch(0, true)?;
        Ok(Self {
            processor: Some(processor),
            instance,
            port,
            _library: library,
            block: vec![vec![0.0; BLOCK]; reader.channels()],
            reader,
            rate_hz,
            frame: 0,
            ended: false,
            differing: 0,
        })
    }

    /// Plays on up to a time, or to the end of the file.
    pub(crate) fn until(&mut self, secs: f64) -> Outcome<()> {
        #[expect(clippy::cast_possible_truncation, reason = "saturates where the whole file is meant")]
        let goal = (secs * self.rate_hz).round() as i64;
        while !self.ended && self.frame < goal {
            let room = usize::try_from(goal - self.frame).unwrap_or(BLOCK).min(BLOCK);
            self.block.iter_mut().for_each(|side| side.resize(room, 0.0));
            let count = self.reader.read(&mut self.block)?;
            if count == 0 {
                self.ended = true;
                break;
            }
            self.process(count)?;
        }
        Ok(())
    }

    fn process(&mut self, count: usize) -> Outcome<()> {
        let processor = self.processor.as_mut().ok_or("the programme has ended")?;
        let main: Vec<&[f32]> = self.block.iter().map(|side| &side[..count]).collect();
        let out = processor.process(&main, None, Moment::playing_at(self.frame), &[])?;
        let bits = |sample: &f32| sample.to_bits();
        let changed = main.iter().zip(&out).flat_map(|(was, is)| was.iter().zip(is));
        self.differing += changed.filter(|(was, is)| bits(was) != bits(is)).count() as u64;
        self.frame += i64::try_from(count)?;
        self.instance.idle();
        Ok(())
    }

    /// The view of all that was played so far.
    pub(crate) fn view(&self) -> Outcome<View> {
        let played = self.frame;
        let readings =
            self.wait(0, |r| r.view.serial > 0 && r.view.clock.position.sample + BEHIND_FRAMES >= played)?;
        Ok(readings.view)
    }

    /// Ends the programme and hands out all that was measured of it.
    pub(crate) fn finish(&mut self, views: Vec<View>) -> Outcome<Heard> {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
        #[expect(clippy::cast_possible_truncation, reason = "a whole number of Hz")]
        let last = (self.frame - 1) * 10 / self.rate_hz as i64;
        let complete = |tenths: &[Tenth]| tenths.last().is_some_and(|t| t.index >= last);
        // The measured seconds show that the programme's loudness has taken the last tenth in.
        let secs = self.frame as f64 / self.rate_hz;
        let readings =
            self.wait(ALL_TENTHS, |r| complete(&r.tenths) && r.view.loudness.measured_secs >= secs - 0.1)?;
        Ok(Heard::new(views, readings.view, readings.tenths, self.differing))
    }

    /// Waits until the plug-in has measured what was handed to it.
    fn wait(&self, tenths: u32, done: impl Fn(&Readings) -> bool) -> Outcome<Readings> {
        let start = Instant::now();
        loop {
            let readings = self.port.readings(0, tenths)?;
            if let Some(trouble) = &readings.trouble {
                return Err(format!("the plug-in does not measure: {trouble}").into());
            }
            if done(&readings) {
                return Ok(readings);
            }
            if start.elapsed() > PATIENCE {
                return Err(format!(
                    "the plug-in did not come to the end of what was played ({} frames) in {} s; its newest view \
                     stands at frame {}",
                    self.frame,
                    PATIENCE.as_secs(),
                    readings.view.clock.position.sample
                )
                .into());
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Starts over with another stretch of a file, in the host's real time.
    #[cfg(target_os = "linux")]
    pub(crate) fn live(&mut self, input: &Path, from_secs: f64) -> Outcome<()> {
        self.instance.set_offline(false)?;
        self.reader = Reader::open(input)?;
        self.processor = Some(self.instance.activate(self.rate_hz, BLOCK)?);
        (self.frame, self.ended) = (0, false);
        // What comes before the stretch is read and not played.
        #[expect(clippy::cast_possible_truncation, reason = "a time of a programme")]
        let first = (from_secs * self.rate_hz) as i64;
        while self.frame < first {
            self.block.iter_mut().for_each(|side| side.resize(BLOCK, 0.0));
            match self.reader.read(&mut self.block)? {
                0 => break,
                count => self.frame += i64::try_from(count)?,
            }
        }
        Ok(())
    }

    /// Seconds of the programme that were played.
    #[cfg(target_os = "linux")]
    pub(crate) fn secs(&self) -> f64 {
        self.frame as f64 / self.rate_hz
    }

    /// Whether the file has come to its end.
    #[cfg(target_os = "linux")]
    pub(crate) fn has_ended(&self) -> bool {
        self.ended
    }
}

impl Drop for Play {
    /// A host deactivates before it destroys.
    fn drop(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
    }
}

/// The library inside a bundle: the bundle itself, or on macOS a file in its folder.
fn library_file(clap: &Path) -> PathBuf {
    if clap.is_dir() { clap.join("Contents/MacOS/Plumbline") } else { clap.to_owned() }
}
