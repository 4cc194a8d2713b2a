//! The values that measurements of the scene must find, from how it was made.

use super::design::{FLIPPED_BAND, LATE_BAND, PING};
use super::entry::on_mix;
use super::findings::{findings, joins};
use super::layering::layers;
use super::mixdown::{FULL_SCALE, MONO_PAN, Pcm, TARGET_LUFS, Track, boom_delay_ms, shares};
use super::plan::{
    BITS, BOOM_DELAY_SAMPLES, CLIP_SECS, DROPOUT, FLIPPED, FLIPPED_CORE, LATE, LATE_CORE, LATE_SAMPLES,
    MIX_FILE, ONE_SIDED, PING_SECS, RATE, RATE_HZ, SECONDS, STEPS, Stretch, TOWER_ALONE, TOWER_CORE, WORK,
    frames,
};
use super::shares::Energies;
use super::spectrum::{correlation_of_delay, pink};
use super::truth::{Passage, Planted, Quantity, StemTruth, TRUTH_VERSION, Truth};

/// All planted values of the scene.
pub(crate) fn truth(tracks: &[Track], mix: &Pcm) -> Truth {
    let shares = shares(tracks);
    let mut planted = tower();
    planted.extend(late());
    planted.extend(flipped(tracks));
    planted.extend(spots(mix));
    planted.extend(delivery());
    planted.extend(between_stems());
    planted.extend(layers(tracks, mix));
    let energies = Energies::of(tracks, mix);
    Truth {
        version: TRUTH_VERSION,
        rate_hz: RATE,
        bits: BITS,
        frames: frames() as u64,
        seconds: SECONDS,
        mix: MIX_FILE.to_owned(),
        mono_pan_db: 20.0 * MONO_PAN.log10(),
        stems: tracks
            .iter()
            .zip(&shares)
            .map(|(track, share)| StemTruth {
                file: track.file.to_owned(),
                name: track.name.to_owned(),
                role: track.role.name().to_owned(),
                channels: if track.sides.len() == 1 { 1 } else { 2 },
                gain_db: track.gain_db,
                share_percent: *share,
            })
            .collect(),
        passages: passages(),
        planted,
        findings: findings(tracks, mix, &energies),
        joins: joins(tracks),
    }
}

fn passages() -> Vec<Passage> {
    let passage = |stretch: Stretch, what: &str| Passage {
        start_secs: stretch.start,
        end_secs: stretch.end,
        what: what.to_owned(),
    };
    let mut all = vec![
        passage(TOWER_ALONE, "the tower alone: wind through the louvres, pigeons, a distant yard"),
        passage(STEPS, "steps on the stair, from left to right"),
        passage(ONE_SIDED, "the rope hard left, the right tower microphone dead"),
        passage(LATE, "a designed swell, its right channel 3 ms late"),
        passage(FLIPPED, "a designed swell, its right channel inverted"),
    ];
    all.extend(WORK.map(|work| passage(work, "the mason at work: chisel, breath, talk to himself")));
    all.sort_by(|a, b| a.start_secs.total_cmp(&b.start_secs));
    all
}

/// The tower: two channels made orthogonal, so that the readings follow by arithmetic. A spectral reading covers one
/// window more than the stretch and omits the lowest frequencies, so its tolerance is that of unrelated noise: four
/// times 1/√(2BT), with T = 7.5 s and B about 1 kHz of wind.
fn tower() -> Vec<Planted> {
    let orthogonal =
        "the channels are made orthogonal over the stretch; four standard errors of 7.5 s of wind";
    vec![
        on_mix("tower: correlation", Quantity::Correlation, TOWER_CORE, 0.0, "").within(0.033, orthogonal),
        on_mix("tower: side share", Quantity::SideShare, TOWER_CORE, 50.0, "%").within(1.65, orthogonal),
        on_mix("tower: mono loss", Quantity::MonoLoss, TOWER_CORE, 10.0 * 0.5_f64.log10(), "dB")
            .within(0.14, orthogonal),
        on_mix("tower: coherence", Quantity::Coherence, TOWER_CORE, 0.1, "")
            .at_most("unrelated channels read at most 0.1 once the bias is out"),
        on_mix("tower: verdict on width", Quantity::WidthVerdict, TOWER_CORE, 0.0, "")
            .word("spacious")
            .within(0.0, "unrelated channels are space, not a fault"),
    ]
}

