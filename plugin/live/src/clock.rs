//! The clock grid: positions of chunks that have no song position.
//!
//! Each process counts from its own zero, a whole second of a clock that all processes share. On Linux that clock is
//! `CLOCK_MONOTONIC`: nobody can set it, and while the computer sleeps it stops for all processes alike, so that audio
//! that continues after a sleep stays beside audio that starts then. Other systems are asked for the time of day once,
//! when a process starts; a sleep or a change of the time of day then moves processes that start later.

use plumbline_measure::SampleRate;
use std::sync::OnceLock;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// The clocks of a computer.
trait Clocks {
    /// A clock that never jumps and that all processes share; `None` if the system has none.
    fn shared(&self) -> Option<Duration>;
    /// A clock of this process that never jumps.
    fn steady(&self) -> Duration;
    /// UNIX time.
    fn time_of_day(&self) -> Duration;
}

/// The clocks of this computer, and when this process first read them.
struct System(Instant);

impl Clocks for System {
    #[cfg(target_os = "linux")]
    fn shared(&self) -> Option<Duration> {
        Duration::try_from(rustix::time::clock_gettime(rustix::time::ClockId::Monotonic)).ok()
    }

    #[cfg(not(target_os = "linux"))]
    fn shared(&self) -> Option<Duration> {
        None
    }

    fn steady(&self) -> Duration {
        self.0.elapsed()
    }

    fn time_of_day(&self) -> Duration {
        SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default()
    }
}

/// The zero of a process.
#[derive(Clone, Copy, Debug)]
struct Zero {
    /// Whole seconds on the clock by which processes agree: the shared one, or the time of day.
    secs: u64,
    /// Reading of the ticking clock at the zero: of the shared one, or of the steady one. In the latter case the zero is
    /// up to a second before the first reading, so it is kept as two parts.
    start: Duration,
    before: Duration,
}

impl Zero {
    fn new(clocks: &impl Clocks) -> Self {
        if let Some(time) = clocks.shared() {
            let secs = time.as_secs();
            return Self { secs, start: Duration::from_secs(secs), before: Duration::ZERO };
        }
        let day = clocks.time_of_day();
        let secs = day.as_secs();
        Self { secs, start: clocks.steady(), before: day.saturating_sub(Duration::from_secs(secs)) }
    }

    /// Time since the zero.
    fn elapsed(&self, clocks: &impl Clocks) -> Duration {
        let now = clocks.shared().unwrap_or_else(|| clocks.steady());
        now.saturating_sub(self.start) + self.before
    }
}

fn process() -> &'static (System, Zero) {
    static PROCESS: OnceLock<(System, Zero)> = OnceLock::new();
    PROCESS.get_or_init(|| {
        let system = System(Instant::now());
        let zero = Zero::new(&system);
        (system, zero)
    })
}

/// Time since the zero of the clock grid. All layers of the process share the zero.
pub(crate) fn since_zero() -> Duration {
    let (system, zero) = process();
    zero.elapsed(system)
}

/// The zero of the clock grid, in seconds of the clock by which processes agree. It is a whole second, so that the zeros
/// of two processes differ by whole tenths and, at any sample rate, by whole samples.
pub(crate) fn zero_secs() -> i64 {
    i64::try_from(process().1.secs).unwrap_or(0)
}

/// Moves a tap's free-running count of samples to the clock, once per stretch.
///
/// Within a stretch the audio device's clock counts, so there is no gap or overlap. Two stretches never overlap either:
/// if audio comes faster than real time, the later one starts where the earlier one ended.
#[derive(Debug, Default)]
pub(crate) struct Anchor {
    /// Clock position minus free-running count, while a stretch lasts.
    offset: Option<i64>,
    /// End of the audio placed so far, and its rate.
    end: Option<(i64, SampleRate)>,
}

impl Anchor {
    /// Starts a new stretch with the next chunk.
    pub(crate) fn lift(&mut self) {
        self.offset = None;
    }

    /// Clock position of a chunk. `count` is the free-running count of its first frame, `now` the latest time read.
    pub(crate) fn place(&mut self, count: i64, frames: usize, rate: SampleRate, now: Duration) -> i64 {
        let offset = *self.offset.get_or_insert_with(|| {
            let earliest = self.end.map_or(i64::MIN, |(end, at)| convert(end, at, rate));
            samples(now, rate).max(earliest).saturating_sub(count)
        });
        let position = count.saturating_add(offset);
        self.end = Some((position.saturating_add(i64::try_from(frames).unwrap_or(i64::MAX)), rate));
        position
    }
}

/// Whole samples in a time, rounded down.
fn samples(time: Duration, rate: SampleRate) -> i64 {
    let exact = time.as_nanos() * u128::from(rate.hz()) / 1_000_000_000;
    i64::try_from(exact).unwrap_or(i64::MAX)
}

