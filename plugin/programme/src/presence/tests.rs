use super::*;

fn rate() -> SampleRate {
    SampleRate::new(48_000).expect("a rate")
}

/// Noise from a small generator (Marsaglia, xorshift).
fn noise(seed: u32, frames: usize) -> Vec<f32> {
    let mut state = seed.wrapping_mul(2_654_435_761).max(1);
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        f32::from(u16::try_from(state >> 16).unwrap_or(0)) / 32_768.0 - 1.0
    };
    (0..frames).map(|_| 0.1 * next()).collect()
}

#[test]
fn nothing_is_said_of_too_little_of_silence_and_of_no_channels() {
    let mut presence = Presence::new(rate());
    let (sound, silence) = (noise(1, 96_000), vec![0.0; 96_000]);
    let mut ask =
        |mix: &[&[f32]], layer: &[&[f32]]| presence.ask(&Passage { mix, layer, start: 0 }).is_some();
    assert!(ask(&[&sound, &sound], &[&sound]));
    assert!(!ask(&[&sound, &sound], &[&silence]));
    assert!(!ask(&[&silence, &silence], &[&sound]));
    assert!(!ask(&[&sound[..20_000]], &[&sound]));
    assert!(!ask(&[&sound], &[&sound[..20_000]]));
    assert!(!ask(&[], &[&sound]));
    assert!(!ask(&[&sound], &[]));
    assert!(!ask(&[&[]], &[&[]]));
}

#[test]
fn what_is_no_number_is_silence() {
    let mut presence = Presence::new(rate());
    let mut sound = noise(1, 96_000);
    for (at, broken) in [(5, f32::NAN), (6, f32::INFINITY), (7, f32::NEG_INFINITY), (8, 1e30)] {
        sound[at * 1_000] = broken;
    }
    let found = presence.ask(&Passage { mix: &[&sound], layer: &[&sound], start: 0 }).expect("sound");
    for estimate in found.estimates().flatten() {
        assert!(estimate.part.is_finite() && estimate.sigma.is_finite(), "{estimate:?}");
    }
}

#[test]
fn a_layer_alone_in_the_mix_is_wholly_found_at_any_rate() {
    for hz in [22_050, 44_100, 48_000, 96_000, 192_000] {
        let rate = SampleRate::new(hz).expect("a rate");
        let sound = noise(hz, 2 * hz as usize);
        let mut presence = Presence::new(rate);
        let found = presence.ask(&Passage { mix: &[&sound], layer: &[&sound], start: 0 }).expect("sound");
        let [energy, bins] = found.estimates().next().expect("a pair");
        // Chance is removed, with some twenty windows and correlated magnitudes, so the part stays under 1.
        for part in [energy.part, bins.part] {
            assert!((0.85..=1.0).contains(&part), "{hz}: {energy:?} {bins:?}");
        }
        assert!((found.secs() - 2.0).abs() < 1e-9);
    }
}

#[test]
fn an_unknown_layer_is_forgotten_after_a_while_and_found_at_once() {
    let mut presence = Presence::new(rate());
    let mut standing = Standing::default();
    let (mix, layer) = (noise(1, 12 * 96_000), noise(2, 12 * 96_000));
    let mut ask = |passage: usize, layer: &[f32]| {
        let part = passage * 96_000..(passage + 1) * 96_000;
        let start = i64::try_from(part.start).expect("short");
        presence.ask(&Passage { mix: &[&mix[part.clone()]], layer: &[&layer[part]], start })
    };
    for passage in 0..6 {
        standing.take(ask(passage, &layer));
    }
    assert_eq!(standing.told(), Told::Out);
    for passage in 1..5 {
        standing.take(None);
        assert_eq!(standing.told(), Told::Out, "after {passage} without a word");
    }
    standing.take(None);
    assert_eq!(standing.told(), Told::Unknown);
    standing.take(ask(7, &mix));
    assert_eq!(standing.told(), Told::In);
    // A looped passage adds no evidence: chance does not accumulate.
    let mut looped = Standing::default();
    for _ in 0..20 {
        looped.take(ask(8, &layer));
        assert_eq!(looped.told(), Told::Unknown);
    }
}
