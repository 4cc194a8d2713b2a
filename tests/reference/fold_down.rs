//! Pan laws, mid and side, and mono loss.

use crate::rig::{frames, measured};
use plumbline_measure::{Averaging, BandEdges, Coherent, Gate, Readings, StereoPower};
use plumbline_programme::verdict::{Channels, Verdicts, Width};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, mixed, sine};
use std::f64::consts::{FRAC_PI_4, PI};

const RATE: u32 = 48_000;

/// Pan p; L and R in dB by the sine/cosine law, the −4.5 dB law, the linear law; side over mid and the fold
/// (L+R)/√2 in dB for the sine/cosine law. (Names of the laws from memory.)
const PANS: [(f64, [[f64; 2]; 3], f64, f64); 4] = [
    (-0.75, [[-0.17, -14.20], [-0.66, -16.13], [-1.16, -18.06]], 0.6682, -1.60),
    (-0.5, [[-0.69, -8.34], [-1.59, -10.19], [-2.50, -12.04]], 0.4142, -0.69),
    (-0.25, [[-1.60, -5.11], [-2.84, -6.81], [-4.08, -8.52]], 0.1989, -0.17),
    (0.0, [[-3.01, -3.01], [-4.52, -4.52], [-6.02, -6.02]], 0.0, 0.0),
];

/// Gains of the three laws at pan p.
fn gains(p: f64) -> [[f64; 2]; 3] {
    let angle = FRAC_PI_4 * (1.0 + p);
    let round = [angle.cos(), angle.sin()];
    let linear = [(1.0 - p) / 2.0, (1.0 + p) / 2.0];
    [round, [0, 1].map(|side| (round[side] * linear[side]).sqrt()), linear]
}

#[test]
fn a_panned_mono_source_reads_its_pan_law() {
    let mut cases = Cases::new("pan laws: levels, balance, S/M, fold-down; correlation +1 whatever the pan");
    let source = Noise::new(0x53).pink(frames(3.0, RATE), 0.1, 48_000.0);
    let reference = measured(RATE, &[&source, &source]).view;
    let level = reference.spectral(Averaging::SinceReset).whole.channel_dbfs[0].expect("noise is loud");
    for (p, laws, side_over_mid, fold) in PANS {
        for mirror in [false, true] {
            let pan = if mirror { -p } else { p };
            for (law, [left_gain, right_gain]) in gains(pan).into_iter().enumerate() {
                let channels =
                    [left_gain, right_gain].map(|g| source.iter().map(|x| g * x).collect::<Vec<f64>>());
                let view = measured(RATE, &[&channels[0], &channels[1]]).view;
                let whole = view.spectral(Averaging::SinceReset).whole;
                let name = format!("law {law}, p = {pan}");
                let mut printed = laws[law];
                if mirror {
                    printed.reverse();
                }
                for (side, printed) in printed.into_iter().enumerate() {
                    let got = whole.channel_dbfs[side].map(|l| l - level);
                    cases.near(format!("{name}, channel {side}"), got, printed, 0.0051);
                }
                let balance = 20.0 * (right_gain / left_gain).log10();
                cases.near(format!("{name}, balance"), whole.balance_db, balance, 1e-6);
                cases.near(format!("{name}, balance, 300 ms"), view.meters.balance_db, balance, 1e-6);
                cases.near(format!("{name}, correlation"), whole.correlation, 1.0, 1e-12);
                cases.near(format!("{name}, correlation, 300 ms"), view.meters.correlation, 1.0, 1e-12);
                let verdict =
                    Verdicts::of(view.spectral(Averaging::Slow), &BandEdges::default(), Channels::of(2))
                        .width;
                let placed = match verdict {
                    Width::Panned { balance_db } => {
                        balance.abs() >= 1.5 && (balance_db - balance).abs() < 1e-6
                    }
                    Width::Mono => balance.abs() < 1e-9,
                    _ => false,
                };
                cases.holds(format!("{name}, verdict {verdict:?}"), placed);
                if law == 0 {
                    let got = whole.side_share.map(|s| (s / (1.0 - s)).sqrt());
                    cases.near(format!("{name}, S/M"), got, side_over_mid, 0.000_051);
                    // Mono loss is (L+R)/2 against the mean channel; with L²+R² = 1 it equals the fold (L+R)/√2.
                    cases.near(format!("{name}, fold"), whole.mono_loss_db, fold, 0.0051);
                }
            }
        }
    }
    for (p, balance) in [(0.25, 3.50), (0.5, 7.66), (0.75, 14.03)] {
        let [left, right] = gains(p)[0];
        cases.near(
            format!("R−L of the sine/cosine law at {p}"),
            20.0 * (right / left).log10(),
            balance,
            0.0051,
        );
    }
    // p = ∓1: one channel is silent, so correlation and balance are absent.
    for (p, right) in [(-1.0, false), (1.0, true)] {
        let silent = vec![0.0; source.len()];
        let channels = if right { [&silent, &source] } else { [&source, &silent] };
        let view = measured(RATE, &[channels[0], channels[1]]).view;
        let whole = view.spectral(Averaging::Slow).whole;
        cases.absent(format!("p = {p}, correlation"), whole.correlation);
        cases.absent(format!("p = {p}, balance"), whole.balance_db);
        cases.near(format!("p = {p}, side share of S/M = ±1"), whole.side_share, 0.5, 1e-9);
        cases.near(format!("p = {p}, fold"), whole.mono_loss_db, -3.0103, 0.0001);
        let verdict =
            Verdicts::of(view.spectral(Averaging::Slow), &BandEdges::default(), Channels::of(2)).width;
        cases.holds(format!("p = {p}, verdict {verdict:?}"), verdict == Width::OneSided { right });
    }
    cases.end(4 * 2 * (3 * 7 + 2) + 3 + 10);
}

