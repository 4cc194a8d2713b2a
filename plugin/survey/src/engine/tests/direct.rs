//! Every number of a survey against the same arithmetic, applied without the engine.

use super::{Memory, hits, layer, noise, scaled, surveyed};
use crate::engine::{EQUAL_POWER, Plan};
use plumbline_measure::{Analyzer, Averaging, BandEdges, Digest, Glance, Grid, Position, SampleRate, Tenth};
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::Finder;
use plumbline_programme::session::Stretch;
use plumbline_programme::{
    Balance, BalanceTarget, Identity, JoinDetector, LayerId, PassageLine, Peer, Programme, Question, Role,
    Rules, Summary, Timeline,
};
use std::num::NonZeroUsize;

const SECS: usize = 14;
const RATE_HZ: u32 = 48_000;
const FRAMES: usize = SECS * 48_000 + 1_234;

/// Tower ambience, two microphones on the mason, Foley, and a swell with its right channel inverted; and their mix.
fn stems() -> Vec<Vec<Vec<f32>>> {
    let tower = [noise(1, FRAMES), noise(2, FRAMES)].map(|side| scaled(&side, 0.03)).to_vec();
    let boom = vec![hits(3, FRAMES, 48_000, 0.08)];
    let lavalier = vec![scaled(&hits(3, FRAMES, 48_000, 0.08), 0.5)];
    let foley = [4, 5].map(|seed| hits(seed, FRAMES, 48_000, 0.05)).to_vec();
    let mut swell = scaled(&noise(6, FRAMES), 0.2);
    swell.iter_mut().take(6 * 48_000).for_each(|sample| *sample = 0.0);
    let upside_down = scaled(&swell, -1.0);
    let design = vec![swell, upside_down];
    let mix = [0, 1].map(|side| {
        (0..FRAMES)
            .map(|i| {
                let mono = (boom[0][i] + lavalier[0][i]) * EQUAL_POWER;
                mono + [&tower, &foley, &design]
                    .iter()
                    .map(|stem: &&Vec<Vec<f32>>| stem[side][i])
                    .sum::<f32>()
            })
            .collect::<Vec<f32>>()
    });
    vec![tower, boom, lavalier, foley, design, mix.to_vec()]
}

fn plan() -> Plan {
    Plan {
        layers: vec![
            layer("tower ambience", Role::Natural, &[0]),
            layer("mason", Role::Natural, &[1, 2]),
            layer("Foley chisel", Role::Foley, &[3]),
            layer("designed swell", Role::Design, &[4]),
        ],
        mix: Some(vec![5]),
        threads: NonZeroUsize::new(1),
        ..Plan::default()
    }
}

fn measured(channels: &[Vec<f32>]) -> (Vec<Tenth>, Glance) {
    let rate = SampleRate::new(RATE_HZ).expect("measured");
    let mut analyzer = Analyzer::new(rate, channels.len(), BandEdges::default());
    let mut tenths = Vec::new();
    let sides: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    analyzer.push(Position { grid: Grid::Song, sample: 0 }, &sides, &mut tenths);
    analyzer.flush(&mut tenths);
    let mut glance = Glance::default();
    analyzer.fill(&mut glance);
    (tenths, glance)
}

/// Tenths and readings of the layers and the bus, as expected.
fn by_hand(stems: &[Vec<Vec<f32>>]) -> Vec<(Vec<Tenth>, Glance)> {
    let sum: Vec<f32> = stems[1][0].iter().zip(&stems[2][0]).map(|(a, b)| a + b).collect();
    [&stems[0], &vec![sum], &stems[3], &stems[4], &stems[5]]
        .into_iter()
        .map(|sides| measured(sides))
        .collect()
}

fn peers(plan: &Plan) -> Vec<Peer> {
    let peer = |id, name: &str, role| Peer {
        id: LayerId(id),
        identity: Identity { name: name.to_owned(), role, colour: None },
        running: true,
        missed: 0,
        altered: false,
        absent: false,
    };
    let layers = (1..).zip(&plan.layers).map(|(id, layer)| peer(id, &layer.name, layer.role));
    layers.chain([peer(0, "Mix", Role::Mix)]).collect()
}

