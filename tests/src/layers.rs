//! Sessions of synthetic or measured layers, and the balance's answers about them.

use plumbline_measure::cross::Stored;
use plumbline_measure::{BandEdges, Digest, Grid};
use plumbline_programme::session::Part;
use plumbline_programme::{Balance, Identity, LayerId, Mark, Peer, Question, Role, Session, Stretch};

/// Length of a synthetic tenth in samples, at 48 kHz.
pub const LENGTH: u32 = 4_800;

/// A running layer with a role.
pub fn peer(id: u64, role: Role) -> Peer {
    let identity = Identity { name: format!("Layer {id}"), role, colour: None };
    Peer { id: LayerId(id), identity, running: true, missed: 0, altered: false, absent: false }
}

/// A whole tenth with a K-weighted mean square, equal in all thirds and both channels.
pub fn made(grid: Grid, index: i64, k: f64) -> Digest {
    shaped(grid, index, k, |_| k / 31.0)
}

/// A whole tenth with a K-weighted mean square, and the mean square of each third, left and right added.
pub fn shaped(grid: Grid, index: i64, k: f64, third: impl Fn(usize) -> f64) -> Digest {
    let thirds = std::array::from_fn(|at| {
        #[expect(clippy::cast_possible_truncation, reason = "digests are single precision")]
        let half = (third(at) / 2.0) as f32;
        Stored { ll: half, rr: half, re: half }
    });
    Digest { grid, index, length: LENGTH, frames: LENGTH, lost: 0, k, heard: 7, thirds }
}

/// A question to a balance.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The layer that asks.
    pub own: u64,
    /// Marks in song time.
    pub marks: Vec<i64>,
    /// The pair to match.
    pub pair: Option<(u64, u64)>,
}

impl Asked {
    /// A question of a layer, without marks.
    pub fn by(own: u64) -> Self {
        Self { own, ..Self::default() }
    }

    /// Asks a balance.
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

/// The share of a layer over a stretch.
///
/// # Panics
/// If there is no such layer.
pub fn part(session: &Session, id: u64, stretch: Stretch) -> &Part {
    &session.layer(LayerId(id)).expect("a layer of the session").parts[stretch.place()]
}
