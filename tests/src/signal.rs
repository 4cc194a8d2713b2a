//! Deterministic test signals: noise of a stated colour, sines, delays, and the analyser run over them.

use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate, Tenth};

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use std::f64::consts::PI;

/// A small generator with a fixed seed (SplitMix64, Steele, Lea, Flood 2014): every run has the same noise.
#[derive(Clone, Debug)]
pub struct Noise(u64);

impl Noise {
    /// A generator with a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0…1.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Gaussian, mean 0, variance 1 (Box–Muller).
    pub fn gauss(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * PI * self.uniform()).cos()
    }

    /// White noise of a given RMS.
    pub fn white(&mut self, frames: usize, rms: f64) -> Vec<f64> {
        (0..frames).map(|_| self.gauss() * rms).collect()
    }

    /// Noise with amplitude ∝ f^(−exponent) between two frequencies, of a given RMS, made in the frequency domain:
    /// exponent 0.5 is pink, 0 white, 1 brown, −0.5 blue, −1 violet. Its period is its length.
    pub fn coloured(
        &mut self,
        frames: usize,
        rms: f64,
        exponent: f64,
        low_hz: f64,
        high_hz: f64,
        rate: f64,
    ) -> Vec<f64> {
        let mut planner = RealFftPlanner::<f64>::new();
        let inverse = planner.plan_fft_inverse(frames);
        let mut bins = vec![Complex::new(0.0, 0.0); frames / 2 + 1];
        for (k, bin) in bins.iter_mut().enumerate().skip(1) {
            let hz = k as f64 * rate / frames as f64;
            if (low_hz..=high_hz).contains(&hz) && 2 * k < frames {
                let phase = 2.0 * PI * self.uniform();
                *bin = Complex::from_polar(hz.powf(-exponent), phase);
            }
        }
        let mut samples = vec![0.0; frames];
        inverse.process(&mut bins, &mut samples).expect("lengths come from the plan");
        let now = (samples.iter().map(|x| x * x).sum::<f64>() / frames as f64).sqrt();
        samples.iter_mut().for_each(|x| *x *= rms / now);
        samples
    }

    /// Pink noise, 20 Hz to 20 kHz (or half the rate), of a given RMS.
    pub fn pink(&mut self, frames: usize, rms: f64, rate: f64) -> Vec<f64> {
        self.coloured(frames, rms, 0.5, 20.0, 20_000.0_f64.min(0.499 * rate), rate)
    }
}

/// A sine of amplitude `amplitude`: amplitude·sin(2πfn/rate + phase).
pub fn sine(frames: usize, amplitude: f64, hz: f64, phase: f64, rate: f64) -> Vec<f64> {
    (0..frames).map(|n| amplitude * (2.0 * PI * hz * n as f64 / rate + phase).sin()).collect()
}

/// A copy delayed by a fractional number of samples, in the frequency domain (circular).
pub fn delayed(samples: &[f64], by: f64) -> Vec<f64> {
    filtered(samples, 1.0, |turns| Complex::from_polar(1.0, -2.0 * PI * turns * by))
}

/// A copy filtered by a frequency response (circular); `rate` is in the unit of its frequencies.
pub fn filtered(samples: &[f64], rate: f64, response: impl Fn(f64) -> Complex<f64>) -> Vec<f64> {
    let frames = samples.len();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(frames), planner.plan_fft_inverse(frames));
    let mut bins = forward.make_output_vec();
    forward.process(&mut samples.to_vec(), &mut bins).expect("lengths come from the plan");
    for (k, bin) in bins.iter_mut().enumerate() {
        *bin *= response(k as f64 * rate / frames as f64) / frames as f64;
    }
    bins[0].im = 0.0;
    if let Some(last) = bins.last_mut() {
        last.im = 0.0;
    }
    let mut out = vec![0.0; frames];
    inverse.process(&mut bins, &mut out).expect("lengths come from the plan");
    out
}

/// Single precision, as a host gives it.
#[expect(clippy::cast_possible_truncation, reason = "hosts give single precision")]
pub fn single(samples: &[f64]) -> Vec<f32> {
    samples.iter().map(|x| *x as f32).collect()
}

/// Sum of two signals, the second scaled.
pub fn mixed(a: &[f64], b: &[f64], gain: f64) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a + gain * b).collect()
}

/// The analyser's tenths of a signal from song time 0, and its glance at the end.
pub fn analysed(rate_hz: u32, channels: &[&[f64]]) -> (Vec<Tenth>, Glance) {
    let rate = SampleRate::new(rate_hz).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, channels.len(), BandEdges::default());
    let singles: Vec<Vec<f32>> = channels.iter().map(|c| single(c)).collect();
    let mut tenths = Vec::new();
    for start in (0..singles[0].len()).step_by(512) {
        let end = (start + 512).min(singles[0].len());
        let block: Vec<&[f32]> = singles.iter().map(|c| &c[start..end]).collect();
        let at = Position { grid: Grid::Song, sample: i64::try_from(start).expect("short") };
        analyzer.push(at, &block, &mut tenths);
    }
    let mut view = Glance::default();
    analyzer.fill(&mut view);
    analyzer.flush(&mut tenths);
    (tenths, view)
}
