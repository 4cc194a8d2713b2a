//! Tenths as CSV, a line at a time: nothing keeps them.

use crate::csv;
use crate::lines::Time;
use plumbline_measure::bands::LONG;
use plumbline_measure::loudness::lufs;
use plumbline_measure::{Coherent, Gate, Readings, SampleRate, StereoPower, Tenth, Timecode};

/// Names of the columns, with the line's end.
pub fn tenths_head() -> String {
    let names = [
        "layer",
        "index",
        "timecode",
        "secs",
        "samples",
        "k_weighted_lufs",
        "max_momentary_lufs",
        "short_term_lufs",
        "true_peak_left_dbtp",
        "true_peak_right_dbtp",
        "overs_left",
        "overs_right",
        "not_finite",
        "level_dbfs",
        "side_share",
        "correlation",
        "lowest_correlation",
        "coherence",
        "out_of_step",
        "balance_db",
        "mono_loss_db",
        "onset_sample",
        "onset_strength",
    ];
    names.join(",") + "\r\n"
}

/// One tenth of a layer, with the line's end. Readings are those of 20 Hz to 20 kHz.
pub fn tenth_line(layer: &str, tenth: &Tenth, start: Timecode, rate: SampleRate) -> String {
    let time = Time { start, rate };
    let at = time.tenth(tenth.grid, tenth.index);
    let frames = tenth.frames_of[LONG];
    let mean = |cross: StereoPower| {
        if frames > 0 { cross * (1.0 / f64::from(frames)) } else { StereoPower::default() }
    };
    let cross = mean(StereoPower::from(tenth.whole));
    let sane = [cross.ll, cross.rr, cross.re].iter().all(|x| x.is_finite());
    let coherent: Coherent = tenth.coherent_whole;
    let read = if sane { Readings::of(&cross, coherent, Gate::broadband()) } else { Readings::default() };
    let k = lufs(tenth.sums.k / f64::from(tenth.sums.frames.max(1)));
    let peak = |peak: f32| (peak > 0.0).then(|| 20.0 * f64::from(peak).log10());
    let loss = match read.mono_loss_db {
        Some(f64::NEG_INFINITY) => crate::words::ALL_OF_IT.to_owned(),
        loss => csv::digits(loss, 2),
    };
    let onset = tenth.onset.strength > 0.0;
    let onset_sample = rate.tenth_start(tenth.index).saturating_add(i64::from(tenth.onset.at));
    let cells = [
        csv::cell(layer),
        tenth.index.to_string(),
        at.timecode.unwrap_or_default(),
        csv::digits(Some(at.secs), 1),
        tenth.sums.frames.to_string(),
        csv::digits(Some(k).filter(|k| k.is_finite()), 2),
        csv::digits(tenth.max_momentary.get(), 2),
        csv::digits(tenth.short_term.get(), 2),
        csv::digits(peak(tenth.true_peak[0]), 2),
        csv::digits(peak(tenth.true_peak[1]), 2),
        tenth.overs[0].to_string(),
        tenth.overs[1].to_string(),
        tenth.faults.not_finite.to_string(),
        csv::digits(read.level_dbfs, 2),
        csv::digits(read.side_share, 4),
        csv::digits(read.correlation, 4),
        csv::digits(tenth.lowest_correlation.get(), 4),
        csv::digits(read.coherence, 4),
        csv::digits(read.out_of_step, 4),
        csv::digits(read.balance_db, 2),
        loss,
        if onset { onset_sample.to_string() } else { String::new() },
        csv::digits(onset.then(|| f64::from(tenth.onset.strength)), 2),
    ];
    cells.join(",") + "\r\n"
}
