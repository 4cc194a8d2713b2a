//! The powers of one frame, bin by bin. Each kind has an array of its own, so that a processor works on several bins at
//! a time.

use crate::bands::BinSpan;
use crate::cross::StereoPower;
use realfft::num_complex::Complex;

/// Powers of some bins: `ll[i]`, `rr[i]` and `re[i]` are the [`StereoPower`] of bin i, `im[i]` the imaginary part of
/// its cross power, for coherence.
#[derive(Clone, Default)]
pub(crate) struct Powers {
    pub(crate) ll: Vec<f64>,
    pub(crate) rr: Vec<f64>,
    pub(crate) re: Vec<f64>,
    pub(crate) im: Vec<f64>,
}

impl Powers {
    /// Silence.
    pub(crate) fn zero(bins: usize) -> Self {
        Self { ll: vec![0.0; bins], rr: vec![0.0; bins], re: vec![0.0; bins], im: vec![0.0; bins] }
    }

    pub(crate) fn len(&self) -> usize {
        self.ll.len()
    }

    fn rows(&mut self) -> [&mut Vec<f64>; 4] {
        [&mut self.ll, &mut self.rr, &mut self.re, &mut self.im]
    }

    /// Sets the powers from two spectra, times `scale`; bins without a partner stay as they are.
    pub(crate) fn of(&mut self, left: &[Complex<f32>], right: &[Complex<f32>], scale: f64) {
        let bins = self.len().min(left.len()).min(right.len());
        let (ll, rr) = (&mut self.ll[..bins], &mut self.rr[..bins]);
        let (re, im) = (&mut self.re[..bins], &mut self.im[..bins]);
        for (i, (l, r)) in left[..bins].iter().zip(&right[..bins]).enumerate() {
            let [l, r] = [l, r].map(|bin| Complex::new(f64::from(bin.re), f64::from(bin.im)));
            ll[i] = (l.re * l.re + l.im * l.im) * scale;
            rr[i] = (r.re * r.re + r.im * r.im) * scale;
            re[i] = (l.re * r.re + l.im * r.im) * scale;
            im[i] = (l.im * r.re - l.re * r.im) * scale;
        }
    }

    /// Multiplies the powers of one bin.
    pub(crate) fn weigh(&mut self, bin: usize, weight: f64) {
        for row in self.rows() {
            row[bin] *= weight;
        }
    }

    /// The matrix of a span, bins counted from `first_bin`.
    pub(crate) fn sum(&self, span: &BinSpan, first_bin: usize) -> StereoPower {
        let [ll, rr, re] = [&self.ll, &self.rr, &self.re].map(|row| span.weigh(row, first_bin));
        StereoPower { ll, rr, re }
    }
}
