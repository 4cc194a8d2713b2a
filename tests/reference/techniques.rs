//! Stereo by theory: every technique of recording or making stereo, by formula, on several sources. Deliberate stereo
//! is not a fault and gets no move; broken stereo is found.
//!
//! Sources of the formulas: level-difference panning and coincident microphones, S. P. Lipshitz, J. Audio Eng. Soc.
//! 34(9), 1986; near-coincident and spaced pairs, M. Williams, "The Stereophonic Zoom", AES 1984; the coherence of a
//! diffuse field, R. K. Cook et al., J. Acoust. Soc. Am. 27(6), 1955 (all from memory): a source at angle θ reaches
//! capsules d apart with a difference of d·sin θ/c, and a capsule of pattern p, aimed at φ, with the gain
//! p + (1 − p)·cos(θ − φ).

use plumbline_measure::{Analyzer, Averaging, BandEdges, FrameRate, Glance, Grid, Position, SampleRate};
use plumbline_programme::arrival::Cause;
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::{Finding, Grade};
use plumbline_programme::mics::PairTracker;
use plumbline_programme::pair::{Advice, Correlator};
use plumbline_programme::verdict::{Channels, Phase, Verdicts, Width};
use plumbline_programme::{Events, Kind, Mic, Recording, Rules};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, delayed, mixed, single};
use plumbline_tests::sources::{hits, tones, voice};

const RATE_HZ: u32 = 48_000;
pub(crate) const RATE: f64 = 48_000.0;
pub(crate) const FRAMES: usize = 9 * 48_000;
/// Speed of sound, m/s, at 20 °C (ISO 9613-1).
pub(crate) const SOUND: f64 = 343.2;

pub(crate) type Stereo = [Vec<f64>; 2];

/// A source that reaches both channels with its own gain and delay in seconds.
pub(crate) fn reaching(source: &[f64], gains: [f64; 2], secs: [f64; 2]) -> Stereo {
    [0, 1].map(|side| {
        let heard = if secs[side] == 0.0 { source.to_vec() } else { delayed(source, secs[side] * RATE) };
        heard.iter().map(|x| x * gains[side]).collect()
    })
}

pub(crate) fn sum(parts: &[Stereo]) -> Stereo {
    [0, 1].map(|side| {
        let zero = vec![0.0; FRAMES];
        parts.iter().fold(zero, |sum, part| mixed(&sum, &part[side], 1.0))
    })
}

/// An equal-power pan: −45° is left, +45° is right.
pub(crate) fn panned(source: &[f64], degrees: f64) -> Stereo {
    let (right, left) = (degrees + 45.0).to_radians().sin_cos();
    reaching(source, [left, right], [0.0; 2])
}

/// A pair of capsules `metres` apart and aimed `aim` degrees to either side, of pattern p + (1 − p)·cos θ, and a source
/// at `angle` degrees.
pub(crate) fn pair_of(source: &[f64], angle: f64, pattern: f64, aim: f64, metres: f64) -> Stereo {
    let gain = |towards: f64| pattern + (1.0 - pattern) * (angle - towards).to_radians().cos();
    let early = metres * angle.to_radians().sin() / SOUND;
    // A positive angle is right: the left channel is later.
    let secs = if early > 0.0 { [early, 0.0] } else { [0.0, -early] };
    reaching(source, [gain(-aim), gain(aim)], secs)
}

/// A diffuse field at two omnidirectional capsules `metres` apart: plane waves from 48 directions in the plane.
pub(crate) fn diffuse(noise: &mut Noise, metres: f64) -> Stereo {
    let waves: Vec<Stereo> = (0..48)
        .map(|at| {
            let wave = noise.pink(FRAMES, 0.02, RATE);
            pair_of(&wave, f64::from(at) * 7.5, 1.0, 0.0, metres)
        })
        .collect();
    sum(&waves)
}

/// The results for a stereo sound: verdicts, the advice on left and right, and the findings.
pub(crate) struct Told {
    pub(crate) verdicts: Verdicts,
    repair: bool,
    advice: Advice,
    findings: Vec<Finding>,
    out_of_step: f64,
}

fn told(stereo: &Stereo) -> Told {
    told_as(stereo, Recording::default())
}

