//! No reading without enough signal.

use crate::strategies::{RATES, measured};
use plumbline_measure::{Glance, Loudness, Readings};
use plumbline_programme::Programme;
use plumbline_programme::verdict::{Channels, Mono, Phase, Verdicts, Width};
use plumbline_tests::signal::{Noise, sine, single};

/// The readings that are present but must be absent for a signal below the gates. The DC offset is checked separately.
fn readings_there(view: &Glance) -> Vec<String> {
    let mut there = Vec::new();
    for (average, spectral) in view.averages.iter().enumerate() {
        let all = spectral.thirds.iter().chain(&spectral.bands).chain([&spectral.whole]);
        for (span, readings) in all.enumerate().filter(|(_, r)| **r != Readings::default()) {
            there.push(format!("average {average}, span {span}: {readings:?}"));
        }
    }
    let m = &view.meters;
    for (name, value) in [
        ("correlation", m.correlation),
        ("balance", m.balance_db),
        ("fast level", m.level_fast_dbfs),
        ("slow level", m.level_slow_dbfs),
    ] {
        if value.is_some() {
            there.push(format!("{name}: {value:?}"));
        }
    }
    let Loudness {
        momentary_lufs,
        short_term_lufs,
        integrated_lufs,
        range_lu,
        max_momentary_lufs,
        max_short_term_lufs,
        true_peak_dbtp: _,
        measured_secs: _,
    } = view.loudness;
    let loudness =
        [momentary_lufs, short_term_lufs, integrated_lufs, range_lu, max_momentary_lufs, max_short_term_lufs];
    if loudness != [None; 6] {
        there.push(format!("loudness: {loudness:?}"));
    }
    there
}

#[test]
fn silence_has_no_reading() {
    let mut cases = 0;
    for rate in RATES {
        for channels in [1, 2] {
            let frames = rate as usize * if rate > 48_000 { 21 } else { 45 } / 10;
            let (tenths, mut view) = measured(rate, &vec![vec![0.0; frames]; channels]);
            let mut programme = Programme::default();
            tenths.iter().for_each(|tenth| programme.push(tenth));
            programme.fill(&mut view.loudness);
            assert_eq!(readings_there(&view), Vec::<String>::new(), "{rate}");
            assert_eq!(view.meters.peak_dbfs, [None; 2]);
            assert_eq!(view.meters.max_peak_dbfs, [None; 2]);
            assert_eq!(view.loudness.true_peak_dbtp, [None; 2]);
            assert_eq!(view.meters.overs, [0; 2]);
            assert!(view.averages.iter().all(|s| s.lines_dbfs.iter().all(|l| *l == f32::NEG_INFINITY)));
            assert!(view.hold_dbfs.iter().all(|l| *l == f32::NEG_INFINITY));
            for tenth in &tenths {
                let values = [tenth.max_momentary, tenth.short_term, tenth.lowest_correlation];
                assert!(values.iter().all(|v| v.get().is_none()));
                assert!(tenth.coherent_thirds.iter().all(|c| c.coherence.get().is_none()));
                assert!(tenth.coherent_whole.out_of_step.get().is_none());
            }
            let verdicts = Verdicts::of(&view.averages[1], &view.band_edges, Channels::of(view.channels));
            assert_eq!(verdicts.width, Width::Unknown);
            assert_eq!(verdicts.mono, Mono::Unknown);
            assert_eq!(verdicts.phase, Phase::Unknown);
            cases += 1;
        }
    }
    assert_eq!(cases, 2 * RATES.len());
}

#[test]
fn sound_under_the_gate_has_no_reading() {
    let mut cases = 0;
    for dbfs in [-125.0, -140.0, -200.0, -400.0] {
        let mut noise = Noise::new(0x51);
        let size = 10.0_f64.powf(dbfs / 20.0);
        let channels = [0, 1].map(|_| single(&noise.white(48_000 * 4, size)));
        let (tenths, mut view) = measured(48_000, &channels);
        let mut programme = Programme::default();
        tenths.iter().for_each(|tenth| programme.push(tenth));
        programme.fill(&mut view.loudness);
        assert_eq!(readings_there(&view), Vec::<String>::new(), "{dbfs} dB");
        cases += 1;
    }
    assert_eq!(cases, 4);
}

