//! Two channels as one signal.

use plumbline_measure::bands::in_lanes;

/// How far the mean of two channels may lie under the louder of them, as a part of its energy, before that one is taken
/// instead: channels that oppose each other have no mean.
const OPPOSED: f64 = 0.1;

/// One signal of one or two channels, for a comparison of sounds: their mean, or the louder one where they oppose each
/// other. `to` becomes as long as the shorter of both.
pub fn downmix(channels: &[&[f32]], to: &mut Vec<f32>) {
    to.clear();
    match channels {
        [] => {}
        [one] => to.extend_from_slice(one),
        [left, right, ..] => {
            to.extend(left.iter().zip(*right).map(|(l, r)| l * 0.5 + r * 0.5));
            let energy = |sound: &[f32]| in_lanes(sound, |x| x * x);
            let (of_left, of_right) = (energy(left), energy(right));
            if energy(to) < OPPOSED * of_left.max(of_right) {
                to.clear();
                to.extend_from_slice(if of_left >= of_right { left } else { right });
            }
        }
    }
}
