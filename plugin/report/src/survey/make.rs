//! From measured values to plain data.

use super::document::{
    Aim, Bus, Document, FileLine, FindingLine, Layer, LoudnessLine, MICS_SCHEMA, MatchLine, MicsDocument,
    MonoLoss, PairLine, Programme, Reading, RoleLine, SCHEMA, SoundLine, SpanLine, Target, Verdict,
    WithoutLine,
};
use super::{File, Loss, Mics, Pair, Sound, Survey, say};
use crate::document::{delivery, frames, limits, passage};
use crate::lines::{SECONDS, Time, readings, rounded, said, sure, tidy, tidy_all};
use crate::words;
use plumbline_measure::bands::{BAND_NAMES, THIRD_LABELS, third_span};
use plumbline_measure::{BandEdges, Readings, SampleRate, Timecode};
use plumbline_programme::pair::{CannotTell, Polarity, metres};
use plumbline_programme::session::{Match, Part};
use plumbline_programme::{LayerId, Role};

/// A share 0…1 in per cent.
fn percent(share: Option<f64>) -> Option<f64> {
    tidy(share.map(|share| share * 100.0))
}

fn secs(time: Time, sample: i64) -> f64 {
    rounded(sample as f64 / time.rate.as_f64(), SECONDS).unwrap_or_default()
}

fn label(time: Time, sample: i64) -> String {
    Timecode::at(time.start, sample, time.rate).to_string()
}

fn programme(samples: u64, rate: SampleRate, start: Timecode) -> Programme {
    let end = i64::try_from(samples).unwrap_or(i64::MAX);
    let time = Time { start, rate };
    Programme {
        seconds: secs(time, end),
        samples,
        sample_rate_hz: rate.hz(),
        start_timecode: start.to_string(),
        end_timecode: label(time, end),
        frame_rate: frames(start.rate()),
    }
}

impl Document {
    /// Plain data of a survey.
    pub(super) fn of(survey: &Survey) -> Self {
        let time = survey.time();
        let aims =
            Role::PARTS.into_iter().zip(survey.balance.aims).filter_map(|(role, aim)| Some((role, aim?)));
        let verdict = |(on, verdict): (&str, words::Said)| Verdict {
            on: on.to_owned(),
            state: verdict.state.key().to_owned(),
            head: said(verdict.head),
            figure: said(verdict.figure),
            sentence: said(verdict.sentence),
        };
        Self {
            schema: SCHEMA.to_owned(),
            plumbline_version: survey.version.clone(),
            date: survey.date.clone(),
            programme: programme(survey.frames, survey.rate, survey.start),
            target: Target { name: survey.target_name.clone(), numbers: delivery(&survey.target) },
            aims: aims
                .map(|(role, aim)| Aim {
                    role: role.name().to_owned(),
                    share_percent: sure(aim.share * 100.0),
                    tolerance_percent: sure(aim.tolerance * 100.0),
                })
                .collect(),
            rules: limits(&survey.rules),
            band_edges_hz: survey.band_edges.edges().map(sure),
            verdicts: say::verdicts(survey).into_iter().map(verdict).collect(),
            bus: bus(survey),
            layers: survey.layers.iter().map(|one| layer(one, survey)).collect(),
            roles: roles(survey),
            unaccounted_db: tidy(survey.unaccounted.db),
            unaccounted_words: say::unaccounted(survey.unaccounted).map(|words| said(words.sentence)),
            matches: survey.matches.iter().map(|one| matched(one, survey)).collect(),
            pairs: survey.pairs.pairs.iter().map(|one| pair(one, survey.start, survey.celsius)).collect(),
            pairs_uncompared: survey.pairs.uncompared,
            mono_losses: survey.losses.iter().map(|loss| mono_loss(loss, survey)).collect(),
            joins: survey.join_lines(),
            findings: survey.finding_lines().into_iter().map(finding).collect(),
            dropped: survey.dropped,
            passages: vec![passage(0, &survey.passage, time)],
        }
    }
}

impl MicsDocument {
    /// Plain data of pairs alone.
    pub(super) fn of(mics: &Mics) -> Self {
        Self {
            schema: MICS_SCHEMA.to_owned(),
            programme: programme(mics.frames, mics.rate, mics.start),
            celsius: sure(mics.celsius),
            pairs: mics.pairs.pairs.iter().map(|one| pair(one, mics.start, mics.celsius)).collect(),
            pairs_uncompared: mics.pairs.uncompared,
        }
    }
}

