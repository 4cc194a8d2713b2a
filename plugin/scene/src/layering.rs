//! The planted values of the layers: shares, unaccounted energy, and the cause of mono loss.

use super::entry::on_mix;
use super::mixdown::{Pcm, Role, Track};
use super::plan::{FLIPPED_CORE, SECONDS, Stretch};
use super::shares::{Energies, loss_without, of_role};
use super::truth::{Planted, Quantity};

/// Tolerance of shares in %. Arithmetic and measurement may differ only in the 24 ms that the bus clips and in the
/// gating blocks near the gate.
const SHARE_TOLERANCE: f64 = 0.2;

/// The layers over the whole programme, and the cause of the mono loss.
pub(crate) fn layers(tracks: &[Track], mix: &Pcm) -> Vec<Planted> {
    let energies = Energies::of(tracks, mix);
    let shares = energies.gated_shares();
    let whole = Stretch { start: 0.0, end: SECONDS };
    let because = "K-weighted energy of the stems at their gains over the gated programme; a gating block more or less \
                   at the gate, −10 LU, moves no share by more";
    let share = |name: &str, quantity: Quantity, value: f64| {
        on_mix(name, quantity, whole, value, "%").within(SHARE_TOLERANCE, because).between_stems()
    };
    let mut planted: Vec<Planted> = tracks
        .iter()
        .zip(&shares)
        .map(|(track, value)| Planted {
            stem: Some(track.name.to_owned()),
            ..share(&format!("share: {}", track.name), Quantity::StemShare, *value)
        })
        .collect();
    planted.extend([
        share("natural share", Quantity::NaturalShare, of_role(tracks, &shares, Role::Natural)),
        share("Foley share", Quantity::FoleyShare, of_role(tracks, &shares, Role::Foley)),
        share("design share", Quantity::DesignShare, of_role(tracks, &shares, Role::Design)),
        on_mix("unaccounted", Quantity::Unaccounted, whole, energies.gated_unaccounted_db(), "dB")
            .within(
                0.05,
                "K-weighted energy of the mix against the sum over its stems: boom and lavalier share a source, \
                 which makes it differ from 0",
            )
            .between_stems(),
        on_mix("layers late against the mix", Quantity::LateLayers, whole, 0.0, "layers")
            .within(0.0, "every stem lies in the mix where it lies in its file")
            .between_stems(),
    ]);
    planted.extend(lost_in_mono(tracks));
    planted
}

/// The stem without which the inverted swell's stretch has the smallest mono loss.
fn lost_in_mono(tracks: &[Track]) -> Option<Planted> {
    let loss = |i: usize| loss_without(tracks, i, FLIPPED_CORE).unwrap_or(f64::NEG_INFINITY);
    let (cause, track) = tracks.iter().enumerate().max_by(|a, b| loss(a.0).total_cmp(&loss(b.0)))?;
    let because = format!(
        "the sum of the other stems loses {:.1} dB in mono there, by arithmetic; without any other one it loses more",
        -loss(cause)
    );
    let entry = on_mix("inverted swell: lost in mono by", Quantity::LossLayer, FLIPPED_CORE, 0.0, "");
    Some(entry.word(track.name).within(0.0, &because).between_stems())
}
