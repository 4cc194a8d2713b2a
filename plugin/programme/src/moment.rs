//! A moment as it was shown: everything on the page except lines and scope, packed so that it can be shown again.
//!
//! # Accuracy
//! Levels to 0.003 dB, balance to 0.006 dB, mono loss to 0.007 dB, side share to 0.0008, coherence and out of step to
//! 1e-5: `readings_come_back_as_they_were_shown`.

use crate::findings::thirds_of;
use crate::mics::Trial;
use crate::verdict::{Channels, Verdicts};
use crate::view::View;
use plumbline_measure::bands::{BANDS, BandEdges, LONG, THIRDS, third_centre_hz, window_for};
use plumbline_measure::cross::{StereoPower, db_power, power_db};
use plumbline_measure::reading::{Coherent, Gate, Readings};
use plumbline_measure::{Averaging, Loudness, Meters, SPANS, Spectral, Tenth, WHOLE_SPAN};

/// Lowest level that has a code, dBFS, and codes per dB; the codes reach up to +147 dBFS.
const LEVEL: (f64, f64) = (-180.0, 200.0);
/// Codes per dB of the smaller of mid and side share.
const SHARE_PER_DB: f64 = 75.0;
/// Bits of a share code: a share exists; the side is the larger part; both channels can be compared.
const HAS: u16 = 1 << 15;
const SIDE: u16 = 1 << 14;
const BOTH: u16 = 1 << 13;
const CODES: u16 = BOTH - 1;

/// The readings of one span, packed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Packed {
    level: u16,
    channels: [u16; 2],
    share: u16,
}

/// Coherence and out of step of one span, packed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct PackedCoherent([u16; 2]);

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to what fits")]
fn code(value: f64, least: f64, most: f64) -> u16 {
    value.round().clamp(least, most) as u16
}

fn level_code(level: Option<f64>) -> u16 {
    level.map_or(0, |db| code((db - LEVEL.0) * LEVEL.1 + 1.0, 1.0, 65_535.0))
}

fn level_of(code: u16) -> Option<f64> {
    (code > 0).then(|| LEVEL.0 + f64::from(code - 1) / LEVEL.1)
}

fn unit_code(value: Option<f64>) -> u16 {
    value.map_or(0, |v| code(v * 65_534.0 + 1.0, 1.0, 65_535.0))
}

fn unit_of(code: u16) -> Option<f64> {
    (code > 0).then(|| f64::from(code - 1) / 65_534.0)
}

impl Packed {
    fn of(readings: &Readings) -> Self {
        let share = readings.side_share.map_or(0, |side| {
            let smaller = side.min(1.0 - side).max(0.0);
            let codes = if smaller > 0.0 {
                code(-power_db(2.0 * smaller) * SHARE_PER_DB, 0.0, f64::from(CODES - 1))
            } else {
                CODES
            };
            let both = if readings.correlation.is_some() { BOTH } else { 0 };
            HAS | both | if side > 0.5 { SIDE } else { 0 } | codes
        });
        Self {
            level: level_code(readings.level_dbfs),
            channels: readings.channel_dbfs.map(level_code),
            share,
        }
    }

    fn readings(self, coherent: PackedCoherent) -> Readings {
        let level_dbfs = level_of(self.level);
        let side_share = (self.share & HAS != 0).then(|| {
            let codes = self.share & CODES;
            let smaller = if codes == CODES { 0.0 } else { db_power(-f64::from(codes) / SHARE_PER_DB) / 2.0 };
            if self.share & SIDE != 0 { 1.0 - smaller } else { smaller }
        });
        let channel_dbfs = self.channels.map(level_of);
        let both = self.share & BOTH != 0;
        let mono_loss_db = (self.share & HAS != 0).then(|| {
            let codes = self.share & CODES;
            let smaller = if codes == CODES { 0.0 } else { db_power(-f64::from(codes) / SHARE_PER_DB) / 2.0 };
            power_db(if self.share & SIDE != 0 { smaller } else { 1.0 - smaller })
        });
        let (correlation, balance_db) = match (both, channel_dbfs, side_share) {
            (true, [Some(left), Some(right)], Some(side)) => {
                let (ll, rr) = (db_power(left), db_power(right));
                let re = (ll + rr) * (0.5 - side);
                (Some((re / (ll * rr).sqrt()).clamp(-1.0, 1.0)), Some(right - left))
            }
            _ => (None, None),
        };
        let [coherence, out_of_step] = coherent.0.map(unit_of);
        Readings {
            level_dbfs,
            channel_dbfs,
            side_share,
            correlation,
            coherence,
            out_of_step,
            balance_db,
            mono_loss_db,
        }
    }
}

