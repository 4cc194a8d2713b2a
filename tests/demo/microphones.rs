//! Boom and lavalier on separate tracks, before the whole scene is played: the planted delay from the session and from
//! the side-chain, and the remaining delay with the repair on trial.

use crate::Outcome;
use crate::found::Row;
use plumbline_audio::Reader;
use plumbline_measure::FrameRate;
use plumbline_programme::pair::{Advice, Polarity, Side};
use plumbline_programme::{Mic, PairLine, Role, Trial, View};
use plumbline_scene::{Quantity, Truth, Value};
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, state};
use std::path::Path;
use std::time::{Duration, Instant};

const BLOCK: usize = 4_800;
/// Seconds of the scene to play: more than the 10 s that vote.
const SECS: f64 = 13.0;
/// Tolerance of a delay, in samples.
const NEAR: f64 = 0.1;
/// The longest wait for a reading; after that it is used as it is.
const PATIENCE: Duration = Duration::from_secs(20);
/// How long a delay must stay the same to count.
const SETTLED: Duration = Duration::from_millis(700);

/// A track of this small project.
struct Track {
    processor: Option<Processor>,
    instance: Instance,
    sound: Vec<f32>,
}

impl Drop for Track {
    fn drop(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
    }
}

struct Project {
    tracks: Vec<Track>,
    port: Port,
    rate_hz: f64,
    at: i64,
    _library: Library,
}

/// The rows of the table.
pub(crate) fn rows(clap: &Path, library_file: &Path, folder: &Path, truth: &Truth) -> Outcome<Vec<Row>> {
    let planted = truth.planted.iter().find(|p| p.quantity == Quantity::PairDelay);
    let planted = planted.ok_or("the scene plants no delay between two stems")?;
    let Value::Number(late) = planted.value else { return Err("the planted delay is not a number".into()) };
    let stem = |name: &str| -> Outcome<Vec<f32>> {
        let found = truth.stems.iter().find(|stem| stem.name.starts_with(name));
        let file = &found.ok_or_else(|| format!("the scene has no {name}"))?.file;
        read(&folder.join("stems").join(file), planted.start_secs)
    };
    let (lavalier, boom) = (stem("lavalier")?, stem("boom")?);
    let mut rows = Vec::new();
    let open = || -> Outcome<(Library, Port)> { Ok((Library::load(clap)?, Port::open(library_file)?)) };
    let rate_hz = f64::from(truth.rate_hz);

    let (library, port) = open()?;
    let mut project = Project { tracks: Vec::new(), port, rate_hz, at: 0, _library: library };
    project.add("lavalier", &lavalier, None)?;
    project.add("boom", &boom, None)?;
    let session = |view: &View| {
        let id = |name: &str| {
            view.session.layers.iter().find(|l| l.identity.name == name).map(|l| Mic::Layer(l.id))
        };
        turned(view, [id("lavalier")?, id("boom")?])
    };
    project.prove("session", late, &session, &mut rows)?;
    drop(project);

    let (library, port) = open()?;
    let mut project = Project { tracks: Vec::new(), port, rate_hz, at: 0, _library: library };
    project.add("lavalier", &lavalier, Some(&boom))?;
    let side = |view: &View| turned(view, [Mic::Main, Mic::SideChain]);
    project.prove("side-chain", late, &side, &mut rows)?;
    Ok(rows)
}

/// The line of a pair, and the delay of its second microphone relative to its first in samples, if any.
fn turned(view: &View, two: [Mic; 2]) -> Option<(PairLine, f64)> {
    let line = view.mics.line(two)?.clone();
    let agreed = line.reading.outcome.ok()?;
    let sign = if line.mics == two { 1.0 } else { -1.0 };
    let samples = sign * agreed.delay_secs * f64::from(line.rate_hz);
    Some((line, samples))
}

impl Project {
    /// Adds a track with an instance, and a sound at its side-chain if given.
    fn add(&mut self, name: &str, sound: &[f32], side: Option<&[f32]>) -> Outcome<()> {
        let class = self._library.classes()?.into_iter().next().ok_or("the plug-in offers no class")?;
        let mut instance = self._library.create(&class.id, Label::default())?;
        let saved = state::named(&instance.save()?, name, Role::Natural, 'A')?;
        instance.load(&saved)?;
        let wanted = u32::from(side.is_some());
        let layout = instance.layouts()?.iter().position(|l| l.side_ports == wanted && l.channels == [2; 2]);
        instance.select_layout(layout.ok_or("the plug-in offers no such layout")?)?;
        instance.set_offline(true)?;
        let processor = instance.activate(self.rate_hz, BLOCK)?;
        self.port.watch(u32::try_from(self.tracks.len())?, true)?;
        let mut all = sound.to_vec();
        all.extend_from_slice(side.unwrap_or(&[]));
        self.tracks.push(Track { processor: Some(processor), instance, sound: all });
        Ok(())
    }

