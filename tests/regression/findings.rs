//! scratch
use crate::reading::read_all;
use plumbline_measure::Role;
use plumbline_tests::programme::{findings, measured};
use std::path::Path;

#[test]
fn scratch() {
    let dir = Path::new("/work/main/target/demo/stems");
    let files = [
        ("mix.wav", Role::Mix),
        ("boom.wav", Role::Natural),
        ("lavalier.wav", Role::Natural),
        ("tower.wav", Role::Natural),
        ("foley_chisel.wav", Role::Foley),
        ("foley_rope.wav", Role::Foley),
        ("foley_steps.wav", Role::Foley),
        ("design_booms.wav", Role::Design),
        ("design_swells.wav", Role::Design),
    ];
    let layers: Vec<_> = files
        .iter()
        .enumerate()
        .map(|(i, (f, r))| {
            let s = read_all(&dir.join(f), 1 << 16).unwrap_or_else(|_| panic!());
            measured(i as u64 + 1, f, *r, 48_000, &s)
        })
        .collect();
    let (ff, jj) = findings(&layers, plumbline_measure::Rules::default());
    for j in &jj {
        println!(
            "JOIN {:.3} size {:.2} dL {:?} tone {:?} width {:?} takes {:?} onset",
            j.sample as f64 / 48000.0,
            j.size(),
            j.loudness_lu().map(|x| (x * 10.0).round() / 10.0),
            j.tone().map(|x| (x * 10.0).round() / 10.0),
            j.width().map(|x| (x * 100.0).round()),
            j.takes_secs
        );
    }
    for f in ff {
        println!(
            "{:?} {:.1}-{:.1} worst {:.2} at {} span {:?} right {:?} role {:?} {:?} {:?}",
            f.kind,
            f.start as f64 / 10.0,
            f.end as f64 / 10.0,
            f.worst,
            f.at,
            f.span.map(|s| (s.low_hz.round(), s.high_hz.round())),
            f.right,
            f.role,
            f.grade,
            f.layers.iter().map(|l| l.name.clone()).collect::<Vec<_>>()
        );
    }
}