#[test]
fn tenths_are_those_of_an_analyser_fed_in_one_piece() {
    let stems = stems();
    let expected = by_hand(&stems);
    let (survey, tenths) = surveyed(Memory::new(RATE_HZ, stems), &plan()).expect("surveyed");
    assert_eq!(tenths.len(), 5);
    for (layer, (found, (expected, _))) in tenths.iter().zip(&expected).enumerate() {
        assert_eq!(found.len(), SECS * 10 + 1);
        assert!(found == expected, "layer {layer}: the tenths are others");
    }
    assert_eq!(survey.frames, FRAMES as u64);
}

#[test]
fn readings_of_each_sound_are_those_of_its_analyser_and_programme() {
    let stems = stems();
    let expected = by_hand(&stems);
    let (survey, _) = surveyed(Memory::new(RATE_HZ, stems), &plan()).expect("surveyed");
    let sounds = survey.layers.iter().map(|layer| &layer.sound).chain([&survey.bus.sound]);
    let mut compared = 0;
    for (sound, (tenths, glance)) in sounds.zip(&expected) {
        let mut programme = Programme::default();
        tenths.iter().for_each(|tenth| programme.push(tenth));
        let mut loudness = glance.loudness;
        programme.fill(&mut loudness);
        assert_eq!(sound.loudness, loudness);
        assert!(
            loudness.integrated_lufs.is_some() && loudness.range_lu.is_some(),
            "there is a loudness to compare"
        );
        let since = glance.spectral(Averaging::SinceReset);
        assert_eq!((&sound.spectral.thirds, &sound.spectral.bands), (&since.thirds, &since.bands));
        assert_eq!(sound.spectral.whole, since.whole);
        assert_eq!(sound.meters.max_peak_dbfs, glance.meters.max_peak_dbfs);
        assert_eq!(sound.meters.overs, glance.meters.overs);
        let lowest = tenths.iter().filter_map(|tenth| tenth.lowest_correlation.get()).reduce(f64::min);
        assert_eq!(sound.lowest_correlation, lowest);
        compared += 1;
    }
    assert_eq!(compared, 5);
}

