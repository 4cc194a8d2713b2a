//! Phase readings of shifted sines, delayed copies, unrelated noise, and an inverted channel.

use crate::rig::{RATES, Run, frames, label, measured};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRDS, third_centre_hz};
use plumbline_measure::test_support::thirds_at;
use plumbline_measure::{Averaging, BandEdges, Glance, SampleRate};

use plumbline_programme::arrival::Cause;
use plumbline_programme::verdict::{Channels, Mono, Phase, Verdicts, Width};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, delayed, mixed, sine};

/// Length of noise for coherence, seconds.
const SECS: f64 = 12.0;

fn verdicts(view: &Glance, averaging: Averaging) -> Verdicts {
    Verdicts::of(view.spectral(averaging), &BandEdges::default(), Channels::of(view.channels))
}

#[test]
fn turned_sines_correlate_by_the_cosine() {
    let mut cases = Cases::new("ρ = cos φ within 0.001, per third and broadband (trigonometric identity)");
    for hz in RATES {
        let thirds = thirds_at(SampleRate::new(hz).expect("a rate that can be measured"));
        for third in (0..thirds).step_by(if hz == 48_000 { 1 } else { 5 }) {
            for degrees in [0.0, 30.0, 60.0, 90.0, 135.0, 180.0] {
                let tone = third_centre_hz(third);
                let count = frames(1.0, hz);
                let left = sine(count, 0.5, tone, 0.2, f64::from(hz));
                let right = sine(count, 0.3, tone, 0.2 + f64::to_radians(degrees), f64::from(hz));
                let view = measured(hz, &[&left, &right]).view;
                let expected = f64::to_radians(degrees).cos();
                let name = format!("{} at {hz}, {degrees}°", label(third));
                for averaging in [Averaging::Slow, Averaging::SinceReset] {
                    let spectral = view.spectral(averaging);
                    let got = spectral.thirds[third].correlation;
                    cases.near(format!("{name}, {averaging:?}, third"), got, expected, 0.001);
                    let got = spectral.whole.correlation;
                    cases.near(format!("{name}, {averaging:?}, whole"), got, expected, 0.001);
                }
            }
        }
    }
    cases.end((31 + 7 + 7) * 6 * 4);
}

/// Two microphones on one pink sound, the second `ms` late, each with its own noise 15 dB below it.
fn late_copy(dice: &mut Noise, hz: u32, ms: f64) -> Run {
    let (count, fs) = (frames(SECS, hz), f64::from(hz));
    let [common, n1, n2] = [0, 1, 2].map(|_| dice.pink(count, 0.1, fs));
    let gain = 10.0_f64.powf(-15.0 / 20.0);
    let late = delayed(&common, ms * fs / 1e3);
    measured(hz, &[&mixed(&common, &n1, gain), &mixed(&late, &n2, gain)])
}

#[test]
fn a_late_copy_is_common_sound_out_of_step() {
    let mut cases =
        Cases::new("copies 0.4 to 20 ms late at 15 dB: coherence ≥ 0.85 from 63 Hz up, out of step");
    let mut dice = Noise::new(0x1A7E);
    let mut out_of_phase = 0;
    for hz in RATES {
        for ms in [0.4, 1.0, 2.0, 4.7, 7.3, 10.0, 15.0, 20.0] {
            let view = late_copy(&mut dice, hz, ms).view;
            for averaging in [Averaging::Slow, Averaging::SinceReset] {
                let name = format!("{ms} ms at {hz}, {averaging:?}");
                for third in FIRST_ACCURATE_THIRD..THIRDS - 1 {
                    let got = view.spectral(averaging).thirds[third];
                    let label = label(third);
                    cases.within(format!("{name}, {label}, coherence"), got.coherence, 0.85, 1.0);
                    let correlation = got.correlation.expect("pink noise is loud");
                    if correlation < 0.5 {
                        out_of_phase += 1;
                    }
                    let least = if correlation < 0.5 { 0.5 } else { 0.0 };
                    cases.within(format!("{name}, {label}, out of step"), got.out_of_step, least, 1.0);
                }
                let verdict = verdicts(&view, averaging);
                // Up to 2.5 ms it may be a spaced pair, made on purpose.
                let width = match verdict.width {
                    Width::OutOfStep(_) => ms > 2.5,
                    Width::Spaced { secs, .. } => ms <= 2.5 && (secs * 1e3 / ms - 1.0).abs() < 0.03,
                    _ => false,
                };
                let out = width && matches!(verdict.phase, Phase::OutOfStep(_));
                cases.holds(format!("{name}, verdict {:?}, {:?}", verdict.width, verdict.phase), out);
            }
        }
    }
    cases.holds(format!("{out_of_phase} thirds were out of phase"), out_of_phase > 800);
    cases.end(3 * 8 * 2 * (25 * 2 + 1) + 1);
}

