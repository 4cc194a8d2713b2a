//! The plug-in's measurements of a programme, and queries on them.

use plumbline_measure::bands::{BANDS, BandEdges};
use plumbline_measure::{Coherent, Grid, StereoPower, Tenth};
use plumbline_programme::arrival::Cause;
use plumbline_programme::session::LayerLine;
use plumbline_programme::verdict::Width;
use plumbline_programme::{Mic, Role, Stretch, View};
use plumbline_scene::Planted;

/// Seconds from the start of a stretch until the 2 s average of coherence contains nothing from before it: the average
/// and one window of 0.34 s, in whole tenths.
const COHERENCE_SETTLES_SECS: f64 = 2.4;
/// Distance in tenths within which a true peak belongs to a planted one: the reach of the interpolator.
const PEAK_SPILLS_TENTHS: i64 = 1;
/// Mean square below which a channel counts as silent: −90 dBFS, the gate of the measures.
const SILENT: f64 = 0.5e-9;

/// The measurements of a programme.
pub(crate) struct Heard {
    /// The view at each moment.
    pub(crate) views: Vec<View>,
    /// The view at the end.
    pub(crate) end: View,
    /// Every tenth on the song's grid, in order.
    pub(crate) tenths: Vec<Tenth>,
    /// Faults of the audio path in all instances.
    pub(crate) wires: Wires,
}

/// Faults of the audio path through all instances to their readings. All must be zero.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Wires {
    /// Output samples that differ from the input's.
    pub(crate) differing: u64,
    /// Frames lost before they were measured.
    pub(crate) lost_frames: u64,
    /// Incomplete tenths, except the last of an instance.
    pub(crate) partial: u64,
}

impl Wires {
    /// Counts the incomplete tenths of one instance.
    pub(crate) fn note_partial(&mut self, tenths: &[Tenth]) {
        let but_last = tenths.split_last().map_or(&[][..], |(_, rest)| rest);
        self.partial += but_last.iter().filter(|t| !t.is_whole()).count() as u64;
    }
}

/// A stretch of song time in tenths, the end excluded.
#[derive(Clone, Copy)]
pub(crate) struct Tenths {
    first: i64,
    end: i64,
}