/// The results for a sound recorded as stated.
pub(crate) fn told_as(stereo: &Stereo, recording: Recording) -> Told {
    let rate = SampleRate::new(RATE_HZ).expect("a rate");
    let sides = stereo.each_ref().map(|side| single(side));
    let mut analyzer = Analyzer::new(rate, 2, BandEdges::default());
    let mut tenths = Vec::new();
    analyzer.push(Position { grid: Grid::Song, sample: 0 }, &[&sides[0], &sides[1]], &mut tenths);
    let mut glance = Glance::default();
    analyzer.fill(&mut glance);
    analyzer.flush(&mut tenths);
    let mut events = Events::new(Rules::default(), &Target::default(), BandEdges::default());
    events.set_recording(&recording);
    tenths.iter().for_each(|tenth| events.push(tenth));
    events.end();
    let (mut correlator, mut tracker) = (Correlator::new(rate), PairTracker::new(rate, false));
    let mics = [Mic::Left, Mic::Right];
    tracker.set_pairs(&[mics]);
    tracker.set_recording(&recording);
    let window = correlator.window_samples();
    for end in (window..=FRAMES).step_by(tracker.hop() as usize) {
        let sample = i64::try_from(end).expect("seconds");
        tracker.begin(Position { grid: Grid::Song, sample }, 0.25);
        for (mic, side) in mics.into_iter().zip(&sides) {
            tracker.hear(&mut correlator, mic, &[&side[end - window..end]]);
        }
        tracker.compare(&mut correlator, mics);
    }
    let line = tracker.lines(|_| false).remove(0);
    let spectral = glance.spectral(Averaging::Slow);
    let verdicts = Verdicts::of(
        spectral,
        &BandEdges::default(),
        Channels { count: 2, left_right: Some(&line), recording },
    );
    let advice = line.advice(FrameRate::F25, 20.0);
    let kinds = [Kind::OutOfStep];
    let findings = events.findings().into_iter().filter(|f| kinds.contains(&f.kind)).collect();
    let worst = spectral.thirds.iter().filter_map(|third| third.out_of_step).fold(0.0, f64::max);
    Told { verdicts, repair: matches!(advice, Advice::Repair(_)), advice, findings, out_of_step: worst }
}

impl Told {
    /// Whether any of the results asks for work on the phase.
    pub(crate) fn accuses(&self) -> bool {
        let width = matches!(self.verdicts.width, Width::OutOfStep(found) if found.is_fault());
        let phase = matches!(self.verdicts.phase, Phase::OutOfStep(found) if found.is_fault());
        width || phase || self.repair || self.findings.iter().any(|finding| finding.grade > Grade::Slight)
    }

    pub(crate) fn short(&self) -> String {
        let advice = format!("{:?}", self.advice).chars().take(70).collect::<String>();
        let findings: Vec<String> =
            self.findings.iter().map(|f| format!("{:?} {:?}", f.grade, f.cause)).collect();
        format!("{:?}; {advice}; {findings:?}", self.verdicts.width)
    }
}

/// The way in which a stereo sound was made.
#[derive(Clone, Copy, Debug)]
enum Made {
    /// Sources at several levels, in phase.
    Levels,
    /// One source, this many seconds apart.
    Times(f64),
    /// The same sound in both channels.
    Twice,
    /// Nothing in common.
    Unrelated,
    /// The two halves of a comb.
    Combs,
    /// Several of these.
    Other,
}

impl Made {
    /// Whether the readings and the class match the formula.
    fn fits(self, told: &Told) -> bool {
        let width = told.verdicts.width;
        match self {
            Self::Levels => {
                told.out_of_step <= 0.1 && !matches!(width, Width::Spaced { .. } | Width::OutOfStep(_))
            }
            // Several delays fit tones almost equally well.
            Self::Times(secs) => {
                matches!(width, Width::Spaced { secs: told, .. } if (told / secs - 1.0).abs() <= 0.12)
            }
            Self::Twice => width == Width::Mono,
            Self::Unrelated => told.out_of_step <= 0.1 && matches!(width, Width::Spacious { .. }),
            Self::Combs => {
                matches!(width, Width::OutOfStep(found) if found.cause == Cause::Unexplained && found.broad)
            }
            Self::Other => true,
        }
    }
}

