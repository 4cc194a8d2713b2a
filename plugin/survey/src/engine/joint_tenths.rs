//! The bus and its layers over time: takes each tenth in the order of the plug-in's worker.

use super::marks;
use super::plan::Plan;
use super::recent_balance::Recent;
use plumbline_measure::{BandEdges, Digest, Grid, SampleRate, Tenth};
use plumbline_programme::session::LossByLayer;
use plumbline_programme::{
    BalanceTarget, Events, Identity, Lanes, LayerId, Mark, Overview, PAGE, PassageLine, Peer, Role, Session,
    Summary, Whole,
};

/// Id of the bus; layers count from 1.
const BUS: LayerId = LayerId(0);

/// Balance of the layers, and events, picture and statistics of the bus.
pub(super) struct Joint {
    peers: Vec<Peer>,
    recent: Recent,
    whole: Whole,
    events: Events,
    /// The marks of the plan, as tenths.
    marks: Vec<Mark>,
    overview: Overview,
    target: BalanceTarget,
    edges: BandEdges,
    /// Number and sum of the current page. Summing page by page gives the same rounding as the plug-in's history.
    page: (i64, Summary),
    all: Summary,
}

/// The results at the end.
pub(super) struct Closed {
    pub(super) whole: Whole,
    pub(super) events: Events,
    pub(super) lanes: Lanes,
    pub(super) passage: PassageLine,
}

impl Joint {
    pub(super) fn new(rate: SampleRate, plan: &Plan) -> Self {
        let peer = |id, name: &str, role| Peer {
            id,
            identity: Identity { name: name.to_owned(), role, colour: None },
            running: true,
            missed: 0,
            altered: false,
            absent: false,
        };
        let layers =
            (0..).zip(&plan.layers).map(|(at, layer)| peer(Self::id_of(at), &layer.name, layer.role));
        let peers: Vec<Peer> = layers.chain([peer(BUS, &plan.bus_name(), Role::Mix)]).collect();
        let roles: Vec<(LayerId, Role)> = peers.iter().map(|peer| (peer.id, peer.identity.role)).collect();
        let mut events = Events::new(plan.rules, &plan.target.sane(), plan.band_edges);
        events.set_rate(rate);
        let marks = marks::tenths(&plan.marks, rate);
        // No audio yet: each mark is measured as its tenths arrive.
        events.set_marks(&marks, |_, _| std::iter::empty());
        Self {
            recent: Recent::new(),
            whole: Whole::new(&roles),
            events,
            marks,
            overview: Overview::default(),
            target: plan.balance.sane(),
            edges: plan.band_edges,
            page: (0, Summary::default()),
            all: Summary::default(),
            peers,
        }
    }

    /// Id of a layer, by its index in the plan.
    pub(super) fn id_of(place: usize) -> LayerId {
        LayerId(place as u64 + 1)
    }

    /// Index of a layer in the plan; `usize::MAX` for the bus.
    pub(super) fn place_of(id: LayerId) -> usize {
        usize::try_from(id.0).map_or(usize::MAX, |number| number.wrapping_sub(1))
    }

    /// Takes a tenth of all layers, then of the bus.
    pub(super) fn push<'a>(&mut self, tenths: impl Iterator<Item = &'a Tenth> + Clone) {
        let Some(bus) = tenths.clone().last() else { return };
        let digests: Vec<Digest> = tenths.map(Digest::from).collect();
        for (layer, digest) in digests.iter().enumerate() {
            self.whole.take(layer, digest);
        }
        self.recent.push(&self.peers, digests);
        self.sum(bus);
        self.events.push(bus);
        let Self { peers, recent, marks, .. } = self;
        let together = recent.together(peers, bus.grid, bus.index);
        if let Some(together) = &together {
            self.events.push_together(together, (&self.target, marks), &|id| name_in(peers, id));
        }
        self.overview.push(bus, together.map(|together| together.energies));
    }

    /// Adds a tenth to the statistics.
    fn sum(&mut self, bus: &Tenth) {
        let number = bus.index.div_euclid(PAGE as i64);
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

    /// The session as the bus would show it at this point.
    pub(super) fn session(&mut self) -> Session {
        self.recent.session(&self.peers, BUS, &self.edges)
    }

    /// Records which layers cause a present mono loss.
    pub(super) fn attribute_loss(&mut self, loss: &LossByLayer) {
        let Self { events, peers, .. } = self;
        events.attribute_loss(loss, &|id| name_in(peers, id));
    }

    /// Judges the joins that changed.
    pub(super) fn settle(&mut self) {
        self.events.settle();
    }

    /// Ends the programme, and returns the results.
    pub(super) fn close(mut self) -> Closed {
        self.events.end();
        self.close_page();
        let mut passage = PassageLine { grid: Grid::Song, ..PassageLine::default() };
        self.all.fill(&mut passage);
        Closed { whole: self.whole, events: self.events, lanes: self.overview.lanes(), passage }
    }
}

fn name_in(peers: &[Peer], id: LayerId) -> String {
    peers.iter().find(|peer| peer.id == id).map(|peer| peer.identity.name.clone()).unwrap_or_default()
}
