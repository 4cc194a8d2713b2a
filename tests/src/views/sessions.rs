//! Synthetic sessions for pictures: a stonemason restores a bell tower, with one, four or twelve layers.
//!
//! Each layer has a weight over frequency. In every third the layers divide the level of the mix by their weights, so
//! that thirds, shares, loudness and the sum over all layers agree.

use super::{Moment, noise, out_of_step, smooth, spacious};
use plumbline_measure::Span;
use plumbline_measure::bands::{BANDS, THIRDS, third_centre_hz};
use plumbline_measure::cross::db_power;
use plumbline_measure::reading::Maybe;
use plumbline_programme::session::{
    BalanceVerdict, COVERED_DB, Covered, LayerLine, LeftOut, LossByLayer, MOST_LAYERS, Match, Part, RolePart,
    SessionNote, Unaccounted,
};
use plumbline_programme::{Balance, BalanceTarget, Identity, LayerId, Role, Session, View};

/// One synthetic layer: its frequency range, and its gain in each stretch.
#[derive(Clone, Copy, Debug)]
struct Sound {
    name: &'static str,
    role: Role,
    /// Centre in Hz and half width in octaves.
    lives: (f64, f64),
    /// Gain in dB: now, in the passage, in the programme.
    gain_db: [f64; 3],
    side_share: f64,
}

const fn sound(
    name: &'static str,
    role: Role,
    lives: (f64, f64),
    gain_db: [f64; 3],
    side_share: f64,
) -> Sound {
    Sound { name, role, lives, gain_db, side_share }
}

const AMBIENCE: Sound = sound("Tower ambience", Role::Natural, (350.0, 4.5), [0.0, 0.6, 1.0], 0.46);
const CHISEL: Sound = sound("Foley chisel", Role::Foley, (4_200.0, 1.5), [-0.8, -2.0, -3.0], 0.08);
const SWELLS: Sound = sound("Designed swells", Role::Design, (110.0, 1.6), [-2.0, -3.0, -4.0], 0.31);

/// The sounds in the order of a session: by role, then name.
const CROWD: [Sound; 11] = [
    sound("Boom at the scaffold", Role::Natural, (700.0, 2.2), [-5.0, -5.0, -4.0], 0.02),
    sound("Lavalier on the mason", Role::Natural, (420.0, 1.6), [-4.0, -4.0, -4.5], 0.0),
    AMBIENCE,
    CHISEL,
    sound("Foley rope", Role::Foley, (1_300.0, 0.8), [-200.0, -15.0, -14.0], 0.05),
    sound("Foley steps", Role::Foley, (150.0, 0.8), [-4.0, -6.0, -6.0], 0.11),
    sound("Chimes kept in reserve", Role::Design, (2_000.0, 1.0), [-200.0, -200.0, -20.0], 0.4),
    SWELLS,
    sound("Low wind bed", Role::Design, (45.0, 0.9), [-3.0, -3.0, -3.0], 0.52),
    sound("The mason tells of the bell", Role::Voice, (600.0, 1.3), [-9.0, -6.0, -7.0], 0.0),
    sound(
        "Organ heard through the nave door, far away, one take, no edits.",
        Role::Music,
        (260.0, 1.8),
        [-10.0, -10.0, -9.0],
        0.37,
    ),
];

/// The Bus page and the Layers page with one, four and twelve layers.
pub fn layered() -> Vec<Moment> {
    vec![
        Moment { name: "1-layer", view: alone() },
        Moment { name: "4-layers", view: four() },
        Moment { name: "12-layers", view: twelve() },
    ]
}

/// A mix without other layers.
pub fn alone() -> View {
    let view = spacious();
    let session = session(&view, &[], 0.0);
    with(view, session)
}

/// Three layers and their mix, without faults.
pub fn four() -> View {
    let view = spacious();
    let session = session(&view, &[AMBIENCE, CHISEL, SWELLS], 0.2);
    with(view, session)
}

