//! A whole programme of any length, in a bounded number of columns.

use super::nodes::{Cell, Node};
use crate::role::PARTS;
use crate::time_lanes::Lanes;
use plumbline_measure::{Grid, Tenth};

/// Most columns; with more, every two are merged into one.
const MOST: usize = 1_024;

/// Columns in the making, from tenths that come once and in order.
#[derive(Clone, Debug)]
pub struct Overview {
    grid: Grid,
    first: Option<i64>,
    end: i64,
    per_column: usize,
    columns: Vec<Node>,
}

impl Default for Overview {
    fn default() -> Self {
        Self { grid: Grid::Song, first: None, end: 0, per_column: 1, columns: Vec::new() }
    }
}

impl Overview {
    /// Takes the next tenth, and the roles' K-weighted mean squares in it if there are layers.
    pub fn push(&mut self, tenth: &Tenth, energies: Option<[f64; PARTS]>) {
        let first = *self.first.get_or_insert(tenth.index);
        self.grid = tenth.grid;
        let Ok(after) = usize::try_from(tenth.index.saturating_sub(first)) else { return };
        while after / self.per_column >= MOST {
            self.halve();
        }
        let at = after / self.per_column;
        if self.columns.len() <= at {
            self.columns.resize(at + 1, Node::default());
        }
        let mut node = Cell::of(tenth, 0).node();
        if let Some(energies) = energies {
            (node.energies, node.told) = (energies, true);
        }
        self.columns[at].merge(&node);
        self.end = self.end.max(tenth.index.saturating_add(1));
    }

    fn halve(&mut self) {
        self.per_column *= 2;
        self.columns = self
            .columns
            .chunks(2)
            .map(|two| {
                two.iter().fold(Node::default(), |mut sum, one| {
                    sum.merge(one);
                    sum
                })
            })
            .collect();
    }

    /// The columns, from the first tenth to the last.
    pub fn lanes(&self) -> Lanes {
        let Some(first) = self.first else { return Lanes::default() };
        Lanes {
            again: false,
            grid: self.grid,
            first,
            per_column: u32::try_from(self.per_column).unwrap_or(u32::MAX),
            left: first,
            right: self.end,
            columns: self.columns.iter().map(Node::column).collect(),
            extent: [first, self.end],
            follows: false,
            newest: self.end.saturating_sub(1),
        }
    }
}
