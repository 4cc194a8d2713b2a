//! What the picture over time is drawn from: as many columns as it shows, whatever the length.

use plumbline_measure::bands::LONG;
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, mean_square_of};
use plumbline_measure::{Cross, Gate, Grid, Maybe, Tenth};
use plumbline_programme::{Column, Lanes, PARTS, Reach};

/// Most columns; when there are more, each two become one.
const MOST: usize = 1_024;

/// Columns under way.
#[derive(Clone, Debug)]
pub(super) struct Strip {
    first: Option<i64>,
    end: i64,
    per_column: usize,
    columns: Vec<Sum>,
}

/// Some neighbouring tenths.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    tenths: u32,
    broken: u32,
    momentary: Ends,
    short_term: Ends,
    width: Ends,
    lowest_correlation: Ends,
    energies: [f64; PARTS],
    told: bool,
}

/// Lowest and highest.
#[derive(Clone, Copy, Debug)]
struct Ends([f64; 2]);

impl Default for Ends {
    fn default() -> Self {
        Self([f64::INFINITY, f64::NEG_INFINITY])
    }
}

impl Ends {
    fn of(value: Option<f64>) -> Self {
        value.filter(|value| value.is_finite()).map_or_else(Self::default, |value| Self([value; 2]))
    }

    fn join(&mut self, other: Self) {
        self.0 = [self.0[0].min(other.0[0]), self.0[1].max(other.0[1])];
    }

    fn reach(self) -> Reach {
        let [low, high] = self.0.map(|end| Maybe::new((self.0[0] <= self.0[1]).then_some(end)));
        Reach { low, high }
    }
}

impl Sum {
    fn of(tenth: &Tenth, energies: Option<[f64; PARTS]>) -> Self {
        let frames = tenth.frames_of[LONG];
        let cross = Cross::from(tenth.whole);
        let sane = frames > 0 && [cross.ll, cross.rr, cross.re].iter().all(|x| x.is_finite());
        let mean = if sane { cross * (1.0 / f64::from(frames)) } else { Cross::default() };
        Self {
            tenths: 1,
            broken: u32::from(!tenth.is_whole()),
            momentary: Ends::of(tenth.max_momentary.get()),
            short_term: Ends::of(tenth.short_term.get()),
            width: Ends::of(mean.side_share().filter(|_| Gate::broadband().open(&mean))),
            lowest_correlation: Ends::of(tenth.lowest_correlation.get()),
            energies: energies.unwrap_or_default(),
            told: energies.is_some(),
        }
    }

    fn join(&mut self, other: &Self) {
        self.tenths += other.tenths;
        self.broken += other.broken;
        self.momentary.join(other.momentary);
        self.short_term.join(other.short_term);
        self.width.join(other.width);
        self.lowest_correlation.join(other.lowest_correlation);
        self.energies.iter_mut().zip(other.energies).for_each(|(sum, more)| *sum += more);
        self.told |= other.told;
    }

    fn column(&self) -> Column {
        let total: f64 = self.energies.iter().sum();
        let least = mean_square_of(ABSOLUTE_GATE_LUFS) * f64::from(self.tenths);
        let share = |energy: f64| Maybe::new((self.told && total > least).then(|| energy / total));
        Column {
            tenths: self.tenths,
            broken: self.broken,
            momentary: self.momentary.reach(),
            short_term: self.short_term.reach(),
            width: self.width.reach(),
            correlation: self.lowest_correlation.reach().low,
            shares: self.energies.map(share),
            ..Column::default()
        }
    }
}

impl Strip {
    pub(super) fn new() -> Self {
        Self { first: None, end: 0, per_column: 1, columns: Vec::new() }
    }

    /// Takes the next tenth, and what the roles' energies are in it where layers are there.
    pub(super) fn push(&mut self, tenth: &Tenth, energies: Option<[f64; PARTS]>) {
        let first = *self.first.get_or_insert(tenth.index);
        let sum = Sum::of(tenth, energies);
        let Ok(after) = usize::try_from(tenth.index.saturating_sub(first)) else { return };
        while after / self.per_column >= MOST {
            self.halve();
        }
        let at = after / self.per_column;
        if self.columns.len() <= at {
            self.columns.resize(at + 1, Sum::default());
        }
        self.columns[at].join(&sum);
        self.end = self.end.max(tenth.index.saturating_add(1));
    }

    fn halve(&mut self) {
        self.per_column *= 2;
        self.columns = self
            .columns
            .chunks(2)
            .map(|two| {
                two.iter().fold(Sum::default(), |mut sum, one| {
                    sum.join(one);
                    sum
                })
            })
            .collect();
    }

    pub(super) fn lanes(&self) -> Lanes {
        let Some(first) = self.first else { return Lanes::default() };
        Lanes {
            again: false,
            grid: Grid::Song,
            first,
            per_column: u32::try_from(self.per_column).unwrap_or(u32::MAX),
            left: first,
            right: self.end,
            columns: self.columns.iter().map(Sum::column).collect(),
            extent: [first, self.end],
            follows: false,
            newest: self.end.saturating_sub(1),
        }
    }
}
