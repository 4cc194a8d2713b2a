use super::*;

#[test]
fn a_statement_is_kept_within_its_bounds() {
    let sane = |spacing_m: f64| Recording { technique: Technique::Spaced, spacing_m }.sane().spacing_m;
    assert_eq!([sane(0.0), sane(f64::NAN), sane(f64::INFINITY), sane(0.4)], [0.01, 0.17, 0.17, 0.4]);
    assert_eq!(sane(1e9), MOST_SPACING_M);
}

/// Paths in air of 20 °C: 343.2 m/s (ISO 9613-1:1993).
#[test]
fn the_delay_allowed_is_that_of_the_spacing() {
    let most = |technique: Technique, spacing_m: f64| Recording { technique, spacing_m }.spaced_secs();
    assert_eq!(most(Technique::Unstated, 4.0), SPACED_SECS);
    assert!((most(Technique::Spaced, 0.4) - 0.4 * 1.15 / 343.2).abs() < 1e-6);
    assert!(most(Technique::Spaced, LEAST_SPACING_M) >= ONE_PLACE_SECS);
    assert_eq!(most(Technique::Coincident, 0.4), ONE_PLACE_SECS);
}

#[test]
fn a_technique_has_one_name_in_files_and_on_the_screen() {
    for technique in Technique::ALL {
        let alike = |of: fn(Technique) -> &'static str| {
            Technique::ALL.iter().filter(|other| of(**other) == of(technique)).count()
        };
        assert_eq!([alike(Technique::name), alike(Technique::key)], [1, 1]);
    }
}
