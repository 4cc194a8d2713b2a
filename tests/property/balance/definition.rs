//! Shares, leads and unaccounted energy, recomputed from the drawn tenths by their definitions.

use super::{Drawn, answer, near, takes};
use crate::strategies::holds_for;
use plumbline_measure::loudness::{lufs, mean_square_of};
use plumbline_programme::session::LEAD_LU;
use plumbline_programme::{Role, Stretch};
use plumbline_tests::layers::part;
use proptest::prelude::*;

/// One song tenth: its index, the energies by layer, whether any layer except the mix reported it, and whether one
/// reported it completely.
type Row = (i64, [f64; 5], bool, bool);

fn rows(takes: &[Drawn]) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for t in takes {
        if rows.last().is_none_or(|row| row.0 != t.digest.index) {
            rows.push((t.digest.index, [0.0; 5], false, false));
        }
        let row = rows.last_mut().expect("just pushed");
        row.1[usize::try_from(t.layer).expect("five")] = t.digest.k;
        row.2 |= t.layer < 4;
        row.3 |= t.layer < 4 && t.digest.is_whole();
    }
    rows
}

fn layers_sum(row: &Row) -> f64 {
    row.1[..4].iter().sum()
}

/// Energy of each layer, by definition, block by block: over the gating blocks in which the layers' sum passes.
fn gated(rows: &[Row]) -> Option<[f64; 5]> {
    let rows: Vec<&Row> = rows.iter().filter(|row| row.2).collect();
    let blocks: Vec<&[&Row]> =
        rows.windows(4).filter(|w| w.iter().all(|row| row.3) && w[3].0 - w[0].0 == 3).collect();
    let mean = |block: &[&Row]| block.iter().map(|row| layers_sum(row)).sum::<f64>() / 4.0;
    let over = |gate: f64| blocks.iter().filter(move |b| mean(b) > gate);
    let absolute = mean_square_of(-70.0);
    let count = over(absolute).count();
    if count == 0 {
        return None;
    }
    let relative = over(absolute).map(|b| mean(b)).sum::<f64>() / count as f64 / 10.0;
    let mut energy = [0.0; 5];
    for row in over(absolute.max(relative)).flat_map(|b| b.iter()) {
        energy.iter_mut().zip(row.1).for_each(|(sum, k)| *sum += k);
    }
    Some(energy)
}

#[test]
fn shares_and_leads_are_what_the_definition_says() {
    holds_for(150, 0xBA1, takes(), |takes| {
        let session = answer(&takes);
        let rows = rows(&takes);
        let least = mean_square_of(-70.0);
        // The mix asks, so its position on the grid counts; here all layers are at the last tenth or slightly behind.
        let end = rows.last().map_or(0, |row| row.0);
        prop_assert!((session.secs[2] * 10.0 - rows.len() as f64).abs() < 1e-9);

        let sounding: Vec<&Row> = rows.iter().filter(|row| layers_sum(row) >= least).collect();
        let energy = |layer: usize| rows.iter().map(|row| row.1[layer]).sum::<f64>();
        let all: f64 = (0..4).map(energy).sum();
        let programme = gated(&rows);
        let leads = |groups: &[&[usize]], who: usize| {
            let of = |row: &Row, group: &[usize]| group.iter().map(|l| row.1[*l]).sum::<f64>();
            let led = sounding.iter().filter(|row| {
                let others = groups.iter().enumerate().filter(|(at, _)| *at != who);
                others
                    .into_iter()
                    .all(|(_, g)| of(row, groups[who]) >= of(row, g) * 10.0_f64.powf(LEAD_LU / 10.0))
            });
            led.count() as f64 / sounding.len() as f64
        };
        let (each, by_role): ([&[usize]; 4], [&[usize]; 3]) =
            ([&[0], &[1], &[2], &[3]], [&[0], &[1, 2], &[3]]);
        for layer in 0..4 {
            let [passage, whole] =
                [Stretch::Passage, Stretch::Programme].map(|stretch| part(&session, layer as u64, stretch));
            let there = !sounding.is_empty();
            near("passage", passage.share, there.then(|| energy(layer) / all), 1e-6)?;
            near("programme", whole.share, programme.map(|e| e[layer] / e[..4].iter().sum::<f64>()), 1e-6)?;
            near("lead", passage.lead, there.then(|| leads(&each, layer)), 1e-12)?;
        }
        for (at, role) in [Role::Natural, Role::Foley, Role::Music].into_iter().enumerate() {
            let got = session.part(role, Stretch::Passage).expect("has a share");
            near("role's lead", got.lead, (!sounding.is_empty()).then(|| leads(&by_role, at)), 1e-12)?;
            let energy: f64 = by_role[at].iter().map(|layer| energy(*layer)).sum();
            near("role", got.share, (!sounding.is_empty()).then(|| energy / all), 1e-6)?;
        }
        let design = session.part(Role::Design, Stretch::Passage).and_then(|p| p.share);
        near("a role without layers", design, (!sounding.is_empty()).then_some(0.0), 0.0)?;

        // The mix against its layers, over the tenths reported by both.
        let heard = |row: &&Row| row.2 && takes.iter().any(|t| t.layer == 4 && t.digest.index == row.0);
        let both: Vec<&Row> = rows.iter().filter(heard).collect();
        let sounds = |of: &dyn Fn(&Row) -> f64| both.iter().any(|row| of(row) >= least);
        let expected = match (sounds(&|row| row.1[4]), sounds(&layers_sum)) {
            (true, true) => {
                let sum = |of: &dyn Fn(&Row) -> f64| both.iter().map(|row| of(row)).sum::<f64>();
                Some(10.0 * (sum(&|row| row.1[4]) / sum(&layers_sum)).log10())
            }
            (true, false) => Some(f64::INFINITY),
            (false, true) => Some(f64::NEG_INFINITY),
            (false, false) => None,
        };
        near("unaccounted", session.unaccounted[1].db, expected, 1e-5)?;

        // *Now* is thirty tenths of song time up to the last tenth that all have reported, at most five back.
        let stands = |layer: u64| takes.iter().rev().find(|t| t.layer == layer).map(|t| t.digest.index);
        let own = stands(4).unwrap_or(end);
        let slowest = (0..5).filter_map(stands).filter(|i| (own - 30..=own).contains(i)).min().unwrap_or(own);
        let last = if stands(4).is_some() { slowest.max(own - 5) } else { return Ok(()) };
        let now: Vec<&Row> = rows.iter().filter(|row| (last - 29..=last).contains(&row.0)).collect();
        prop_assert!((session.secs[0] * 10.0 - now.len() as f64).abs() < 1e-9);
        let there = now.iter().any(|row| layers_sum(row) >= least);
        let all: f64 = now.iter().map(|row| layers_sum(row)).sum();
        for layer in 0..4 {
            let energy: f64 = now.iter().map(|row| row.1[layer]).sum();
            let got = part(&session, layer as u64, Stretch::Now);
            near("now", got.share, there.then(|| energy / all), 1e-6)?;
            let level = Some(lufs(energy / now.len() as f64)).filter(|level| there && *level >= -70.0);
            near("now, level", got.loudness_lufs, level, 1e-5)?;
        }
        Ok(())
    });
}
