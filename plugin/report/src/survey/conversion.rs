//! From measured values to plain data.

use super::sentences;
use crate::conversion::{
    all_of_it, band, bands, finding, join, layer, loudness, passage, programme, reading, rules, spaced,
    target,
};
use crate::format::{
    self, Aim, File, LayerRef, Match, Measured, MonoLoss, Pair, PairStretch, RecordedAs, RoleShare, SURVEY,
    Sound, VERSION, Verdict, Without,
};
use crate::moment::Time;
use crate::rounding::{or_zero, percent, round_to, rounded};
use crate::words::{self, VerdictText};
use plumbline_measure::bands::{BAND_NAMES, THIRD_LABELS, third_span};
use plumbline_measure::{BandEdges, Grid};
use plumbline_programme::mics;
use plumbline_programme::pair::{Advice, CannotTell, Polarity, metres};
use plumbline_programme::recording::{Recording, Technique};
use plumbline_programme::session::{self, Part};
use plumbline_programme::survey::{self, Mics, Survey};
use plumbline_programme::{LayerId, PairLine, Role};

pub(super) fn survey(of: &Survey) -> format::Survey {
    let time = Time::of(of);
    let aims = Role::PARTS.into_iter().zip(of.balance.aims).filter_map(|(role, aim)| Some((role, aim?)));
    let verdict = |(on, text): (&str, VerdictText)| Verdict {
        on: on.to_owned(),
        state: text.state.key().to_owned(),
        head: spaced(text.head),
        figure: spaced(text.figure),
        sentence: spaced(text.sentence),
    };
    format::Survey {
        format: SURVEY.to_owned(),
        version: VERSION,
        plumbline_version: of.version.clone(),
        date: of.date.clone(),
        programme: programme(time, Some(of.frames)),
        target: target(&of.target, of.target_name.as_deref()),
        aims: aims
            .map(|(role, aim)| Aim {
                role: role.name().to_owned(),
                share_percent: or_zero(aim.share * 100.0),
                tolerance_percent: or_zero(aim.tolerance * 100.0),
            })
            .collect(),
        rules: rules(&of.rules),
        band_edges_hz: of.band_edges.edges().map(or_zero),
        verdicts: sentences::verdicts(of).into_iter().map(verdict).collect(),
        bus: format::Bus {
            name: of.bus.name.clone(),
            source: if of.bus.is_mix { "mix" } else { "sum" }.to_owned(),
            files: files(&of.bus.files, time),
            sound: sound(&of.bus.sound, &of.band_edges, None),
        },
        layers: of.layers.iter().map(|one| layer_of(one, of)).collect(),
        roles: roles(of),
        unaccounted_db: rounded(of.unaccounted.db),
        unaccounted_words: sentences::unaccounted(of.unaccounted).map(|text| spaced(text.sentence)),
        matches: of.matches.iter().map(|one| matched(one, of)).collect(),
        pairs: of.pairs.pairs.iter().map(|one| pair(one, time, of.celsius)).collect(),
        pairs_uncompared: of.pairs.uncompared,
        mono_losses: of.losses.iter().map(|loss| mono_loss(loss, of)).collect(),
        findings: of.findings.iter().map(|one| finding(one, time)).collect(),
        joins: of.joins.iter().map(|one| join(one, of.mark_of(one), time)).collect(),
        dropped: of.dropped,
        passages: vec![passage(0, &of.passage, &of.band_edges, time)],
    }
}

pub(super) fn mics(of: &Mics) -> format::Mics {
    let time = Time { start: of.start, rate: of.rate };
    format::Mics {
        format: format::MICS.to_owned(),
        version: VERSION,
        programme: programme(time, Some(of.frames)),
        celsius: or_zero(of.celsius),
        pairs: of.pairs.pairs.iter().map(|one| pair(one, time, of.celsius)).collect(),
        pairs_uncompared: of.pairs.uncompared,
    }
}