/// All spans of one average, in the order thirds, bands, whole range.
fn spans(spectral: &Spectral) -> impl Iterator<Item = &Readings> {
    spectral.thirds.iter().chain(&spectral.bands).chain(std::iter::once(&spectral.whole))
}

/// A packed moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    averages: [[Packed; SPANS]; 3],
    /// Two averages: over the last 2 s, shared by fast and slow; and since reset.
    coherent: [[PackedCoherent; SPANS]; 2],
    meters: Meters,
    loudness: Loudness,
    verdicts: Verdicts,
    trial: Option<Trial>,
}

impl Moment {
    /// Packs what a view shows.
    pub fn of(view: &View) -> Self {
        let mut averages = [[Packed::default(); SPANS]; 3];
        for (packed, spectral) in averages.iter_mut().zip(&view.averages) {
            packed.iter_mut().zip(spans(spectral)).for_each(|(p, r)| *p = Packed::of(r));
        }
        let mut coherent = [[PackedCoherent::default(); SPANS]; 2];
        for (packed, averaging) in coherent.iter_mut().zip([Averaging::Slow, Averaging::SinceReset]) {
            for (p, r) in packed.iter_mut().zip(spans(view.spectral(averaging))) {
                *p = PackedCoherent([r.coherence, r.out_of_step].map(unit_code));
            }
        }
        Self {
            averages,
            coherent,
            meters: view.meters,
            loudness: view.loudness,
            verdicts: view.verdicts,
            trial: view.trial,
        }
    }

    /// Replaces the readings of a view by those of the moment. Lines, hold and scope become empty; clock, session,
    /// health, pairs, lanes and log are left alone.
    pub fn show(&self, view: &mut View) {
        clear_pictures(view);
        for (average, spectral) in view.averages.iter_mut().enumerate() {
            let coherent = &self.coherent[usize::from(average == 2)];
            let readings = |span: usize| self.averages[average][span].readings(coherent[span]);
            fill_spans(spectral, readings);
        }
        view.meters = self.meters;
        view.loudness = self.loudness;
        view.verdicts = self.verdicts;
        view.trial = self.trial;
    }
}

fn clear_pictures(view: &mut View) {
    view.averages.iter_mut().for_each(|spectral| spectral.lines_dbfs.clear());
    view.hold_dbfs.clear();
    view.scope.clear();
}

fn fill_spans(spectral: &mut Spectral, readings: impl Fn(usize) -> Readings) {
    spectral.thirds = std::array::from_fn(&readings);
    spectral.bands = std::array::from_fn(|band| readings(THIRDS + band));
    spectral.whole = readings(WHOLE_SPAN);
}

/// Tenths from which a moment is rebuilt: after 5 s, less than a hundredth of the slow average is missing.
pub const REBUILT_FROM: usize = 50;

/// Rebuilds in a view a moment at which no view was kept, from the tenths that end with it: ascending, at most
/// [`REBUILT_FROM`]. The fast average is that of the last tenth, the slow one decays over 1 s, and everything since
/// reset is absent. Verdicts are those of the slow average, without hysteresis.
pub fn rebuild<'a>(
    tenths: impl DoubleEndedIterator<Item = &'a Tenth>,
    edges: &BandEdges,
    channels: Channels<'_>,
    view: &mut View,
) {
    clear_pictures(view);
    let mut sums = [StereoPower::default(); SPANS];
    let mut weights = [0.0; SPANS];
    let mut newest: Option<&Tenth> = None;
    for tenth in tenths.rev().take(REBUILT_FROM) {
        let age = newest.map_or(0, |n: &Tenth| n.index.saturating_sub(tenth.index)) as f64 / 10.0;
        let weight = (-age).exp();
        for (span, cross) in means_of(tenth, edges).into_iter().enumerate() {
            if let Some(cross) = cross {
                sums[span] += cross * weight;
                weights[span] += weight;
            }
        }
        newest = newest.or(Some(tenth));
    }
    let Some(newest) = newest else {
        view.averages = Default::default();
        (view.meters, view.loudness, view.verdicts) = Default::default();
        return;
    };
    let coherent = |span: usize| coherent_of(newest, span);
    let mut slow = [StereoPower::default(); SPANS];
    slow.iter_mut().enumerate().for_each(|(s, c)| *c = sums[s] * (1.0 / weights[s].max(1e-12)));
    let fast = means_of(newest, edges).map(Option::unwrap_or_default);
    view.averages[0].read(&fast, coherent);
    view.averages[1].read(&slow, coherent);
    view.averages[2] = Spectral::default();
    let cross = newest.sums.mean_squares();
    let open = Gate::broadband();
    let level = |cross: &StereoPower| open.open(cross).then(|| cross.level_dbfs());
    view.meters = Meters {
        correlation: cross.correlation().filter(|_| open.both_open(&cross)),
        balance_db: cross.balance_db().filter(|_| open.both_open(&cross)),
        level_fast_dbfs: level(&cross),
        level_slow_dbfs: level(&slow[WHOLE_SPAN]),
        ..Meters::default()
    };
    view.loudness = Loudness {
        momentary_lufs: newest.max_momentary.get(),
        short_term_lufs: newest.short_term.get(),
        ..Loudness::default()
    };
    view.verdicts = Verdicts::of(&view.averages[1], edges, channels);
    view.trial = None;
}