fn file(file: &File, time: Time) -> FileLine {
    let length = file.frames.and_then(|frames| i64::try_from(frames).ok());
    FileLine {
        path: file.path.clone(),
        channels: file.channels,
        channel_names: file.channel_names.clone(),
        start_secs: secs(time, file.start),
        start_timecode: label(time, file.start),
        seconds: length.map(|length| secs(time, length)),
        time_reference: file.time_reference,
    }
}

fn reading(of: &Readings) -> Reading {
    let line = readings(of);
    Reading {
        level_dbfs: line.level_dbfs,
        left_dbfs: line.left_dbfs,
        right_dbfs: line.right_dbfs,
        width_percent: percent(of.side_share),
        correlation: line.correlation,
        coherence: line.coherence,
        out_of_step: line.out_of_step,
        balance_db: line.balance_db,
        mono_loss_db: line.mono_loss_db,
        mono_loss_words: line.words,
    }
}

fn sound(of: &Sound, edges: &BandEdges, part: Option<&Part>) -> SoundLine {
    let loudness = &of.loudness;
    let highest = loudness.true_peak_dbtp.into_iter().flatten().reduce(f64::max);
    let band = |(at, name): (usize, &&str)| {
        let span = edges.span(at);
        SpanLine {
            name: (*name).to_owned(),
            low_hz: sure(span.low_hz),
            high_hz: sure(span.high_hz),
            reading: reading(&of.spectral.bands[at]),
            share_percent: part.and_then(|part| percent(part.bands[at].get())),
        }
    };
    let third = |(at, name): (usize, &&str)| {
        let span = third_span(at);
        SpanLine {
            name: (*name).to_owned(),
            low_hz: sure(span.low_hz),
            high_hz: sure(span.high_hz),
            reading: reading(&of.spectral.thirds[at]),
            share_percent: part.and_then(|part| percent(part.thirds[at].get())),
        }
    };
    SoundLine {
        channels: of.channels,
        loudness: LoudnessLine {
            integrated_lufs: tidy(loudness.integrated_lufs),
            range_lu: tidy(loudness.range_lu),
            max_momentary_lufs: tidy(loudness.max_momentary_lufs),
            max_short_term_lufs: tidy(loudness.max_short_term_lufs),
            true_peak_dbtp: tidy(highest),
            true_peak_by_channel_dbtp: tidy_all(loudness.true_peak_dbtp),
            peak_by_channel_dbfs: tidy_all(of.meters.max_peak_dbfs),
            overs: of.meters.overs,
        },
        whole: reading(&of.spectral.whole),
        lowest_correlation: tidy(of.lowest_correlation),
        // A thousandth of full scale is worth a word: four decimals would be too few.
        dc: of.meters.dc.map(|dc| rounded(dc?, 6)),
        not_finite: of.not_finite,
        bands: BAND_NAMES.iter().enumerate().map(band).collect(),
        thirds: THIRD_LABELS.iter().enumerate().map(third).collect(),
    }
}

fn bus(survey: &Survey) -> Bus {
    let time = survey.time();
    Bus {
        name: survey.bus.name.clone(),
        source: if survey.bus.is_mix { "mix" } else { "sum" }.to_owned(),
        files: survey.bus.files.iter().map(|one| file(one, time)).collect(),
        sound: sound(&survey.bus.sound, &survey.band_edges, None),
    }
}

fn layer(of: &super::Layer, survey: &Survey) -> Layer {
    let time = survey.time();
    Layer {
        name: of.name.clone(),
        role: of.role.name().to_owned(),
        files: of.files.iter().map(|one| file(one, time)).collect(),
        integrated_lufs: tidy(of.sound.loudness.integrated_lufs),
        share_percent: percent(of.part.share),
        lead_percent: percent(of.part.lead),
        sound: sound(&of.sound, &survey.band_edges, Some(&of.part)),
    }
}

