//! Surveys made by hand.

use plumbline_measure::bands::THIRDS;
use plumbline_measure::{BandEdges, FrameRate, Grid, Maybe, Readings, SampleRate, Span, Timecode};
use plumbline_programme::arrival::SPACED_SECS;
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::{Concerned, Grade};
use plumbline_programme::joins::Side;
use plumbline_programme::pair::{Agreed, Drift, Polarity, Reading, ThirdReading, Track};
use plumbline_programme::session::{LeftOut, LossByLayer, Match, Part, Unaccounted};
use plumbline_programme::survey::{Bus, File, Layer, Loss, Pair, Pairs, Sound, Survey};
use plumbline_programme::verdict::Verdicts;
use plumbline_programme::{
    BalanceTarget, Column, Finding, Join, Kind, Lanes, LayerId, Mic, MinMax, PairLine, PassageLine,
    Recording, Role, Rules,
};

fn some(value: f64) -> Maybe {
    Maybe::new(Some(value))
}

fn readings(level: f64) -> Readings {
    Readings {
        level_dbfs: Some(level),
        channel_dbfs: [Some(level - 3.0), Some(level - 3.0)],
        side_share: Some(0.125),
        correlation: Some(0.75),
        coherence: Some(0.8),
        out_of_step: Some(0.1),
        balance_db: Some(0.5),
        mono_loss_db: Some(-0.6),
    }
}

fn sound(level: f64) -> Sound {
    let mut sound = Sound { channels: 2, lowest_correlation: Some(-0.2), ..Sound::default() };
    sound.spectral.thirds = std::array::from_fn(|third| readings(level - 10.0 - third as f64));
    sound.spectral.bands = [readings(level - 6.0); 6];
    sound.spectral.whole = readings(level);
    sound.loudness.integrated_lufs = Some(level);
    sound.loudness.true_peak_dbtp = [Some(-3.0), Some(-2.0)];
    sound.loudness.measured_secs = 30.0;
    sound
}

fn part(share: f64) -> Part {
    Part {
        share: Some(share),
        lead: Some(share / 2.0),
        loudness_lufs: Some(-24.0),
        thirds: [some(share); THIRDS],
        bands: [some(share); 6],
    }
}

fn pair() -> Pair {
    let mut thirds = [ThirdReading::default(); THIRDS];
    for third in &mut thirds {
        third.coherence = some(0.9);
        third.under_loudest_db = some(-5.0);
        third.gain_db = some(2.0);
    }
    let agreed = Agreed {
        delay_secs: -0.005,
        sigma_secs: 1e-5,
        polarity: Polarity::Inverted,
        confidence: 0.8,
        second_secs: None,
        drift: Some(Drift { ppm: 12.0, sigma_ppm: 1.0, plain: true }),
        windows: [9, 10],
    };
    let reading = Reading {
        outcome: Ok(agreed),
        thirds,
        coherence: Some(0.9),
        level_db: Some(-2.0),
        won: Some(0.5),
        net_gain_db: Some(2.0),
    };
    let line = PairLine {
        mics: [Mic::Layer(LayerId(1)), Mic::Layer(LayerId(2))],
        reading,
        cost_db: Some(1.0),
        rate_hz: 48_000,
        spaced_secs: SPACED_SECS,
        trace: Vec::new(),
        delays: Vec::new(),
        heard: None,
        quiet_secs: 0.0,
        stretches: Vec::new(),
    };
    Pair {
        names: ["boom".to_owned(), "lavalier".to_owned()],
        line,
        read_at_secs: Some(12.0),
        delays: (0..20).map(|at| [f64::from(at), -0.005 + f64::from(at) * 1e-6]).collect(),
        windows: [28, 20],
    }
}

