//! A page of tenths reduced to what the lanes need, and sums over them.

use crate::paged::{PAGE, Page};
use crate::role::PARTS;
use plumbline_measure::Tenth;
use plumbline_measure::bands::LONG;
use plumbline_measure::cross::StereoPower;
use plumbline_measure::reading::{Gate, Maybe};

/// Tenths per group.
pub(super) const GROUP: usize = 8;

/// The part of a tenth that the lanes need.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Cell {
    momentary: Maybe,
    short_term: Maybe,
    width: Maybe,
    correlation: Maybe,
    energies: [f32; PARTS],
    told: bool,
    broken: bool,
    pass: u32,
}

/// The part of the previous pass that is kept.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Former {
    short_term: Maybe,
    width: Maybe,
}

impl Cell {
    pub(super) fn of(tenth: &Tenth, pass: u32) -> Self {
        let frames = tenth.frames_of[LONG];
        let cross = StereoPower::from(tenth.whole);
        let sane = frames > 0 && cross.ll.is_finite() && cross.rr.is_finite() && cross.re.is_finite();
        let mean = if sane { cross * (1.0 / f64::from(frames)) } else { StereoPower::default() };
        Self {
            momentary: finite(tenth.max_momentary),
            short_term: finite(tenth.short_term),
            width: Maybe::new(mean.side_share().filter(|_| Gate::broadband().open(&mean))),
            correlation: finite(tenth.lowest_correlation),
            energies: [0.0; PARTS],
            told: false,
            broken: !tenth.is_whole(),
            pass,
        }
    }
}

impl Cell {
    /// The cell as a node of one tenth, without the previous pass.
    pub(super) fn node(&self) -> Node {
        Node {
            tenths: 1,
            broken: u32::from(self.broken),
            momentary: both(self.momentary),
            short_term: both(self.short_term),
            width: both(self.width),
            correlation: both(self.correlation),
            energies: self.energies.map(f64::from),
            told: self.told,
            ..Node::default()
        }
    }
}

fn finite(value: Maybe) -> Maybe {
    Maybe::new(value.get().filter(|v| v.is_finite()))
}

/// Sums over some tenths. An absent reading has its low end above its high end.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node {
    pub(super) tenths: u32,
    pub(super) broken: u32,
    pub(super) momentary: [f32; 2],
    pub(super) short_term: [f32; 2],
    pub(super) width: [f32; 2],
    pub(super) correlation: [f32; 2],
    pub(super) former_short_term: [f32; 2],
    pub(super) former_width: [f32; 2],
    pub(super) energies: [f64; PARTS],
    pub(super) told: bool,
}

const NOTHING: [f32; 2] = [f32::INFINITY, f32::NEG_INFINITY];

impl Default for Node {
    fn default() -> Self {
        Self {
            tenths: 0,
            broken: 0,
            momentary: NOTHING,
            short_term: NOTHING,
            width: NOTHING,
            correlation: NOTHING,
            former_short_term: NOTHING,
            former_width: NOTHING,
            energies: [0.0; PARTS],
            told: false,
        }
    }
}

impl Node {
    pub(super) fn merge(&mut self, other: &Self) {
        self.tenths += other.tenths;
        self.broken += other.broken;
        self.told |= other.told;
        for (mine, theirs) in [
            (&mut self.momentary, &other.momentary),
            (&mut self.short_term, &other.short_term),
            (&mut self.width, &other.width),
            (&mut self.correlation, &other.correlation),
            (&mut self.former_short_term, &other.former_short_term),
            (&mut self.former_width, &other.former_width),
        ] {
            *mine = [mine[0].min(theirs[0]), mine[1].max(theirs[1])];
        }
        self.energies.iter_mut().zip(other.energies).for_each(|(mine, theirs)| *mine += theirs);
    }
}

fn both(value: Maybe) -> [f32; 2] {
    match Option::<f32>::from(value) {
        Some(value) => [value, value],
        None => NOTHING,
    }
}

/// A page of cells, what is kept of the previous pass, and sums over them.
#[derive(Debug)]
pub(super) struct Cells {
    cells: [Cell; PAGE],
    former: [Former; PAGE],
    groups: [Node; PAGE / GROUP],
    whole: Node,
    stale: bool,
}

impl Default for Cells {
    fn default() -> Self {
        Self {
            cells: [Cell::default(); PAGE],
            former: [Former::default(); PAGE],
            groups: [Node::default(); PAGE / GROUP],
            whole: Node::default(),
            stale: false,
        }
    }
}

impl Page<Cells> {
    pub(super) fn write(&mut self, slot: usize, cell: Cell, written: u64) {
        let known = self.cells[slot];
        if self.has(slot) && known.pass != cell.pass {
            self.former[slot] = Former { short_term: known.short_term, width: known.width };
        }
        self.cells[slot] = cell;
        self.used |= 1 << slot;
        self.written = written;
        self.stale = true;
    }

    #[expect(clippy::cast_possible_truncation, reason = "storage in single precision is the purpose")]
    pub(super) fn set_energies(&mut self, slot: usize, energies: [f64; PARTS]) {
        let cell = &mut self.cells[slot];
        let sane = |energy: f64| if energy.is_finite() { energy.clamp(0.0, 1e30) as f32 } else { 0.0 };
        cell.energies = energies.map(sane);
        cell.told = true;
        self.stale = true;
    }

    /// One tenth as a node; `None` if it was not heard.
    pub(super) fn node(&self, slot: usize) -> Option<Node> {
        let (cell, former) = (&self.cells[slot], &self.former[slot]);
        self.has(slot).then(|| Node {
            former_short_term: both(former.short_term),
            former_width: both(former.width),
            ..cell.node()
        })
    }

    /// Updates the sums.
    pub(super) fn settle(&mut self) {
        if !std::mem::take(&mut self.stale) {
            return;
        }
        self.whole = Node::default();
        for group in 0..PAGE / GROUP {
            let mut sum = Node::default();
            (group * GROUP..(group + 1) * GROUP)
                .filter_map(|slot| self.node(slot))
                .for_each(|n| sum.merge(&n));
            self.whole.merge(&sum);
            self.groups[group] = sum;
        }
    }

    pub(super) fn group(&self, group: usize) -> &Node {
        &self.groups[group]
    }

    pub(super) fn whole(&self) -> &Node {
        &self.whole
    }
}
