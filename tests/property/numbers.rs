//! A list of every number that the analyser returns.
//!
//! All structs are destructured by field, so that a new field that is not listed here fails the build.

use plumbline_measure::{
    Coherent, Faults, Glance, Loudness, Meters, Onset, Readings, Spectral, StereoPower, Tenth, TimeSums,
};

/// The name and value of each number; absent readings are listed too.
pub(crate) type Numbers = Vec<Number>;
type Number = (String, Option<f64>);

/// Collects numbers, each under a path of names.
struct Walk {
    path: String,
    found: Numbers,
}

impl Walk {
    fn put(&mut self, name: &str, value: impl Into<Option<f64>>) {
        self.found.push((format!("{}{name}", self.path), value.into()));
    }

    fn inside(&mut self, name: &str, walk: impl FnOnce(&mut Self)) {
        let before = self.path.len();
        self.path.push_str(name);
        self.path.push('.');
        walk(self);
        self.path.truncate(before);
    }

    fn each<T>(&mut self, name: &str, items: &[T], walk: impl Fn(&mut Self, &T)) {
        for (i, item) in items.iter().enumerate() {
            self.inside(&format!("{name}[{i}]"), |w| walk(w, item));
        }
    }

    fn cross(&mut self, cross: StereoPower) {
        let StereoPower { ll, rr, re } = cross;
        for (name, value) in [("ll", ll), ("rr", rr), ("re", re)] {
            self.put(name, value);
        }
    }

    fn coherent(&mut self, coherent: &Coherent) {
        let Coherent { coherence, out_of_step } = coherent;
        self.put("coherence", coherence.get());
        self.put("out_of_step", out_of_step.get());
    }

    fn readings(&mut self, readings: &Readings) {
        let Readings {
            level_dbfs,
            channel_dbfs: [left_dbfs, right_dbfs],
            side_share,
            correlation,
            coherence,
            out_of_step,
            balance_db,
            mono_loss_db,
        } = readings;
        self.put("level_dbfs", *level_dbfs);
        self.put("left_dbfs", *left_dbfs);
        self.put("right_dbfs", *right_dbfs);
        self.put("side_share", *side_share);
        self.put("correlation", *correlation);
        self.put("coherence", *coherence);
        self.put("out_of_step", *out_of_step);
        self.put("balance_db", *balance_db);
        self.put("mono_loss_db", *mono_loss_db);
    }

    fn spectral(&mut self, spectral: &Spectral) {
        let Spectral { lines_dbfs, thirds, bands, whole } = spectral;
        self.each("lines_dbfs", lines_dbfs, |w, line| w.put("", f64::from(*line)));
        self.each("thirds", thirds, Self::readings);
        self.each("bands", bands, Self::readings);
        self.inside("whole", |w| w.readings(whole));
    }

    fn time_sums(&mut self, sums: &TimeSums) {
        let TimeSums { ll, rr, lr, dc, k, frames } = sums;
        for (name, value) in
            [("ll", *ll), ("rr", *rr), ("lr", *lr), ("k", *k), ("frames", f64::from(*frames))]
        {
            self.put(name, value);
        }
        self.each("dc", dc, |w, x| w.put("", *x));
    }

    fn tenth(&mut self, tenth: &Tenth) {
        let Tenth {
            grid,
            index,
            sums,
            length,
            channels,
            faults: Faults { lost, not_finite },
            sample_peak,
            true_peak,
            overs,
            flat,
            zeros,
            onset: Onset { at, strength },
            max_momentary,
            short_term,
            lowest_correlation,
            frames_of,
            thirds,
            bands,
            whole,
            coherent_thirds,
            coherent_bands,
            coherent_whole,
        } = tenth;
        self.put("grid", f64::from(*grid as u8));
        self.put("index", *index as f64);
        self.inside("sums", |w| w.time_sums(sums));
        self.put("length", f64::from(*length));
        self.put("channels", f64::from(*channels));
        self.put("lost", f64::from(*lost));
        self.put("not_finite", f64::from(*not_finite));
        self.each("sample_peak", sample_peak, |w, x| w.put("", f64::from(*x)));
        self.each("true_peak", true_peak, |w, x| w.put("", f64::from(*x)));
        self.each("overs", overs, |w, x| w.put("", f64::from(*x)));
        self.each("flat", flat, |w, x| w.put("", f64::from(*x)));
        self.put("zeros", f64::from(*zeros));
        self.put("onset at", f64::from(*at));
        self.put("onset strength", f64::from(*strength));
        self.put("max_momentary", max_momentary.get());
        self.put("short_term", short_term.get());
        self.put("lowest_correlation", lowest_correlation.get());
        self.each("frames_of", frames_of, |w, x| w.put("", f64::from(*x)));
        self.each("thirds", thirds, |w, x| w.cross(StereoPower::from(*x)));
        self.each("bands", bands, |w, x| w.cross(StereoPower::from(*x)));
        self.inside("whole", |w| w.cross(StereoPower::from(*whole)));
        self.each("coherent_thirds", coherent_thirds, Self::coherent);
        self.each("coherent_bands", coherent_bands, Self::coherent);
        self.inside("coherent_whole", |w| w.coherent(coherent_whole));
    }

