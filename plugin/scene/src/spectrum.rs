//! Sound made in the frequency domain, where delays and spectra are exact.

use super::noise::Chance;
use super::plan::RATE_HZ;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

type Spectrum = Vec<Complex<f64>>;

fn forward(signal: &[f64], frames: usize) -> Spectrum {
    let fft = RealFftPlanner::<f64>::new().plan_fft_forward(frames);
    let mut input = signal.to_vec();
    input.resize(frames, 0.0);
    let mut spectrum = fft.make_output_vec();
    // Only wrong lengths can fail, and the lengths come from the plan itself.
    let done = fft.process(&mut input, &mut spectrum);
    debug_assert!(done.is_ok());
    spectrum
}

fn inverse(mut spectrum: Spectrum, frames: usize) -> Vec<f64> {
    let fft = RealFftPlanner::<f64>::new().plan_fft_inverse(frames);
    // A real signal has no imaginary part at 0 and at half the rate.
    if let Some(first) = spectrum.first_mut() {
        first.im = 0.0;
    }
    if frames.is_multiple_of(2)
        && let Some(last) = spectrum.last_mut()
    {
        last.im = 0.0;
    }
    let mut output = fft.make_output_vec();
    let done = fft.process(&mut spectrum, &mut output);
    debug_assert!(done.is_ok());
    let scale = 1.0 / frames as f64;
    output.iter_mut().for_each(|s| *s *= scale);
    output
}

/// Noise of unit power with period `frames`. Each line has the relative power `power_at` its frequency, and a random
/// phase.
pub(crate) fn noise(chance: &mut Chance, frames: usize, power_at: impl Fn(f64) -> f64) -> Vec<f64> {
    let lines = frames / 2 + 1;
    let step_hz = RATE_HZ / frames as f64;
    let spectrum: Spectrum = (0..lines)
        .map(|line| {
            let power = if line == 0 || line == frames / 2 { 0.0 } else { power_at(line as f64 * step_hz) };
            Complex::from_polar(power.max(0.0).sqrt(), chance.between(0.0, std::f64::consts::TAU))
        })
        .collect();
    let mut signal = inverse(spectrum, frames);
    let power = signal.iter().map(|s| s * s).sum::<f64>() / frames as f64;
    let scale = if power > 0.0 { 1.0 / power.sqrt() } else { 0.0 };
    signal.iter_mut().for_each(|s| *s *= scale);
    signal
}

/// A power spectrum of 1/f between two frequencies, 0 outside.
pub(crate) fn pink(low_hz: f64, high_hz: f64) -> impl Fn(f64) -> f64 {
    move |hz| if hz >= low_hz && hz < high_hz { 1.0 / hz } else { 0.0 }
}

/// The signal delayed by a fractional number of samples, cut to its original length.
pub(crate) fn delayed(signal: &[f64], samples: f64) -> Vec<f64> {
    let frames = (signal.len() + 4096).next_power_of_two();
    let mut spectrum = forward(signal, frames);
    for (line, value) in spectrum.iter_mut().enumerate() {
        let turn = -std::f64::consts::TAU * line as f64 * samples / frames as f64;
        *value *= Complex::from_polar(1.0, turn);
    }
    let mut output = inverse(spectrum, frames);
    output.truncate(signal.len());
    output
}

/// The signal convolved with `response`, cut to its original length.
pub(crate) fn convolved(signal: &[f64], response: &[f64]) -> Vec<f64> {
    let frames = (signal.len() + response.len()).next_power_of_two();
    let mut spectrum = forward(signal, frames);
    let filter = forward(response, frames);
    spectrum.iter_mut().zip(&filter).for_each(|(value, gain)| *value *= *gain);
    let mut output = inverse(spectrum, frames);
    output.truncate(signal.len());
    output
}

/// The correlation of a sound whose power spectrum is `power_at` with itself `delay_samples` later, over a band:
/// Σ P(f)·cos 2πfτ / Σ P(f) over the band's lines (Wiener–Khinchin).
pub(crate) fn correlation_of_delay(
    frames: usize,
    power_at: impl Fn(f64) -> f64,
    (low_hz, high_hz): (f64, f64),
    delay_samples: f64,
) -> f64 {
    let step_hz = RATE_HZ / frames as f64;
    let (mut shared, mut all) = (0.0, 0.0);
    for line in 1..frames / 2 {
        let hz = line as f64 * step_hz;
        if hz >= low_hz && hz < high_hz {
            let power = power_at(hz);
            shared += power * (std::f64::consts::TAU * hz * delay_samples / RATE_HZ).cos();
            all += power;
        }
    }
    shared / all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_delay_by_part_of_a_sample_is_exact_for_a_sine() {
        let sine = |n: f64| (n * 0.1).sin() * (-((n - 2000.0) / 400.0).powi(2)).exp();
        let signal: Vec<f64> = (0..4000).map(|n| sine(f64::from(n))).collect();
        let late = delayed(&signal, 223.68);
        for (n, sample) in late.iter().enumerate().take(3700).skip(300) {
            assert!((sample - sine(n as f64 - 223.68)).abs() < 1e-9, "at {n}");
        }
    }

    #[test]
    fn band_noise_has_unit_power_and_none_outside_its_band() {
        let signal = noise(&mut Chance::of(7), 48_000, pink(100.0, 1_000.0));
        let power = signal.iter().map(|s| s * s).sum::<f64>() / 48_000.0;
        assert!((power - 1.0).abs() < 1e-12);
        let spectrum = forward(&signal, 48_000);
        let power_in =
            |range: std::ops::Range<usize>| spectrum[range].iter().map(Complex::norm_sqr).sum::<f64>();
        assert!(power_in(1000..24_000) < 1e-18 * power_in(100..1000));
        // 1/f: two octaves of equal power.
        let (low, high) = (power_in(100..200), power_in(400..800));
        assert!((low / high - 1.0).abs() < 0.01, "{low} {high}");
    }

    #[test]
    fn correlation_of_a_delayed_band_meets_its_closed_form() {
        // Band-limited white noise 0…B against itself d samples later: sinc(2Bd/fs), Wiener–Khinchin. B = 1 kHz, d = 12
        // gives 0.6366; d = 24 gives 0.
        let rho = |d| correlation_of_delay(480_000, |_| 1.0, (0.0, 1_000.0), d);
        assert!((rho(12.0) - std::f64::consts::FRAC_2_PI).abs() < 2e-4, "{}", rho(12.0));
        assert!(rho(24.0).abs() < 2e-4, "{}", rho(24.0));
    }

    #[test]
    fn convolving_with_a_late_click_delays() {
        let signal: Vec<f64> = (0..500).map(|n| f64::from(n % 17) - 8.0).collect();
        let mut click = vec![0.0; 30];
        click[29] = 0.5;
        let out = convolved(&signal, &click);
        assert!((0..471).all(|n| (out[n + 29] - 0.5 * signal[n]).abs() < 1e-9));
    }
}
