//! Pairs of a layer without a plug-in: layers on a board, and sound from a formula.

use super::pair_choice::Choice;
use super::*;
use crate::board::{Born, Folder, Publisher};
use crate::chunk::{Bus, CHUNK_FRAMES};
use plumbline_measure::{Grid, SampleRate};
use plumbline_programme::session::{LayerLine, MOST_LAYERS};
use plumbline_programme::{Identity, LayerId, Mic, Role, Session, Settings};
use std::path::PathBuf;
use std::time::Duration;

/// A low rate: its windows are short and quick to transform.
pub(in crate::engine) const RATE_HZ: u32 = 22_050;
const WINDOW: usize = 2 * RATE_HZ as usize;
pub(in crate::engine) const HOP: usize = RATE_HZ as usize / 4;

pub(in crate::engine) fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).unwrap()
}

fn format(channels: u8, side_channels: u8) -> StreamFormat {
    StreamFormat { rate: rate(), channels, side_channels, offline: false }
}

fn song(sample: i64) -> Position {
    Position { grid: Grid::Song, sample }
}

/// Sample `n` of white noise `seed`, the same in every run: a hash (the finaliser of SplitMix64).
fn noise(seed: u64, n: i64) -> f32 {
    let mut z = n.cast_unsigned().wrapping_add(seed << 40).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    let [_, low, high, ..] = z.to_le_bytes();
    f32::from(i16::from_le_bytes([low, high])) / 131_072.0
}

pub(in crate::engine) fn heard(seed: u64, from: i64, late: i64, frames: usize) -> Vec<f32> {
    (0..frames as i64).map(|n| noise(seed, from + n - late)).collect()
}

pub(in crate::engine) struct Place {
    folder: Folder,
    path: PathBuf,
    pub(in crate::engine) publishers: Vec<Publisher>,
    pub(in crate::engine) board: BoardReader,
    pub(in crate::engine) now: Duration,
}

impl Place {
    pub(in crate::engine) fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("plumbline-mics-{name}-{}", std::process::id()));
        let folder = Folder::at(path.clone()).unwrap();
        Self {
            board: BoardReader::new(Ok(folder.clone())),
            folder,
            path,
            publishers: Vec::new(),
            now: Duration::ZERO,
        }
    }

    pub(in crate::engine) fn join(&mut self, role: Role, channels: u8, rate_hz: u32) -> LayerId {
        let born = Born::now();
        let mut publisher = Publisher::new(Ok(self.folder.clone()), born);
        publisher.introduce(
            &Identity { name: format!("layer {}", self.publishers.len()), role, colour: None },
            'A',
        );
        publisher.open(SampleRate::new(rate_hz).unwrap(), channels, self.now);
        self.publishers.push(publisher);
        born.id
    }

    /// Plays a quarter of a second of each layer's sound from `from` on, and updates the board.
    pub(in crate::engine) fn play(
        &mut self,
        from: i64,
        sounds: &[&dyn Fn(i64) -> Vec<f32>],
        alterations: &[u32],
    ) {
        self.now += Duration::from_millis(250);
        let newest = song(from + HOP as i64 - 1);
        for (at, (publisher, sound)) in self.publishers.iter_mut().zip(sounds).enumerate() {
            let count = alterations.get(at).copied().unwrap_or(0);
            publisher.round((true, count % 2 == 1, count), newest, self.now);
            let mono = sound(from);
            publisher.audio(song(from), &[&mono, &mono]);
        }
        self.board.round(self.now, true);
    }

    /// Steps until nothing waits.
    fn settle(&mut self, inter: &mut Inter, correlator: &mut Correlator, own: LayerId) {
        let session = Session::default();
        // At most a handful of windows, each with a read per layer and a few comparisons.
        for _ in 0..60 {
            let settings = Settings::default();
            let look = Look { own, settings: &settings, session: &session, now: self.now };
            let done = inter.step(correlator, &self.board, &look);
            if !done && !inter.is_busy() {
                return;
            }
        }
        panic!("it never comes to rest");
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        self.publishers.clear();
        let _ = std::fs::remove_dir_all(&self.path);
    }
}

fn delay(lines: &[PairLine], two: [LayerId; 2]) -> Option<f64> {
    let two = two.map(Mic::Layer);
    let line = lines.iter().find(|line| line.is_of(two))?;
    let samples = line.reading.outcome.ok()?.delay_secs * f64::from(RATE_HZ);
    Some((if line.mics == two { samples } else { -samples }).round())
}

