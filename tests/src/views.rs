//! Views from formulas, for pictures: typical moments of a mix, the same on every machine.
//!
//! The readings follow from one 2×2 matrix per third by the measurement's own formulas, and so do the verdicts. So a
//! picture shows the same as the plug-in would for such sound.

mod mics;
mod sessions;
mod time;

pub use mics::{bus_alone, crowd, fighting, named_cause, not_decoded, spaced_pair, trying, with_mics};
pub use sessions::{
    alone, cancelling, crowded, four, layered, of_the_chisel, only_mixes, twelve, without_board,
};
pub use time::{absent, an_hour, busy_log, clean_log, full_log, heard, rebuilt, rewound, with_time};

use plumbline_measure::bands::{BANDS, BandEdges, THIRDS, third_at, third_centre_hz};
use plumbline_measure::cross::db_power;
use plumbline_measure::reading::Maybe;
use plumbline_measure::{
    Analyzer, Averaging, Coherent, Gate, Glance, Grid, Loudness, Meters, Position, Readings, SampleRate,
    Spectral, StereoPower, Tenth,
};
use plumbline_programme::delivery::{DeliveryVerdict, Target};
use plumbline_programme::verdict::{Channels, Verdicts};
use plumbline_programme::{Clock, Mics, View};
use std::sync::Arc;

/// A synthetic sound in one third.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// Level in dBFS.
    pub level_dbfs: f64,
    /// Side share 0…1.
    pub side_share: f64,
    /// Right over left, dB.
    pub balance_db: f64,
    /// Coherence 0…1, if higher than the correlation implies.
    pub coherence: f64,
}

/// A synthetic moment.
#[derive(Clone, Debug)]
pub struct Moment {
    /// Short name, for file names.
    pub name: &'static str,
    /// Its view.
    pub view: View,
}

/// All moments, the calm ones first.
pub fn moments() -> Vec<Moment> {
    vec![
        Moment { name: "spacious", view: spacious() },
        Moment { name: "out-of-step", view: out_of_step() },
        Moment { name: "mono", view: mono() },
        Moment { name: "over-target", view: over_target() },
        Moment { name: "one-sided", view: one_sided() },
        Moment { name: "silence", view: silence() },
        Moment { name: "nothing", view: View::default() },
    ]
}

/// Wind and birds around the tower: wide, unrelated, calm.
pub fn spacious() -> View {
    let patch = |hz: f64| Patch {
        level_dbfs: ambience_level(hz),
        side_share: 0.20 + 0.34 * smooth(hz, 90.0, 900.0),
        balance_db: 0.8 * (hz.ln() * 1.7).sin(),
        coherence: 0.03,
    };
    let loudness = Loudness {
        momentary_lufs: Some(-23.9),
        short_term_lufs: Some(-23.4),
        integrated_lufs: Some(-22.9),
        range_lu: Some(6.8),
        max_momentary_lufs: Some(-18.2),
        max_short_term_lufs: Some(-20.6),
        true_peak_dbtp: [Some(-6.4), Some(-5.9)],
        measured_secs: 184.0,
    };
    view(&patch, loudness, Peaks { fast: [-14.2, -13.1], max: [-6.9, -6.3], overs: [0, 0], dc: 0.000_04 })
}

/// The same with a swell in the centre whose right channel is late: one sound out of step.
pub fn out_of_step() -> View {
    let patch = |hz: f64| {
        let inside = smooth(hz, 330.0, 420.0) * (1.0 - smooth(hz, 2_900.0, 3_600.0));
        let comb = (hz / 480.0 * std::f64::consts::TAU / 2.0).cos();
        Patch {
            level_dbfs: ambience_level(hz) + 9.0 * inside,
            side_share: 0.24 + 0.16 * smooth(hz, 90.0, 900.0) + inside * (0.34 + 0.14 * comb),
            balance_db: 0.5 * (hz.ln() * 2.1).sin(),
            coherence: 0.06 + 0.86 * inside,
        }
    };
    let loudness = Loudness {
        momentary_lufs: Some(-20.8),
        short_term_lufs: Some(-22.3),
        integrated_lufs: Some(-23.1),
        range_lu: Some(9.4),
        max_momentary_lufs: Some(-17.0),
        max_short_term_lufs: Some(-19.8),
        true_peak_dbtp: [Some(-3.1), Some(-2.8)],
        measured_secs: 96.0,
    };
    let mut view =
        view(&patch, loudness, Peaks { fast: [-9.8, -9.1], max: [-3.6, -3.3], overs: [0, 0], dc: 0.0001 });
    view.health.jumps = 1;
    // In a band of noise the thirds do not reveal the delay; the comparison of left and right does.
    let line = mics::late_channel();
    let judged = Verdicts::of(
        view.spectral(Averaging::Slow),
        &view.band_edges,
        Channels { left_right: Some(&line), ..Channels::of(2) },
    );
    view.verdicts = Verdicts { delivery: view.verdicts.delivery, ..judged };
    view.mics = Arc::new(Mics { lines: vec![line], ..Mics::default() });
    view.verdicts.mics = view.mics.verdict();
    view
}