/// Eleven layers and their mix, several with faults.
pub fn twelve() -> View {
    let view = out_of_step();
    let mut session = session(&view, &CROWD, 2.3);
    let id = |name: &str| session.layers.iter().find(|l| l.identity.name == name).map(|l| l.id);
    let (boom, lavalier) = (id("Boom at the scaffold"), id("Lavalier on the mason"));
    let ambience = id("Tower ambience");
    let (boom, lavalier) = (boom.unwrap_or_default(), lavalier.unwrap_or_default());
    session.loss = Some(LossByLayer {
        band: 3,
        span: Span { low_hz: 800.0, high_hz: 2_500.0 },
        loss_db: -6.8,
        left_out: vec![
            LeftOut { layers: vec![boom], loss_db: Some(-0.4) },
            LeftOut { layers: vec![boom, lavalier], loss_db: Some(-0.3) },
            LeftOut { layers: vec![lavalier], loss_db: Some(-4.9) },
            LeftOut { layers: ambience.into_iter().collect(), loss_db: Some(-7.4) },
        ],
        explained: 0.62,
    });
    for line in &mut session.layers {
        match line.identity.name.as_str() {
            "Foley steps" => line.late_secs = Some(0.3),
            "Chimes kept in reserve" => line.running = false,
            "Low wind bed" => line.on_song = false,
            "Foley rope" => line.absent = true,
            "The mason tells of the bell" => line.missed = 14,
            "Boom at the scaffold" => line.mono_loss_db = Some(-6.1),
            _ => {}
        }
    }
    session.notes = vec![SessionNote::Unreadable { files: 1 }];
    with(view, session)
}

/// As many layers as a session counts, and a note on more: for the bench and the hostile tests.
pub fn crowded() -> View {
    let view = out_of_step();
    let sounds: Vec<Sound> = (0..MOST_LAYERS - 1).map(|i| CROWD[i % CROWD.len()]).collect();
    let mut session = session(&view, &sounds, 1.4);
    session.notes = vec![SessionNote::TooMany { beyond: 3, own: false }];
    with(view, session)
}

/// One of four layers, not the mix.
pub fn of_the_chisel() -> View {
    let mut view = four();
    let mut session = (*view.session).clone();
    for line in &mut session.layers {
        line.own = line.identity.name == "Foley chisel";
    }
    view.session = session.into();
    view
}

/// A layer without a board.
pub fn without_board() -> View {
    let mut view = alone();
    let mut session = (*view.session).clone();
    session.notes =
        vec![SessionNote::Alone("no folder for this user's runtime files could be made".to_owned())];
    view.session = session.into();
    view
}

/// Nine layers just inserted: all mixes, in a host that gives no names.
pub fn only_mixes() -> View {
    let mut view = alone();
    let mut session = (*view.session).clone();
    session.layers = (1..=9_u32)
        .map(|number| LayerLine {
            id: LayerId(u64::from(number)),
            identity: Identity { name: format!("Layer {number}"), ..Identity::default() },
            own: number == 4,
            running: true,
            on_song: true,
            ..LayerLine::default()
        })
        .collect();
    view.session = session.into();
    view
}

/// Layers that cancel each other; the mix is silent.
pub fn cancelling() -> View {
    let mut view = four();
    let mut session = (*view.session).clone();
    session.unaccounted = [Unaccounted { db: Some(f64::NEG_INFINITY) }; 3];
    view.session = session.into();
    view
}

/// Sets the session of a view, with the verdicts of the measurement.
fn with(mut view: View, session: Session) -> View {
    view.verdicts.balance = Balance::verdict(&session, &BalanceTarget::default(), BalanceVerdict::default());
    view.session = session.into();
    view
}

/// Weight of a sound in a third over one stretch: a bump over log frequency on a low floor.
fn weight(sound: &Sound, stretch: usize, hz: f64) -> f64 {
    let octaves = (hz / sound.lives.0).log2() / sound.lives.1;
    db_power(sound.gain_db[stretch]) * ((-octaves * octaves).exp() + 1e-5)
}

