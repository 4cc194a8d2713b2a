//! Each sentence as a reader sees it.

mod pairs;
mod verdicts;

use super::*;
use plumbline_programme::arrival::Cause;
use plumbline_programme::findings::Concerned;
use plumbline_programme::joins::Side;
use plumbline_programme::{Join, LayerId, Role};

fn layer(name: &str) -> Concerned {
    Concerned { id: LayerId(1), name: name.to_owned() }
}

fn finding(kind: Kind, worst: f64) -> Finding {
    Finding {
        id: 1,
        kind,
        grid: Grid::Song,
        start: 0,
        end: 10,
        open: false,
        span: None,
        worst,
        at: 0,
        grade: Grade::Clear,
        cause: None,
        right: None,
        role: None,
        layers: Vec::new(),
        follows: None,
        seen: false,
    }
}

/// No-break spaces read as spaces here.
fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

#[test]
fn the_worst_value_carries_its_unit_and_its_decimals() {
    let cases = [
        (Kind::OutOfStep, 0.917, "0.92"),
        (Kind::MonoLoss, 6.24, "6.2 dB"),
        (Kind::MonoLoss, f64::INFINITY, "all of it"),
        (Kind::OneSided, 42.0, "42.0 dB"),
        (Kind::OneSided, f64::INFINITY, "digital silence"),
        (Kind::TruePeak, 1.53, "1.5 dBTP"),
        (Kind::TruePeak, -0.44, "−0.4 dBTP"),
        (Kind::Clipped, 1.0, "1 sample"),
        (Kind::Clipped, 175.0, "175 samples"),
        (Kind::Dropout, 200.0, "200 ms"),
        (Kind::Wind, 9.3, "9.3 dB"),
        (Kind::Balance, -18.0, "18 points under"),
        (Kind::Balance, 1.2, "1 point over"),
        (Kind::Covered, 12.44, "12.4 dB"),
        (Kind::Jump, 1.57, "1.6 ×"),
        (Kind::Gap, 48_000.0, "48000 samples"),
    ];
    for (kind, worst, said) in cases {
        assert_eq!(plain(&super::worst(&finding(kind, worst))), said, "{kind:?} {worst}");
    }
    for kind in Kind::ALL {
        assert_eq!(super::worst(&finding(kind, f64::NAN)), DASH, "{kind:?}");
        assert_eq!(super::worst(&finding(kind, f64::NEG_INFINITY)), DASH, "{kind:?}");
    }
}