#[test]
fn shares_findings_joins_and_statistics_are_those_of_the_plug_in() {
    let stems = stems();
    let expected = by_hand(&stems);
    let plan = plan();
    let peers = peers(&plan);
    let (survey, _) = surveyed(Memory::new(RATE_HZ, stems), &plan).expect("surveyed");

    let edges = BandEdges::default();
    let name =
        |id: LayerId| peers.iter().find(|p| p.id == id).map(|p| p.identity.name.clone()).unwrap_or_default();
    let (mut balance, mut detector, mut timeline) =
        (Balance::default(), JoinDetector::new(), Timeline::default());
    let mut finder = Finder::new(Rules::default(), &Target::default(), edges);
    let (mut page, mut all) = (Summary::default(), Summary::default());
    let bus = &expected[4].0;
    for (at, tenth) in bus.iter().enumerate() {
        for (peer, (tenths, _)) in peers.iter().zip(&expected) {
            balance.take(peer.id, &Digest::from(&tenths[at]));
        }
        // The plug-in's history sums by pages of 64.
        if at > 0 && at % 64 == 0 {
            all.merge(&std::mem::take(&mut page));
        }
        page.add(tenth, &edges);
        timeline.push(tenth);
        finder.push(tenth);
        detector.push(tenth);
        if let Some(together) = balance.together(&peers, tenth.grid, tenth.index) {
            finder.among(&together, &BalanceTarget::default(), &name);
            detector.set_shares(tenth.grid, tenth.index, together.energies);
            timeline.set_energies(tenth.grid, tenth.index, together.energies);
        }
    }
    all.merge(&page);
    finder.end();
    detector.joins().iter().for_each(|join| finder.join(join));

    let question =
        Question { peers: &peers, own: LayerId(0), marks: &[], edges: &edges, pair: None, at: None };
    let session = balance.ask(&question);
    let at = Stretch::Programme.place();
    for layer in &survey.layers {
        let line = session.layer(layer.id).expect("a peer");
        assert_eq!(layer.part, line.parts[at], "{}", layer.name);
        assert!(layer.part.share.is_some_and(|share| share > 0.001), "{} has a share to compare", layer.name);
    }
    assert_eq!(survey.roles, [0, 1, 2, 3, 4].map(|role| session.roles[role].parts[at]));
    assert_eq!(survey.unaccounted, session.unaccounted[at]);
    assert_eq!(survey.matches.first(), session.matched.as_ref());
    assert!(session.matched.is_some(), "there is a match to compare");

    assert_eq!(survey.joins, detector.joins());
    let without_layers = |findings: &[plumbline_programme::Finding]| -> Vec<plumbline_programme::Finding> {
        // The layers behind a mono loss are found from the samples, which this loop does not have.
        let mut all: Vec<_> = findings.to_vec();
        all.iter_mut().for_each(|finding| {
            finding.id = 0;
            if matches!(
                finding.kind,
                plumbline_programme::Kind::MonoLoss | plumbline_programme::Kind::OutOfStep
            ) {
                finding.layers.clear();
            }
        });
        all
    };
    assert_eq!(without_layers(&survey.findings), without_layers(&finder.findings()));
    assert!(survey.findings.len() >= 3, "there is something to compare: {:?}", survey.findings);

    let mut line = PassageLine::default();
    all.fill(&mut line);
    assert_eq!((survey.passage.whole, survey.passage.bands), (line.whole, line.bands));
    assert_eq!(survey.passage.lowest_correlation, line.lowest_correlation);
    assert_eq!(
        (survey.passage.start, survey.passage.end, survey.passage.secs),
        (line.start, line.end, line.secs)
    );
    let over = balance.over(&peers, Stretch::Programme, Grid::Song, &(i64::MIN..=i64::MAX));
    assert_eq!(survey.passage.shares, over.shares);
    assert_eq!((survey.passage.leads, survey.passage.unaccounted_db), (over.leads, over.unaccounted_db));

    let lens = plumbline_programme::TimeWindow { tenths: None, end: None, columns: 1_024 };
    let lanes = timeline.lanes(&lens);
    assert_eq!(survey.lanes.columns.len(), lanes.columns.len());
    for (found, expected) in survey.lanes.columns.iter().zip(&lanes.columns) {
        assert_eq!(
            (found.momentary, found.short_term, found.width),
            (expected.momentary, expected.short_term, expected.width)
        );
        assert_eq!((found.correlation, found.tenths), (expected.correlation, expected.tenths));
        for (found, expected) in found.shares.iter().zip(expected.shares) {
            let (found, expected) = (found.get(), expected.get());
            assert_eq!(found.is_some(), expected.is_some());
            assert!((found.unwrap_or(0.0) - expected.unwrap_or(0.0)).abs() < 1e-6, "{found:?} {expected:?}");
        }
    }
}

#[test]
fn threads_change_nothing() {
    let of = |threads| {
        let plan = Plan { threads: NonZeroUsize::new(threads), ..plan() };
        let (survey, _) = surveyed(Memory::new(RATE_HZ, stems()), &plan).expect("surveyed");
        format!("{survey:?}")
    };
    assert!(of(1) == of(4), "one thread and four tell different things");
}

#[test]
fn the_layer_behind_a_mono_loss_is_named() {
    let (survey, _) = surveyed(Memory::new(RATE_HZ, stems()), &plan()).expect("surveyed");
    let worst =
        survey.losses.iter().min_by(|a, b| a.loss.loss_db.total_cmp(&b.loss.loss_db)).expect("it loses");
    assert_eq!(worst.loss.left_out[0].layers, [LayerId(4)], "{worst:?}");
    let loss = survey.findings.iter().find(|f| f.kind == plumbline_programme::Kind::MonoLoss).expect("found");
    assert_eq!(loss.layers.iter().map(|layer| layer.name.as_str()).collect::<Vec<_>>(), ["designed swell"]);
}