fn files(of: &[survey::File], time: Time) -> Vec<File> {
    let file = |of: &survey::File| File {
        path: of.path.clone(),
        channels: of.channels,
        channel_names: of.channel_names.clone(),
        start: time.sample(Grid::Song, of.start),
        seconds: of.frames.and_then(|frames| i64::try_from(frames).ok()).map(|frames| time.seconds(frames)),
        time_reference: of.time_reference,
    };
    of.iter().map(file).collect()
}

fn sound(of: &survey::Sound, edges: &BandEdges, part: Option<&Part>) -> Sound {
    let third = |(at, name): (usize, &&str)| {
        let share = part.and_then(|part| part.thirds[at].get());
        band(name, &third_span(at), &of.spectral.thirds[at], share)
    };
    Sound {
        channels: of.channels,
        measured: Measured {
            loudness: loudness(&of.loudness, of.meters.max_peak_dbfs, of.meters.overs),
            whole: reading(&of.spectral.whole),
            lowest_correlation: rounded(of.lowest_correlation),
            not_finite: of.not_finite,
            bands: bands(edges, &of.spectral.bands, |at| part.and_then(|part| part.bands[at].get())),
        },
        // A thousandth of full scale matters: four decimals are too few.
        dc: of.meters.dc.map(|dc| round_to(dc?, 6)),
        thirds: THIRD_LABELS.iter().enumerate().map(third).collect(),
    }
}

fn layer_of(of: &survey::Layer, survey: &Survey) -> format::Layer {
    format::Layer {
        layer: layer(of.id, &of.name),
        role: of.role.name().to_owned(),
        files: files(&of.files, Time::of(survey)),
        integrated_lufs: rounded(of.sound.loudness.integrated_lufs),
        share_percent: percent(of.part.share),
        lead_percent: percent(of.part.lead),
        recorded_as: recorded_as(of),
        sound: sound(&of.sound, &survey.band_edges, Some(&of.part)),
    }
}

fn recorded_as(of: &survey::Layer) -> Option<RecordedAs> {
    let Recording { technique, spacing_m } = of.recording;
    (technique != Technique::Unstated).then(|| RecordedAs {
        technique: technique.key().to_owned(),
        spacing_m: (technique == Technique::Spaced).then_some(spacing_m),
        contradiction: of.contradiction.map(|one| one.key().to_owned()),
        words: of.contradiction.map(|one| words::contradicts(technique, one).sentence),
    })
}

fn roles(survey: &Survey) -> Vec<RoleShare> {
    let line = |(role, part): (Role, &Part)| {
        let layers = survey.layers.iter().filter(|layer| layer.role == role).count();
        (layers > 0).then(|| RoleShare {
            role: role.name().to_owned(),
            layers: u32::try_from(layers).unwrap_or(u32::MAX),
            share_percent: percent(part.share),
            lead_percent: percent(part.lead),
            bands_percent: part.bands.map(|share| percent(share.get())),
            thirds_percent: part.thirds.map(|share| percent(share.get())),
        })
    };
    Role::PARTS.into_iter().zip(&survey.roles).filter_map(line).collect()
}

fn named(id: LayerId, survey: &Survey) -> LayerRef {
    layer(id, survey.name_of(id))
}

fn matched(of: &session::Match, survey: &Survey) -> Match {
    Match {
        change: named(of.change, survey),
        like: named(of.like, survey),
        change_db: of.change_db.map(|db| rounded(db.get())),
        spread_db: of.spread_db.map(|db| rounded(db.get())),
        louder_db: or_zero(of.louder_db),
        seconds: or_zero(f64::from(of.tenths) / 10.0),
        words: spaced(sentences::matched(of, survey).sentence),
    }
}

/// Key in files of why no delay was found.
fn reason(of: CannotTell) -> &'static str {
    match of {
        CannotTell::TooShort => "too_short",
        CannotTell::TooQuiet => "too_quiet",
        CannotTell::OneSilent => "one_silent",
        CannotTell::Unrelated => "unrelated",
        CannotTell::Tonal => "tonal",
        CannotTell::BeyondRange => "beyond_range",
        CannotTell::Unsure => "unsure",
        CannotTell::Reverberant => "reverberant",
        CannotTell::Ambiguous => "ambiguous",
        CannotTell::Moving => "moving",
    }
}

