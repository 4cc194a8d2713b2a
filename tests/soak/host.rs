//! One host process: plays its layers in real time and does to them what users do.

use plumbline_programme::Role;
use plumbline_tests::rig::clap::{Change, Instance, Label, Library, Processor};
use plumbline_tests::rig::display::HostWindow;
use plumbline_tests::rig::parameters::RESET;
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, RigError, bundles, state, vst3};
use plumbline_tests::signal::{Noise, sine, single};
use std::time::{Duration, Instant};

const RATE_HZ: f64 = 48_000.0;
/// Frames of a block: 10 ms.
const BLOCK: usize = 480;
/// The passage that the song loops, in frames: a minute. What is kept of it does not grow after the first time.
const LOOP: usize = 60 * 48_000;
/// Time between two things that the user does.
const BETWEEN: Duration = Duration::from_millis(700);
/// Time between two reports.
const REPORT: Duration = Duration::from_secs(2);
/// The length of the last passage, which is measured, in frames: 5 s.
const LAST: usize = 5 * 48_000;
/// Level of the sine of the last passage, dBFS. At 1 kHz in both channels it reads as many LUFS (EBU Tech 3341, case 1).
const SINE_DB: f64 = -23.0;

struct Layer {
    processor: Option<Processor>,
    instance: Instance,
}

impl Layer {
    fn new(library: &Library, name: &str, role: Role) -> Result<Self, RigError> {
        let mut instance = library.create("plumbline.analyser.stereo", Label::default())?;
        let fresh = instance.save()?;
        instance.load(&state::named(&fresh, name, role, 'A')?)?;
        let processor = instance.activate(RATE_HZ, BLOCK)?;
        Ok(Self { processor: Some(processor), instance })
    }
}

impl Drop for Layer {
    fn drop(&mut self) {
        // An error is that of an editor which is not open.
        let _ = self.instance.close_editor();
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor);
        }
    }
}

struct Host {
    library: Library,
    clap: Vec<Layer>,
    vst3: Vec<vst3::Instance>,
    class: String,
    numbers: Noise,
    sound: Vec<Vec<f32>>,
    /// The host's window with the editor of the first layer, which stays: the moments that an open editor keeps grow for
    /// five minutes, and in every layer they would look like a leak.
    editor: Option<HostWindow>,
    position: usize,
    blocks: u64,
    start: Instant,
    /// Layers made so far.
    made: usize,
}

/// Runs a host: a seed, CLAP layers, VST3 layers, seconds.
pub(crate) fn run(numbers: &[&str]) -> Result<(), String> {
    let numbers: Vec<u64> = numbers.iter().filter_map(|number| number.parse().ok()).collect();
    let [seed, claps, vst3s, secs] = numbers[..] else { return Err("four numbers".to_owned()) };
    played(seed, claps, vst3s, Duration::from_secs(secs)).map_err(|error| error.to_string())
}