    /// Plays the whole stretch, each pass after the previous one in song time.
    fn play(&mut self) -> Outcome<()> {
        let frames = self.tracks.iter().map(|t| t.sound.len()).min().unwrap_or(0);
        let with_side = self.tracks.len() == 1;
        let frames = if with_side { frames / 2 } else { frames };
        for from in (0..frames).step_by(BLOCK) {
            let to = (from + BLOCK).min(frames);
            for track in &mut self.tracks {
                let main = &track.sound[from..to];
                let side = with_side.then(|| &track.sound[frames + from..frames + to]);
                let side = side.map(|side| [side, side]);
                let processor = track.processor.as_mut().ok_or("the track is not active")?;
                processor.process(
                    &[main, main],
                    side.as_ref().map(|s| &s[..]),
                    Moment::playing_at(self.at + i64::try_from(from)?),
                    &[],
                )?;
            }
        }
        self.at += i64::try_from(frames)?;
        Ok(())
    }

    /// Waits until the delay is stable.
    fn settled(&self, of: &impl Fn(&View) -> Option<(PairLine, f64)>) -> Outcome<Option<(PairLine, f64)>> {
        let (start, mut since) = (Instant::now(), Instant::now());
        let mut was: Option<f64> = None;
        loop {
            let now = of(&self.port.readings(0, 0)?.view);
            let delay = now.as_ref().map(|(_, delay)| *delay);
            if delay != was {
                (was, since) = (delay, Instant::now());
            }
            if (delay.is_some() && since.elapsed() >= SETTLED) || start.elapsed() >= PATIENCE {
                return Ok(now);
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn prove(
        &mut self,
        way: &str,
        late: f64,
        of: &impl Fn(&View) -> Option<(PairLine, f64)>,
        rows: &mut Vec<Row>,
    ) -> Outcome<()> {
        self.play()?;
        let found = self.settled(of)?;
        let delay = found.as_ref().map(|(_, delay)| *delay);
        rows.push(Row::near(&format!("boom after lavalier, {way}"), late, delay, NEAR, "samples"));
        let polarity = found.as_ref().and_then(|(line, _)| line.reading.outcome.ok()).map(|a| a.polarity);
        let polarity = polarity.map(Polarity::sign);
        rows.push(Row::near(&format!("boom and lavalier, {way}: polarity"), 1.0, polarity, 0.0, ""));
        let trial = found.and_then(|(line, delay)| {
            // The lavalier leads, and waits.
            let first_leads = line.reading.outcome.ok()?.delay_secs > 0.0;
            let Advice::Repair(fix) = line.advice(FrameRate::F25, 20.0) else { return None };
            let own = if first_leads { Side::First } else { Side::Second };
            (delay > 0.0).then(|| Trial::on(own, &fix)).flatten()
        });
        let left = match trial {
            Some(trial) => {
                // The demo renders offline.
                self.port.try_out(0, Some(Trial { in_renders: true, ..trial }))?;
                self.play()?;
                self.settled(of)?.map(|(_, delay)| delay)
            }
            None => None,
        };
        rows.push(Row::near(&format!("delay left during the trial, {way}"), 0.0, left, NEAR, "samples"));
        Ok(())
    }
}

/// A stretch of a mono file.
fn read(path: &Path, from_secs: f64) -> Outcome<Vec<f32>> {
    let mut reader = Reader::open(path)?;
    let rate = f64::from(reader.rate_hz());
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "times inside the scene")]
    let (from, frames) = ((from_secs * rate) as usize, (SECS * rate) as usize);
    let mut block = vec![vec![0.0; BLOCK]; reader.channels()];
    let mut sound = Vec::new();
    while sound.len() < from + frames {
        match reader.read(&mut block)? {
            0 => break,
            count => sound.extend_from_slice(&block[0][..count]),
        }
    }
    let end = sound.len().min(from + frames);
    Ok(sound.get(from..end).unwrap_or(&[]).to_vec())
}
