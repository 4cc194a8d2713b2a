//! Starts the hosts, kills one again and again, and judges the resources that the others report.

use plumbline_tests::rig::board;
use plumbline_tests::rig::display::Screen;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// Layers of the hosts: CLAP and VST3. The last host is killed now and then.
const HOSTS: [[u32; 2]; 3] = [[34, 0], [0, 33], [20, 13]];
/// How long the last host lives each time.
const LIFE: Duration = Duration::from_secs(45);
/// Warm-up: the loop of a minute has been played twice.
const WARM: Duration = Duration::from_secs(120);
/// The most that memory may grow after the warm-up.
const GROWTH: f64 = 0.02;
/// The most that loudness may be off at the end, LU (EBU Tech 3341).
const OFF_LU: f64 = 0.1;

/// The longest that a host may take for its last passage and its end.
const PATIENCE: Duration = Duration::from_secs(120);

/// What the system says of a host without an open editor.
#[derive(Clone, Copy, Debug)]
struct Sample {
    at: Duration,
    kib: u64,
    threads: u64,
    descriptors: u64,
}

/// The readings of a host's CLAP layers at the end.
#[derive(Clone, Copy, Debug)]
struct Last {
    layers: u32,
    /// The worst error of their loudness.
    off_lu: f64,
    /// Frames that they lost, all of them counted.
    lost: u64,
}

struct Host {
    process: Child,
    lines: Receiver<String>,
    samples: Vec<Sample>,
    blocks: u64,
    last: Option<Last>,
}

impl Host {
    fn start(number: usize, secs: u64, environment: &[(String, String)]) -> Result<Self, String> {
        let [claps, vst3s] = HOSTS[number];
        let seed = std::env::var("PLUMBLINE_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(1_u64);
        let words = [seed + number as u64, claps.into(), vst3s.into(), secs].map(|word| word.to_string());
        let mut process = Command::new(std::env::current_exe().map_err(|error| error.to_string())?)
            .arg("host")
            .args(words)
            .envs(environment.iter().cloned())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|error| format!("a host could not be started: {error}"))?;
        let out = process.stdout.take().ok_or("piped")?;
        let errors = process.stderr.take().ok_or("piped")?;
        std::thread::spawn(move || {
            let lines = BufReader::new(errors).lines().map_while(Result::ok);
            // The VST3 wrapper prints a line for each instance.
            lines.filter(|line| !line.trim().starts_with("AUDIO in")).for_each(|line| println!("{line}"));
        });
        let (hand, lines) = channel();
        std::thread::spawn(move || {
            BufReader::new(out).lines().map_while(Result::ok).for_each(|line| drop(hand.send(line)));
        });
        Ok(Self { process, lines, samples: Vec::new(), blocks: 0, last: None })
    }

