//! A whole programme offline: measured layers, and the findings in their mix.

use plumbline_measure::{Analyzer, BandEdges, Digest, Grid, Position, SampleRate, Tenth};
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::Finder;
use plumbline_programme::{
    Balance, BalanceTarget, Finding, Identity, Join, JoinDetector, LayerId, Peer, Role, Rules,
};

/// A layer and its tenths from song time 0.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The layer.
    pub peer: Peer,
    /// Its tenths.
    pub tenths: Vec<Tenth>,
}

/// Measures a layer.
///
/// # Panics
/// If the rate is not supported.
pub fn measured(id: u64, name: &str, role: Role, rate_hz: u32, channels: &[Vec<f32>]) -> Measured {
    let rate = SampleRate::new(rate_hz).expect("a rate to measure at");
    let mut analyzer = Analyzer::new(rate, channels.len(), BandEdges::default());
    let both: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    let mut tenths = Vec::new();
    analyzer.push(Position { grid: Grid::Song, sample: 0 }, &both, &mut tenths);
    analyzer.flush(&mut tenths);
    let identity = Identity { name: name.to_owned(), role, colour: None };
    let peer = Peer { id: LayerId(id), identity, running: true, missed: 0, altered: false, absent: false };
    Measured { peer, tenths }
}

/// The findings and joins in the first layer; the others are the layers in its mix.
pub fn findings(layers: &[Measured], rules: Rules) -> (Vec<Finding>, Vec<Join>) {
    let mut finder = Finder::new(rules, &Target::default(), BandEdges::default());
    let mut balance = Balance::default();
    let peers: Vec<Peer> = layers.iter().map(|layer| layer.peer.clone()).collect();
    let Some(own) = layers.first() else { return Default::default() };
    let name =
        |id: LayerId| peers.iter().find(|p| p.id == id).map(|p| p.identity.name.clone()).unwrap_or_default();
    let mut detector = JoinDetector::new();
    for (at, tenth) in own.tenths.iter().enumerate() {
        for layer in layers {
            if let Some(theirs) = layer.tenths.get(at) {
                balance.take(layer.peer.id, &Digest::from(theirs));
            }
        }
        finder.push(tenth);
        detector.push(tenth);
        if let Some(together) = balance.together(&peers, tenth.grid, tenth.index) {
            finder.among(&together, &BalanceTarget::default(), &name);
            detector.set_shares(tenth.grid, tenth.index, together.energies);
        }
    }
    finder.end();
    detector.joins().iter().for_each(|join| finder.join(join));
    (finder.findings(), detector.joins().to_vec())
}
