//! Pairs of microphones for pictures: measured from synthetic sound, so that number and picture agree.

use super::sessions::{crowded, twelve};
use super::{Moment, out_of_step, spacious};
use crate::signal::{Noise, delayed, mixed, single};
use plumbline_measure::Averaging;
use plumbline_measure::bands::THIRDS;
use plumbline_measure::{Grid, Position, SampleRate};
use plumbline_programme::arrival::SPACED_SECS;
use plumbline_programme::mics::{MOST_MICS, TRACE_POINTS};
use plumbline_programme::pair::{CannotTell, Correlator, Reading, Spectrum, ThirdReading, Track};
use plumbline_programme::recording::{Contradiction, Technique};
use plumbline_programme::session::LayerLine;
use plumbline_programme::verdict::{Channels, Verdicts, Width};
use plumbline_programme::{LayerId, Mic, Mics, PairLine, Trial, View};
use std::sync::{Arc, OnceLock};

const RATE_HZ: u32 = 48_000;
const RATE: f64 = 48_000.0;
/// Length of the sounds, 14 s: enough for 10 s of votes and a drift.
const FRAMES: usize = 14 * 48_000;

/// The Mics page of sessions, of a single bus, and during a trial.
pub fn with_mics() -> Vec<Moment> {
    vec![
        Moment { name: "fight", view: fighting() },
        Moment { name: "trial", view: trying() },
        Moment { name: "crowd", view: crowd() },
        Moment { name: "bus-alone", view: bus_alone() },
        Moment { name: "nothing", view: View::default() },
    ]
}

/// Boom and lavalier comb-filter; a voice has its polarity inverted, an organ drifts, the rest is room.
pub fn fighting() -> View {
    let mut view = twelve();
    let session = Arc::clone(&view.session);
    let id = |start: &str| {
        let found = session.layers.iter().find(|line| line.identity.name.starts_with(start));
        Mic::Layer(found.map(|line| line.id).unwrap_or_default())
    };
    let (boom, lavalier, tower) = (id("Boom"), id("Lavalier"), id("Tower"));
    let (voice, organ) = (id("The mason"), id("Organ"));
    let mut lines = true_lines()[..5].to_vec();
    let who = [[lavalier, boom], [lavalier, voice], [boom, organ], [boom, tower], [Mic::Left, Mic::Right]];
    lines.iter_mut().zip(who).for_each(|(line, mics)| line.mics = mics);
    lines.push(untold([tower, voice], CannotTell::Tonal, 0.0));
    lines.push(untold([tower, organ], CannotTell::OneSilent, 0.0));
    lines.push(untold([voice, organ], CannotTell::Moving, 0.0));
    lines[3].quiet_secs = 42.0;
    set(&mut view, Mics { lines, uncompared: 3, trouble: None });
    view
}

/// The same session on a bus that is out of step because of it, during a trial of a repair.
pub fn trying() -> View {
    let mut view = fighting();
    view.trial = Some(Trial { delay_secs: [223.7 / RATE; 2], flip: [false, true], in_renders: false });
    let mut session = (*view.session).clone();
    for line in session.layers.iter_mut().filter(|line| line.identity.name.starts_with("Boom")) {
        line.altered = true;
    }
    view.session = Arc::new(session);
    view
}

/// Two layers of one source panned apart: the verdict "out of step" names its causes.
pub fn named_cause() -> View {
    let mut view = fighting();
    let mut mics = (*view.mics).clone();
    // Left and right of the bus have the delay of the two layers.
    let own = mics.lines.iter().position(|line| line.mics == [Mic::Left, Mic::Right]).unwrap_or_default();
    mics.lines[own] = PairLine { mics: [Mic::Left, Mic::Right], ..mics.lines[0].clone() };
    set(&mut view, mics);
    let bus = out_of_step();
    view.averages = bus.averages;
    view.verdicts.width = bus.verdicts.width;
    view.verdicts.mono = bus.verdicts.mono;
    view.verdicts.phase = bus.verdicts.phase;
    view
}

/// All pairs of eight layers, with a stereo bus and its side-chain.
pub fn crowd() -> View {
    let mut view = crowded();
    let session = Arc::clone(&view.session);
    let ids: Vec<LayerId> = session.layers.iter().take(MOST_MICS).map(|line: &LayerLine| line.id).collect();
    let reasons = [
        CannotTell::TooShort,
        CannotTell::TooQuiet,
        CannotTell::OneSilent,
        CannotTell::Unrelated,
        CannotTell::Tonal,
        CannotTell::Ambiguous,
        CannotTell::Moving,
    ];
    let mut lines = vec![PairLine { mics: [Mic::Main, Mic::SideChain], ..true_lines()[0].clone() }];
    for (at, first) in ids.iter().enumerate() {
        for second in &ids[at + 1..] {
            let mics = [Mic::Layer(*first), Mic::Layer(*second)];
            let line = match lines.len() {
                n @ 1..=4 => PairLine { mics, ..true_lines()[n % 4].clone() },
                n => untold(mics, reasons[n % reasons.len()], (n % 3) as f64 * 7.0),
            };
            lines.push(line);
        }
    }
    lines.push(PairLine { mics: [Mic::Left, Mic::Right], ..true_lines()[4].clone() });
    set(&mut view, Mics { lines, uncompared: 56, trouble: None });
    view
}

/// Left and right of a sound whose right channel is 4.66 ms late.
pub(super) fn late_channel() -> PairLine {
    PairLine { mics: [Mic::Left, Mic::Right], ..true_lines()[0].clone() }
}

