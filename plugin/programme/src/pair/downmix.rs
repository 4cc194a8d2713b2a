//! Two channels mixed to one.

use plumbline_measure::bands::in_lanes;

/// Energy of the mean of two channels, as a share of that of the louder one, under which the louder one is used
/// instead: opposed channels cancel in the mean.
const OPPOSED: f64 = 0.1;

/// Mixes one or two channels to one signal for comparisons: their mean, or the louder one if they oppose each other.
/// `to` becomes as long as the shorter channel.
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
