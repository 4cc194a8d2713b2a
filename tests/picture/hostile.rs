//! No view, however invalid, crashes the screen.

mod pages;
mod pairs;
mod sessions;
mod time;

use egui::{Vec2, vec2};
use plumbline_measure::reading::Maybe;
use plumbline_measure::{
    Averaging, BandEdges, Grid, Loudness, Meters, Position, Readings, Span, Spectral, Tenth,
};
use plumbline_programme::arrival::Cause;
use plumbline_programme::recording::{Contradiction, Technique};
use plumbline_programme::verdict::{BandLoss, Mono, OutOfStep, Phase, Verdicts, Width};
use plumbline_programme::{Clock, Health, Stretch, View};
use plumbline_screen::settings::{Reference, Tilt};
use plumbline_screen::{Screen, Settings};
use plumbline_tests::picture::frame;
use plumbline_tests::views;
use proptest::collection::vec;
use proptest::prelude::*;

fn any64() -> impl Strategy<Value = f64> {
    prop_oneof![
        proptest::num::f64::ANY,
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(1e308),
        -120.0..20.0,
        -1.0..1.0
    ]
}

fn any32() -> impl Strategy<Value = f32> {
    prop_oneof![
        proptest::num::f32::ANY,
        Just(f32::NAN),
        Just(f32::INFINITY),
        Just(f32::NEG_INFINITY),
        -120.0_f32..20.0,
        0.0_f32..30_000.0
    ]
}

fn maybe() -> impl Strategy<Value = Option<f64>> {
    proptest::option::of(any64())
}

fn readings() -> impl Strategy<Value = Readings> {
    vec(maybe(), 9).prop_map(|v| Readings {
        level_dbfs: v[0],
        channel_dbfs: [v[1], v[2]],
        side_share: v[3],
        correlation: v[4],
        coherence: v[5],
        out_of_step: v[6],
        balance_db: v[7],
        mono_loss_db: v[8],
    })
}

fn spectral() -> impl Strategy<Value = Spectral> {
    (vec(any32(), 0..40), vec(readings(), 4)).prop_map(|(lines_dbfs, r)| Spectral {
        lines_dbfs,
        thirds: std::array::from_fn(|i| r[i % 4]),
        bands: std::array::from_fn(|i| r[i % 3]),
        whole: r[3],
    })
}

fn causes(secs: f64) -> [Cause; 6] {
    [
        Cause::Inverted,
        Cause::InvertedInPart,
        Cause::Opposed,
        Cause::Delayed { secs },
        Cause::Spaced { secs },
        Cause::Unexplained,
    ]
}

fn contradictions(v: &[f64]) -> [Contradiction; 4] {
    [
        Contradiction::NotDecoded { under_db: v[0] },
        Contradiction::CapsuleInverted { below_hz: v[1] },
        Contradiction::FurtherApart { secs: v[2], most_secs: v[3] },
        Contradiction::MoreThanOneSound { coherence: v[4] },
    ]
}

fn verdicts() -> impl Strategy<Value = Verdicts> {
    (vec(any64(), 6), 0_usize..13, any::<bool>(), 0_usize..9).prop_map(|(v, which, flag, band)| {
        let found = OutOfStep {
            span: Span { low_hz: v[0], high_hz: v[1] },
            worst: v[2],
            worst_hz: v[3],
            correlation: v[4],
            cause: causes(v[5])[band % 6],
            broad: flag,
            thirds: which,
        };
        let worst = BandLoss { band, loss_db: v[5] };
        let mut verdicts = Verdicts {
            width: match which {
                0 => Width::Unknown,
                1 => Width::Mono,
                2 => Width::OneSided { right: flag },
                3 => Width::Panned { balance_db: v[0] },
                4 => Width::Narrow { side_share: v[0] },
                5 => Width::Wide { side_share: v[0] },
                6 => Width::Spacious { side_share: v[0], coherence: v[1] },
                7 => Width::Spaced { side_share: v[0], secs: v[1] },
                8..12 => Width::Contradicts {
                    technique: Technique::ALL[band % 6],
                    contradiction: contradictions(&v)[which - 8],
                },
                _ => Width::OutOfStep(found),
            },
            mono: match which % 5 {
                0 => Mono::Unknown,
                1 => Mono::Holds { loss_db: v[0] },
                2 => Mono::Thins { loss_db: v[0], worst },
                3 => Mono::OneChannel { loss_db: v[0] },
                _ => Mono::Loses { loss_db: v[0], worst, fixable: flag },
            },
            phase: match (which + usize::from(flag)) % 4 {
                0 => Phase::Unknown,
                1 => Phase::InStep,
                2 if band < 5 => Phase::Unrelated,
                2 => Phase::MostlyUnrelated { common: [true; 6] },
                _ => Phase::OutOfStep(found),
            },
            ..Verdicts::default()
        };
        verdicts.delivery.off_target_lu = Some(v[0]);
        verdicts.delivery.loudness_off = flag;
        verdicts.delivery.true_peak_over_db = Some(v[1]);
        (verdicts.delivery.overs, verdicts.delivery.flat) = (u64::MAX, u64::MAX);
        verdicts.delivery.dc = Some(v[2]);
        verdicts
    })
}

