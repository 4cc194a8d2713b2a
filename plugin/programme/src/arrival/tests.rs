use super::*;

/// Thirds of common sound with these in-phase parts, as their readings show them.
fn thirds(part: impl Fn(usize) -> f64) -> [Readings; THIRDS] {
    std::array::from_fn(|third| {
        let part = part(third);
        let coherence = 0.9;
        Readings {
            level_dbfs: Some(-20.0),
            balance_db: Some(0.0),
            correlation: Some(part * f64::sqrt(coherence)),
            coherence: Some(coherence),
            out_of_step: Some(coherence * (1.0 - part.max(0.0).powi(2))),
            ..Readings::default()
        }
    })
}

fn delayed(secs: f64) -> [Readings; THIRDS] {
    thirds(|third| mean_cosine(third, secs))
}

#[test]
fn a_delay_is_found_at_every_length_and_a_spaced_pair_is_one() {
    let mut cases = 0;
    for secs in [0.1e-3, 0.3e-3, 0.7e-3, 1.5e-3, 2.4e-3, 2.7e-3, 5e-3, 12e-3, 30e-3] {
        let found = cause(&delayed(secs), SPACED_SECS, |_| true);
        let (Cause::Spaced { secs: told } | Cause::Delayed { secs: told }) = found else {
            panic!("{secs}: {found:?}")
        };
        assert!((told / secs - 1.0).abs() < 0.01, "{secs}: {told}");
        assert_eq!(matches!(found, Cause::Spaced { .. }), secs <= SPACED_SECS, "{secs}: {found:?}");
        cases += 1;
    }
    assert_eq!(cases, 9);
}

#[test]
fn an_inverted_channel_is_one_whatever_sound_is_beside_it() {
    assert_eq!(cause(&thirds(|_| -1.0), SPACED_SECS, |_| true), Cause::Inverted);
    // With unrelated sound in both channels, correlation and coherence fall together.
    let mut weak = thirds(|_| -1.0);
    for third in &mut weak {
        (third.correlation, third.coherence, third.out_of_step) = (Some(-0.45), Some(0.2), Some(0.2));
    }
    assert_eq!(cause(&weak, SPACED_SECS, |_| true), Cause::Inverted);
}

#[test]
fn what_no_single_delay_explains_stays_unexplained() {
    // In phase and opposed by turns, as tones in a room.
    assert_eq!(
        cause(&thirds(|third| if third % 3 == 0 { -1.0 } else { 1.0 }), SPACED_SECS, |_| true),
        Cause::Unexplained
    );
    // A quarter turn everywhere: the two halves of a comb, or an all-pass.
    assert_eq!(cause(&thirds(|_| 0.0), SPACED_SECS, |_| true), Cause::Unexplained);
    // Lows inverted, the rest in phase.
    let lows = thirds(|third| if third < 9 { -1.0 } else { 1.0 });
    assert_eq!(cause(&lows, SPACED_SECS, |_| true), Cause::Unexplained);
    assert!(opposed(&lows[..9]) && !opposed(&lows) && !opposed(&lows[..3]));
    // Three thirds say nothing.
    assert_eq!(cause(&delayed(3e-3), SPACED_SECS, |third| (14..17).contains(&third)), Cause::Unexplained);
    assert_eq!(cause(&[Readings::default(); THIRDS], SPACED_SECS, |_| true), Cause::Unexplained);
}

#[test]
fn inverting_a_channel_wins_what_side_has_over_middle() {
    let power = |re| StereoPower { ll: 1.0, rr: 1.0, re };
    let gain = |re| inversion_gain_db(&[power(re); THIRDS]).expect("sound");
    assert!(gain(0.0).abs() < 1e-9);
    // Side 1.5 against middle 0.5: 10·lg 3.
    assert!((gain(-0.5) - 4.771).abs() < 1e-3 && (gain(0.5) + 4.771).abs() < 1e-3);
    assert!(gain(-1.0) > 100.0);
    assert_eq!(inversion_gain_db(&[]), None);
    let broken = StereoPower { ll: f64::INFINITY, rr: 1.0, re: 0.0 };
    assert_eq!(inversion_gain_db(&[broken]), None);
}
