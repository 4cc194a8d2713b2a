//! Maxima and counts since reset. They outlive the analyser, which a new rate or new band edges replace.

use plumbline_measure::Glance;

/// Maxima and counts of the earlier analysers since reset.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct SinceReset {
    momentary: Option<f64>,
    short_term: Option<f64>,
    true_peak: [Option<f64>; 2],
    sample_peak: [Option<f64>; 2],
    overs: [u64; 2],
    flat: [u64; 2],
    not_finite: u64,
}

impl SinceReset {
    /// Takes the last glance of an analyser that is being replaced.
    pub(crate) fn take(&mut self, mut glance: Glance) {
        self.add_to(&mut glance);
        *self = Self {
            momentary: glance.loudness.max_momentary_lufs,
            short_term: glance.loudness.max_short_term_lufs,
            true_peak: glance.loudness.true_peak_dbtp,
            sample_peak: glance.meters.max_peak_dbfs,
            overs: glance.meters.overs,
            flat: glance.meters.flat,
            not_finite: glance.not_finite,
        };
    }

    /// Adds these to a glance of the present analyser.
    pub(crate) fn add_to(&self, glance: &mut Glance) {
        let raise = |to: &mut Option<f64>, by: Option<f64>| {
            *to = [*to, by].into_iter().flatten().reduce(f64::max);
        };
        raise(&mut glance.loudness.max_momentary_lufs, self.momentary);
        raise(&mut glance.loudness.max_short_term_lufs, self.short_term);
        for side in 0..2 {
            raise(&mut glance.loudness.true_peak_dbtp[side], self.true_peak[side]);
            raise(&mut glance.meters.max_peak_dbfs[side], self.sample_peak[side]);
            glance.meters.overs[side] += self.overs[side];
            glance.meters.flat[side] += self.flat[side];
        }
        glance.not_finite += self.not_finite;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(peak: Option<f64>, overs: u64) -> Glance {
        let mut glance = Glance::default();
        glance.loudness.true_peak_dbtp = [peak, None];
        glance.loudness.max_momentary_lufs = peak;
        glance.meters.max_peak_dbfs = [None, peak];
        glance.meters.overs = [overs, 1];
        glance.meters.flat = [overs, 0];
        glance.not_finite = overs;
        glance
    }

    #[test]
    fn maxima_stay_the_larger_and_counts_add_over_three_analysers() {
        let mut since_reset = SinceReset::default();
        since_reset.take(filled(Some(-3.0), 2));
        since_reset.take(filled(Some(-6.0), 5));
        let mut glance = filled(None, 10);
        since_reset.add_to(&mut glance);
        assert_eq!(glance.loudness.true_peak_dbtp, [Some(-3.0), None]);
        assert_eq!(glance.loudness.max_momentary_lufs, Some(-3.0));
        assert_eq!(glance.loudness.max_short_term_lufs, None);
        assert_eq!(glance.meters.max_peak_dbfs, [None, Some(-3.0)]);
        assert_eq!(glance.meters.overs, [17, 3]);
        assert_eq!(glance.meters.flat, [17, 0]);
        assert_eq!(glance.not_finite, 17);
    }
}
