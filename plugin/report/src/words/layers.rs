//! The basis of a match, and the layers that cost the mix in mono.

use super::{Context, band};
use crate::figures;
use plumbline_programme::LayerId;
use plumbline_programme::session::{LossByLayer, Match};

/// Tenths under which a match is reported as based on little.
const FEW_TENTHS: u32 = 50;
/// Share of a band's energy that the layers must explain for their list to count as complete.
const EXPLAINED: f64 = 0.7;

/// The basis of a match: "From 41.2 s in which both play."
pub fn rests_on(matched: &Match, context: Context) -> String {
    let secs = figures::unit(figures::plain(Some(f64::from(matched.tenths) / 10.0), 1), "s");
    let few = context.pick(": few yet, wait for more", ", which is little");
    let few = if matched.tenths < FEW_TENTHS { few } else { "" };
    format!("From {secs} in which both play{few}.")
}

/// The mono loss of the mix by layer: a head, the rows, and a remark on how far they explain it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LossWords {
    /// "In mono Mid (800 Hz–2.5 kHz) loses 6.8 dB."
    pub head: String,
    /// "Without Boom at the scaffold: 0.4 dB lost", the most helpful first; a row that says so if no layer helps.
    pub rows: Vec<String>,
    /// A remark if the layers explain only a part of the loss.
    pub behind: Option<String>,
}

/// The layers, by name, that cause a mono loss. `at` gives the time, like " at noon"; empty for now.
pub fn loss(loss: &LossByLayer, at: &str, name: impl Fn(LayerId) -> String) -> LossWords {
    let (band, span) = (band(loss.band), figures::hz_span(&loss.span));
    let db = |db: f64| figures::db(Some(db.abs()));
    let how = match loss.loss_db {
        f64::NEG_INFINITY => "is gone".to_owned(),
        some => format!("loses {}", db(some)),
    };
    let without = loss.left_out.iter().filter(|out| !out.layers.is_empty()).map(|out| {
        let left = match out.loss_db {
            None => format!("nothing of {band} is left"),
            Some(f64::NEG_INFINITY) => "still gone".to_owned(),
            Some(some) => format!("{} lost", db(some)),
        };
        let names: Vec<String> = out.layers.iter().map(|id| name(*id)).collect();
        format!("Without {}: {left}", names.join(" with "))
    });
    let mut rows: Vec<String> = without.collect();
    if rows.is_empty() {
        rows.push("No layer or pair of layers found to explain it".to_owned());
    }
    let behind = (loss.explained.is_finite() && loss.explained < EXPLAINED).then(|| {
        format!(
            "The layers explain {} of this band: one is missing here, or the bus changes the sum.",
            figures::percent(Some(loss.explained.max(0.0)))
        )
    });
    LossWords { head: format!("In mono {band} ({span}) {how}{at}."), rows, behind }
}
