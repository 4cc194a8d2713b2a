//! The survey of files against the built plug-in in an offline render of the same sound: the results must be equal.

use crate::assert_quiet;
use crate::session_rig::SessionRig;
use plumbline_audio::{Options, StemFile, Stems};
use plumbline_measure::{Averaging, Tenth};
use plumbline_programme::findings::Finding;
use plumbline_programme::{Join, Recording, Role, Stretch};
use plumbline_survey::engine::{Layer, Plan, survey};
use plumbline_tests::rig::child;
use plumbline_tests::signal::{Noise, single};
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Arc;

const SECS: usize = 24;
const FRAMES: usize = SECS * 48_000;

/// A stone yard: natural sound that becomes louder and duller, blows, and a late inverted swell.
fn layers() -> [(&'static str, Role, Vec<Vec<f32>>); 3] {
    let mut noise = Noise::new(31);
    let mut pair = |rms: f64| [(); 2].map(|()| single(&noise.pink(FRAMES, rms, 48_000.0)));
    let [mut left, mut right] = pair(0.02);
    for channel in [&mut left, &mut right] {
        channel[10 * 48_000..].iter_mut().for_each(|x| *x *= 3.0);
        channel[17 * 48_000..17 * 48_000 + 9_000].fill(0.0);
    }
    let [blow, _] = pair(0.1);
    let struck = |n: usize| if n % 31_000 < 4_000 { 1.0 - (n % 31_000) as f32 / 4_000.0 } else { 0.0 };
    let blows: Vec<f32> = blow.iter().enumerate().map(|(n, x)| x * struck(n)).collect();
    let late: Vec<f32> = blows.iter().map(|x| 0.8 * x).collect();
    let [swell, _] = pair(0.05);
    let rising = |n: usize| if n > 13 * 48_000 { 2.0 } else { 0.0 };
    let swell: Vec<f32> = swell.iter().enumerate().map(|(n, x)| x * rising(n)).collect();
    let inverted = swell.iter().map(|x| -x).collect();
    [
        ("yard", Role::Natural, vec![left, right]),
        ("blows", Role::Foley, vec![blows, late]),
        ("swell", Role::Design, vec![swell, inverted]),
    ]
}

/// A file of 32-bit floats with exactly the samples that the host plays.
fn written(folder: &Path, name: &str, channels: &[Vec<f32>]) -> StemFile {
    let path = folder.join(format!("{name}.wav"));
    let spec = hound::WavSpec {
        channels: u16::try_from(channels.len()).expect("two"),
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut file = hound::WavWriter::create(&path, spec).expect("a file");
    for frame in 0..channels[0].len() {
        channels.iter().for_each(|channel| file.write_sample(channel[frame]).expect("written"));
    }
    file.finalize().expect("written");
    StemFile { path, channels: None }
}

#[test]
fn a_survey_measures_what_the_plug_in_measures_in_an_offline_render() {
    let Some(quiet) = child::run(&[], || {
        let layers = layers();
        let sum = |channel: usize| -> Vec<f32> {
            (0..FRAMES).map(|n| layers.iter().map(|(_, _, sound)| sound[channel][n]).sum()).collect()
        };
        let mix = vec![sum(0), sum(1)];

        let mut rig = SessionRig::offline();
        rig.join("mix", Role::Mix, 'A');
        for (name, role, _) in &layers {
            rig.join(name, *role, 'A');
        }
        let signals: Vec<&Vec<Vec<f32>>> =
            std::iter::once(&mix).chain(layers.iter().map(|(_, _, sound)| sound)).collect();
        rig.play(&signals, 0);
        rig.wait_for_frames(i64::try_from(FRAMES).expect("short"));
        rig.stop();
        let heard = rig.readings(0);
        let session = Arc::clone(&heard.view.session);

        let folder = tempfile::tempdir().expect("a folder");
        let mut files = vec![written(folder.path(), "mix", &mix)];
        files.extend(layers.iter().map(|(name, _, sound)| written(folder.path(), name, sound)));
        let plan = Plan {
            layers: layers
                .iter()
                .zip(1..)
                .map(|((name, role, _), stem)| Layer {
                    name: (*name).to_owned(),
                    role: *role,
                    stems: vec![stem],
                    recording: Recording::default(),
                })
                .collect(),
            mix: Some(vec![0]),
            ..Plan::default()
        };
        let mut tenths: [Vec<Tenth>; 4] = Default::default();
        let mut hand = |layer: usize, tenth: &Tenth| {
            tenths[layer].push(*tenth);
            Ok(())
        };
        let stems = Stems::open(&files, &Options::default()).expect("files");
        let found =
            survey(stems, &plan, Some(&mut hand), &mut |_| ControlFlow::Continue(())).expect("a survey");

        // Bit-exact tenths; the bus is the last layer in a survey, the first in the rig.
        let mut cases = 0;
        for (here, there) in [(3, 0), (0, 1), (1, 2), (2, 3)] {
            assert_eq!(tenths[here], rig.readings(there).tenths, "layer {there}");
            cases += tenths[here].len();
        }
        assert_eq!(cases, 4 * 10 * SECS);

        // Readings of the whole range.
        let was = heard.view.spectral(Averaging::SinceReset);
        let is = &found.bus.sound.spectral;
        assert_eq!((was.whole, was.thirds, was.bands), (is.whole, is.thirds, is.bands));
        let loudness = &found.bus.sound.loudness;
        assert_eq!(heard.view.loudness.integrated_lufs, loudness.integrated_lufs);
        assert_eq!(heard.view.loudness.range_lu, loudness.range_lu);
        assert_eq!(heard.view.loudness.true_peak_dbtp, loudness.true_peak_dbtp);
        assert_eq!(heard.view.loudness.max_momentary_lufs, loudness.max_momentary_lufs);
        assert_eq!(heard.view.loudness.max_short_term_lufs, loudness.max_short_term_lufs);

        // The balance of the layers.
        for layer in &found.layers {
            let line = session.layers.iter().find(|line| line.identity.name == layer.name).expect("a line");
            let part = &line.parts[Stretch::Programme.place()];
            assert_eq!((part.share, part.lead), (layer.part.share, layer.part.lead), "{}", layer.name);
        }
        assert_eq!(session.unaccounted[Stretch::Programme.place()].db, found.unaccounted.db);

        // Findings and joins.
        let told = |findings: &[Finding]| -> Vec<_> {
            findings.iter().map(|f| (f.kind, f.start, f.end, f.span, f.worst, f.grade)).collect()
        };
        let dated = |joins: &[Join]| -> Vec<_> { joins.iter().map(|j| (j.at, j.sample, j.size())).collect() };
        let log = &heard.view.log;
        assert_eq!(told(&log.findings), told(&found.findings));
        assert!(log.findings.len() >= 4, "{:?}", told(&log.findings));
        assert_eq!(dated(&log.joins), dated(&found.joins));
        assert!(!log.joins.is_empty());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
