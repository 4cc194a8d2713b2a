//! Where in time something changed, when a window of seconds only tells that it did.

/// What a tenth looks like: numbers of comparable size, as many in each tenth.
pub(super) type Features = Vec<f64>;

/// Share of the scatter that a change must explain, or else there is none to be seen.
const LEAST_EXPLAINED: f64 = 0.2;

/// The first tenth after the change: the one where two means, one before and one after, leave the least scatter. Only
/// changes between `from` and `to` (places in `tenths`) count; `None` where no change explains anything.
pub(super) fn change(tenths: &[Features], from: usize, to: usize) -> Option<usize> {
    let width = tenths.first()?.len();
    if width == 0 || tenths.iter().any(|t| t.len() != width || t.iter().any(|x| !x.is_finite())) {
        return None;
    }
    let scatter = |part: &[Features]| -> f64 {
        let count = part.len() as f64;
        (0..width)
            .map(|i| {
                let mean = part.iter().map(|t| t[i]).sum::<f64>() / count.max(1.0);
                part.iter().map(|t| (t[i] - mean).powi(2)).sum::<f64>()
            })
            .sum()
    };
    let all = scatter(tenths);
    let left = |at: usize| scatter(&tenths[..at]) + scatter(&tenths[at..]);
    let (at, least) =
        (from.max(1)..to.min(tenths.len())).map(|at| (at, left(at))).min_by(|a, b| a.1.total_cmp(&b.1))?;
    (all > 0.0 && least <= all * (1.0 - LEAST_EXPLAINED)).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_found_where_it_is_and_noise_has_none() {
        let noise = |i: usize| ((i * 7_919 % 101) as f64 / 101.0 - 0.5) * 0.6;
        for at in 5..35 {
            let tenths: Vec<Features> =
                (0..40).map(|i| vec![if i < at { 1.0 } else { -1.0 } + noise(i), noise(i + 50)]).collect();
            assert_eq!(change(&tenths, 1, 39), Some(at));
        }
        let tenths: Vec<Features> = (0..40).map(|i| vec![noise(i), noise(i + 17)]).collect();
        assert_eq!(change(&tenths, 5, 35), None);
        assert_eq!(change(&[vec![f64::NAN], vec![1.0], vec![2.0]], 0, 3), None);
        assert_eq!(change(&[], 0, 3), None);
    }
}