#[test]
fn advice_names_layers_place_channel_and_role() {
    let swells = || vec![layer("Swells")];
    let lows = Some(Span { low_hz: 17.8, high_hz: 3_548.0 });
    let mids = Some(Span { low_hz: 354.8, high_hz: 1_122.0 });
    let highs = Some(Span { low_hz: 2_239.0, high_hz: 22_387.0 });
    let cases = [
        (
            Finding {
                span: mids,
                layers: swells(),
                cause: Some(Cause::Inverted),
                ..finding(Kind::OutOfStep, 0.9)
            },
            "Invert the polarity of one channel of Swells: left and right oppose each other from 355 Hz to 1.12 kHz.",
        ),
        (
            Finding {
                span: lows,
                layers: swells(),
                cause: Some(Cause::Delayed { secs: 0.003 }),
                ..finding(Kind::OutOfStep, 0.9)
            },
            "Swells reaches left and right twice below 3.55 kHz: shorten or remove the delay between the channels.",
        ),
        (
            Finding { span: lows, cause: Some(Cause::InvertedInPart), ..finding(Kind::OutOfStep, 0.9) },
            "Left and right oppose each other below 3.55 kHz only, so inverting a channel would cost more elsewhere: \
             check it in mono.",
        ),
        (
            Finding { layers: vec![layer("Boom"), layer("Lavalier")], ..finding(Kind::OutOfStep, 0.9) },
            "Boom and Lavalier reach left and right out of step, and no cause is known: check it in mono.",
        ),
        (
            finding(Kind::OutOfStep, 0.9),
            "One sound reaches left and right out of step, and no cause is known: check it in mono.",
        ),
        (
            Finding { span: highs, layers: swells(), ..finding(Kind::MonoLoss, 6.2) },
            "Mono loses 6.2 dB of Swells above 2.24 kHz: check it in mono.",
        ),
        (finding(Kind::MonoLoss, f64::INFINITY), "Mono loses everything: check it in mono."),
        (
            Finding { right: Some(true), ..finding(Kind::OneSided, f64::INFINITY) },
            "The right channel is silent: check its cable, its pan and its routing.",
        ),
        (
            Finding { right: Some(false), layers: swells(), ..finding(Kind::OneSided, 44.0) },
            "The left channel of Swells is 44.0 dB under the other: check its cable, its pan and its routing.",
        ),
        (
            Finding { right: Some(true), ..finding(Kind::TruePeak, 1.5) },
            "Turn the level down here, or limit it: the true peak in the right channel comes to 1.5 dBTP, over the \
             ceiling.",
        ),
        (
            finding(Kind::Clipped, 1.0),
            "1 sample is at full scale: turn down what comes before, or take the passage again from a source that \
             is not clipped.",
        ),
        (
            finding(Kind::Dropout, 200.0),
            "The sound breaks off into digital silence for 200 ms: look for a hole between clips, a cut without a \
             fade, or a transfer that lost samples.",
        ),
        (
            Finding {
                span: Some(Span { low_hz: 20.0, high_hz: 160.0 }),
                layers: vec![layer("Tower")],
                ..finding(Kind::Wind, 9.3)
            },
            "High-pass Tower below 160 Hz, or use another take: its lows stand 9.3 dB over the rest and are unrelated, \
             as in wind.",
        ),
        (
            Finding { role: Some(Role::Natural), ..finding(Kind::Balance, -18.0) },
            "Natural is 18 points under its aim: raise it, or lower the others.",
        ),
        (
            Finding { role: Some(Role::Foley), ..finding(Kind::Balance, 12.0) },
            "Foley is 12 points over its aim: lower it, or raise the others.",
        ),
        (
            Finding {
                layers: vec![layer("Rope"), layer("Tower"), layer("Crowd")],
                ..finding(Kind::Covered, 12.4)
            },
            "Raise Rope, or make room for it in Tower and Crowd: the others stand 12.4 dB over it.",
        ),
        (
            finding(Kind::Gap, 512.0),
            "512 samples did not reach the analyser: raise the host's buffer, and play the passage again to have it \
             measured.",
        ),
    ];
    for (finding, said) in cases {
        assert_eq!(plain(&advice(&finding)), said);
    }
}

#[test]
fn advice_is_one_sentence_whatever_the_numbers_are() {
    let mut cases = 0;
    let spans = [
        None,
        Some(Span { low_hz: f64::NAN, high_hz: 100.0 }),
        Some(Span { low_hz: 0.0, high_hz: f64::INFINITY }),
        Some(Span { low_hz: 100.0, high_hz: 200.0 }),
    ];
    let causes = [
        None,
        Some(Cause::Inverted),
        Some(Cause::InvertedInPart),
        Some(Cause::Opposed),
        Some(Cause::Delayed { secs: f64::NAN }),
        Some(Cause::Spaced { secs: 0.001 }),
        Some(Cause::Unexplained),
    ];
    for kind in Kind::ALL {
        for worst in [0.0, 7.5, -7.5, 1e300, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for span in spans {
                for cause in causes {
                    for layers in [vec![], vec![layer("")], vec![layer("A\nB\u{202e}"); 9]] {
                        let said = advice(&Finding { span, cause, layers, ..finding(kind, worst) });
                        assert!(said.ends_with('.') && !said.trim_end_matches('.').contains(". "), "{said}");
                        for bad in ["NaN", "inf", DASH, "  ", "\n", "\u{202e}"] {
                            assert!(!said.contains(bad), "{bad:?} in {said:?}");
                        }
                        cases += 1;
                    }
                }
            }
        }
    }
    assert_eq!(cases, 11 * 7 * 4 * 7 * 3);
}