/// A mix of two layers that has one of everything.
pub(super) fn small() -> Survey {
    let layer = |id: u64, name: &str, role, share| Layer {
        id: LayerId(id),
        name: name.to_owned(),
        role,
        files: vec![File {
            path: format!("stems/{name}.wav"),
            channels: 2,
            frames: Some(1_440_000),
            ..File::default()
        }],
        sound: sound(-24.0),
        recording: Recording::default(),
        contradiction: None,
        part: part(share),
    };
    let mut layers = vec![layer(1, "tower", Role::Natural, 0.7), layer(2, "chisel", Role::Foley, 0.3)];
    layers[1].sound.spectral.whole.mono_loss_db = Some(f64::NEG_INFINITY);
    let span = Span { low_hz: 200.0, high_hz: 800.0 };
    let column = Column {
        tenths: 1,
        momentary: MinMax { low: some(-30.0), high: some(-20.0) },
        short_term: MinMax { low: some(-24.0), high: some(-23.0) },
        width: MinMax { low: some(0.1), high: some(0.2) },
        correlation: some(0.5),
        shares: [some(0.7), some(0.3), Maybe::new(None), Maybe::new(None), Maybe::new(None)],
        ..Column::default()
    };
    let nothing = Part::default();
    Survey {
        version: "0.1.0".to_owned(),
        date: Some("2026-11-26 02:00:00".to_owned()),
        rate: SampleRate::new(48_000).expect("measured"),
        frames: 1_440_000,
        start: Timecode::from_fields(FrameRate::F25, [1, 0, 0, 0]).expect("a label"),
        target: Target::default(),
        target_name: Some("EBU R 128".to_owned()),
        balance: BalanceTarget::default(),
        rules: Rules::default(),
        band_edges: BandEdges::default(),
        celsius: 20.0,
        bus: Bus {
            name: "Mix".to_owned(),
            is_mix: true,
            files: vec![File { path: "stems/mix.wav".to_owned(), channels: 2, ..File::default() }],
            sound: sound(-23.0),
        },
        layers,
        roles: [part(0.7), part(0.3), nothing, nothing, nothing],
        unaccounted: Unaccounted { db: Some(1.5) },
        matches: vec![Match {
            change: LayerId(2),
            like: LayerId(1),
            change_db: std::array::from_fn(|third| some(third as f64 - 15.0)),
            spread_db: [some(2.0); THIRDS],
            louder_db: 3.0,
            tenths: 120,
        }],
        pairs: Pairs { pairs: vec![pair()], uncompared: 0 },
        losses: vec![Loss {
            start: 96_000,
            end: 192_000,
            loss: LossByLayer {
                band: 2,
                span,
                loss_db: -9.0,
                left_out: vec![LeftOut { layers: vec![LayerId(2)], loss_db: None }],
                explained: 0.5,
            },
        }],
        verdicts: Verdicts::default(),
        findings: vec![Finding {
            id: 1,
            kind: Kind::Dropout,
            grid: Grid::Song,
            start: 12,
            end: 15,
            open: false,
            span: Some(span),
            worst: 300.0,
            at: 13,
            grade: Grade::Grave,
            cause: None,
            right: None,
            role: None,
            layers: vec![Concerned { id: LayerId(1), name: "tower".to_owned() }],
            follows: None,
            seen: false,
        }],
        joins: vec![Join {
            id: 1,
            at: 50,
            sample: 240_000,
            grid: Grid::Song,
            found: true,
            before: Side { tenths: 20, loudness_lufs: Some(-30.0), ..Side::default() },
            after: Side { tenths: 20, loudness_lufs: Some(-20.0), ..Side::default() },
            ..Join::default()
        }],
        marks: Vec::new(),
        dropped: 0,
        passage: PassageLine::default(),
        lanes: Lanes {
            again: false,
            grid: Grid::Song,
            first: 0,
            per_column: 1,
            left: 0,
            right: 300,
            columns: vec![column; 300],
            extent: [0, 300],
            follows: false,
            newest: 299,
        },
    }
}

/// The same with names that contain markup, and NaN and ∞ wherever a number can be.
pub(super) fn hostile() -> Survey {
    const NONE: [f64; 3] = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
    let mut survey = small();
    let name = "</title><script>alert(1)</script>\u{202e}\r\n=\"1\"";
    survey.bus.name = name.to_owned();
    survey.target_name = Some(name.to_owned());
    survey.date = Some(name.to_owned());
    survey.celsius = f64::NAN;
    survey.unaccounted.db = Some(f64::NAN);
    survey.matches[0].louder_db = f64::NAN;
    survey.matches[0].change_db = std::array::from_fn(|third| some(NONE[third % 3]));
    survey.losses[0].loss.loss_db = f64::NEG_INFINITY;
    survey.losses[0].loss.explained = f64::NAN;
    survey.findings[0].worst = f64::INFINITY;
    survey.findings[0].layers[0].name = name.to_owned();
    survey.joins[0].before.loudness_lufs = Some(f64::NAN);
    for (at, layer) in survey.layers.iter_mut().enumerate() {
        layer.name = name.to_owned();
        layer.files[0].path = name.to_owned();
        layer.files[0].channel_names = vec![name.to_owned()];
        layer.files[0].start = i64::MAX;
        layer.sound.spectral.thirds = std::array::from_fn(|third| {
            let none = Some(NONE[(third + at) % 3]);
            Readings {
                level_dbfs: none,
                channel_dbfs: [none; 2],
                side_share: none,
                correlation: none,
                coherence: none,
                out_of_step: none,
                balance_db: none,
                mono_loss_db: none,
            }
        });
        layer.sound.spectral.whole = layer.sound.spectral.thirds[at];
        layer.sound.loudness.integrated_lufs = Some(NONE[at]);
        layer.part.share = Some(NONE[at]);
        layer.part.thirds = [some(NONE[at]); THIRDS];
    }
    survey.bus.sound = survey.layers[0].sound.clone();
    survey.bus.sound.meters.dc = [Some(f64::NAN), Some(f64::INFINITY)];
    survey.roles[0] = survey.layers[0].part;
    let pair = &mut survey.pairs.pairs[0];
    pair.names = [name.to_owned(), String::new()];
    pair.delays = NONE.iter().map(|none| [*none, *none]).collect();
    pair.line.cost_db = Some(f64::NAN);
    if let Ok(agreed) = &mut pair.line.reading.outcome {
        agreed.sigma_secs = f64::INFINITY;
        agreed.drift = Some(Drift { ppm: f64::NAN, sigma_ppm: f64::INFINITY, plain: true });
    }
    let unheard = Pair {
        line: PairLine { reading: Track::new().reading(), cost_db: None, ..pair.line.clone() },
        delays: Vec::new(),
        read_at_secs: Some(f64::NAN),
        ..pair.clone()
    };
    survey.pairs.pairs.push(unheard);
    for column in &mut survey.lanes.columns {
        column.width = MinMax { low: some(f64::NAN), high: some(f64::INFINITY) };
        column.shares = [some(f64::INFINITY); 5];
    }
    survey
}
