//! Maxima and counts since reset that outlive an analyser: a new rate or new band edges make a new one, and must
//! not make a clipped sample forgotten.

use plumbline_measure::View;

/// What the analysers before the present one found since reset.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Carried {
    momentary: Option<f64>,
    short_term: Option<f64>,
    true_peak: [Option<f64>; 2],
    sample_peak: [Option<f64>; 2],
    overs: [u64; 2],
    not_finite: u64,
}

impl Carried {
    /// Takes over from an analyser that goes, `view` being what it filled.
    pub(crate) fn take(&mut self, mut view: View) {
        self.add_to(&mut view);
        *self = Self {
            momentary: view.loudness.max_momentary_lufs,
            short_term: view.loudness.max_short_term_lufs,
            true_peak: view.loudness.true_peak_dbtp,
            sample_peak: view.meters.max_peak_dbfs,
            overs: view.meters.overs,
            not_finite: view.health.not_finite,
        };
    }

    /// Adds itself to what the present analyser filled.
    pub(crate) fn add_to(&self, view: &mut View) {
        let raise = |to: &mut Option<f64>, by: Option<f64>| {
            *to = [*to, by].into_iter().flatten().reduce(f64::max);
        };
        raise(&mut view.loudness.max_momentary_lufs, self.momentary);
        raise(&mut view.loudness.max_short_term_lufs, self.short_term);
        for side in 0..2 {
            raise(&mut view.loudness.true_peak_dbtp[side], self.true_peak[side]);
            raise(&mut view.meters.max_peak_dbfs[side], self.sample_peak[side]);
            view.meters.overs[side] += self.overs[side];
        }
        view.health.not_finite += self.not_finite;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(peak: Option<f64>, overs: u64) -> View {
        let mut view = View::default();
        view.loudness.true_peak_dbtp = [peak, None];
        view.loudness.max_momentary_lufs = peak;
        view.meters.max_peak_dbfs = [None, peak];
        view.meters.overs = [overs, 1];
        view.health.not_finite = overs;
        view
    }

    #[test]
    fn maxima_stay_the_larger_and_counts_add_over_three_analysers() {
        let mut carried = Carried::default();
        carried.take(filled(Some(-3.0), 2));
        carried.take(filled(Some(-6.0), 5));
        let mut view = filled(None, 10);
        carried.add_to(&mut view);
        assert_eq!(view.loudness.true_peak_dbtp, [Some(-3.0), None]);
        assert_eq!(view.loudness.max_momentary_lufs, Some(-3.0));
        assert_eq!(view.loudness.max_short_term_lufs, None);
        assert_eq!(view.meters.max_peak_dbfs, [None, Some(-3.0)]);
        assert_eq!(view.meters.overs, [17, 3]);
        assert_eq!(view.health.not_finite, 17);
    }
}