impl Tenths {
    pub(crate) fn of(start_secs: f64, end_secs: f64) -> Self {
        Self { first: tenth_at(start_secs), end: tenth_at(end_secs) }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a time of a programme")]
fn tenth_at(secs: f64) -> i64 {
    (secs * 10.0).round() as i64
}

fn secs_at(tenth: i64) -> f64 {
    tenth as f64 / 10.0
}

impl Heard {
    /// The measurements, without tenths on the clock's grid.
    pub(crate) fn new(views: Vec<View>, end: View, tenths: Vec<Tenth>, wires: Wires) -> Self {
        let tenths = tenths.into_iter().filter(|t| t.grid == Grid::Song).collect();
        Self { views, end, tenths, wires }
    }

    fn within(&self, stretch: Tenths) -> impl Iterator<Item = &Tenth> {
        self.tenths.iter().filter(move |t| (stretch.first..stretch.end).contains(&t.index))
    }

    /// The stereo power matrix of a stretch: of the whole range, or of the named band with these edges.
    pub(crate) fn cross(&self, stretch: Tenths, band_hz: Option<[f64; 2]>) -> Option<StereoPower> {
        let band = band_hz.map(band_of);
        let sum: StereoPower = match band {
            None => self.within(stretch).map(|t| StereoPower::from(t.whole)).sum(),
            Some(band) => {
                let band = band?;
                self.within(stretch).map(|t| StereoPower::from(t.bands[band])).sum()
            }
        };
        (sum.total() > 0.0).then_some(sum)
    }

    /// Energy-weighted mean of a coherence value over a stretch, from the point where its average has settled.
    pub(crate) fn coherent(
        &self,
        stretch: Tenths,
        band_hz: Option<[f64; 2]>,
        value: impl Fn(&Coherent) -> Option<f64>,
    ) -> Option<f64> {
        let settled = Tenths { first: stretch.first + tenth_at(COHERENCE_SETTLES_SECS), ..stretch };
        let band = match band_hz {
            None => None,
            Some(edges) => Some(band_of(edges)?),
        };
        let (mut sum, mut weight) = (0.0, 0.0);
        for tenth in self.within(settled) {
            let (coherent, energy) = match band {
                None => (&tenth.coherent_whole, StereoPower::from(tenth.whole).total()),
                Some(band) => (&tenth.coherent_bands[band], StereoPower::from(tenth.bands[band]).total()),
            };
            if let Some(value) = value(coherent) {
                sum += energy * value;
                weight += energy;
            }
        }
        (weight > 0.0).then(|| sum / weight)
    }

    /// Start and length in seconds of the longest digital silence with sound before and after it.
    pub(crate) fn dropout(&self) -> Option<(f64, f64)> {
        let silent = |t: &Tenth| t.sums.ll + t.sums.rr == 0.0;
        let first = self.tenths.iter().position(|t| !silent(t))?;
        let last = self.tenths.iter().rposition(|t| !silent(t))?;
        let inside = &self.tenths[first..=last];
        let mut longest: Option<&[Tenth]> = None;
        for run in inside.chunk_by(|a, b| silent(a) == silent(b)).filter(|run| silent(&run[0])) {
            if longest.is_none_or(|l| run.len() > l.len()) {
                longest = Some(run);
            }
        }
        longest.map(|run| (secs_at(run[0].index), run.len() as f64 / 10.0))
    }

    /// Samples at or over full scale, and the time of the first tenth with some.
    pub(crate) fn clipped(&self) -> (u64, Option<f64>) {
        let of = |t: &Tenth| u64::from(t.overs[0]) + u64::from(t.overs[1]);
        (self.tenths.iter().map(of).sum(), self.tenths.iter().find(|t| of(t) > 0).map(|t| secs_at(t.index)))
    }

    /// Seconds in which the right channel is silent and the left is not.
    pub(crate) fn right_silent_secs(&self) -> f64 {
        let mean = |sum: f64, t: &Tenth| sum / f64::from(t.sums.frames.max(1));
        let one_sided = |t: &&Tenth| mean(t.sums.rr, t) < SILENT && mean(t.sums.ll, t) >= SILENT;
        self.tenths.iter().filter(one_sided).count() as f64 / 10.0
    }

    /// Highest true peak in dBTP and the time of its tenth, outside the given times.
    pub(crate) fn true_peak(&self, away_from: &[f64]) -> Option<(f64, f64)> {
        let near =
            |t: &Tenth| away_from.iter().any(|secs| (t.index - tenth_at(*secs)).abs() <= PEAK_SPILLS_TENTHS);
        let peak = |t: &Tenth| f64::from(t.true_peak[0].max(t.true_peak[1]));
        let highest = self.tenths.iter().filter(|t| !near(t)).max_by(|a, b| peak(a).total_cmp(&peak(b)))?;
        (peak(highest) > 0.0).then(|| (20.0 * peak(highest).log10(), secs_at(highest.index)))
    }

    /// The verdict on the width in the view taken at a time, as words.
    pub(crate) fn width_at(&self, secs: f64) -> Option<&'static str> {
        self.view_at(secs).map(|view| width_word(&view.verdicts.width))
    }

    /// The view taken at a time.
    fn view_at(&self, secs: f64) -> Option<&View> {
        let rate = f64::from(self.end.clock.rate_hz);
        let off = |view: &&View| (view.clock.position.sample as f64 / rate - secs).abs();
        self.views.iter().min_by(|a, b| off(a).total_cmp(&off(b))).filter(|view| off(view) < 0.05)
    }

    /// The programme's share of the layer with this name, 0…1.
    pub(crate) fn share_of(&self, name: &str) -> Option<f64> {
        let line = self.end.session.layers.iter().find(|line| line.identity.name == name)?;
        line.parts[Stretch::Programme.place()].share
    }

    /// The programme's share of a role, 0…1.
    pub(crate) fn share_of_role(&self, role: Role) -> Option<f64> {
        self.end.session.part(role, Stretch::Programme)?.share
    }

    /// The level of the mix relative to the sum of its layers over the programme, dB.
    pub(crate) fn unaccounted_db(&self) -> Option<f64> {
        self.end.session.unaccounted[Stretch::Programme.place()].db
    }

    /// The delay of the boom relative to the lavalier in samples, and +1 or −1 for their polarity, from the latest view
    /// of a stretch that has both.
    pub(crate) fn boom_after_lavalier(&self, planted: &Planted) -> Option<(f64, f64)> {
        let rate = f64::from(self.end.clock.rate_hz);
        let within = |view: &&View| {
            let secs = view.clock.position.sample as f64 / rate;
            (planted.start_secs..=planted.end_secs + 0.05).contains(&secs)
        };
        self.views.iter().filter(within).rev().find_map(|view| {
            let id = |name: &str| {
                let named = |line: &&LayerLine| line.identity.name.starts_with(name);
                view.session.layers.iter().find(named).map(|line| Mic::Layer(line.id))
            };
            let two = [id("lavalier")?, id("boom")?];
            let line = view.mics.line(two)?;
            let agreed = line.reading.outcome.ok()?;
            let turn = if line.mics == two { 1.0 } else { -1.0 };
            Some((turn * agreed.delay_secs * f64::from(line.rate_hz), agreed.polarity.sign()))
        })
    }

    /// Names of the layers that cause the mono loss at a time.
    pub(crate) fn lost_by(&self, secs: f64) -> Option<String> {
        let session = &self.view_at(secs)?.session;
        let first = session.loss.as_ref()?.left_out.first()?;
        let names = first.layers.iter().map(|id| session.layer(*id).map(|line| line.identity.name.as_str()));
        Some(names.collect::<Option<Vec<_>>>()?.join(" and "))
    }

    /// The number of layers that were late relative to the mix at any moment; `None` without other layers.
    pub(crate) fn late_layers(&self) -> Option<usize> {
        let late = |view: &View| view.session.layers.iter().filter(|line| line.late_secs.is_some()).count();
        (self.layers() > 1).then(|| self.views.iter().chain([&self.end]).map(late).max().unwrap_or(0))
    }

    /// The number of layers in the mix's session at the end, including the mix.
    pub(crate) fn layers(&self) -> usize {
        self.end.session.layers.len()
    }

    /// Tenths of all layers that did not reach the mix.
    pub(crate) fn missed(&self) -> u64 {
        self.end.session.layers.iter().map(|line| line.missed).sum()
    }
}

/// The width verdict as words.
pub(crate) fn width_word(width: &Width) -> &'static str {
    match width {
        Width::Unknown => "not known",
        Width::Mono => "mono",
        Width::OneSided { .. } => "one-sided",
        Width::Panned { .. } => "panned",
        Width::Narrow { .. } => "narrow",
        Width::Wide { .. } => "wide",
        Width::Spacious { .. } => "spacious",
        Width::Spaced { .. } => "spaced",
        Width::OutOfStep(run) if run.cause == Cause::Inverted => "opposed",
        Width::OutOfStep(_) => "out of step",
        Width::Contradicts { .. } => "not as stated",
    }
}

