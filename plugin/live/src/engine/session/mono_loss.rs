//! The layers that cause the mono loss of a mix, from the latest two seconds of all layers on the board.

use super::look::Look;
use crate::board::{BoardEntry, BoardReader};
use plumbline_measure::{Averaging, Position};
use plumbline_programme::loss_attribution::{ASK_SECS, LossAttribution, Mix, Sounds};
use plumbline_programme::session::LossByLayer;
use plumbline_programme::{LayerId, Session};
use std::borrow::Cow;

/// Seconds by which a layer may be behind the mix; one further behind is not playing. Half of the audio that a file
/// keeps beyond the seconds compared.
const BEHIND_SECS: i64 = 1;

/// The attribution of mono loss, asked now and then.
#[derive(Debug, Default)]
pub(super) struct Loss {
    attribution: LossAttribution,
}

impl Loss {
    /// The latest answer; `None` if the layer is not a mix or loses nothing.
    pub(super) fn ask(
        &mut self,
        session: &Session,
        board: &BoardReader,
        look: &Look<'_>,
    ) -> Option<LossByLayer> {
        let mix = board.layer(look.own).filter(|_| look.is_mix())?;
        let glance = (look.glance)();
        let question = Mix {
            secs: look.now.as_secs_f64(),
            rate: mix.head.rate,
            slow: glance.spectral(Averaging::Slow),
            edges: &look.settings.band_edges,
            channels: look.channels,
        };
        let sounds = |ids: &[LayerId]| sounds(ids, mix, board);
        self.attribution.follow(&question, || session, sounds).0.cloned()
    }
}

/// The latest two seconds that the mix and the layers have in common.
fn sounds(ids: &[LayerId], mix: &BoardEntry, board: &BoardReader) -> Option<Sounds<'static>> {
    let frames = i64::from(mix.head.rate.hz() * ASK_SECS);
    let entries = ids.iter().filter_map(|id| board.layer(*id));
    let layers: Vec<&BoardEntry> = entries.filter(|layer| plays_with(layer, mix)).collect();
    let newest = layers.iter().map(|layer| layer.newest.sample).fold(mix.newest.sample, i64::min);
    let start = newest.saturating_add(1).saturating_sub(frames);
    let read = |layer: &BoardEntry, channels: u8| {
        let mut audio = vec![vec![0.0; usize::try_from(frames).ok()?]; usize::from(channels)];
        let at = Position { sample: start, ..mix.newest };
        let whole = board.read_audio(layer.head.id, at.grid, at.sample, &mut audio);
        whole.then(|| audio.into_iter().map(Cow::Owned).collect::<Vec<Cow<'static, [f32]>>>())
    };
    let mix = <[Cow<'static, [f32]>; 2]>::try_from(read(mix, 2)?).ok()?;
    let of = |layer: &&BoardEntry| Some((layer.head.id, read(layer, layer.head.channels)?));
    Some(Sounds { mix, layers: layers.iter().filter_map(of).collect() })
}

/// Whether a layer plays at the same time as the mix, at the same rate.
pub(super) fn plays_with(layer: &BoardEntry, mix: &BoardEntry) -> bool {
    let behind = mix.newest.sample.saturating_sub(layer.newest.sample);
    layer.running
        && layer.head.rate == mix.head.rate
        && layer.newest.grid == mix.newest.grid
        && behind <= BEHIND_SECS * i64::from(mix.head.rate.hz())
}