/// The approximate gain of K-weighting in dB: a shelf above 1.5 kHz, a roll-off below 60 Hz (BS.1770-5, by eye).
fn k_db(hz: f64) -> f64 {
    4.0 * smooth(hz, 800.0, 3_000.0) - 8.0 * (1.0 - smooth(hz, 20.0, 90.0))
}

fn session(view: &View, sounds: &[Sound], unaccounted_db: f64) -> Session {
    let thirds = &view.averages[1].thirds;
    let power: Vec<f64> = thirds.iter().map(|t| t.level_dbfs.map_or(0.0, db_power)).collect();
    let layers = power.iter().map(|p| p * db_power(-unaccounted_db)).collect::<Vec<f64>>();
    // Power of each sound in each third, for each stretch.
    let powers: Vec<[Vec<f64>; 3]> = sounds
        .iter()
        .map(|sound| {
            [0, 1, 2].map(|stretch| {
                (0..THIRDS)
                    .map(|third| {
                        let hz = third_centre_hz(third);
                        let sum: f64 = sounds.iter().map(|other| weight(other, stretch, hz)).sum();
                        layers[third] * weight(sound, stretch, hz) / sum
                    })
                    .collect()
            })
        })
        .collect();
    let heard = view.loudness.short_term_lufs.unwrap_or(-23.0) - unaccounted_db;
    let mut lines: Vec<LayerLine> = sounds
        .iter()
        .enumerate()
        .map(|(index, sound)| LayerLine {
            id: LayerId(index as u64 + 1),
            identity: Identity { name: sound.name.to_owned(), role: sound.role, colour: None },
            running: true,
            on_song: true,
            parts: [0, 1, 2].map(|stretch| part(&powers, &[index], stretch, heard)),
            thirds_dbfs: std::array::from_fn(|third| level(powers[index][0][third])),
            side_share: Some(sound.side_share),
            mono_loss_db: Some(10.0 * (1.0 - sound.side_share).max(1e-9).log10()),
            ..LayerLine::default()
        })
        .collect();
    for index in 0..lines.len() {
        lines[index].covered = covered(&powers, index, &lines);
        if lines[index].parts[0].share.is_some_and(|share| share < 1e-9) {
            lines[index].side_share = None;
            lines[index].mono_loss_db = None;
        }
    }
    let roles = Role::PARTS.map(|role| {
        let of: Vec<usize> = (0..sounds.len()).filter(|i| sounds[*i].role == role).collect();
        RolePart {
            layers: u32::try_from(of.len()).unwrap_or(0),
            parts: [0, 1, 2].map(|stretch| part(&powers, &of, stretch, heard)),
        }
    });
    let mix = LayerId(sounds.len() as u64 + 1);
    let whole = &view.averages[1].whole;
    let mut own = LayerLine {
        id: mix,
        identity: Identity { name: "Bell tower".to_owned(), role: Role::Mix, colour: None },
        own: true,
        running: true,
        on_song: true,
        thirds_dbfs: std::array::from_fn(|third| level(power[third])),
        side_share: whole.side_share,
        mono_loss_db: whole.mono_loss_db,
        ..LayerLine::default()
    };
    own.parts[0].loudness_lufs = view.loudness.short_term_lufs;
    own.parts[2].loudness_lufs = view.loudness.integrated_lufs;
    lines.push(own);
    let db = (!sounds.is_empty()).then_some(unaccounted_db);
    Session {
        letter: 'A',
        matched: matched(&lines, &powers),
        layers: lines,
        roles,
        secs: [3.0, 21.4, 184.0],
        unaccounted: [Unaccounted { db }; 3],
        mix: Some(mix),
        ..Session::default()
    }
}

fn level(power: f64) -> Maybe {
    let level = 10.0 * power.log10();
    Maybe::new((level > -105.0).then_some(level))
}

