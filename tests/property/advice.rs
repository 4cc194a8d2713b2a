//! The law of advice: a move carried out to the letter on the samples never makes the sum worse, and gains as much as
//! predicted. The sum is measured independently: added sample by sample, and K-weighted (BS.1770-5).
//!
//! `PLUMBLINE_SITUATIONS` sets the number of situations; every run prints how often a move was advised, its gain, and
//! the gain of the best possible move.

mod situation;

use plumbline_measure::test_support::k_weighted;
use plumbline_measure::{FrameRate, SampleRate};
use plumbline_programme::pair::{Advice, Fix, Side};
use plumbline_programme::{LayerId, Mic};
use plumbline_tests::pairs::whole_line;
use plumbline_tests::signal::{Noise, single};
use realfft::RealFftPlanner;
use situation::{RATE_HZ, Situation};

/// The most by which a move may make the sum worse, dB.
const WORSE_DB: f64 = 0.1;
/// The largest difference between gain and predicted gain, dB.
const OFF_DB: f64 = 1.0;
/// Number of situations unless `PLUMBLINE_SITUATIONS` sets another.
const SITUATIONS: usize = 90;
/// Longest delay of the best possible move in samples: the range that is compared.
const LONGEST: usize = (RATE_HZ as usize * 60) / 1_000;

fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("a rate that can be measured")
}

/// K-weighted energy of the sum of two sounds, the second from sample `skip` on and multiplied by `sign`.
fn energy(first: &[f64], second: &[f64], sign: f64) -> f64 {
    let sum: Vec<f64> = first.iter().zip(second).map(|(a, b)| a + sign * b).collect();
    k_weighted(rate(), &sum).iter().map(|x| x * x).sum()
}

/// The gain of the sum by a move, dB.
fn carried_out(fix: &Fix, first: &[f64], second: &[f64]) -> f64 {
    let earlier = usize::try_from(fix.move_earlier).expect("60 ms of samples");
    let (first_from, second_from) = match fix.trails {
        Some(Side::First) => (earlier, 0),
        Some(Side::Second) => (0, earlier),
        None => (0, 0),
    };
    let before = energy(first, second, 1.0);
    let after = energy(&first[first_from..], &second[second_from..], if fix.flip { -1.0 } else { 1.0 });
    10.0 * (after / before).log10()
}

/// The gain of the best possible move within the range compared, dB: from the K-weighted cross-correlation of both.
fn best(first: &[f64], second: &[f64]) -> f64 {
    let [a, b] = [first, second].map(|sound| k_weighted(rate(), sound));
    let length = (a.len() + LONGEST).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
    let spectrum = |sound: &[f64]| {
        let mut input = sound.to_vec();
        input.resize(length, 0.0);
        let mut output = forward.make_output_vec();
        forward.process(&mut input, &mut output).expect("lengths come from the plan");
        output
    };
    let mut cross: Vec<_> = spectrum(&a).iter().zip(spectrum(&b)).map(|(a, b)| a.conj() * b).collect();
    let last = cross.len() - 1;
    (cross[0].im, cross[last].im) = (0.0, 0.0);
    let mut lags = vec![0.0; length];
    inverse.process(&mut cross, &mut lags).expect("lengths come from the plan");
    let lags: Vec<f64> = lags.iter().map(|x| x / length as f64).collect();
    let alone: f64 = a.iter().chain(&b).map(|x| x * x).sum();
    let most = lags[..=LONGEST].iter().chain(&lags[length - LONGEST..]).fold(0.0_f64, |m, x| m.max(x.abs()));
    10.0 * ((alone + 2.0 * most) / (alone + 2.0 * lags[0]).max(alone * 1e-12)).log10()
}

/// The results of all situations.
#[derive(Default)]
struct Sums {
    advised: usize,
    stretches: usize,
    won_db: f64,
    best_db: f64,
    /// Situations without advice in which the best move would have gained 3 dB or more.
    missed: usize,
    broken: Vec<String>,
}

impl Sums {
    fn take(&mut self, situation: &Situation, mics: [Mic; 2]) {
        let [first, second] = &situation.sounds;
        let line = whole_line(RATE_HZ, mics, &single(first), &single(second));
        let whole = first.len() as f64 / f64::from(RATE_HZ);
        let by_stretch = line.advice_by_stretch(FrameRate::F25, 20.0);
        let parts: Vec<(f64, f64, Advice)> = if by_stretch.is_empty() {
            vec![(0.0, whole, line.advice(FrameRate::F25, 20.0))]
        } else {
            by_stretch.into_iter().map(|(s, advice)| (s.start_secs, s.end_secs, advice)).collect()
        };
        let most = best(first, second);
        let mut advised = false;
        for (from, to, advice) in parts {
            let Advice::Repair(fix) = advice else { continue };
            advised = true;
            self.stretches += 1;
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds of samples")]
            let [from, to] = [from, to].map(|secs| ((secs * f64::from(RATE_HZ)) as usize).min(first.len()));
            let won = carried_out(&fix, &first[from..to], &second[from..to]);
            self.won_db += won;
            if won < -WORSE_DB || (won - fix.net_gain_db).abs() > OFF_DB {
                self.broken.push(format!(
                    "{}: {:?} by {}, flip {}: promised {:.2} dB, won {won:.2} dB",
                    situation.name, fix.trails, fix.move_earlier, fix.flip, fix.net_gain_db
                ));
            }
        }
        if advised {
            self.advised += 1;
            self.best_db += most;
        } else {
            self.missed += usize::from(most >= 3.0);
        }
    }
}

#[test]
fn a_move_carried_out_wins_what_was_promised_and_never_harms() {
    let count = std::env::var("PLUMBLINE_SITUATIONS").map_or(SITUATIONS, |n| n.parse().expect("a number"));
    let seed = 977 + crate::strategies::more();
    println!("PLUMBLINE_SEED={}, {count} situations", crate::strategies::more());
    let mut noise = Noise::new(seed);
    let mut sums = Sums::default();
    for at in 0..count {
        let situation = Situation::draw(&mut noise);
        // Every third one is left and right of one bus.
        let stereo = at % 3 == 2;
        let mics = if stereo { [Mic::Left, Mic::Right] } else { [1, 2].map(|id| Mic::Layer(LayerId(id))) };
        sums.take(&situation, mics);
    }
    let advised = sums.advised.max(1) as f64;
    println!(
        "advised in {} of {count} situations ({} moves), {} broke the law; won {:.2} dB on average; the best move would \
         have won {:.2} dB there; {} without advice had 3 dB or more to win",
        sums.advised,
        sums.stretches,
        sums.broken.len(),
        sums.won_db / sums.stretches.max(1) as f64,
        sums.best_db / advised,
        sums.missed
    );
    for broken in &sums.broken {
        println!("  {broken}");
    }
    // A test without advice would prove nothing.
    assert!(5 * sums.advised >= count, "advised in only {} of {count} situations", sums.advised);
    assert!(sums.broken.is_empty(), "{} of {} moves broke the law", sums.broken.len(), sums.stretches);
}