/// The named band with these edges, if a new instance has it.
fn band_of([low, high]: [f64; 2]) -> Option<usize> {
    let edges = BandEdges::default();
    (0..BANDS).find(|band| {
        let span = edges.span(*band);
        span.low_hz == low && span.high_hz == high
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tenth(index: i64, ll: f64, rr: f64) -> Tenth {
        let mut tenth = Tenth { grid: Grid::Song, index, length: 4_800, ..Tenth::default() };
        tenth.sums.ll = ll;
        tenth.sums.rr = rr;
        tenth.sums.frames = 4_800;
        tenth
    }

    fn heard(tenths: Vec<Tenth>) -> Heard {
        Heard::new(Vec::new(), View::default(), tenths, Wires::default())
    }

    #[test]
    fn a_hole_is_found_inside_sound_only() {
        let sound = [0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0];
        let tenths = (0..).zip(sound).map(|(i, s)| tenth(i, s, s)).collect();
        assert_eq!(heard(tenths).dropout(), Some((0.5, 0.2)));
        assert_eq!(heard(vec![tenth(0, 1.0, 1.0), tenth(1, 0.0, 0.0)]).dropout(), None);
        assert_eq!(heard(Vec::new()).dropout(), None);
    }

    #[test]
    fn a_dead_right_channel_is_counted_in_seconds() {
        let tenths = vec![tenth(0, 1.0, 1.0), tenth(1, 1.0, 0.0), tenth(2, 1.0, 0.0), tenth(3, 0.0, 0.0)];
        assert_eq!(heard(tenths).right_silent_secs(), 0.2);
    }

    #[test]
    fn peaks_are_found_with_their_time_and_away_from_a_spot() {
        let mut tenths: Vec<Tenth> = (0..10).map(|i| tenth(i, 1.0, 1.0)).collect();
        tenths[4].true_peak = [0.1, 2.0];
        tenths[5].true_peak = [0.9, 0.1];
        tenths[8].true_peak = [0.5, 0.1];
        let heard = heard(tenths);
        assert_eq!(heard.true_peak(&[]).map(|(_, secs)| secs), Some(0.4));
        let (elsewhere, secs) = heard.true_peak(&[0.4]).expect("a peak");
        assert!((elsewhere + 6.0206).abs() < 1e-3 && secs == 0.8);
    }
}
