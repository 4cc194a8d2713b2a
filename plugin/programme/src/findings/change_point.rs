//! Dates a change that a window of seconds only shows to have happened.

/// The features of a tenth: numbers of comparable size, the same count in every tenth.
pub(super) type Features = Vec<f64>;

/// Squared distance from the known state at which a tenth counts as different, as a share of the largest one.
const OTHER: f64 = 0.25;
/// Least ratio of the largest squared distance to the scatter of the known state; with less, no change can be seen.
const LEAST_APART: f64 = 8.0;

/// The side of the change on which the known state is: at the far end of the tenths on that side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Known {
    /// It begins: the known state comes after the change.
    After,
    /// It ends: the known state comes before the change.
    Before,
}

/// Tenths at the far end that define the known state.
const SURE: usize = 5;

/// The first tenth after the change: the split that best separates tenths like the known state from the others. Only
/// changes between `from` and `to` (indices in `tenths`) count; `None` if nothing stands out.
///
/// Each tenth on the known side costs its squared distance from the known state, each on the other side a fixed
/// [`OTHER`] share of the largest. A change between two other states therefore does not count.
pub(super) fn change(tenths: &[Features], from: usize, to: usize, known: Known) -> Option<usize> {
    let width = tenths.first()?.len();
    if width == 0 || tenths.iter().any(|t| t.len() != width || t.iter().any(|x| !x.is_finite())) {
        return None;
    }
    let sure = SURE.min(tenths.len());
    let sure = match known {
        Known::After => &tenths[tenths.len() - sure..],
        Known::Before => &tenths[..sure],
    };
    let it: Features =
        (0..width).map(|i| sure.iter().map(|t| t[i]).sum::<f64>() / sure.len() as f64).collect();
    let apart = |t: &Features| t.iter().zip(&it).map(|(x, m)| (x - m).powi(2)).sum::<f64>();
    let scatter = sure.iter().map(&apart).sum::<f64>() / sure.len() as f64;
    let distances: Vec<f64> = tenths.iter().map(apart).collect();
    let farthest = distances.iter().copied().fold(0.0, f64::max);
    if farthest <= LEAST_APART * scatter {
        return None;
    }
    let other = OTHER * farthest;
    let cost = |at: usize| -> f64 {
        let (before, after) = distances.split_at(at);
        match known {
            Known::After => other * before.len() as f64 + after.iter().sum::<f64>(),
            Known::Before => before.iter().sum::<f64>() + other * after.len() as f64,
        }
    };
    (from.max(1)..to.min(tenths.len())).min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_two_changes_the_one_into_what_is_known_counts() {
        // One state ends at 10, another at 20, where the known state begins.
        let tenths: Vec<Features> =
            (0..40).map(|i| vec![[5.0, 0.0, 2.0][i / 10 % 4 - usize::from(i >= 30)]]).collect();
        assert_eq!(change(&tenths, 1, 39, Known::After), Some(20));
        let back: Vec<Features> = tenths.into_iter().rev().collect();
        assert_eq!(change(&back, 1, 39, Known::Before), Some(20));
    }

    #[test]
    fn a_step_is_found_where_it_is_and_noise_has_none() {
        let noise = |i: usize| ((i * 7_919 % 101) as f64 / 101.0 - 0.5) * 0.6;
        for at in 5..35 {
            let tenths: Vec<Features> =
                (0..40).map(|i| vec![if i < at { 1.0 } else { -1.0 } + noise(i), noise(i + 50)]).collect();
            for known in [Known::After, Known::Before] {
                assert_eq!(change(&tenths, 1, 39, known), Some(at), "{known:?}");
            }
        }
        let tenths: Vec<Features> = (0..40).map(|i| vec![noise(i), noise(i + 17)]).collect();
        assert_eq!(change(&tenths, 5, 35, Known::After), None);
        assert_eq!(change(&[vec![f64::NAN], vec![1.0], vec![2.0]], 0, 3, Known::After), None);
        assert_eq!(change(&[], 0, 3, Known::Before), None);
    }
}