fn played(seed: u64, claps: u64, vst3s: u64, time: Duration) -> Result<(), RigError> {
    let path = bundles::clap()?;
    let bundle = bundles::vst3()?;
    let mut numbers = Noise::new(seed);
    let sound = (0..2).map(|_| single(&numbers.pink(480_000, 0.1, RATE_HZ))).collect();
    let class = vst3::classes(&bundle)?.0.first().map(|class| class.id.clone()).unwrap_or_default();
    let mut host = Host {
        library: Library::load(&path)?,
        clap: Vec::new(),
        vst3: Vec::new(),
        class,
        numbers,
        sound,
        editor: None,
        position: 0,
        blocks: 0,
        start: Instant::now(),
        made: 0,
    };
    for _ in 0..claps {
        host.join_clap()?;
    }
    for _ in 0..vst3s {
        host.join_vst3()?;
    }
    host.start = Instant::now();
    let (begun, mut acted, mut reported) = (Instant::now(), Instant::now(), Instant::now());
    while begun.elapsed() < time {
        host.play()?;
        if acted.elapsed() > BETWEEN {
            host.act()?;
            acted = Instant::now();
        }
        if reported.elapsed() > REPORT {
            if host.editor.is_none() {
                println!("sample {} {}", host.blocks, usage());
            }
            reported = Instant::now();
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    host.close_editor()?;
    host.last(&Port::open(&path)?)
}

/// What the system says of this process: KiB of memory, threads, descriptors.
fn usage() -> String {
    let count = |what: &str| std::fs::read_dir(what).map(Iterator::count).unwrap_or_default();
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let memory = status.lines().find_map(|line| line.strip_prefix("VmRSS:")?.split_whitespace().next());
    format!("{} {} {}", memory.unwrap_or("0"), count("/proc/self/task"), count("/proc/self/fd"))
}

impl Host {
    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.numbers.bits() >> 11).unwrap_or(0) % end.max(1)
    }

    fn next_name(&mut self) -> (String, Role) {
        self.made += 1;
        let role = Role::PARTS[self.made % Role::PARTS.len()];
        (format!("Scaffold {}", self.made), role)
    }

    fn join_clap(&mut self) -> Result<(), RigError> {
        let (name, role) = self.next_name();
        self.clap.push(Layer::new(&self.library, &name, role)?);
        Ok(())
    }

    fn join_vst3(&mut self) -> Result<(), RigError> {
        let (name, role) = self.next_name();
        let mut instance = vst3::Instance::create(&bundles::vst3()?, &self.class, RATE_HZ, BLOCK)?;
        let memory = serde_json::json!({"version": 1, "name": name, "role": role, "session": "A"});
        instance.load(&state::with_memory(&memory.to_string()))?;
        instance.start()?;
        self.vst3.push(instance);
        Ok(())
    }

    /// Plays the blocks that are due.
    fn play(&mut self) -> Result<(), RigError> {
        let due = self.start.elapsed().as_secs_f64() * RATE_HZ / BLOCK as f64;
        while ((self.blocks + 1) as f64) <= due {
            let at = usize::try_from(self.blocks % 999).unwrap_or(0) * BLOCK;
            let block: Vec<Vec<f32>> = self.sound.iter().map(|side| side[at..at + BLOCK].to_vec()).collect();
            self.block(&block)?;
            self.position = (self.position + BLOCK) % LOOP;
        }
        Ok(())
    }

    /// Plays a block through every layer; what goes out must equal what goes in.
    fn block(&mut self, block: &[Vec<f32>]) -> Result<(), RigError> {
        let moment = Moment::playing_at(i64::try_from(self.position).unwrap_or(0));
        for layer in &mut self.clap {
            let Some(processor) = &mut layer.processor else { continue };
            if processor.play(block, moment)? != block {
                return Err(RigError::new("a CLAP layer altered the sound"));
            }
            layer.instance.idle();
        }
        for instance in &mut self.vst3 {
            if instance.play(block, moment)? != block {
                return Err(RigError::new("a VST3 layer altered the sound"));
            }
        }
        self.blocks += 1;
        Ok(())
    }

    fn close_editor(&mut self) -> Result<(), RigError> {
        if let Some(_window) = self.editor.take()
            && let Some(layer) = self.clap.first_mut()
        {
            layer.instance.close_editor()?;
        }
        Ok(())
    }

    /// Something that a user does.
    fn act(&mut self) -> Result<(), RigError> {
        match self.below(6) {
            0 => self.position = self.below(LOOP / BLOCK) * BLOCK,
            1 if self.editor.is_some() => self.close_editor()?,
            1 if !self.clap.is_empty() => {
                let window = HostWindow::open([1_180, 760])?;
                self.clap[0].instance.open_editor(window.id())?;
                self.editor = Some(window);
            }
            2 if !self.clap.is_empty() => {
                let at = self.below(self.clap.len());
                let (name, role) = self.next_name();
                let instance = &mut self.clap[at].instance;
                let saved = instance.save()?;
                instance.load(&state::named(&saved, &name, role, 'A')?)?;
            }
            3 if self.clap.len() > 1 => {
                // A layer leaves and another comes.
                let at = 1 + self.below(self.clap.len() - 1);
                drop(self.clap.remove(at));
                self.join_clap()?;
            }
            4 if !self.vst3.is_empty() => {
                let at = self.below(self.vst3.len());
                drop(self.vst3.remove(at));
                self.join_vst3()?;
            }
            5 => {
                // The host stops calling for a while.
                std::thread::sleep(Duration::from_millis(self.below(300) as u64));
            }
            _ => {}
        }
        Ok(())
    }

    /// Plays a known sound after a reset, and prints the worst error of the layers' readings.
    fn last(&mut self, port: &Port) -> Result<(), RigError> {
        let claps = u32::try_from(self.clap.len()).unwrap_or(0);
        for layer in 0..claps {
            port.watch(layer, true)?;
        }
        let tone = single(&sine(LAST, 10.0_f64.powf(SINE_DB / 20.0), 1_000.0, 0.0, RATE_HZ));
        self.position = 0;
        let reset = Change { frame: 0, parameter: RESET, value: 1.0 };
        // The automation is on already if a user's last reset was; it must rise.
        let ready = Change { value: 0.0, ..reset };
        let start = Instant::now();
        for (number, part) in tone.chunks_exact(BLOCK).enumerate() {
            if number == 0 {
                let moment = Moment::playing_at(0);
                for processor in self.clap.iter_mut().filter_map(|layer| layer.processor.as_mut()) {
                    let out = processor.process(&[part, part], None, moment, &[ready, reset])?;
                    if out.iter().any(|side| *side != part) {
                        return Err(RigError::new("a CLAP layer altered the sound"));
                    }
                }
            } else {
                self.block(&[part.to_vec(), part.to_vec()])?;
            }
            self.position += BLOCK;
            let due = Duration::from_secs_f64((number * BLOCK) as f64 / RATE_HZ);
            std::thread::sleep(due.saturating_sub(start.elapsed()));
        }
        let (mut worst, mut lost) = (0.0_f64, 0);
        for layer in 0..claps {
            let (off, missing) = reading(port, layer)?;
            worst = worst.max(off.abs());
            lost += missing;
        }
        println!("last {claps} {worst:.3} {lost}");
        Ok(())
    }
}

/// The error of a layer's loudness in LU after the last passage, and the frames that it lost there.
fn reading(port: &Port, layer: u32) -> Result<(f64, u64), RigError> {
    let patience = Instant::now();
    loop {
        let readings = port.readings(layer, u32::MAX)?;
        let found = readings.view.loudness.integrated_lufs;
        // The last passage is from 0 to 5 s; the rest of the loop is of before, and the last two tenths are still open.
        // A loss is marked in the tenth in which it ends, and counted at once.
        let last = readings.tenths.iter().filter(|tenth| (0..50).contains(&tenth.index));
        let heard: u64 = last.map(|tenth| u64::from(tenth.sums.frames)).sum();
        let accounted = heard + readings.view.health.lost_frames;
        if let Some(found) = found.filter(|_| accounted >= 48 * 4_800) {
            return Ok((found - SINE_DB, readings.view.health.lost_frames));
        }
        if patience.elapsed() > Duration::from_secs(20) {
            let words =
                format!("layer {layer}: no whole reading: {found:?}, {accounted} samples accounted for");
            return Err(RigError::new(words));
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}