    fn meters(&mut self, meters: &Meters) {
        let Meters {
            correlation,
            balance_db,
            level_fast_dbfs,
            level_slow_dbfs,
            peak_dbfs,
            max_peak_dbfs,
            overs,
            flat,
            dc,
        } = meters;
        self.put("correlation", *correlation);
        self.put("balance_db", *balance_db);
        self.put("level_fast_dbfs", *level_fast_dbfs);
        self.put("level_slow_dbfs", *level_slow_dbfs);
        self.each("peak_dbfs", peak_dbfs, |w, x| w.put("", *x));
        self.each("max_peak_dbfs", max_peak_dbfs, |w, x| w.put("", *x));
        self.each("overs", overs, |w, x| w.put("", *x as f64));
        self.each("flat", flat, |w, x| w.put("", *x as f64));
        self.each("dc", dc, |w, x| w.put("", *x));
    }

    fn loudness(&mut self, loudness: &Loudness) {
        let Loudness {
            momentary_lufs,
            short_term_lufs,
            integrated_lufs,
            range_lu,
            max_momentary_lufs,
            max_short_term_lufs,
            true_peak_dbtp,
            measured_secs,
        } = loudness;
        self.put("momentary_lufs", *momentary_lufs);
        self.put("short_term_lufs", *short_term_lufs);
        self.put("integrated_lufs", *integrated_lufs);
        self.put("range_lu", *range_lu);
        self.put("max_momentary_lufs", *max_momentary_lufs);
        self.put("max_short_term_lufs", *max_short_term_lufs);
        self.each("true_peak_dbtp", true_peak_dbtp, |w, x| w.put("", *x));
        self.put("measured_secs", *measured_secs);
    }

    fn glance(&mut self, glance: &Glance) {
        let Glance {
            line_hz,
            averages,
            hold_dbfs,
            band_edges,
            meters,
            loudness,
            scope,
            channels,
            not_finite,
        } = glance;
        self.put("channels", f64::from(*channels));
        self.each("line_hz", line_hz, |w, x| w.put("", f64::from(*x)));
        self.each("averages", averages, Self::spectral);
        self.each("hold_dbfs", hold_dbfs, |w, x| w.put("", f64::from(*x)));
        self.each("band_edges", &band_edges.edges(), |w, x| w.put("", *x));
        self.inside("meters", |w| w.meters(meters));
        self.inside("loudness", |w| w.loudness(loudness));
        self.each("scope", scope, |w, point| point.iter().for_each(|x| w.put("", f64::from(*x))));
        self.put("not_finite", *not_finite as f64);
    }
}

fn walked(walk: impl FnOnce(&mut Walk)) -> Numbers {
    let mut all = Walk { path: String::new(), found: Vec::new() };
    walk(&mut all);
    all.found
}

/// All numbers of a glance.
pub(crate) fn of_glance(glance: &Glance) -> Numbers {
    walked(|w| w.glance(glance))
}

/// All numbers of some tenths.
pub(crate) fn of_tenths(tenths: &[Tenth]) -> Numbers {
    walked(|w| w.each("tenths", tenths, Walk::tenth))
}

/// The first bitwise difference; `None` if all are equal.
pub(crate) fn difference(a: &Numbers, b: &Numbers) -> Option<String> {
    if a.len() != b.len() {
        return Some(format!("{} numbers against {}", a.len(), b.len()));
    }
    let differ = |(a, b): &(&Number, &Number)| a.0 != b.0 || a.1.map(f64::to_bits) != b.1.map(f64::to_bits);
    a.iter().zip(b).find(differ).map(|(a, b)| format!("{}: {:?} against {}: {:?}", a.0, a.1, b.0, b.1))
}