/// The mason's voice alone, in the centre.
pub fn mono() -> View {
    let patch =
        |hz: f64| Patch { level_dbfs: voice_level(hz), side_share: 0.0, balance_db: 0.0, coherence: 1.0 };
    let loudness = Loudness {
        momentary_lufs: Some(-25.2),
        short_term_lufs: Some(-24.8),
        integrated_lufs: Some(-24.4),
        range_lu: Some(4.1),
        max_momentary_lufs: Some(-20.9),
        max_short_term_lufs: Some(-22.8),
        true_peak_dbtp: [Some(-8.0), Some(-8.0)],
        measured_secs: 6.0,
    };
    view(&patch, loudness, Peaks { fast: [-16.0, -16.0], max: [-8.6, -8.6], overs: [0, 0], dc: 0.0 })
}

/// The strike of the bell, far too loud.
pub fn over_target() -> View {
    let patch = |hz: f64| Patch {
        level_dbfs: ambience_level(hz) + 16.0 + 6.0 * (hz.ln() * 6.0).sin() * smooth(hz, 150.0, 300.0),
        side_share: 0.05 + 0.22 * smooth(hz, 200.0, 4_000.0),
        balance_db: -1.2,
        coherence: 0.5,
    };
    let loudness = Loudness {
        momentary_lufs: Some(-11.4),
        short_term_lufs: Some(-12.9),
        integrated_lufs: Some(-16.2),
        range_lu: Some(12.7),
        max_momentary_lufs: Some(-9.8),
        max_short_term_lufs: Some(-11.9),
        true_peak_dbtp: [Some(0.9), Some(0.4)],
        measured_secs: 312.0,
    };
    let mut view =
        view(&patch, loudness, Peaks { fast: [-0.4, -1.3], max: [0.0, 0.0], overs: [37, 5], dc: 0.0031 });
    view.health.gaps = 2;
    view.health.lost_frames = 4_096;
    view.clock.position = Position { grid: Grid::Clock, sample: 48_000 * 724 };
    view
}

/// An unplugged cable: only the left channel has sound.
pub fn one_sided() -> View {
    let patch =
        |hz: f64| Patch { level_dbfs: voice_level(hz), side_share: 0.5, balance_db: -300.0, coherence: 0.0 };
    let loudness = Loudness {
        momentary_lufs: Some(-28.0),
        short_term_lufs: Some(-27.6),
        integrated_lufs: Some(-27.4),
        range_lu: Some(3.0),
        max_momentary_lufs: Some(-24.0),
        max_short_term_lufs: Some(-26.1),
        true_peak_dbtp: [Some(-10.2), None],
        measured_secs: 41.0,
    };
    let peaks = Peaks { fast: [-17.0, f64::NAN], max: [-10.8, f64::NAN], overs: [0, 0], dc: 0.0 };
    let mut view = view(&patch, loudness, peaks);
    view.meters.correlation = None;
    view.meters.balance_db = None;
    view
}

/// The transport runs without sound.
pub fn silence() -> View {
    let patch = |_| Patch { level_dbfs: -200.0, side_share: 0.0, balance_db: 0.0, coherence: 0.0 };
    let nothing = f64::NAN;
    let peaks = Peaks { fast: [nothing; 2], max: [nothing; 2], overs: [0, 0], dc: 0.0 };
    let mut view = view(&patch, Loudness { measured_secs: 8.0, ..Loudness::default() }, peaks);
    view.meters = Meters::default();
    view.scope = vec![[0.0; 2]; 1_024];
    view
}

struct Peaks {
    fast: [f64; 2],
    max: [f64; 2],
    overs: [u64; 2],
    dc: f64,
}

fn present(value: f64) -> Option<f64> {
    (!value.is_nan()).then_some(value)
}

