//! A session of made or measured layers, and what a balance answers about it.

use plumbline_measure::cross::Stored;
use plumbline_measure::{BandEdges, Digest, Grid};
use plumbline_programme::session::Part;
use plumbline_programme::{Balance, Identity, LayerId, Mark, Peer, Question, Role, Session, Stretch};

/// Length of a made tenth: 48 kHz.
pub const LENGTH: u32 = 4_800;

/// A running layer of a role.
pub fn peer(id: u64, role: Role) -> Peer {
    let identity = Identity { name: format!("Layer {id}"), role, colour: None };
    Peer { id: LayerId(id), identity, running: true, missed: 0, altered: false, absent: false }
}

/// A whole tenth of a K-weighted mean square, which every third shares alike, in both channels alike.
pub fn made(grid: Grid, index: i64, k: f64) -> Digest {
    shaped(grid, index, k, |_| k / 31.0)
}

/// A whole tenth of a K-weighted mean square, with thirds of its own: left and right mean square added.
pub fn shaped(grid: Grid, index: i64, k: f64, third: impl Fn(usize) -> f64) -> Digest {
    let thirds = std::array::from_fn(|at| {
        #[expect(clippy::cast_possible_truncation, reason = "digests are single precision")]
        let half = (third(at) / 2.0) as f32;
        Stored { ll: half, rr: half, re: half }
    });
    Digest { grid, index, length: LENGTH, frames: LENGTH, lost: 0, k, heard: 7, thirds }
}

/// What is asked of a balance beside its layers.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The layer that asks.
    pub own: u64,
    /// Marks in song time.
    pub marks: Vec<i64>,
    /// The pair to be matched.
    pub pair: Option<(u64, u64)>,
}

impl Asked {
    /// Asked by a layer, without marks.
    pub fn by(own: u64) -> Self {
        Self { own, ..Self::default() }
    }

    /// Asks.
    pub fn of(&self, balance: &mut Balance, peers: &[Peer]) -> Session {
        let marks: Vec<Mark> =
            self.marks.iter().map(|index| Mark { grid: Grid::Song, index: *index }).collect();
        balance.ask(&Question {
            peers,
            own: LayerId(self.own),
            marks: &marks,
            edges: &BandEdges::default(),
            pair: self.pair.map(|(change, like)| (LayerId(change), LayerId(like))),
            at: None,
        })
    }
}

/// The part of a layer over a stretch.
///
/// # Panics
/// When there is no such layer.
pub fn part(session: &Session, id: u64, stretch: Stretch) -> &Part {
    &session.layer(LayerId(id)).expect("a layer of the session").parts[stretch.place()]
}
