//! A simulated room: image sources in a box, parameters below.

use super::{RATE, convolved, speech_like, tracked};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::Noise;
use std::f64::consts::PI;

/// Sides of the room in metres.
const SIDES: [f64; 3] = [6.2, 5.1, 2.9];
/// Reverberation time in seconds.
const REVERBERATION_SECS: f64 = 0.3;
/// Speed of sound in m/s.
const SPEED: f64 = 343.2;
/// Positions of the source and the nearer microphone, in metres.
const SOURCE: [f64; 3] = [2.3, 2.0, 1.55];
const NEAR: [f64; 3] = [2.3, 2.6, 1.75];
/// Direction from the source to the farther microphone, of length 1.
const AWAY: [f64; 3] = [0.8, 0.6, 0.0];

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
}

/// Impulse response from the source to `mic` (J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65(4), 943–950, 1979):
/// all walls alike, absorption by Sabine's formula 0.161·V/(S·T), images up to the reverberation time.
fn response(mic: [f64; 3]) -> Vec<f64> {
    let [x, y, z] = SIDES;
    let absorption = 0.161 * x * y * z / (2.0 * (x * y + y * z + z * x) * REVERBERATION_SECS);
    let reflection = (1.0 - absorption).sqrt();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small")]
    let frames = (REVERBERATION_SECS * RATE) as usize;
    let farthest = REVERBERATION_SECS * SPEED;
    let mut out = vec![0.0; frames + 64];
    #[expect(clippy::cast_possible_truncation, reason = "small")]
    let orders = SIDES.map(|side| (farthest / (2.0 * side)).ceil() as i32 + 1);
    // Each axis: position of the image and number of reflections.
    let axis = |i: usize| -> Vec<(f64, i32)> {
        (-orders[i]..=orders[i])
            .flat_map(|m| {
                let period = 2.0 * f64::from(m) * SIDES[i];
                [
                    (period + SOURCE[i] - mic[i], (2 * m).abs()),
                    (period - SOURCE[i] - mic[i], (2 * m - 1).abs()),
                ]
            })
            .collect()
    };
    let [xs, ys, zs] = [axis(0), axis(1), axis(2)];
    for (x, reflections_x) in &xs {
        for (y, reflections_y) in &ys {
            for (z, reflections_z) in &zs {
                let path = (x * x + y * y + z * z).sqrt();
                if path > farthest {
                    continue;
                }
                let gain = reflection.powi(reflections_x + reflections_y + reflections_z) / path;
                let at = path / SPEED * RATE;
                let whole = at.floor();
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside")]
                let first = whole as usize;
                for k in 0..32_usize {
                    let t = k as f64 - 15.0 - (at - whole);
                    let sinc = if t.abs() < 1e-9 { 1.0 } else { (PI * t).sin() / (PI * t) };
                    let window = 0.5 + 0.5 * (PI * t / 16.5).cos();
                    if let Some(slot) = (first + k).checked_sub(15).and_then(|i| out.get_mut(i)) {
                        *slot += gain * sinc * window;
                    }
                }
            }
        }
    }
    out
}

#[test]
fn three_milliseconds_are_found_in_reverberation() {
    let mut cases = Cases::new("3 ms in a room of 0.3 s");
    let far = distance(SOURCE, NEAR) + 3e-3 * SPEED;
    let mic = [0, 1, 2].map(|i| SOURCE[i] + far * AWAY[i]);
    let [near, far] = [NEAR, mic].map(response);
    let energy = |response: &[f64]| response.iter().map(|x| x * x).sum::<f64>();
    for (side, response) in [("near", &near), ("far", &far)] {
        // 5 ms around the loudest sample against the rest: the far microphone picks up mostly room.
        let top =
            (0..response.len()).max_by(|a, b| response[*a].abs().total_cmp(&response[*b].abs())).unwrap_or(0);
        let direct = energy(&response[top.saturating_sub(24)..top + 24]);
        println!("{side}: direct to rest {:.1} dB", 10.0 * (direct / (energy(response) - direct)).log10());
    }
    let frames = 8 * 48_000;
    for (kind, source) in [
        ("pink noise", Noise::new(21).pink(frames, 0.1, RATE)),
        ("speech-like bursts", speech_like(frames, &mut Noise::new(22))),
    ] {
        for sign in [1.0, -1.0] {
            let second: Vec<f64> = convolved(&source, &far).iter().map(|x| sign * x).collect();
            let reading = tracked(&convolved(&source, &near), &second);
            let agreed = reading.outcome.ok();
            println!("{kind}: {agreed:?}, coherence {:?}", reading.coherence);
            cases.near(format!("{kind}, delay"), agreed.map(|a| a.delay_secs * RATE), 144.0, 0.5);
            let polarity = agreed.map(|a| a.polarity.sign());
            cases.holds(format!("{kind}, polarity {polarity:?}"), polarity == Some(sign));
        }
    }
    cases.end(8);
}