/// ρ; fold (L+R)/2 against the mean channel in dB; mid over side in dB; side share.
const EQUAL_LEVELS: [(f64, f64, f64, f64); 11] = [
    (1.0, 0.00, f64::INFINITY, 0.0),
    (0.9, -0.22, 12.79, 0.05),
    (0.75, -0.58, 8.45, 0.125),
    (0.5, -1.25, 4.77, 0.25),
    (0.25, -2.04, 2.22, 0.375),
    (0.0, -3.01, 0.00, 0.5),
    (-0.25, -4.26, -2.22, 0.625),
    (-0.5, -6.02, -4.77, 0.75),
    (-0.75, -9.03, -8.45, 0.875),
    (-0.9, -13.01, -12.79, 0.95),
    (-1.0, f64::NEG_INFINITY, f64::NEG_INFINITY, 1.0),
];

/// Half a unit of the second decimal, as printed.
const PRINTED_DB: f64 = 0.0051;

#[test]
fn mid_and_side_of_equal_levels() {
    let mut cases =
        Cases::new("table of ρ, fold, M/S, side share; through the matrix, phase-shifted sines, and noise");
    let mut dice = Noise::new(0x54);
    let secs = 10.0;
    for (rho, fold, mid_side, share) in EQUAL_LEVELS {
        let matrix = StereoPower { ll: 0.3, rr: 0.3, re: 0.3 * rho };
        let mid_side_db = |share: f64| 10.0 * ((1.0 - share) / share).log10();
        cases.near(format!("ρ = {rho}, fold"), matrix.mono_loss_db(), fold, PRINTED_DB);
        cases.near(format!("ρ = {rho}, M/S"), matrix.side_share().map(mid_side_db), mid_side, PRINTED_DB);
        cases.near(format!("ρ = {rho}, side share"), matrix.side_share(), share, 1e-12);

        let left = sine(frames(secs, RATE), 0.5, 1_000.0, 0.0, 48_000.0);
        let right = if rho == -1.0 {
            left.iter().map(|x| -x).collect()
        } else {
            sine(left.len(), 0.5, 1_000.0, rho.acos(), 48_000.0)
        };
        let sines = measured(RATE, &[&left, &right]).view.spectral(Averaging::Slow).whole;
        cases.near(format!("ρ = {rho}, sines, fold"), sines.mono_loss_db, fold, PRINTED_DB);
        cases.near(format!("ρ = {rho}, sines, side share"), sines.side_share, share, 1e-6);

        let [n1, n2] = [0, 1].map(|_| dice.white(frames(secs, RATE), 0.1));
        let scaled: Vec<f64> = n1.iter().map(|x| rho * x).collect();
        let right = mixed(&scaled, &n2, (1.0 - rho * rho).sqrt());
        let noise = measured(RATE, &[&n1, &right]).view.spectral(Averaging::SinceReset).whole;
        // σ(r) over 20 Hz to 20 kHz; side share is (1−r)/2, and the fold 4.343·Δr/(1+ρ) dB.
        let four_sigma = 4.0 * (1.0 - rho * rho) / (2.0 * 19_980.0 * secs).sqrt();
        cases.near(format!("ρ = {rho}, noise, side share"), noise.side_share, share, four_sigma / 2.0 + 1e-9);
        let slack = if rho > -1.0 { 4.343 * four_sigma / (1.0 + rho) } else { 0.0 };
        cases.near(format!("ρ = {rho}, noise, fold"), noise.mono_loss_db, fold, slack + PRINTED_DB);
    }
    cases.end(77);
}