#[test]
fn layers_are_compared_on_the_board_and_followed_over_a_jump_a_move_and_a_trial() {
    let mut place = Place::new("inter");
    let (first, second) = (place.join(Role::Natural, 2, RATE_HZ), place.join(Role::Natural, 1, RATE_HZ));
    let other = place.join(Role::Mix, 2, RATE_HZ);
    let mut correlator = Correlator::new(rate());
    let mut inter = Inter::new(rate(), correlator.window_samples());
    let early = |from| heard(1, from, 0, HOP);
    let late = |from| heard(1, from, 77, HOP);
    let mut at = 0;
    let mut run = |place: &mut Place,
                   inter: &mut Inter,
                   hops: usize,
                   late: &dyn Fn(i64) -> Vec<f32>,
                   from: i64,
                   alterations: &[u32]| {
        at = if from >= 0 { from } else { at };
        let mut seen = Vec::new();
        for _ in 0..hops {
            place.play(at, &[&early, late, &early], alterations);
            place.settle(inter, &mut correlator, first);
            at += HOP as i64;
            let lines: Vec<PairLine> = inter.lines();
            assert!(
                lines.iter().all(|line| !line.mics.contains(&Mic::Layer(other))),
                "a mix holds its layers"
            );
            seen.push(delay(&lines, [first, second]));
        }
        seen
    };
    // A window takes 8 hops, a delay three windows.
    let seen = run(&mut place, &mut inter, 12, &late, 0, &[]);
    assert_eq!(seen[..9], [None; 9]);
    assert_eq!(seen[10..], [Some(77.0); 2]);
    // A loop: the known delay stays, and the windows after it agree.
    let seen = run(&mut place, &mut inter, 14, &late, 0, &[]);
    assert_eq!(seen, [Some(77.0); 14]);
    // The clip is moved while the transport jumps: the new delay counts from the third window after it.
    let moved = |from| heard(1, from, -33, HOP);
    let seen = run(&mut place, &mut inter, 30, &moved, 0, &[]);
    assert_eq!((seen[8], seen[12], seen[29]), (Some(77.0), Some(-33.0), Some(-33.0)));
    // A trial on the second layer, without a jump: windows with audio from before and after it are skipped, or they
    // would be the majority for seconds.
    let seen = run(&mut place, &mut inter, 16, &late, -1, &[0, 1]);
    assert_eq!((seen[8], seen[13]), (Some(-33.0), Some(77.0)), "{seen:?}");
    assert!(seen.iter().all(|delay| [Some(-33.0), Some(77.0)].contains(delay)), "{seen:?}");
    let line = inter.lines().remove(0);
    assert!(line.cost_db.is_some_and(|db| db > 2.0 && db < 3.1), "two equal copies: {:?}", line.cost_db);
}

#[test]
fn a_quick_render_loses_windows_and_nothing_else() {
    let mut place = Place::new("backlog");
    let (first, second) = (place.join(Role::Natural, 1, RATE_HZ), place.join(Role::Foley, 1, RATE_HZ));
    let mut correlator = Correlator::new(rate());
    let mut inter = Inter::new(rate(), correlator.window_samples());
    let (early, late) = (|from| heard(2, from, 0, HOP), |from| heard(2, from, 9, HOP));
    for hop in 0..40 {
        place.play(hop * HOP as i64, &[&early, &late], &[]);
    }
    place.settle(&mut inter, &mut correlator, first);
    let lines: Vec<PairLine> = inter.lines();
    assert_eq!(delay(&lines, [first, second]), Some(9.0), "the newest windows are enough");
}

#[test]
fn a_layer_on_another_clock_holds_nobody_up() {
    let mut place = Place::new("clock");
    let (first, second) = (place.join(Role::Natural, 1, RATE_HZ), place.join(Role::Natural, 1, RATE_HZ));
    let third = place.join(Role::Voice, 1, RATE_HZ);
    let mut correlator = Correlator::new(rate());
    let mut inter = Inter::new(rate(), correlator.window_samples());
    let (early, late) = (|from| heard(6, from, 0, HOP), |from| heard(6, from, 21, HOP));
    for hop in 0..14 {
        place.play(hop * HOP as i64, &[&early, &late, &early], &[]);
        let ahead = Position { grid: Grid::Clock, sample: 1 << 40 };
        place.publishers[2].round((true, false, 0), ahead, place.now);
        place.board.round(place.now, true);
        place.settle(&mut inter, &mut correlator, first);
    }
    let lines: Vec<PairLine> = inter.lines();
    assert_eq!(delay(&lines, [first, second]), Some(21.0));
    assert!(
        lines.iter().any(|line| line.is_of([Mic::Layer(first), Mic::Layer(third)])),
        "it is one of those compared"
    );
}

#[test]
fn a_known_pair_is_looked_at_less_often_until_it_may_have_changed() {
    let mut place = Place::new("known");
    let first = place.join(Role::Natural, 1, RATE_HZ);
    place.join(Role::Natural, 1, RATE_HZ);
    let mut correlator = Correlator::new(rate());
    let mut inter = Inter::new(rate(), correlator.window_samples());
    let (early, late) = (|from| heard(7, from, 0, HOP), |from| heard(7, from, 5, HOP));
    let mut windows = |from: i64, hops: i64| {
        let count = |inter: &Inter| inter.lines().first().map_or(0, |line| line.delays.len());
        let before = count(&inter);
        for hop in from..from + hops {
            place.play(hop * HOP as i64, &[&early, &late], &[]);
            place.settle(&mut inter, &mut correlator, first);
        }
        count(&inter) - before
    };
    assert_eq!(windows(0, 48), 40, "a window takes a little more than 8 hops");
    assert_eq!(windows(48, 12), 3);
    assert_eq!(windows(0, 13), 5, "after a jump every hop");
}