#[test]
fn unrelated_noise_is_spacious_and_no_fault() {
    let mut cases = Cases::new("unrelated channels: coherence ≤ 0.1, out of step ≤ 0.1, spacious");
    let mut dice = Noise::new(0x5BAC);
    for hz in RATES {
        let [left, right] = [0, 1].map(|_| dice.pink(frames(SECS, hz), 0.1, f64::from(hz)));
        let view = measured(hz, &[&left, &right]).view;
        for third in 0..THIRDS - 1 {
            let got = view.spectral(Averaging::SinceReset).thirds[third];
            let name = format!("{} at {hz}", label(third));
            cases.within(format!("{name}, coherence"), got.coherence, 0.0, 0.1);
            cases.within(format!("{name}, out of step"), got.out_of_step, 0.0, 0.1);
        }
        for averaging in [Averaging::Slow, Averaging::SinceReset] {
            let whole = view.spectral(averaging).whole;
            cases.within(format!("{hz}, {averaging:?}, whole, coherence"), whole.coherence, 0.0, 0.1);
            cases.within(format!("{hz}, {averaging:?}, whole, out of step"), whole.out_of_step, 0.0, 0.1);
            let verdict = verdicts(&view, averaging);
            let name = format!("{hz}, {averaging:?}");
            cases.holds(
                format!("{name}, {:?}", verdict.width),
                matches!(verdict.width, Width::Spacious { .. }),
            );
            cases.holds(format!("{name}, {:?}", verdict.phase), verdict.phase == Phase::Unrelated);
            cases.holds(format!("{name}, {:?}", verdict.mono), matches!(verdict.mono, Mono::Thins { .. }));
        }
    }
    cases.end(3 * (60 + 10));
}

#[test]
fn an_inverted_channel_is_wholly_out_of_step() {
    let mut cases = Cases::new("an inverted channel: out of step 1, correlation −1, nothing left in mono");
    for hz in RATES {
        let left = Noise::new(0x1417).pink(frames(4.0, hz), 0.1, f64::from(hz));
        let right: Vec<f64> = left.iter().map(|x| -x).collect();
        let view = measured(hz, &[&left, &right]).view;
        for averaging in Averaging::ALL {
            let spectral = view.spectral(averaging);
            let name = format!("{hz}, {averaging:?}");
            let readings =
                spectral.thirds[..THIRDS - 1].iter().chain(&spectral.bands).chain([&spectral.whole]);
            for (span, got) in readings.enumerate() {
                cases.near(format!("{name}, span {span}, out of step"), got.out_of_step, 1.0, 1e-6);
                cases.near(format!("{name}, span {span}, correlation"), got.correlation, -1.0, 1e-12);
                cases.near(
                    format!("{name}, span {span}, mono loss"),
                    got.mono_loss_db,
                    f64::NEG_INFINITY,
                    0.0,
                );
            }
            let verdict = verdicts(&view, averaging);
            let opposed = matches!(verdict.width, Width::OutOfStep(fault) if fault.cause == Cause::Inverted && fault.worst > 0.999);
            cases.holds(format!("{name}, {:?}", verdict.width), opposed);
            let lost = matches!(verdict.mono, Mono::Loses { fixable: true, .. });
            cases.holds(format!("{name}, {:?}", verdict.mono), lost);
        }
    }
    cases.end(3 * 3 * (37 * 3 + 2));
}