#[test]
fn mid_side_identities() {
    let mut cases = Cases::new("P_M + P_S = (P_L + P_R)/2, P_M − P_S = C; correlation of mid and side");
    let mut dice = Noise::new(0x55);
    for i in 0..50 {
        let (ll, rr) = (dice.uniform() + 1e-3, dice.uniform() + 1e-3);
        let re = (2.0 * dice.uniform() - 1.0) * f64::sqrt(ll * rr);
        let matrix = StereoPower { ll, rr, re };
        let sum = (matrix.mid() + matrix.side()) / (matrix.total() / 2.0);
        cases.near(format!("sum, draw {i}"), sum, 1.0, 1e-12);
        cases.near(format!("difference, draw {i}"), matrix.mid() - matrix.side(), re, 1e-12);
        let corr = (ll - rr) / f64::sqrt((ll + rr).powi(2) - 4.0 * re * re);
        let mid_side = StereoPower { ll: matrix.mid(), rr: matrix.side(), re: (ll - rr) / 4.0 };
        cases.near(format!("corr(M, S), draw {i}"), mid_side.correlation(), corr, 1e-9);
    }
    // Through the analyser: mid and side of noise with P_R = P_L/4 and ρ = 0.5 are fed as left and right.
    let count = frames(10.0, RATE);
    let [n1, n2] = [0, 1].map(|_| dice.white(count, 0.1));
    let scaled: Vec<f64> = n1.iter().map(|x| 0.5 * x).collect();
    let right: Vec<f64> = mixed(&scaled, &n2, 0.75_f64.sqrt()).iter().map(|x| 0.5 * x).collect();
    let mid: Vec<f64> = mixed(&n1, &right, 1.0).iter().map(|x| x / 2.0).collect();
    let side: Vec<f64> = mixed(&n1, &right, -1.0).iter().map(|x| x / 2.0).collect();
    let got = measured(RATE, &[&mid, &side]).view.spectral(Averaging::SinceReset).whole.correlation;
    cases.near("corr(M, S) of P_R = P_L/4, ρ = 0.5", got, 0.6547, 4.0 / (2.0 * 19_980.0 * 10.0_f64).sqrt());
    let matrix = StereoPower { ll: 4.0, rr: 1.0, re: 1.0 };
    let exact = StereoPower { ll: matrix.mid(), rr: matrix.side(), re: 0.75 }.correlation();
    cases.near("corr(M, S) of P_R = P_L/4, ρ = 0.5, matrix", exact, 0.6547, 0.000_05);
    cases.end(152);
}

/// Level difference in dB, and the loss for ρ = 1, 0.5, 0, −0.5, −1.
const LOSSES: [(f64, [f64; 5]); 6] = [
    (0.0, [0.00, -1.25, -3.01, -6.02, f64::NEG_INFINITY]),
    (1.0, [-0.01, -1.26, -3.01, -5.99, -24.82]),
    (3.0, [-0.13, -1.33, -3.01, -5.78, -15.47]),
    (6.0, [-0.45, -1.55, -3.01, -5.23, -10.02]),
    (10.0, [-1.04, -1.91, -3.01, -4.48, -6.73]),
    (20.0, [-2.23, -2.60, -3.01, -3.46, -3.97]),
];

#[test]
fn mono_loss_of_any_levels() {
    let mut cases = Cases::new("loss of (L+R)/2 against the mean channel power, by level difference and ρ");
    let count = frames(2.0, RATE);
    for (difference, losses) in LOSSES {
        for (rho, loss) in [1.0, 0.5, 0.0, -0.5, -1.0_f64].into_iter().zip(losses) {
            for louder_left in [true, false] {
                let [loud, quiet] = [1.0, 10.0_f64.powf(-difference / 10.0)];
                let (ll, rr) = if louder_left { (loud, quiet) } else { (quiet, loud) };
                let matrix = StereoPower { ll, rr, re: rho * f64::sqrt(ll * rr) };
                let name = format!("{difference} dB, ρ = {rho}, left louder: {louder_left}");
                let read = Readings::of(&matrix, Coherent::default(), Gate::broadband());
                cases.near(format!("{name}, matrix"), read.mono_loss_db, loss, PRINTED_DB);
                let phase = if rho == -1.0 { PI } else { rho.acos() };
                let left = sine(count, 0.5 * ll.sqrt(), 1_000.0, 0.0, 48_000.0);
                let right = if rho == -1.0 {
                    left.iter().map(|x| -x * (rr / ll).sqrt()).collect()
                } else {
                    sine(count, 0.5 * rr.sqrt(), 1_000.0, phase, 48_000.0)
                };
                let view = measured(RATE, &[&left, &right]).view;
                for averaging in [Averaging::Slow, Averaging::SinceReset] {
                    let got = view.spectral(averaging).thirds[17].mono_loss_db;
                    cases.near(format!("{name}, third of 1 kHz, {averaging:?}"), got, loss, PRINTED_DB);
                }
            }
        }
    }
    cases.end(6 * 5 * 2 * 3);
}