fn tenth() -> impl Strategy<Value = Tenth> {
    (any::<i64>(), maybe(), maybe(), any::<bool>()).prop_map(|(index, short_term, lowest, song)| Tenth {
        grid: if song { Grid::Song } else { Grid::Clock },
        index,
        short_term: Maybe::new(short_term),
        lowest_correlation: Maybe::new(lowest),
        ..Tenth::default()
    })
}

fn clock() -> impl Strategy<Value = Clock> {
    let rates = prop_oneof![Just(0), Just(22_050), Just(48_000), Just(384_000), any::<u32>()];
    (any::<i64>(), rates, any::<(bool, bool, bool)>(), any::<u8>()).prop_map(
        |(sample, rate_hz, flags, channels)| Clock {
            position: Position { grid: if flags.0 { Grid::Song } else { Grid::Clock }, sample },
            rate_hz,
            playing: flags.1,
            running: flags.2,
            channels,
        },
    )
}

prop_compose! {
    fn view()(
        serial in any::<u64>(),
        clock in clock(),
        line_hz in vec(any32(), 0..60),
        averages in [spectral(), spectral(), spectral()],
        hold_dbfs in vec(any32(), 0..60),
        m in vec(maybe(), 10),
        l in vec(maybe(), 8),
        secs in any64(),
        scope in vec([any32(), any32()], 0..60),
        verdicts in verdicts(),
        counts in any::<[u64; 6]>(),
        recent in vec(tenth(), 0..30),
        session in sessions::session(),
        (mics, trial) in (pairs::mics(), pairs::trial()),
        balance in sessions::verdict(),
        (lanes, log, past) in (time::lanes(), time::log(), time::past()),
    ) -> View {
        View {
            serial,
            clock,
            line_hz: line_hz.into(),
            averages,
            hold_dbfs,
            band_edges: BandEdges::default(),
            meters: Meters {
                correlation: m[0],
                balance_db: m[1],
                level_fast_dbfs: m[2],
                level_slow_dbfs: m[3],
                peak_dbfs: [m[4], m[5]],
                max_peak_dbfs: [m[6], m[7]],
                overs: [counts[0], counts[1]],
                flat: [counts[1], counts[0]],
                dc: [m[8], m[9]],
            },
            loudness: Loudness {
                momentary_lufs: l[0],
                short_term_lufs: l[1],
                integrated_lufs: l[2],
                range_lu: l[3],
                max_momentary_lufs: l[4],
                max_short_term_lufs: l[5],
                true_peak_dbtp: [l[6], l[7]],
                measured_secs: secs,
            },
            scope,
            verdicts: Verdicts { balance, ..verdicts },
            session: session.into(),
            mics: mics.into(),
            trial,
            health: Health { gaps: counts[2], lost_frames: counts[3], not_finite: counts[4], jumps: counts[5] },
            recent,
            lanes: lanes.into(),
            log: log.into(),
            past,
        }
    }
}

fn size() -> impl Strategy<Value = Vec2> {
    prop_oneof![
        Just(vec2(1_180.0, 760.0)),
        Just(vec2(760.0, 480.0)),
        (0.0_f32..3_000.0, 0.0_f32..2_000.0).prop_map(|(w, h)| vec2(w, h)),
        (0.0_f32..100.0, 0.0_f32..100.0).prop_map(|(w, h)| vec2(w, h)),
    ]
}