fn view(patch: &dyn Fn(f64) -> Patch, loudness: Loudness, peaks: Peaks) -> View {
    let edges = BandEdges::default();
    let line_hz = lines_hz();
    let averages = [(4.0, 11), (1.8, 23), (0.7, 37)]
        .map(|(spread_db, seed)| spectral(patch, &line_hz, &edges, spread_db, seed));
    let hold_dbfs = averages
        .iter()
        .map(|average| average.lines_dbfs.clone())
        .reduce(|a, b| a.iter().zip(&b).map(|(x, y)| x.max(*y)).collect())
        .unwrap_or_default()
        .into_iter()
        .enumerate()
        .map(|(i, db)| db + 2.0 + single(line_noise(i, 5)))
        .collect();
    let whole = averages[1].whole;
    let meters = Meters {
        correlation: whole.correlation,
        balance_db: whole.balance_db,
        level_fast_dbfs: whole.level_dbfs,
        level_slow_dbfs: whole.level_dbfs,
        peak_dbfs: peaks.fast.map(present),
        max_peak_dbfs: peaks.max.map(present),
        overs: peaks.overs,
        flat: peaks.overs,
        dc: [Some(peaks.dc), Some(-peaks.dc / 2.0)],
    };
    let mut verdicts = Verdicts::of(&averages[1], &edges, Channels::of(2));
    verdicts.delivery = DeliveryVerdict::of(&loudness, &meters, &whole, &Target::default());
    let index = 10 * (3_600 + 23 * 60 + 14) + 5;
    View {
        serial: 1,
        clock: Clock {
            position: Position { grid: Grid::Song, sample: 4_800 * index + 2_700 },
            rate_hz: 48_000,
            playing: true,
            running: true,
            channels: 2,
        },
        line_hz,
        recent: recent(&loudness, whole.correlation, index),
        scope: scope(&whole),
        averages,
        hold_dbfs,
        band_edges: edges,
        meters,
        loudness,
        verdicts,
        ..View::default()
    }
}

/// The measurement's lines at 48 kHz.
fn lines_hz() -> Arc<[f32]> {
    let mut glance = Glance::default();
    let rate = SampleRate::new(48_000).expect("a rate that can be measured");
    Analyzer::new(rate, 2, BandEdges::default()).fill(&mut glance);
    glance.line_hz
}

/// Noise shared by adjacent lines, because cells overlap: five lines to a cell's width.
fn line_noise(line: usize, seed: u64) -> f64 {
    let (cell, share) = (line / 5, (line % 5) as f64 / 5.0);
    noise(cell, seed) * (1.0 - share) + noise(cell + 1, seed) * share
}

fn spectral(
    patch: &dyn Fn(f64) -> Patch,
    line_hz: &[f32],
    edges: &BandEdges,
    spread_db: f64,
    seed: u64,
) -> Spectral {
    let lines_dbfs = line_hz
        .iter()
        .enumerate()
        .map(|(i, &hz)| single(patch(f64::from(hz)).level_dbfs - 9.0 + spread_db * line_noise(i, seed)))
        .collect();
    let crosses: Vec<(f64, StereoPower, f64)> = (0..THIRDS)
        .map(|third| {
            let hz = third_centre_hz(third);
            let mut patch = patch(hz);
            patch.level_dbfs += spread_db * 0.3 * noise(third, seed + 1);
            (hz, cross(&patch), patch.coherence)
        })
        .collect();
    let loudest = crosses.iter().map(|(_, cross, _)| cross.total()).fold(0.0, f64::max);
    let read = |inside: &dyn Fn(f64) -> bool, gate: Gate| {
        let parts: Vec<_> = crosses.iter().filter(|(hz, _, _)| inside(*hz)).collect();
        let sum: StereoPower = parts.iter().map(|(_, cross, _)| *cross).sum();
        let weight: f64 = parts.iter().map(|(_, cross, _)| cross.total()).sum();
        let mean = |value: &dyn Fn(&StereoPower, f64) -> f64| {
            parts.iter().map(|(_, cross, c)| value(cross, *c) * cross.total()).sum::<f64>() / weight
        };
        let correlation = |cross: &StereoPower| cross.correlation().unwrap_or(0.0);
        let coherence = |cross: &StereoPower, c: f64| c.max(correlation(cross).powi(2));
        let out = |cross: &StereoPower, c: f64| coherence(cross, c) - correlation(cross).max(0.0).powi(2);
        let coherent = Coherent {
            coherence: Maybe::new(Some(mean(&coherence))),
            out_of_step: Maybe::new(Some(mean(&out).max(0.0))),
        };
        Readings::of(&sum, coherent, gate)
    };
    let gate = Gate::bands(loudest);
    Spectral {
        lines_dbfs,
        thirds: std::array::from_fn(|third| read(&|hz| third_at(hz) == Some(third), gate)),
        bands: std::array::from_fn::<_, BANDS, _>(|band| {
            let span = edges.span(band);
            read(&|hz| hz >= span.low_hz * 0.99 && hz < span.high_hz * 0.99, gate)
        }),
        whole: read(&|_| true, Gate::broadband()),
    }
}