/// The late swell: one sound of known spectrum, τ = 3 ms, so the correlation of any band is a sum over its lines.
fn late() -> Vec<Planted> {
    let length = LATE.range().len();
    let (low, high) = LATE_BAND;
    let rho = |from: f64, to: f64| {
        correlation_of_delay(length, pink(low, high), (from.max(low), to.min(high)), LATE_SAMPLES as f64)
    };
    // 6 s of a band 600 Hz wide: 1/√(2BT) = 0.012; the tower, 36 dB below its own level, adds less than 0.001.
    let because =
        "Σ P cos 2πfτ / Σ P over the swell's own lines, τ = 144 samples; four standard errors of 6 s";
    let out_of_step = |from: f64, to: f64| 1.0 - rho(from, to).max(0.0).powi(2);
    let whole = rho(low, high);
    vec![
        on_mix("late swell: correlation, Low mid", Quantity::Correlation, LATE_CORE, rho(200.0, 800.0), "")
            .in_band(200.0, 800.0)
            .within(0.048, because),
        on_mix("late swell: correlation, Mid", Quantity::Correlation, LATE_CORE, rho(800.0, 2_500.0), "")
            .in_band(800.0, 2_500.0)
            .within(0.028, because),
        on_mix(
            "late swell: out of step, Mid",
            Quantity::OutOfStep,
            LATE_CORE,
            out_of_step(800.0, 2_500.0),
            "",
        )
        .in_band(800.0, 2_500.0)
        .within(
            0.05,
            "one sound: coherence 1 less the square of the correlation where positive; 2 s average",
        ),
        on_mix(
            "late swell: mono loss",
            Quantity::MonoLoss,
            LATE_CORE,
            10.0 * ((1.0 + whole) / 2.0).log10(),
            "dB",
        )
        .within(0.2, because),
        on_mix("late swell: verdict on width", Quantity::WidthVerdict, LATE_CORE, 0.0, "")
            .word("out of step")
            .within(0.0, "one sound in both channels, 3 ms apart"),
    ]
}

/// The inverted swell over the lowered tower: all powers are known, so the readings follow by arithmetic.
fn flipped(tracks: &[Track]) -> Vec<Planted> {
    let power = |file: &str, weigh: fn(f64, f64) -> f64| -> f64 {
        let range = FLIPPED_CORE.range();
        let frames = range.len() as f64;
        tracks
            .iter()
            .filter(|t| t.file == file)
            .flat_map(|t| t.side(0)[range.clone()].iter().zip(&t.side(1)[range.clone()]))
            .map(|(l, r)| weigh(*l, *r))
            .sum::<f64>()
            / frames
    };
    let both = |l: f64, r: f64| l * l + r * r;
    let mid = |l: f64, r: f64| (l + r) * (l + r) / 4.0;
    let all = power("design_swells.wav", both) + power("tower.wav", both);
    let left_in_mono = power("tower.wav", mid);
    let side_share = 100.0 * (1.0 - 2.0 * left_in_mono / all);
    let correlation = -(1.0 - 4.0 * left_in_mono / all);
    let because = "the swell cancels itself in mono; what is left is the tower, whose power there is known";
    let (low, high) = FLIPPED_BAND;
    vec![
        on_mix("inverted swell: correlation", Quantity::Correlation, FLIPPED_CORE, correlation, "")
            .within(0.005, because),
        on_mix("inverted swell: side share", Quantity::SideShare, FLIPPED_CORE, side_share, "%")
            .within(0.25, because),
        // The windows at both ends of the stretch include a little of the fades.
        on_mix(
            "inverted swell: mono loss",
            Quantity::MonoLoss,
            FLIPPED_CORE,
            10.0 * (2.0 * left_in_mono / all).log10(),
            "dB",
        )
        .within(0.5, because),
        on_mix("inverted swell: out of step, Low mid", Quantity::OutOfStep, FLIPPED_CORE, 1.0, "")
            .in_band(low.max(200.0), high.min(800.0))
            .within(0.05, "one sound, opposed: coherence 1, correlation −1; 2 s average"),
        on_mix("inverted swell: verdict on width", Quantity::WidthVerdict, FLIPPED_CORE, 0.0, "")
            .word("opposed")
            .within(0.0, "one sound in both channels, one of them inverted"),
    ]
}