fn polarity(of: Polarity) -> &'static str {
    match of {
        Polarity::Same => "same",
        Polarity::Inverted => "inverted",
    }
}

/// The stretches of a pair with several delays.
fn stretches(line: &PairLine, time: Time, celsius: f64) -> Vec<PairStretch> {
    let stretch = |(of, advice): (&mics::Stretch, Advice)| {
        let agreed = of.reading.outcome.ok();
        PairStretch {
            outcome: sentences::key(&advice).to_owned(),
            start: time.song_seconds(of.start_secs),
            end: time.song_seconds(of.end_secs),
            delay_ms: rounded(agreed.map(|agreed| agreed.delay_secs * 1e3)),
            delay_samples: rounded(agreed.map(|agreed| agreed.delay_secs * f64::from(line.rate_hz))),
            polarity: agreed.map(|agreed| polarity(agreed.polarity).to_owned()),
            net_gain_db: rounded(of.reading.net_gain_db),
        }
    };
    line.advice_by_stretch(time.start.rate(), celsius).into_iter().map(stretch).collect()
}

fn pair(of: &survey::Pair, time: Time, celsius: f64) -> Pair {
    let line = &of.line;
    let agreed = line.reading.outcome.ok();
    let frames = time.start.rate();
    let (numerator, denominator) = frames.fraction();
    let delay = agreed.map(|agreed| agreed.delay_secs);
    let drift = agreed.and_then(|agreed| agreed.drift);
    Pair {
        a: of.names[0].clone(),
        b: of.names[1].clone(),
        outcome: sentences::outcome(line).to_owned(),
        reason: line.reading.outcome.err().map(|why| reason(why).to_owned()),
        delay_ms: rounded(delay.map(|secs| secs * 1e3)),
        delay_sigma_ms: rounded(agreed.map(|agreed| agreed.sigma_secs * 1e3)),
        delay_samples: rounded(delay.map(|secs| secs * f64::from(line.rate_hz))),
        delay_frames: rounded(delay.map(|secs| secs * f64::from(numerator) / f64::from(denominator))),
        distance_m: rounded(delay.map(|secs| metres(secs, celsius))),
        polarity: agreed.map(|agreed| polarity(agreed.polarity).to_owned()),
        confidence: rounded(agreed.map(|agreed| agreed.confidence)),
        drift_ppm: rounded(drift.map(|drift| drift.ppm)),
        drift_sigma_ppm: rounded(drift.map(|drift| drift.sigma_ppm)),
        coherence: rounded(line.reading.coherence),
        level_db: rounded(line.reading.level_db),
        cost_db: rounded(line.cost_db),
        net_gain_db: rounded(line.reading.net_gain_db),
        stretches: stretches(line, time, celsius),
        read_at: of.read_at_secs.filter(|secs| secs.is_finite()).map(|secs| time.song_seconds(secs)),
        windows: of.windows[0],
        windows_found: of.windows[1],
        advice: spaced(sentences::pair(of, frames, celsius).sentence),
    }
}

fn mono_loss(of: &survey::Loss, survey: &Survey) -> MonoLoss {
    let (loss, time) = (&of.loss, Time::of(survey));
    let without = loss.left_out.iter().map(|out| Without {
        layers: out.layers.iter().map(|id| named(*id, survey)).collect(),
        mono_loss_db: rounded(out.loss_db),
        mono_loss_words: match out.loss_db {
            None => Some("nothing is left".to_owned()),
            loss => all_of_it(loss),
        },
    });
    MonoLoss {
        band: BAND_NAMES.get(loss.band).copied().unwrap_or_default().to_owned(),
        low_hz: or_zero(loss.span.low_hz),
        high_hz: or_zero(loss.span.high_hz),
        start: time.sample(Grid::Song, of.start),
        end: time.sample(Grid::Song, of.end),
        mono_loss_db: rounded(Some(loss.loss_db)),
        mono_loss_words: all_of_it(Some(loss.loss_db)),
        explained_percent: or_zero(loss.explained * 100.0),
        without: without.collect(),
    }
}