/// A position converted to another rate, rounded up so that no time overlaps.
fn convert(position: i64, from: SampleRate, to: SampleRate) -> i64 {
    let exact = i128::from(position) * i128::from(to.hz());
    let rate = i128::from(from.hz());
    i64::try_from(exact.div_euclid(rate) + i128::from(exact.rem_euclid(rate) > 0)).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(hz: u32) -> SampleRate {
        SampleRate::new(hz).unwrap()
    }

    /// A computer that a test puts to sleep. Of its clocks, the shared one stops asleep, as `CLOCK_MONOTONIC` does by
    /// clock_gettime(2), Linux man-pages; the time of day goes on, and can be set.
    struct Computer {
        running: Duration,
        time_of_day: Duration,
    }

    impl Computer {
        fn new() -> Self {
            Self {
                running: Duration::from_millis(90_250),
                time_of_day: Duration::from_millis(1_790_000_000_700),
            }
        }

        fn run(&mut self, time: Duration) {
            self.running += time;
            self.time_of_day += time;
        }

        fn sleep(&mut self, time: Duration) {
            self.time_of_day += time;
        }
    }

    impl Clocks for Computer {
        fn shared(&self) -> Option<Duration> {
            Some(self.running)
        }
        fn steady(&self) -> Duration {
            self.running
        }
        fn time_of_day(&self) -> Duration {
            self.time_of_day
        }
    }

    /// The present moment on the board's grid, as a process with this zero places it.
    fn placed(zero: Zero, computer: &Computer) -> Duration {
        Duration::from_secs(zero.secs) + zero.elapsed(computer)
    }

    #[test]
    fn processes_place_a_moment_alike_after_a_sleep_and_after_the_time_was_set() {
        let mut computer = Computer::new();
        let first = Zero::new(&computer);
        computer.run(Duration::from_millis(5_600));
        let before = placed(first, &computer);
        computer.sleep(Duration::from_secs(3 * 3_600));
        assert_eq!(placed(first, &computer), before, "audio that continues stays where it was");
        let second = Zero::new(&computer);
        computer.run(Duration::from_millis(7_300));
        computer.time_of_day += Duration::from_secs(5);
        let third = Zero::new(&computer);
        computer.time_of_day -= Duration::from_secs(50);
        let fourth = Zero::new(&computer);
        computer.run(Duration::from_millis(1_234));
        let expected = before + Duration::from_millis(7_300 + 1_234);
        for (k, zero) in [first, second, third, fourth].into_iter().enumerate() {
            assert_eq!(placed(zero, &computer), expected, "zero {k}");
        }
        assert!(fourth.secs - first.secs >= 12, "each has its own zero");
    }

    /// Environment variable that names the file for the other process's answer.
    const ANSWER: &str = "PLUMBLINE_TEST_CLOCK";

    fn here() -> Duration {
        let zero = process().1;
        Duration::from_secs(zero.secs) + since_zero()
    }

    /// Not a test: the other process of the next test.
    #[test]
    fn other_process() {
        let Some(path) = std::env::var_os(ANSWER) else { return };
        std::fs::write(path, here().as_nanos().to_string()).unwrap();
    }

    #[test]
    fn another_process_places_now_between_before_and_after() {
        let path = std::env::temp_dir().join(format!("plumbline-clock-{}", std::process::id()));
        here();
        // A zero that each process counts from alone would be later in the other process by at least this.
        std::thread::sleep(Duration::from_millis(100));
        let before = here();
        let done = std::process::Command::new(std::env::current_exe().unwrap())
            .args(["clock::tests::other_process", "--exact"])
            .env(ANSWER, &path)
            .stdout(std::process::Stdio::null())
            .status();
        let after = here();
        assert!(done.unwrap().success());
        let there: u128 = std::fs::read_to_string(&path).unwrap().parse().unwrap();
        std::fs::remove_file(&path).unwrap();
        assert!((before.as_nanos()..=after.as_nanos()).contains(&there), "{before:?}, {there} ns, {after:?}");
    }

    #[test]
    fn a_stretch_is_moved_once_and_counts_on_by_itself() {
        let mut anchor = Anchor::default();
        let at = |s: f64| Duration::from_secs_f64(s);
        assert_eq!(anchor.place(0, 64, rate(48_000), at(1.0)), 48_000);
        // The clock is ahead, but the stretch continues.
        assert_eq!(anchor.place(64, 64, rate(48_000), at(9.0)), 48_064);
        anchor.lift();
        assert_eq!(anchor.place(128, 64, rate(48_000), at(9.5)), 456_000);
    }

    #[test]
    fn stretches_never_overlap_even_faster_than_real_time_and_across_rates() {
        let mut anchor = Anchor::default();
        let now = Duration::from_secs(1);
        assert_eq!(anchor.place(0, 48_000, rate(48_000), now), 48_000);
        anchor.lift();
        assert_eq!(anchor.place(48_000, 1, rate(48_000), now), 96_000);
        anchor.lift();
        // 96 001 samples at 48 kHz end at 88 200.92 at 44.1 kHz.
        assert_eq!(anchor.place(0, 1, rate(44_100), now), 88_201);
    }
}