fn roles(survey: &Survey) -> Vec<RoleLine> {
    let line = |(role, part): (Role, &Part)| {
        let layers = survey.layers.iter().filter(|layer| layer.role == role).count();
        (layers > 0).then(|| RoleLine {
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

fn matched(of: &Match, survey: &Survey) -> MatchLine {
    let name = |id: LayerId| survey.name_of(id).to_owned();
    MatchLine {
        change: name(of.change),
        like: name(of.like),
        change_db: of.change_db.map(|db| tidy(db.get())),
        spread_db: of.spread_db.map(|db| tidy(db.get())),
        louder_db: sure(of.louder_db),
        seconds: sure(f64::from(of.tenths) / 10.0),
        words: said(say::matched(of, survey).sentence),
    }
}

/// Why nothing can be told, for a program.
fn reason(of: CannotTell) -> &'static str {
    match of {
        CannotTell::TooShort => "too_short",
        CannotTell::TooQuiet => "too_quiet",
        CannotTell::OneSilent => "one_silent",
        CannotTell::Unrelated => "unrelated",
        CannotTell::Tonal => "tonal",
        CannotTell::Ambiguous => "ambiguous",
        CannotTell::Moving => "moving",
    }
}

fn pair(of: &Pair, start: Timecode, celsius: f64) -> PairLine {
    let line = &of.line;
    let agreed = line.reading.outcome.ok();
    let told = say::pair(of, start.rate(), celsius);
    let (numerator, denominator) = start.rate().fraction();
    let frames = f64::from(numerator) / f64::from(denominator);
    let delay = agreed.map(|agreed| agreed.delay_secs);
    PairLine {
        a: of.names[0].clone(),
        b: of.names[1].clone(),
        outcome: say::outcome(line).to_owned(),
        reason: line.reading.outcome.err().map(|why| reason(why).to_owned()),
        delay_ms: tidy(delay.map(|secs| secs * 1e3)),
        delay_sigma_ms: tidy(agreed.map(|agreed| agreed.sigma_secs * 1e3)),
        delay_samples: tidy(delay.map(|secs| secs * f64::from(line.rate_hz))),
        delay_frames: tidy(delay.map(|secs| secs * frames)),
        distance_m: tidy(delay.map(|secs| metres(secs, celsius))),
        polarity: agreed.map(|agreed| {
            match agreed.polarity {
                Polarity::Same => "same",
                Polarity::Inverted => "inverted",
            }
            .to_owned()
        }),
        confidence: tidy(agreed.map(|agreed| agreed.confidence)),
        drift_ppm: tidy(agreed.and_then(|agreed| agreed.drift).map(|drift| drift.ppm)),
        drift_sigma_ppm: tidy(agreed.and_then(|agreed| agreed.drift).map(|drift| drift.sigma_ppm)),
        coherence: tidy(line.reading.coherence),
        level_db: tidy(line.reading.level_db),
        cost_db: tidy(line.cost_db),
        read_at_secs: tidy(of.read_at_secs),
        windows: of.windows[0],
        windows_found: of.windows[1],
        advice: said(told.sentence),
    }
}

fn mono_loss(of: &Loss, survey: &Survey) -> MonoLoss {
    let time = survey.time();
    let gone = |db: f64| (db == f64::NEG_INFINITY).then(|| words::ALL_OF_IT.to_owned());
    let without = of.loss.left_out.iter().map(|out| WithoutLine {
        layers: out.layers.iter().map(|id| survey.name_of(*id).to_owned()).collect(),
        mono_loss_db: tidy(out.loss_db),
        words: match out.loss_db {
            None => Some("nothing is left".to_owned()),
            Some(db) => gone(db),
        },
    });
    MonoLoss {
        band: BAND_NAMES.get(of.loss.band).copied().unwrap_or_default().to_owned(),
        low_hz: sure(of.loss.span.low_hz),
        high_hz: sure(of.loss.span.high_hz),
        start_secs: secs(time, of.start),
        start_timecode: label(time, of.start),
        end_secs: secs(time, of.end),
        mono_loss_db: tidy(Some(of.loss.loss_db)),
        mono_loss_words: gone(of.loss.loss_db),
        explained: sure(of.loss.explained),
        without: without.collect(),
    }
}

fn finding(of: crate::document::FindingLine) -> FindingLine {
    FindingLine {
        number: of.number,
        kind: of.kind,
        name: of.name,
        severity: of.grade,
        start_secs: of.start.secs,
        end_secs: of.end.secs,
        start_sample: of.start.sample,
        end_sample: of.end.sample,
        start_timecode: of.start.timecode,
        end_timecode: of.end.timecode,
        low_hz: of.low_hz,
        high_hz: of.high_hz,
        worst: of.worst,
        unit: of.unit,
        words: of.words,
        worst_at_secs: of.worst_at.secs,
        opposed: of.opposed,
        channel: of.channel,
        role: of.role,
        layers: of.layers.into_iter().map(|layer| layer.name).collect(),
        advice: of.advice,
    }
}