/// The combined share of some sounds over a stretch; absent if there is no sound at all.
fn part(powers: &[[Vec<f64>; 3]], of: &[usize], stretch: usize, heard_lufs: f64) -> Part {
    let third = |sound: usize, third: usize| powers[sound][stretch][third];
    let k = |sound: usize| -> f64 {
        (0..THIRDS).map(|t| third(sound, t) * db_power(k_db(third_centre_hz(t)))).sum()
    };
    let all: f64 = (0..powers.len()).map(k).sum();
    let own: f64 = of.iter().map(|i| k(*i)).sum();
    if all <= 0.0 {
        return Part::default();
    }
    let share = if own / all < 1e-9 { 0.0 } else { own / all };
    let of_thirds = |thirds: std::ops::Range<usize>| {
        let sum = |which: &mut dyn Iterator<Item = usize>| -> f64 {
            which.map(|i| thirds.clone().map(|t| third(i, t)).sum::<f64>()).sum()
        };
        let (own, all) = (sum(&mut of.iter().copied()), sum(&mut (0..powers.len())));
        Maybe::new((all > 0.0).then_some(own / all))
    };
    let loudness = heard_lufs + 10.0 * share.log10();
    Part {
        share: Some(share),
        lead: Some((share * share * 1.6).min(0.97)),
        loudness_lufs: (loudness > -70.0).then_some(loudness),
        thirds: std::array::from_fn(|t| of_thirds(t..t + 1)),
        bands: std::array::from_fn::<_, BANDS, _>(|band| of_thirds(band * 5..band * 5 + 5)),
    }
}

/// Whether a sound is covered, as in the measurement: far enough below the sum of the others in every third in which it
/// has energy.
fn covered(powers: &[[Vec<f64>; 3]], index: usize, lines: &[LayerLine]) -> Option<Covered> {
    let own = &powers[index][0];
    let loudest = own.iter().copied().fold(0.0, f64::max);
    let lives: Vec<usize> = (0..THIRDS).filter(|t| own[*t] > loudest * 0.1).collect();
    let others = |t: usize| powers.iter().map(|p| p[0][t]).sum::<f64>() - own[t];
    let by_db = lives.iter().map(|t| 10.0 * (others(*t) / own[*t]).log10()).fold(f64::INFINITY, f64::min);
    let (first, last) = (*lives.first()?, *lives.last()?);
    let at = lives[lives.len() / 2];
    let leads = (0..powers.len()).max_by(|a, b| powers[*a][0][at].total_cmp(&powers[*b][0][at]))?;
    let span = Span {
        low_hz: plumbline_measure::bands::third_span(first).low_hz,
        high_hz: plumbline_measure::bands::third_span(last).high_hz,
    };
    (loudest > 1e-12 && by_db >= COVERED_DB).then_some(Covered { by_db, by: lines[leads].id, span })
}

/// The loudest Foley layer against the loudest natural one.
fn matched(lines: &[LayerLine], powers: &[[Vec<f64>; 3]]) -> Option<Match> {
    let loudest = |role: Role| {
        let of = lines.iter().enumerate().take(powers.len()).filter(|(_, line)| line.identity.role == role);
        of.max_by(|a, b| a.1.parts[0].share.unwrap_or(0.0).total_cmp(&b.1.parts[0].share.unwrap_or(0.0)))
    };
    let ((_, change), (_, like)) = (loudest(Role::Foley)?, loudest(Role::Natural)?);
    let difference: Vec<Option<f64>> = (0..THIRDS)
        .map(|t| {
            let (change, like) = (change.thirds_dbfs[t].get()?, like.thirds_dbfs[t].get()?);
            (change > -75.0).then_some((like - change) * 0.4)
        })
        .collect();
    let there: Vec<f64> = difference.iter().flatten().copied().collect();
    let mean = there.iter().sum::<f64>() / there.len().max(1) as f64;
    Some(Match {
        change: change.id,
        like: like.id,
        change_db: std::array::from_fn(|t| Maybe::new(difference[t].map(|d| d - mean))),
        spread_db: std::array::from_fn(|t| Maybe::new(difference[t].map(|_| 1.6 + 0.8 * noise(t, 77)))),
        louder_db: mean,
        tenths: 412,
    })
}