/// Draws frames: plain, with the cursor and a reference, with each panel.
fn survive(view: &View, settings: &Settings, size: Vec2) {
    let ctx = egui::Context::default();
    let mut screen = Screen::new(settings.clone());
    let key = |key| egui::Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: egui::Modifiers::NONE,
    };
    let frames: [Vec<egui::Event>; 10] = [
        vec![],
        vec![key(egui::Key::ArrowLeft), key(egui::Key::S)],
        vec![egui::Event::PointerMoved(egui::pos2(size.x * 0.4, size.y * 0.5))],
        vec![egui::Event::Text(",".to_owned())],
        vec![egui::Event::Text("?".to_owned())],
        vec![key(egui::Key::Num2), key(egui::Key::Escape), key(egui::Key::Escape)],
        vec![key(egui::Key::ArrowDown), key(egui::Key::ArrowRight), key(egui::Key::O)],
        vec![egui::Event::PointerMoved(egui::pos2(size.x * 0.3, size.y * 0.3))],
        vec![egui::Event::PointerMoved(egui::pos2(size.x * 0.3, size.y * 0.7)), key(egui::Key::ArrowUp)],
        vec![key(egui::Key::N)],
    ];
    for events in frames {
        frame(&ctx, &mut screen, view, size, events);
    }
}

/// Draws frames of one page: plain, with the pointer on it, and with every key of the help list.
fn survive_on(view: &View, page: egui::Key, size: Vec2) {
    use egui::Key;
    let ctx = egui::Context::default();
    let mut screen = Screen::new(Settings::default());
    let key = |key| egui::Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: egui::Modifiers::NONE,
    };
    let keys =
        [page, Key::ArrowDown, Key::ArrowDown, Key::Enter, Key::V, Key::Delete, Key::O, Key::ArrowUp, Key::O];
    for pressed in keys {
        frame(&ctx, &mut screen, view, size, vec![key(pressed)]);
    }
    for (x, y) in [(0.3, 0.3), (0.8, 0.6), (0.3, 0.9)] {
        let at = egui::pos2(size.x * x, size.y * y);
        frame(&ctx, &mut screen, view, size, vec![egui::Event::PointerMoved(at)]);
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 160,
        rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn any_view_at_any_size(
        view in view(),
        size in size(),
        averaging in 0_usize..3,
        tilt in 0_usize..3,
        top_db in -60.0..24.0,
        levels in vec(any32(), 0..30),
        balance in sessions::target(),
        stretch in 0_usize..3,
    ) {
        let settings = Settings {
            averaging: Averaging::ALL[averaging],
            tilt: Tilt::ALL[tilt],
            top_db,
            span_db: 20.0,
            reference: Some(Reference::of(&view.line_hz, &levels)),
            balance,
            stretch: Stretch::ALL[stretch],
            ..Settings::default()
        };
        survive(&view, &settings, size);
    }
}

/// A lane lower than its marks once made `clamp` panic, because the lower bound exceeded the upper one.
#[test]
fn windows_too_small_for_anything() {
    let mut ran = 0;
    for width in (0_u16..900).step_by(60) {
        for height in (0_u16..520).step_by(13) {
            let size = vec2(f32::from(width), f32::from(height));
            let mut screen = Screen::new(Settings::default());
            frame(&egui::Context::default(), &mut screen, &views::silence(), size, vec![]);
            ran += 1;
        }
    }
    assert_eq!(ran, 15 * 40);
}

#[test]
fn made_up_moments_at_every_rate_and_with_one_line() {
    let mut ran = 0;
    for moment in views::moments() {
        for rate_hz in [22_050, 44_100, 48_000, 96_000, 192_000, 384_000] {
            for lines in [usize::MAX, 1, 0] {
                let mut view = moment.view.clone();
                view.clock.rate_hz = rate_hz;
                view.clock.channels = 1;
                if lines == 1 {
                    // Bands narrower than any text, all below the axis.
                    let edges = [10.0, 10.6, 11.3, 12.0, 12.8, 13.6, 14.5];
                    view.band_edges = BandEdges::new(edges).expect("edges a twelfth of an octave apart");
                }
                view.line_hz = view.line_hz.iter().copied().take(lines).collect();
                survive(&view, &Settings::default(), vec2(900.0, 600.0));
                ran += 1;
            }
        }
    }
    assert_eq!(ran, 7 * 6 * 3);
}

#[test]
fn names_of_any_script_and_length_are_painted() {
    let ctx = egui::Context::default();
    let long = "Glockenturm ".repeat(5_000);
    for name in ["", " \u{0}\n\t", "鐘楼", "🔔", "e\u{301}\u{202e}x", long.as_str()] {
        let mut screen = Screen::new(Settings::default());
        let info = plumbline_screen::Info { name, ..plumbline_tests::picture::info(false) };
        let input = egui::RawInput::default();
        let output = ctx.run_ui(input, |ui| {
            screen.ui(ui, &views::spacious(), &info);
        });
        output.drop_without_applying_deltas();
    }
}
