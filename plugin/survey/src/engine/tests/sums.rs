//! Sums of stems, the sum of the layers as the bus, and pairs of microphones.

use super::{Memory, hits, layer, noise, scaled, surveyed};
use crate::engine::pairs::compare_all;
use crate::engine::recent_balance::Recent;
use crate::engine::{MicsPlan, Plan};
use plumbline_measure::{Digest, Grid, Tenth};
use plumbline_programme::pair::Polarity;
use plumbline_programme::{Balance, Identity, LayerId, Peer, Role};
use std::ops::ControlFlow;

const FRAMES: usize = 6 * 48_000;

#[test]
fn without_a_mix_the_sum_of_the_layers_is_the_bus() {
    let tower = [noise(1, FRAMES), noise(2, FRAMES)].map(|side| scaled(&side, 0.1)).to_vec();
    let boom = vec![scaled(&noise(3, FRAMES), 0.1)];
    let sum = [0, 1]
        .map(|side: usize| tower[side].iter().zip(&boom[0]).map(|(t, b)| t + 0.5 * b).collect::<Vec<f32>>());
    let plan = Plan {
        layers: vec![layer("tower", Role::Natural, &[0]), layer("boom", Role::Natural, &[1])],
        mono_gain: 0.5,
        ..Plan::default()
    };
    let (of_layers, tenths) =
        surveyed(Memory::new(48_000, vec![tower.clone(), boom.clone()]), &plan).expect("surveyed");
    assert!(!of_layers.bus.is_mix && of_layers.bus.files.is_empty());
    assert_eq!(of_layers.unaccounted.db, None, "what is summed of the layers cannot be off them");
    let plan = Plan { mix: Some(vec![2]), ..plan };
    let (of_mix, mixed) =
        surveyed(Memory::new(48_000, vec![tower, boom, sum.to_vec()]), &plan).expect("surveyed");
    assert!(tenths[2] == mixed[2], "the sum is not what was summed by hand");
    assert_eq!(of_layers.bus.sound.spectral.whole, of_mix.bus.sound.spectral.whole);
    assert!(of_mix.unaccounted.db.is_some());
}

#[test]
fn a_mono_stem_is_as_loud_on_the_bus_as_by_itself() {
    let boom = vec![scaled(&noise(3, FRAMES), 0.1)];
    let plan = Plan { layers: vec![layer("boom", Role::Natural, &[0])], ..Plan::default() };
    let (survey, _) = surveyed(Memory::new(48_000, vec![boom]), &plan).expect("surveyed");
    let (layer, bus) = (&survey.layers[0].sound, &survey.bus.sound);
    assert_eq!((layer.channels, bus.channels), (1, 2));
    let off = layer.loudness.integrated_lufs.expect("loud") - bus.loudness.integrated_lufs.expect("loud");
    // A single-precision gain has an error of up to 2⁻²⁴: 5e-7 dB.
    assert!(off.abs() < 1e-5, "{off} LU");
}

#[test]
fn gains_scale_their_stems_alone() {
    let stems = || vec![vec![scaled(&noise(1, FRAMES), 0.1)], vec![scaled(&noise(2, FRAMES), 0.1)]];
    let layers = vec![layer("boom", Role::Natural, &[0]), layer("chisel", Role::Foley, &[1])];
    let plan = Plan { layers, ..Plan::default() };
    let (plain, _) = surveyed(Memory::new(48_000, stems()), &plan).expect("surveyed");
    let plan = Plan { gains: vec![1.0, 0.5, f32::NAN], ..plan };
    let (turned, _) = surveyed(Memory::new(48_000, stems()), &plan).expect("surveyed");
    let lufs = |survey: &plumbline_programme::survey::Survey, at: usize| {
        survey.layers[at].sound.loudness.integrated_lufs.expect("loud")
    };
    assert_eq!(lufs(&plain, 0), lufs(&turned, 0));
    assert!((lufs(&plain, 1) - lufs(&turned, 1) - 20.0 * 2.0_f64.log10()).abs() < 1e-6);
}

#[test]
fn what_the_layers_do_lately_is_known_across_renewals() {
    let peers: Vec<Peer> = [(LayerId(1), Role::Natural), (LayerId(2), Role::Foley), (LayerId(0), Role::Mix)]
        .map(|(id, role)| Peer {
            id,
            identity: Identity { role, ..Identity::default() },
            running: true,
            missed: 0,
            altered: false,
            absent: false,
        })
        .to_vec();
    let (mut recent, mut balance) = (Recent::new(), Balance::default());
    let mut covered = 0;
    for index in 0..1_900_i64 {
        let digest = |layer: u64| {
            let seed = index as u64 * 3 + layer;
            let loud = noise(seed, 1)[0].abs() * if layer == 1 && index % 400 > 200 { 0.001 } else { 1.0 };
            let third = plumbline_measure::cross::Stored::from(plumbline_measure::StereoPower {
                ll: f64::from(loud),
                rr: f64::from(loud),
                ..Default::default()
            });
            Digest {
                grid: Grid::Song,
                index,
                length: 4_800,
                frames: 4_800,
                k: f64::from(loud),
                heard: 7,
                thirds: [third; 31],
                ..Digest::default()
            }
        };
        let digests: Vec<Digest> = (0..3).map(digest).collect();
        peers.iter().zip(&digests).for_each(|(peer, digest)| balance.take(peer.id, digest));
        recent.push(&peers, digests);
        let (found, expected) =
            (recent.together(&peers, Grid::Song, index), balance.together(&peers, Grid::Song, index));
        assert_eq!(found, expected, "tenth {index}");
        covered += found.map_or(0, |together| together.covered.len());
    }
    assert!(covered > 0, "nothing was covered: there was nothing to compare");
}