#[test]
fn who_is_compared() {
    let mut place = Place::new("choice");
    let mix = place.join(Role::Mix, 2, RATE_HZ);
    let lone = place.join(Role::Natural, 2, RATE_HZ);
    place.join(Role::Natural, 2, 48_000);
    place.board.round(place.now, true);
    let session = Session::default();
    let choose = |choice: &mut Choice, board: &BoardReader, own: LayerId, session: &Session| {
        choice.follow(board.session('A'), rate(), own, session);
        choice.layers.clone()
    };
    let mut choice = Choice::default();
    let both = choose(&mut choice, &place.board, mix, &session);
    assert!(
        both.len() == 2 && both.contains(&mix) && both.contains(&lone),
        "another rate is no part: {both:?}"
    );
    let more: Vec<LayerId> = (0..9).map(|_| place.join(Role::Foley, 1, RATE_HZ)).collect();
    place.board.round(place.now + Duration::from_secs(1), true);
    let loud = |lufs: &[(LayerId, f64)]| {
        let line = |(id, lufs): &(LayerId, f64)| {
            let mut line = LayerLine { id: *id, ..LayerLine::default() };
            line.parts[0].loudness_lufs = Some(*lufs);
            line
        };
        Session { layers: lufs.iter().map(line).collect(), ..Session::default() }
    };
    let mut choice = Choice::default();
    let levels: Vec<(LayerId, f64)> =
        more.iter().enumerate().map(|(n, id)| (*id, -20.0 - n as f64)).collect();
    let chosen = choose(&mut choice, &place.board, lone, &loud(&levels));
    assert_eq!(chosen[0], lone, "the own layer, though it is silent");
    assert_eq!(chosen[1..], more[..7], "then the loudest, and no mix");
    assert_eq!(choice.uncompared, 2);
    // A layer not compared grows louder: nothing changes below 6 LU over the quietest.
    let grown = |lufs: f64| {
        let mut levels = levels.clone();
        levels[8].1 = lufs;
        loud(&levels)
    };
    assert_eq!(choose(&mut choice, &place.board, lone, &grown(-20.1)), chosen);
    let changed = choose(&mut choice, &place.board, lone, &grown(-19.9));
    assert!(changed.contains(&more[8]) && !changed.contains(&more[6]) && changed.contains(&lone));
    assert!(chosen.len() == 8 && more.len() < MOST_LAYERS);
}

fn chunk(sound: &[f32], bus: Bus) -> Chunk {
    let mut chunk = Chunk { bus, frames: u8::try_from(sound.len()).unwrap(), ..Chunk::EMPTY };
    for side in &mut chunk.samples {
        side[..sound.len()].copy_from_slice(sound);
    }
    chunk
}

#[test]
fn bus_and_side_chain_are_compared_sample_for_sample_and_cut_where_they_do_not_continue() {
    let mut mics = Pairs::default();
    let two = [Mic::Main, Mic::SideChain];
    let play = |mics: &mut Pairs, from: i64, frames: usize, side_too: bool| {
        let mut windows = 0;
        for at in (0..frames).step_by(CHUNK_FRAMES) {
            let at = from + at as i64;
            let main = heard(5, at, 0, CHUNK_FRAMES);
            mics.audio(song(at), &[&main, &main], format(2, 2), (None, &Recording::default()));
            windows += usize::from(mics.take_news());
            if side_too {
                mics.side_audio(&chunk(&heard(5, at, 12, CHUNK_FRAMES), Bus::Side));
            }
        }
        windows
    };
    let found = |mics: &Pairs| {
        let line = mics.shown.line(two).cloned()?;
        line.reading.outcome.ok().map(|agreed| (agreed.delay_secs * f64::from(RATE_HZ)).round())
    };
    assert_eq!(play(&mut mics, 0, WINDOW - 64, true), 0, "a window takes 2 s");
    assert_eq!(
        play(&mut mics, 1 + WINDOW as i64, 3 * HOP, true),
        0,
        "and what does not continue starts anew"
    );
    let mut mics = Pairs::default();
    assert_eq!(play(&mut mics, 0, WINDOW + 3 * HOP, true), 3);
    assert_eq!(found(&mics), Some(12.0));
    // After one missing chunk the side-chain is out of line: it must not be compared with another moment of the bus.
    let at = (WINDOW + 3 * HOP).next_multiple_of(64) as i64;
    play(&mut mics, at, 64, false);
    assert_eq!(play(&mut mics, at + 64, WINDOW - 64, true), 0);
    assert_eq!(found(&mics), Some(12.0), "what is known stays");
    assert_eq!(
        play(&mut mics, at + WINDOW.next_multiple_of(64) as i64, 2 * HOP, true),
        2,
        "and it goes on from there"
    );
    // The user's reset.
    mics.clear();
    assert_eq!(found(&mics), None);
    assert_eq!(mics.shown.lines.len(), 2, "both pairs are still there");
}