#[test]
fn a_dead_channel_has_no_stereo_reading() {
    let sound = Noise::new(0x52).white(48_000 * 4, 0.1);
    let mut cases = 0;
    // Silent, or so far below the other channel that it may be leakage or crosstalk.
    for under in [0.0, 1e-6, 3e-5] {
        for right in [false, true] {
            let loud = single(&sound);
            let dead = single(&sound.iter().map(|x| x * under).collect::<Vec<_>>());
            let channels = if right { [dead, loud] } else { [loud, dead] };
            let (_, view) = measured(48_000, &channels);
            assert_eq!(view.meters.correlation, None, "{under}");
            assert_eq!(view.meters.balance_db, None, "{under}");
            for spectral in &view.averages {
                for readings in spectral.thirds.iter().chain(&spectral.bands).chain([&spectral.whole]) {
                    assert!(readings.level_dbfs.is_some());
                    let stereo =
                        [readings.correlation, readings.coherence, readings.out_of_step, readings.balance_db];
                    assert_eq!(stereo, [None; 4], "{under}");
                    let mono_loss = readings.mono_loss_db.expect("of sound in one channel mono keeps half");
                    assert!((mono_loss + 3.0103).abs() < 1e-3);
                }
                let verdicts = Verdicts::of(spectral, &view.band_edges, Channels::of(2));
                assert_eq!(verdicts.width, Width::OneSided { right }, "{under}");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 18);
}

#[test]
fn a_channel_is_compared_down_to_its_gates() {
    let mut cases = 0;
    // The level of the louder channel, how far the other is below it in dB, and whether they are compared. Each row is
    // near one gate: −90 dBFS for the quieter channel, or 80 dB between them.
    for (dbfs, under, compared) in
        [(-50.0, -39.0, true), (-50.0, -41.0, false), (-1.0, -79.0, true), (-1.0, -81.0, false)]
    {
        let tone = |dbfs: f64| single(&sine(48_000 * 4, 10.0_f64.powf(dbfs / 20.0), 1_000.0, 0.0, 48_000.0));
        let channels = [tone(dbfs), tone(dbfs + under)];
        let (_, view) = measured(48_000, &channels);
        assert_eq!(view.meters.correlation.is_some(), compared, "{dbfs} {under}");
        assert_eq!(view.meters.balance_db.is_some(), compared, "{dbfs} {under}");
        for spectral in &view.averages {
            assert_eq!(spectral.whole.correlation.is_some(), compared, "{dbfs} {under}");
            assert_eq!(spectral.whole.balance_db.is_some(), compared, "{dbfs} {under}");
            assert_eq!(spectral.whole.channel_dbfs[1].is_some(), dbfs + under >= -90.0, "{dbfs} {under}");
        }
        cases += 1;
    }
    assert_eq!(cases, 4);
}

#[test]
fn short_sound_reads_only_what_it_is_long_enough_for() {
    let sound = Noise::new(0x53).white(48_000 * 4, 0.1);
    let mut cases = 0;
    for (ms, correlation, momentary, short_term, coherence) in [
        (9, false, false, false, false),
        (290, false, false, false, false),
        (300, true, false, false, false),
        (390, true, false, false, false),
        (400, true, true, false, false),
        (1_900, true, true, false, false),
        (2_900, true, true, false, true),
        (3_000, true, true, true, true),
    ] {
        let part = single(&sound[..ms * 48]);
        let (_, view) = measured(48_000, &[part.clone(), part]);
        assert_eq!(view.meters.correlation.is_some(), correlation, "{ms} ms");
        assert_eq!(view.loudness.momentary_lufs.is_some(), momentary, "{ms} ms");
        assert_eq!(view.loudness.short_term_lufs.is_some(), short_term, "{ms} ms");
        for spectral in &view.averages {
            assert_eq!(spectral.whole.coherence.is_some(), coherence, "{ms} ms");
            assert_eq!(spectral.whole.out_of_step.is_some(), coherence, "{ms} ms");
        }
        cases += 1;
    }
    assert_eq!(cases, 8);
}