/// A stereo bus without other layers: its right channel is late and polarity inverted.
pub fn bus_alone() -> View {
    let mut view = spacious();
    let line = PairLine { mics: [Mic::Left, Mic::Right], ..true_lines()[5].clone() };
    set(&mut view, Mics { lines: vec![line], uncompared: 0, trouble: None });
    view
}

/// A stereo layer as from a pair of microphones, 0.62 ms apart.
pub fn spaced_pair() -> View {
    let mut view = out_of_step();
    let line = PairLine { mics: [Mic::Left, Mic::Right], ..true_lines()[6].clone() };
    let judged = Channels { left_right: Some(&line), ..Channels::of(2) };
    let judged = Verdicts::of(view.spectral(Averaging::Slow), &view.band_edges, judged);
    view.verdicts = Verdicts { delivery: view.verdicts.delivery, ..judged };
    set(&mut view, Mics { lines: vec![line], uncompared: 0, trouble: None });
    view
}

/// A layer stated as mid-side whose channels are the mid and the side.
pub fn not_decoded() -> View {
    let mut view = spacious();
    let contradiction = Contradiction::NotDecoded { under_db: 3.4 };
    view.verdicts.width = Width::Contradicts { technique: Technique::MidSide, contradiction };
    view
}

fn set(view: &mut View, mics: Mics) {
    view.verdicts.mics = mics.verdict();
    view.mics = Arc::new(mics);
}

fn untold(mics: [Mic; 2], reason: CannotTell, quiet_secs: f64) -> PairLine {
    let thirds = [ThirdReading::default(); THIRDS];
    let reading = Reading {
        outcome: Err(reason),
        thirds,
        coherence: None,
        level_db: None,
        won: None,
        net_gain_db: None,
    };
    PairLine {
        mics,
        reading,
        cost_db: None,
        rate_hz: RATE_HZ,
        spaced_secs: SPACED_SECS,
        trace: Vec::new(),
        delays: Vec::new(),
        heard: None,
        quiet_secs,
        stretches: Vec::new(),
    }
}

/// Late by 4.66 ms; inverted; drifting; unrelated; aligned; late by 3.3 samples and inverted; late by 0.62 ms.
fn true_lines() -> &'static [PairLine; 7] {
    static LINES: OnceLock<[PairLine; 7]> = OnceLock::new();
    LINES.get_or_init(|| {
        let mut noise = Noise::new(0x5017);
        let source = noise.pink(FRAMES, 0.1, RATE);
        let mut with_room = |sound: Vec<f64>| {
            let room = noise.pink(FRAMES, 0.022, RATE);
            mixed(&sound, &room, 1.0)
        };
        let close = with_room(source.clone());
        let far = with_room(delayed(&source, 223.7).iter().map(|x| x * 0.7).collect());
        let flipped = with_room(source.iter().map(|x| -0.8 * x).collect());
        let drifting = with_room(drifted(&source, 310.0, 20e-6));
        let beside = with_room(source.iter().map(|x| 0.9 * x).collect());
        let skewed = with_room(delayed(&source, 3.3).iter().map(|x| -x).collect());
        let spaced = with_room(delayed(&source, 29.8));
        let other = noise.pink(FRAMES, 0.08, RATE);
        let line = |second: &[f64], cost| followed(&close, second, cost);
        [
            line(&far, 1.0),
            line(&flipped, 0.4),
            line(&drifting, 0.2),
            line(&other, 0.1),
            line(&beside, 0.1),
            line(&skewed, 1.0),
            line(&spaced, 1.0),
        ]
    })
}

/// `source` delayed by `by` samples, with a drift of `ppm`.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places in the signal, not negative"
)]
fn drifted(source: &[f64], by: f64, parts: f64) -> Vec<f64> {
    (0..source.len())
        .map(|n| {
            let at = (n as f64 * (1.0 - parts) - by).max(0.0);
            let (whole, rest) = (at.floor() as usize, at.fract());
            let next = source.get(whole + 1).copied().unwrap_or(0.0);
            source[whole] * (1.0 - rest) + next * rest
        })
        .collect()
}

fn followed(first: &[f64], second: &[f64], part: f64) -> PairLine {
    let rate = SampleRate::new(RATE_HZ).expect("a rate that can be measured");
    let mut correlator = Correlator::new(rate);
    let window = correlator.window_samples();
    let mut spectra = [Spectrum::default(), Spectrum::default()];
    let mut track = Track::new();
    for end in (window..=first.len()).step_by(window / 8) {
        for (samples, spectrum) in [first, second].into_iter().zip(&mut spectra) {
            correlator.spectrum(&single(&samples[end - window..end]), spectrum);
        }
        track.push(end as f64 / RATE, &correlator.compare(&spectra[0], &spectra[1]));
    }
    let reading = track.reading();
    let newest = track.delays().last().map_or(0.0, |(at, _)| at);
    PairLine {
        mics: [Mic::Left, Mic::Right],
        cost_db: reading.won.map(|won| 10.0 * (1.0 + won * part).log10()),
        reading,
        rate_hz: RATE_HZ,
        spaced_secs: SPACED_SECS,
        trace: correlator.correlation_trace(TRACE_POINTS),
        delays: track.delays().map(|(at, delay)| [at - newest, delay]).collect(),
        heard: Some(Position { grid: Grid::Song, sample: i64::try_from(first.len()).unwrap_or(0) }),
        quiet_secs: 0.0,
        stretches: Vec::new(),
    }
}