fn cross(patch: &Patch) -> StereoPower {
    let total = db_power(patch.level_dbfs);
    let ratio = db_power(patch.balance_db);
    let (ll, rr) = (total / (1.0 + ratio), total * ratio / (1.0 + ratio));
    let most = (ll * rr).sqrt();
    let re = (total * (1.0 - 2.0 * patch.side_share) / 2.0).clamp(-most, most);
    StereoPower { ll, rr, re }
}

fn recent(loudness: &Loudness, correlation: Option<f64>, newest: i64) -> Vec<Tenth> {
    (0..600_i64)
        .map(|ago| {
            let secs = single_count(ago) / 10.0;
            let swell = (secs * 0.35).cos() - 1.0 + 0.4 * (secs * 1.1).sin();
            let short_term = loudness.short_term_lufs.map(|s| s + 1.6 * swell);
            let wobble = 0.12 * (secs * 2.3).sin() + 0.06 * noise(usize::try_from(ago).unwrap_or(0), 71);
            // A few seconds in the middle without audio: the strip shows a gap.
            let heard = !(210..235).contains(&ago);
            Tenth {
                grid: Grid::Song,
                index: newest - ago,
                length: 4_800,
                short_term: Maybe::new(short_term.filter(|_| heard)),
                lowest_correlation: Maybe::new(
                    correlation.map(|c| (c - 0.1 + wobble).clamp(-1.0, 1.0)).filter(|_| heard),
                ),
                ..Tenth::default()
            }
        })
        .rev()
        .collect()
}

/// Points with the correlation and balance of the whole range.
fn scope(whole: &Readings) -> Vec<[f32; 2]> {
    let rms = whole.channel_dbfs.map(|level| level.map_or(0.0, |db| (db_power(db) / 2.0).sqrt()));
    let correlation = whole.correlation.unwrap_or(0.0);
    (0..1_600)
        .map(|i| {
            let common = gauss(i, 101);
            let own = gauss(i, 103);
            let right = correlation * common + (1.0 - correlation * correlation).max(0.0).sqrt() * own;
            [single(common * rms[0]).clamp(-1.0, 1.0), single(right * rms[1]).clamp(-1.0, 1.0)]
        })
        .collect()
}

fn ambience_level(hz: f64) -> f64 {
    -30.0 - 3.2 * (hz / 100.0).log2().max(-1.0) - 14.0 * (1.0 - smooth(hz, 22.0, 60.0))
        + 4.0 * smooth(hz, 2_500.0, 4_200.0) * (1.0 - smooth(hz, 5_000.0, 9_000.0))
        - 16.0 * smooth(hz, 11_000.0, 21_000.0)
}

fn voice_level(hz: f64) -> f64 {
    let formants = 5.0 * (-((hz / 520.0).log2()).powi(2) * 3.0).exp()
        + 4.0 * (-((hz / 2_700.0).log2()).powi(2) * 4.0).exp();
    -31.0 + formants
        - 46.0 * (1.0 - smooth(hz, 30.0, 160.0))
        - 5.0 * (hz / 500.0).log2().max(0.0)
        - 30.0 * smooth(hz, 9_000.0, 19_000.0)
}

/// 0 up to `from`, 1 from `to` on, with a smooth rise over log frequency in between.
fn smooth(hz: f64, from: f64, to: f64) -> f64 {
    let t = ((hz / from).ln() / (to / from).ln()).clamp(0.0, 1.0);
    if t.is_nan() { 0.0 } else { t * t * (3.0 - 2.0 * t) }
}

/// −1…+1 from a position and a seed: the finaliser of SplitMix64 (Steele, Lea, Flood 2014).
fn noise(position: usize, seed: u64) -> f64 {
    let mut z = (position as u64)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add(seed.wrapping_mul(0xd1b5_4a32_d192_ed03));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 31;
    (z >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
}

/// Approximately normal with variance 1: the sum of twelve uniform numbers.
fn gauss(position: usize, seed: u64) -> f64 {
    (0..12).map(|k| noise(position, seed + 1_000 * k)).sum::<f64>() / 2.0
}

fn single_count(n: i64) -> f64 {
    n as f64
}

#[expect(clippy::cast_possible_truncation, reason = "views hold single precision")]
fn single(value: f64) -> f32 {
    value as f32
}