/// The sources on which each technique is tried.
pub(crate) fn sources(noise: &mut Noise) -> [(&'static str, Vec<f64>); 4] {
    [
        ("noise", noise.pink(FRAMES, 0.1, RATE)),
        ("voice", voice(noise, FRAMES, RATE)),
        ("hits", hits(noise, FRAMES, RATE)),
        ("tones", tones(noise, FRAMES, RATE)),
    ]
}

#[test]
fn stereo_that_was_made_on_purpose_is_no_fault() {
    let mut cases = Cases::new("intended stereo: no fault, no move");
    let mut noise = Noise::new(1_955);
    let mut made: Vec<(String, Stereo, Made)> = Vec::new();
    let sources = sources(&mut noise);
    let other = voice(&mut noise, FRAMES, RATE);
    for (name, source) in &sources {
        // Level differences alone: nothing is out of step.
        for degrees in [20.0, 30.0, 40.0] {
            let two = sum(&[panned(source, -degrees), panned(&other, degrees)]);
            made.push((format!("{name} and a voice panned by ±{degrees}°"), two, Made::Levels));
        }
        for (pattern, aim, what) in
            [(0.5, 45.0, "cardioids"), (0.0, 45.0, "figure-eights"), (0.5, 55.0, "cardioids")]
        {
            let two =
                sum(&[pair_of(source, -35.0, pattern, aim, 0.0), pair_of(&other, 30.0, pattern, aim, 0.0)]);
            made.push((format!("{name} and a voice, coincident {what} at ±{aim}°"), two, Made::Levels));
        }
        // Time differences: a loss in mono, but no fault.
        for (metres, pattern, aim, angle) in
            [(0.17, 0.5, 55.0, 30.0), (0.3, 0.5, 45.0, 45.0), (0.4, 1.0, 0.0, 35.0), (0.8, 1.0, 0.0, 60.0)]
        {
            let one = pair_of(source, angle, pattern, aim, metres);
            made.push((
                format!("{name} at {angle}°, capsules {metres} m apart"),
                one,
                Made::Times(metres * f64::sin(angle.to_radians()) / SOUND),
            ));
        }
        made.push((format!("{name} twice the same"), [source.clone(), source.clone()], Made::Twice));
    }
    for metres in [0.1, 0.3, 1.0] {
        made.push((
            format!("a diffuse field, capsules {metres} m apart"),
            diffuse(&mut noise, metres),
            Made::Other,
        ));
    }
    let [left, right] = [0, 1].map(|_| noise.pink(FRAMES, 0.1, RATE));
    made.push(("unrelated noise".to_owned(), [left.clone(), right.clone()], Made::Unrelated));
    // The two halves of a comb: wide on purpose; mono undoes it.
    for (name, source) in &sources[..2] {
        let late: Vec<f64> = delayed(source, 12e-3 * RATE).iter().map(|x| 0.9 * x).collect();
        let combs = [mixed(source, &late, 1.0), mixed(source, &late, -1.0)];
        made.push((format!("{name} made wide by combs"), combs, Made::Combs));
    }
    // Mixes: a voice in the middle, steps panned, an ambience behind.
    let ambience = diffuse(&mut noise, 0.4);
    for at in 0..20 {
        let spread = 5.0 + 2.0 * f64::from(at);
        let level = 10.0_f64.powf(-f64::from(at % 5) / 4.0);
        let steps = panned(&sources[2].1, spread.min(40.0));
        let voice = panned(&other, -spread / 3.0);
        let spaced = pair_of(&sources[at as usize % 4].1, spread, 1.0, 0.0, 0.3);
        let quiet = ambience.each_ref().map(|side| side.iter().map(|x| x * level).collect::<Vec<f64>>());
        made.push((format!("mix {at}"), sum(&[steps, voice, spaced, quiet]), Made::Other));
    }
    let count = made.len();
    println!("{count} situations");
    for (name, stereo, made) in made {
        let told = told(&stereo);
        println!("{name}: out of step at most {:.3}; {}", told.out_of_step, told.short());
        cases.holds(format!("{name}: {}", told.short()), !told.accuses());
        cases.holds(
            format!("{name}: {made:?}, {}, out of step {}", told.short(), told.out_of_step),
            made.fits(&told),
        );
    }
    cases.end(2 * count);
    assert!(count >= 60);
}

#[test]
fn what_was_broken_is_found() {
    let mut cases = Cases::new("planted faults of stereo");
    let mut noise = Noise::new(1_986);
    let ambience = [0, 1].map(|_| noise.pink(FRAMES, 0.01, RATE));
    let mut count = 0;
    for (name, source) in sources(&mut noise) {
        for gain in [1.0, 0.7] {
            let inverted = sum(&[reaching(&source, [1.0, -gain], [0.0; 2]), ambience.clone()]);
            let told = told(&inverted);
            cases.holds(format!("{name} inverted, right at {gain}: {}", told.short()), told.accuses());
            count += 1;
        }
        // Many delays fit steady tones, so none is claimed.
        if name == "tones" {
            continue;
        }
        for ms in [4.0, 7.0, 15.0, 30.0] {
            let late = sum(&[reaching(&source, [1.0, 1.0], [0.0, ms / 1e3]), ambience.clone()]);
            let told = told(&late);
            cases.holds(format!("{name} {ms} ms late: {}", told.short()), told.accuses());
            count += 1;
        }
    }
    cases.end(count);
}
