//! What the bus and its layers do in each tenth, fed in the order in which the plug-in's worker feeds it.

use super::plan::Plan;
use super::recent::Recent;
use plumbline_measure::{BandEdges, Digest, Grid, SampleRate, Span, Tenth};
use plumbline_programme::findings::Finder;
use plumbline_programme::leave_out::asked_about;
use plumbline_programme::session::LossByLayer;
use plumbline_programme::{
    BalanceTarget, Finding, Identity, Join, Joiner, Lanes, LayerId, Overview, PassageLine, Peer, Role,
    Summary, Whole,
};

/// Tenths that are summed by themselves before they go to the sum of all: as the plug-in's history has them, so that
/// rounding is the same.
const PAGE: i64 = 64;

/// Number of the bus; layers count from 1.
pub(super) const BUS: LayerId = LayerId(0);

/// The number of a layer.
pub(super) fn id_of(layer: usize) -> LayerId {
    LayerId(layer as u64 + 1)
}

/// All that is known of the layers together, and of the bus over time.
pub(super) struct Account {
    peers: Vec<Peer>,
    recent: Recent,
    whole: Whole,
    finder: Finder,
    joiner: Joiner,
    overview: Overview,
    target: BalanceTarget,
    edges: BandEdges,
    page: (i64, Summary),
    all: Summary,
}

/// What is left of an account at its end.
pub(super) struct Closed {
    pub(super) whole: Whole,
    pub(super) findings: Vec<Finding>,
    pub(super) joins: Vec<Join>,
    pub(super) dropped: u64,
    pub(super) lanes: Lanes,
    pub(super) passage: PassageLine,
}

impl Account {
    pub(super) fn new(rate: SampleRate, plan: &Plan) -> Self {
        let peer = |id, name: &str, role| Peer {
            id,
            identity: Identity { name: name.to_owned(), role, colour: None },
            running: true,
            missed: 0,
            altered: false,
            absent: false,
        };
        let layers = (0..).zip(&plan.layers).map(|(at, layer)| peer(id_of(at), &layer.name, layer.role));
        let peers: Vec<Peer> = layers.chain([peer(BUS, &plan.bus_name(), Role::Mix)]).collect();
        let roles: Vec<(LayerId, Role)> = peers.iter().map(|peer| (peer.id, peer.identity.role)).collect();
        let mut joiner = Joiner::new();
        joiner.set_rate(rate);
        Self {
            recent: Recent::new(),
            whole: Whole::new(&roles),
            finder: Finder::new(plan.rules, &plan.target.sane(), plan.band_edges),
            joiner,
            overview: Overview::default(),
            target: plan.balance.sane(),
            edges: plan.band_edges,
            page: (0, Summary::default()),
            all: Summary::default(),
            peers,
        }
    }

    /// Takes a tenth of all layers, and of the bus behind them.
    pub(super) fn take<'a>(&mut self, tenths: impl Iterator<Item = &'a Tenth> + Clone) {
        let Some(bus) = tenths.clone().last() else { return };
        let digests: Vec<Digest> = tenths.map(Digest::from).collect();
        for (layer, digest) in digests.iter().enumerate() {
            self.whole.take(layer, digest);
        }
        self.recent.take(&self.peers, digests);
        self.sum(bus);
        self.finder.push(bus);
        self.joiner.push(bus);
        let Self { peers, recent, .. } = self;
        let together = recent.together(peers, bus.grid, bus.index);
        if let Some(together) = &together {
            self.finder.among(together, &self.target, &|id| name_in(peers, id));
            self.joiner.set_shares(bus.grid, bus.index, together.energies);
        }
        self.overview.push(bus, together.map(|together| together.energies));
    }

    /// Adds the tenth to the statistics.
    fn sum(&mut self, bus: &Tenth) {
        let number = bus.index.div_euclid(PAGE);
        if number != self.page.0 {
            self.close_page();
            self.page.0 = number;
        }
        self.page.1.add(bus, &self.edges);
    }

    fn close_page(&mut self) {
        let page = std::mem::take(&mut self.page.1);
        if !page.is_empty() {
            self.all.merge(&page);
        }
    }

    /// Tells the finder of joins that came, went or were measured anew.
    pub(super) fn take_joins(&mut self) {
        if self.joiner.take_changed() {
            self.finder.keep_joins(self.joiner.joins());
            self.joiner.joins().iter().for_each(|join| self.finder.join(join));
        }
    }

    /// Tells which layers cause a mono loss that goes on.
    pub(super) fn blame(&mut self, loss: &LossByLayer) {
        let Self { finder, peers, .. } = self;
        finder.blame(loss, &|id| name_in(peers, id));
    }

    /// The layers that are asked about when a stretch of frequency loses: the loudest there over the newest 3 s.
    pub(super) fn loudest(&self, span: Span) -> Vec<usize> {
        let layers = self.peers.len().saturating_sub(1);
        asked_about((0..layers).map(|layer| (self.recent.power(layer, span), layer)))
    }

    /// Nothing is to come.
    pub(super) fn end(&mut self) {
        self.finder.end();
        self.take_joins();
        self.close_page();
    }

    pub(super) fn close(self) -> Closed {
        let mut passage = PassageLine { grid: Grid::Song, ..PassageLine::default() };
        self.all.fill(&mut passage);
        Closed {
            whole: self.whole,
            findings: self.finder.findings(),
            joins: self.joiner.joins().to_vec(),
            dropped: self.finder.dropped() + self.joiner.dropped(),
            lanes: self.overview.lanes(),
            passage,
        }
    }
}

fn name_in(peers: &[Peer], id: LayerId) -> String {
    peers.iter().find(|peer| peer.id == id).map(|peer| peer.identity.name.clone()).unwrap_or_default()
}