    /// Takes the host's words.
    fn listen(&mut self, at: Duration) {
        while let Ok(line) = self.lines.try_recv() {
            match line.split(' ').collect::<Vec<_>>().as_slice() {
                ["sample", numbers @ ..] => {
                    let numbers: Vec<u64> = numbers.iter().filter_map(|number| number.parse().ok()).collect();
                    if let [blocks, kib, threads, descriptors] = numbers[..] {
                        self.blocks = blocks;
                        self.samples.push(Sample { at, kib, threads, descriptors });
                    }
                }
                ["last", layers, off, lost] => {
                    self.last = match (layers.parse(), off.parse(), lost.parse()) {
                        (Ok(layers), Ok(off_lu), Ok(lost)) => Some(Last { layers, off_lu, lost }),
                        _ => None,
                    };
                }
                _ => println!("{line}"),
            }
        }
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        // It may have ended.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Runs the soak.
pub(crate) fn run(minutes: &str) -> Result<(), String> {
    let minutes: f64 = minutes.parse().map_err(|_| format!("`{minutes}` is not a number of minutes"))?;
    let time = Duration::from_secs_f64((minutes * 60.0).max(60.0));
    let warm = WARM.min(time / 3);
    let board = board::Folder::make().map_err(|error| error.to_string())?;
    let screen = Screen::start().map_err(|error| error.to_string())?;
    let (key, folder) = board.variable();
    let mut environment = vec![(key.to_owned(), folder)];
    environment.extend(screen.environment().into_iter().map(|(key, value)| (key.to_owned(), value)));
    let begun = Instant::now();
    let secs = time.as_secs();
    let mut hosts = [Host::start(0, secs, &environment)?, Host::start(1, secs, &environment)?];
    let mut mortal = Host::start(2, secs, &environment)?;
    let (mut born, mut kills) = (Instant::now(), 0_u32);
    while begun.elapsed() < time {
        std::thread::sleep(Duration::from_millis(200));
        for host in &mut hosts {
            host.listen(begun.elapsed());
            if let Ok(Some(status)) = host.process.try_wait() {
                return Err(format!(
                    "a host ended with {status} after {:.0} s",
                    begun.elapsed().as_secs_f64()
                ));
            }
        }
        mortal.listen(begun.elapsed());
        if let Ok(Some(status)) = mortal.process.try_wait() {
            return Err(format!("the third host ended with {status}"));
        }
        if born.elapsed() > LIFE {
            // SIGKILL.
            mortal.process.kill().and_then(|()| mortal.process.wait()).map_err(|error| error.to_string())?;
            kills += 1;
            mortal = Host::start(2, secs, &environment)?;
            born = Instant::now();
        }
    }
    mortal.process.kill().and_then(|()| mortal.process.wait()).map_err(|error| error.to_string())?;
    for host in &mut hosts {
        let patience = Instant::now();
        let status = loop {
            if let Some(status) = host.process.try_wait().map_err(|error| error.to_string())? {
                break status;
            }
            if patience.elapsed() > PATIENCE {
                return Err("a host does not end".to_owned());
            }
            std::thread::sleep(Duration::from_millis(100));
        };
        std::thread::sleep(Duration::from_millis(100));
        host.listen(begun.elapsed());
        if !status.success() {
            return Err(format!("a host ended with {status}"));
        }
    }
    let faults = judged(&hosts, warm, kills, time);
    let left = std::fs::read_dir(board.path()).map(Iterator::count).unwrap_or_default();
    println!(
        "files on the board after the last host: {left} (those of the killed host go with the next layer)"
    );
    if faults.is_empty() { Ok(()) } else { Err(faults.join("; ")) }
}

fn median(mut values: Vec<u64>) -> f64 {
    values.sort_unstable();
    values.get(values.len() / 2).copied().unwrap_or(0) as f64
}

/// Prints what was found, and returns what is over its limit.
fn judged(hosts: &[Host], warm: Duration, kills: u32, time: Duration) -> Vec<String> {
    let mut faults = Vec::new();
    println!(
        "{:.1} min, 100 layers in three hosts, the third killed {kills} times",
        time.as_secs_f64() / 60.0
    );
    for (number, host) in hosts.iter().enumerate() {
        let after: Vec<Sample> = host.samples.iter().copied().filter(|sample| sample.at >= warm).collect();
        let third = after.len() / 3;
        let Some(last) = host.last else {
            faults.push(format!("host {number}: no last reading"));
            continue;
        };
        if third < 3 {
            faults.push(format!("host {number}: only {} samples without an editor", after.len()));
            continue;
        }
        let kib = |samples: &[Sample]| median(samples.iter().map(|sample| sample.kib).collect());
        let (early, late) = (kib(&after[..third]), kib(&after[after.len() - third..]));
        let growth = late / early - 1.0;
        let range = |of: &dyn Fn(&Sample) -> u64| {
            let values = after.iter().map(of);
            (values.clone().min().unwrap_or(0), values.max().unwrap_or(0))
        };
        let (threads, descriptors) = (range(&|s| s.threads), range(&|s| s.descriptors));
        println!(
            "host {number}: {} blocks, memory {:.1} to {:.1} MiB ({:+.2} %), threads {} to {}, descriptors {} to {}, \
             layers read at the end {}, off by {:.3} LU at most, {} frames lost and marked",
            host.blocks,
            early / 1_024.0,
            late / 1_024.0,
            growth * 100.0,
            threads.0,
            threads.1,
            descriptors.0,
            descriptors.1,
            last.layers,
            last.off_lu,
            last.lost
        );
        if growth > GROWTH {
            faults.push(format!("host {number}: memory grew by {:.2} %", growth * 100.0));
        }
        // A thread may be on its way to its end, and the killed host's files come and go: the most counts.
        let most = |part: &[Sample], of: &dyn Fn(&Sample) -> u64| part.iter().map(of).max().unwrap_or(0);
        let (first, last_third) = (&after[..third], &after[after.len() - third..]);
        for (what, of) in
            [("threads", (|s| s.threads) as fn(&Sample) -> u64), ("descriptors", |s| s.descriptors)]
        {
            let [few, many] = [first, last_third].map(|part| most(part, &of));
            if many > few + 3 {
                faults.push(format!("host {number}: {what} grew from {few} to {many}"));
            }
        }
        if last.off_lu > OFF_LU {
            faults.push(format!("host {number}: a last reading is off by {} LU", last.off_lu));
        }
    }
    faults
}