/// Spots: a dropout, a dead channel, a clipped thump, a peak between samples.
fn spots(mix: &Pcm) -> Vec<Planted> {
    let bottom = -FULL_SCALE;
    let clipped = mix.iter().flatten().filter(|s| f64::from(**s) <= bottom).count();
    let tenth = "the tenth that holds it";
    let clip = Stretch { start: CLIP_SECS - 0.05, end: CLIP_SECS + 0.05 };
    let ping = Stretch { start: PING_SECS - 0.05, end: PING_SECS + 0.05 };
    let whole = Stretch { start: 0.0, end: SECONDS };
    vec![
        on_mix("dropout: start", Quantity::DropoutStart, DROPOUT, DROPOUT.start, "s")
            .within(0.001, "on a tenth's edge"),
        on_mix(
            "dropout: length",
            Quantity::DropoutLength,
            DROPOUT,
            DROPOUT.range().len() as f64 / RATE_HZ,
            "s",
        )
        .within(0.001, "two whole tenths"),
        on_mix(
            "one-sided: right channel silent",
            Quantity::OneSided,
            ONE_SIDED,
            ONE_SIDED.end - ONE_SIDED.start,
            "s",
        )
        .within(0.101, "40 whole tenths; the 20 ms fades may cost one"),
        on_mix("clipped: samples", Quantity::ClippedSamples, clip, clipped as f64, "samples")
            .within(0.0, "counted where the bus was held to full scale"),
        on_mix("clipped: time", Quantity::ClippedAt, clip, clip.start, "s").within(0.001, tenth),
        on_mix("true peak: highest", Quantity::TruePeak, whole, 20.0 * PING.log10(), "dBTP").within(
            0.2,
            "a sine at a quarter of the rate, 45° off its samples; EBU Tech 3341 allows +0.2, −0.4",
        ),
        on_mix("true peak: time", Quantity::TruePeakAt, ping, ping.start, "s").within(0.001, tenth),
        on_mix("true peak: elsewhere at most", Quantity::TruePeakElsewhere, whole, -1.0, "dBTP")
            .at_most("EBU R 128 (m); the mix is built to stay under it but for the ping and the thump"),
    ]
}

fn delivery() -> Vec<Planted> {
    let whole = Stretch { start: 0.0, end: SECONDS };
    vec![
        on_mix("integrated loudness", Quantity::IntegratedLoudness, whole, TARGET_LUFS, "LUFS")
            .within(0.1, "the mix is scaled to it with the ebur128 crate; EBU Tech 3341 allows 0.1 LU"),
        on_mix("length measured", Quantity::Length, whole, SECONDS, "s").within(0.001, "whole tenths"),
    ]
}

fn between_stems() -> Vec<Planted> {
    let ms = boom_delay_ms();
    let delay = format!(
        "the boom hears the same source {BOOM_DELAY_SAMPLES} samples ({ms:.2} ms) after the lavalier"
    );
    vec![
        on_mix("boom after lavalier: delay", Quantity::PairDelay, WORK[0], BOOM_DELAY_SAMPLES, "samples")
            .within(0.1, &delay)
            .between_stems(),
        on_mix("boom and lavalier: polarity", Quantity::PairPolarity, WORK[0], 1.0, "")
            .within(0.0, "neither is inverted")
            .between_stems(),
    ]
}