fn means_of(tenth: &Tenth, edges: &BandEdges) -> [Option<StereoPower>; SPANS] {
    let thirds = thirds_of(tenth);
    std::array::from_fn(|span| {
        let (cross, window) = match span {
            third if third < THIRDS => {
                let frames = tenth.frames_of[window_for(third_centre_hz(third))];
                return (frames > 0).then(|| thirds[third]);
            }
            band if band < THIRDS + BANDS => {
                (tenth.bands[band - THIRDS], window_for(edges.span(band - THIRDS).low_hz))
            }
            _ => (tenth.whole, LONG),
        };
        let frames = tenth.frames_of[window];
        let sane = cross.ll.is_finite() && cross.rr.is_finite() && cross.re.is_finite();
        (frames > 0 && sane).then(|| StereoPower::from(cross) * (1.0 / f64::from(frames)))
    })
}

fn coherent_of(tenth: &Tenth, span: usize) -> Coherent {
    match span {
        third if third < THIRDS => tenth.coherent_thirds[third],
        band if band < THIRDS + BANDS => tenth.coherent_bands[band - THIRDS],
        _ => tenth.coherent_whole,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::reading::Maybe;

    fn close(a: Option<f64>, b: Option<f64>, within: f64) -> bool {
        match (a, b) {
            (None, None) => true,
            (Some(a), Some(b)) => a == b || (a - b).abs() <= within,
            _ => false,
        }
    }

    #[test]
    fn readings_come_back_as_they_were_shown() {
        let mut cases = 0;
        for level_db in [-104.0, -60.3, -23.0, 0.0, 40.0, 119.0] {
            for balance_db in [-79.0, -12.0, 0.0, 0.7, 30.0] {
                for rho in [-1.0, -0.999_9, -0.7, -0.01, 0.0, 0.3, 0.95, 0.999_999, 1.0] {
                    let ll = db_power(level_db) / (1.0 + db_power(balance_db));
                    let rr = ll * db_power(balance_db);
                    let cross = StereoPower { ll, rr, re: rho * (ll * rr).sqrt() };
                    let coherent = Coherent {
                        coherence: Maybe::new(Some(rho * rho)),
                        out_of_step: Maybe::new((rho < 0.0).then_some(-rho)),
                    };
                    let was = Readings::of(&cross, coherent, Gate::bands(cross.total()));
                    let packed = PackedCoherent([was.coherence, was.out_of_step].map(unit_code));
                    let is = Packed::of(&was).readings(packed);
                    assert!(close(was.level_dbfs, is.level_dbfs, 0.003), "{was:?} {is:?}");
                    assert!((0..2).all(|i| close(was.channel_dbfs[i], is.channel_dbfs[i], 0.003)));
                    assert!(close(was.balance_db, is.balance_db, 0.006), "{was:?} {is:?}");
                    assert!(close(was.side_share, is.side_share, 0.000_8), "{was:?} {is:?}");
                    assert!(close(was.mono_loss_db, is.mono_loss_db, 0.007), "{was:?} {is:?}");
                    // If one channel is far under the other, the share says little about the correlation.
                    let slack = 0.001 * (ll + rr) / (ll * rr).sqrt();
                    assert!(close(was.correlation, is.correlation, slack), "{was:?} {is:?}");
                    assert!(
                        close(was.coherence, is.coherence, 1e-5)
                            && close(was.out_of_step, is.out_of_step, 1e-5)
                    );
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 270);
        assert_eq!(Packed::of(&Readings::default()).readings(PackedCoherent::default()), Readings::default());
    }

    #[test]
    fn a_moment_is_small() {
        assert!(size_of::<Moment>() <= 2_200, "{}", size_of::<Moment>());
    }
}