#[test]
fn concerns_names_layers_role_and_channel() {
    let of = |f: Finding| super::concerns(&f);
    assert_eq!(of(finding(Kind::Gap, 1.0)), "");
    assert_eq!(of(Finding { right: Some(true), ..finding(Kind::OneSided, 50.0) }), "right channel");
    assert_eq!(of(Finding { role: Some(Role::Natural), ..finding(Kind::Balance, 9.0) }), "Natural");
    let layers = vec![layer("Rope"), layer("Tower")];
    assert_eq!(of(Finding { layers: layers.clone(), ..finding(Kind::Covered, 9.0) }), "Rope under Tower");
    let both = Finding { layers, right: Some(false), ..finding(Kind::MonoLoss, 9.0) };
    assert_eq!(of(both), "Rope and Tower, left channel");
    let many = Finding { layers: vec![layer("A"); 9], ..finding(Kind::MonoLoss, 9.0) };
    assert_eq!(of(many), "A, A, A and 6 more");
}

#[test]
fn names_stay_on_one_line_and_end() {
    assert_eq!(name(" a\r\n\tb\0c "), "a b c");
    assert_eq!(name("\u{202e}gnirts\u{200b}"), "gnirts");
    assert_eq!(name(" \u{feff} "), "a layer without a name");
    assert_eq!(name(&"é".repeat(70)).chars().count(), 65);
}

#[test]
fn spans_and_lengths_read_plainly() {
    assert_eq!(span(None), "all");
    assert_eq!(plain(&span(Some(Span { low_hz: 200.0, high_hz: 800.0 }))), "200–800 Hz");
    let cases = [
        (0.1, "0.1 s"),
        (9.96, "10 s"),
        (12.4, "12 s"),
        (59.6, "1 min 00 s"),
        (65.0, "1 min 05 s"),
        (3_599.7, "1 h 00 min"),
        (3_840.0, "1 h 04 min"),
        (0.0, "0.0 s"),
    ];
    for (secs, said) in cases {
        assert_eq!(plain(&length(secs)), said, "{secs}");
    }
    for none in [-1.0, f64::NAN, f64::INFINITY, 1e300] {
        assert_eq!(length(none), DASH, "{none}");
    }
}

#[test]
fn a_join_says_what_jumps_and_leaves_the_rest_out() {
    let side = |loudness, tone, width, natural| Side {
        tenths: 20,
        loudness_lufs: Some(loudness),
        tone_db_per_octave: Some(tone),
        side_share: Some(width),
        shares: [Some(natural), None, None, None, None],
        ..Side::default()
    };
    let before = side(-26.0, -4.5, 0.24, 0.72);
    let join =
        Join { before, after: side(-16.6, -0.6, 0.72, 0.24), takes_secs: Some(0.3), ..Join::default() };
    assert_eq!(
        plain(&super::join(&join)),
        "9.4 LU louder, brighter by 3.9 dB/oct, 48 points wider, 48 points less Natural, in 0.3 s"
    );
    let back = Join { before: join.after, after: join.before, takes_secs: None, ..join.clone() };
    assert_eq!(
        plain(&super::join(&back)),
        "9.4 LU quieter, darker by 3.9 dB/oct, 48 points narrower, 48 points more Natural"
    );
    let small = Join { after: side(-25.0, -4.0, 0.27, 0.70), ..join.clone() };
    assert_eq!(super::join(&small), "no jump found");
    assert_eq!(super::join(&Join::default()), "nothing to compare");
    let silent = Side { tenths: 20, ..Side::default() };
    let into = Join { after: silent, ..join.clone() };
    assert_eq!(plain(&super::join(&into)), "into silence, in 0.3 s");
    let from = Join { before: silent, takes_secs: None, ..join.clone() };
    assert_eq!(super::join(&from), "out of silence");
    let unheard = Join { before: Side::default(), takes_secs: None, ..join.clone() };
    assert_eq!(super::join(&unheard), "nothing before it to compare with");
    let broken = Join { after: side(f64::NAN, f64::INFINITY, f64::NAN, f64::NAN), ..join };
    assert_eq!(super::join(&broken), "no jump found");
}
