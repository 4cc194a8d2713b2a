//! Tables that only this page has.

use crate::figures::{self, DASH, percent, plain, signed, unit};
use crate::html::tables::table;
use crate::html::text::escaped;
use crate::survey::{Sound, Survey, document::Document};
use crate::words;
use plumbline_measure::Readings;
use plumbline_measure::bands::BAND_NAMES;
use plumbline_programme::Role;

fn mono_loss(readings: &Readings) -> String {
    match readings.mono_loss_db {
        Some(f64::NEG_INFINITY) => words::ALL_OF_IT.to_owned(),
        loss => plain(loss, 1),
    }
}

fn true_peak(sound: &Sound) -> String {
    plain(sound.loudness.true_peak_dbtp.into_iter().flatten().reduce(f64::max), 1)
}

pub(super) fn layers(survey: &Survey) -> String {
    if survey.layers.is_empty() {
        return String::new();
    }
    let row = |name: &str, role: &str, share: [Option<f64>; 2], sound: &Sound| {
        let whole = &sound.spectral.whole;
        vec![
            escaped(&words::name(name)),
            role.to_owned(),
            percent(share[0]),
            percent(share[1]),
            plain(sound.loudness.integrated_lufs, 1),
            true_peak(sound),
            plain(whole.level_dbfs, 1),
            percent(whole.side_share),
            signed(whole.correlation, 2),
            plain(whole.coherence, 2),
            mono_loss(whole),
        ]
    };
    let mut rows: Vec<Vec<String>> = survey
        .layers
        .iter()
        .map(|layer| row(&layer.name, layer.role.name(), [layer.part.share, layer.part.lead], &layer.sound))
        .collect();
    rows.push(row(&survey.bus.name, Role::Mix.name(), [None; 2], &survey.bus.sound));
    let columns = [
        "Layer",
        "t:Role",
        "n:Share",
        "n:Leads",
        "n:Integrated, LUFS",
        "n:True peak, dBTP",
        "n:Level, dBFS",
        "n:Width",
        "n:Correlation",
        "n:Coherence",
        "n:Mono loss, dB",
    ];
    let note = "Share of the K-weighted energy of all layers, over the gating blocks that pass. Leads: part of the time in \
                which it is the loudest by 3 LU.";
    let mut out =
        format!("<h2>Layers</h2>\n<p class=\"note\">{note}</p>\n{}", table("plain", &columns, &rows));
    if survey.unaccounted.db.is_some_and(f64::is_finite) {
        let db = unit(signed(survey.unaccounted.db, 1), "dB");
        out += &format!("<p class=\"note\">The mix against the sum of its layers: {db}.</p>\n");
    }
    out
}

/// The named bands of the bus, with the shares of the roles.
pub(super) fn bands(survey: &Survey) -> String {
    let sound = &survey.bus.sound;
    let has = |role: &&(usize, Role)| survey.layers.iter().any(|layer| layer.role == role.1);
    let all: Vec<(usize, Role)> = (0..).zip(Role::PARTS).collect();
    let roles: Vec<&(usize, Role)> = all.iter().filter(has).collect();
    let rows: Vec<Vec<String>> = BAND_NAMES
        .iter()
        .enumerate()
        .map(|(at, name)| {
            let readings = &sound.spectral.bands[at];
            let mut row = vec![
                (*name).to_owned(),
                figures::hz_span(&survey.band_edges.span(at)),
                plain(readings.level_dbfs, 1),
                percent(readings.side_share),
                signed(readings.correlation, 2),
                plain(readings.coherence, 2),
                plain(readings.out_of_step, 2),
                signed(readings.balance_db, 1),
                mono_loss(readings),
            ];
            row.extend(roles.iter().map(|(part, _)| percent(survey.roles[*part].bands[at].get())));
            row
        })
        .collect();
    let mut columns = vec![
        "t:Band",
        "t:Where",
        "n:Level, dBFS",
        "n:Width",
        "n:Correlation",
        "n:Coherence",
        "n:Out of step",
        "n:Balance, dB",
        "n:Mono loss, dB",
    ];
    let names: Vec<String> = roles.iter().map(|(_, role)| format!("n:{}", role.name())).collect();
    columns.extend(names.iter().map(String::as_str));
    format!("<h2>Bands</h2>\n{}", table("plain", &columns, &rows))
}

/// What was read.
pub(super) fn files(survey: &Survey, document: &Document) -> String {
    let layers = document.layers.iter().map(|layer| (layer.name.as_str(), &layer.files));
    let all = layers.chain([(survey.bus.name.as_str(), &document.bus.files)]);
    let rows: Vec<Vec<String>> = all
        .flat_map(|(name, files)| files.iter().map(move |file| (name, file)))
        .map(|(name, file)| {
            let channels = match (file.channels, file.channel_names.join(", ")) {
                (1, names) if names.is_empty() => "mono".to_owned(),
                (2, names) if names.is_empty() => "stereo".to_owned(),
                (_, names) => names,
            };
            vec![
                escaped(&words::name(name)),
                escaped(&file.path),
                escaped(&channels),
                file.start_timecode.clone(),
                file.seconds.map_or_else(|| DASH.to_owned(), words::length),
            ]
        })
        .collect();
    format!(
        "<h2>Files</h2>\n{}",
        table("plain", &["Layer", "long:File", "Channels", "t:Starts", "n:Length"], &rows)
    )
}