#[test]
fn pairs_are_told_apart_by_delay_and_polarity() {
    let close = hits(3, 12 * 48_000, 48_000, 0.1);
    let mut far = vec![0.0; 200];
    far.extend(scaled(&close[..close.len() - 200], -0.7));
    let other = scaled(&noise(8, close.len()), 0.05);
    let stems = vec![vec![close], vec![far], vec![other]];
    let plan = MicsPlan { names: vec!["lavalier".to_owned(), "boom".to_owned()], ..MicsPlan::default() };
    let mut memory = Memory::new(48_000, stems);
    let mics = compare_all(&mut memory, &plan, &mut |_| ControlFlow::Continue(())).expect("compared");
    assert_eq!(mics.pairs.pairs.len(), 3);
    let pair = &mics.pairs.pairs[0];
    assert_eq!(pair.names, ["lavalier", "boom"], "who costs most comes first");
    let agreed = pair.line.reading.outcome.expect("a delay");
    assert!((agreed.delay_secs * 48_000.0 - 200.0).abs() < 0.05, "{agreed:?}");
    assert_eq!(agreed.polarity, Polarity::Inverted);
    assert!(pair.delays.len() > 20 && pair.windows[1] > 20, "{:?}", pair.windows);
    assert_eq!(mics.pairs.pairs[2].names[1], "stem 2", "a stem without a name goes by its file");
    assert!(mics.pairs.pairs[1..].iter().all(|pair| pair.line.reading.outcome.is_err()));
    let document = plumbline_report::survey::mics_document(&mics);
    assert_eq!(
        (document.pairs[0].outcome.as_str(), document.pairs[0].polarity.as_deref()),
        ("repair", Some("inverted"))
    );
}

#[test]
fn windows_are_those_of_a_correlator_fed_by_hand() {
    use plumbline_measure::SampleRate;
    use plumbline_programme::pair::{Correlator, Spectrum};
    // The second microphone moves away, so the delay differs between windows.
    let close = hits(3, 7 * 48_000 + 777, 48_000, 0.1);
    let far: Vec<f32> = (0..close.len()).map(|i| close[i.saturating_sub(100 + i / 48_000)] * 0.7).collect();
    let mut correlator = Correlator::new(SampleRate::new(48_000).expect("measured"));
    let (window, hop) = (correlator.window_samples(), 12_000);
    let (mut first, mut second) = (Spectrum::default(), Spectrum::default());
    let mut expected: Vec<[f64; 2]> = Vec::new();
    for end in (window..=close.len()).step_by(hop) {
        correlator.spectrum(&close[end - window..end], &mut first);
        correlator.spectrum(&far[end - window..end], &mut second);
        if let Ok(found) = correlator.compare(&first, &second).outcome {
            expected.push([end as f64 / 48_000.0 - 1.0, found.delay_secs]);
        }
    }
    assert!(expected.len() > 15, "only {} windows have a delay", expected.len());
    let mut memory = Memory::new(48_000, vec![vec![close], vec![far]]);
    let mics =
        compare_all(&mut memory, &MicsPlan::default(), &mut |_| ControlFlow::Continue(())).expect("compared");
    assert_eq!(mics.pairs.pairs[0].delays, expected);
}

#[test]
fn a_survey_compares_natural_stems_and_the_channels_of_the_bus() {
    let close = hits(3, 12 * 48_000, 48_000, 0.1);
    let mut far = vec![0.0; 200];
    far.extend(&close[..close.len() - 200]);
    let foley = scaled(&noise(9, close.len()), 0.05);
    let plan = Plan {
        layers: vec![layer("mason", Role::Natural, &[0, 1]), layer("chisel", Role::Foley, &[2])],
        ..Plan::default()
    };
    let (survey, _) =
        surveyed(Memory::new(48_000, vec![vec![close], vec![far], vec![foley]]), &plan).expect("surveyed");
    let names: Vec<&[String; 2]> = survey.pairs.pairs.iter().map(|pair| &pair.names).collect();
    assert_eq!(names, [&["stem 0", "stem 1"], &["Left", "Right"]]);
    let agreed = survey.pairs.pairs[0].line.reading.outcome.expect("a delay");
    assert!((agreed.delay_secs * 48_000.0 - 200.0).abs() < 0.05, "{agreed:?}");
}

#[test]
fn a_tenth_is_a_line_of_csv_with_as_many_cells_as_the_head() {
    use plumbline_measure::{FrameRate, SampleRate, Timecode};
    use plumbline_report::survey::{tenth_line, tenths_head};
    let (start, rate) = (Timecode::zero(FrameRate::F25), SampleRate::new(48_000).expect("measured"));
    let plan = Plan { layers: vec![layer("boom", Role::Natural, &[0])], ..Plan::default() };
    let boom = vec![scaled(&noise(3, FRAMES), 0.1)];
    let (_, tenths) = surveyed(Memory::new(48_000, vec![boom]), &plan).expect("surveyed");
    let cells = |line: &str| line.trim_end().split(',').count();
    let head = tenths_head();
    for tenth in tenths[0].iter().chain([&Tenth::default()]) {
        let line = tenth_line("boom", tenth, start, rate);
        assert!(line.ends_with("\r\n") && cells(&line) == cells(&head), "{line}");
        assert!(!line.contains("NaN") && !line.contains("inf"), "{line}");
    }
    let line = tenth_line("=boom, far", &tenths[0][30], start, rate);
    assert!(line.starts_with("\"'=boom, far\",30,00:00:03:00,3.0,4800,-2"), "{line}");
}
