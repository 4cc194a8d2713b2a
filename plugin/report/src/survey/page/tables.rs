//! Tables that only this page has.

use crate::figures::{DASH, plain, signed, unit};
use crate::format::{RecordedAs, Sound, Survey};
use crate::html::tables::{BAND_COLUMNS, band_row, mono_loss, percent, table};
use crate::html::text::escaped;
use crate::words;
use plumbline_programme::Role;
use plumbline_programme::recording::Technique;

pub(super) fn layers(document: &Survey) -> String {
    if document.layers.is_empty() {
        return String::new();
    }
    let row = |name: &str, role: &str, shares: [Option<f64>; 2], sound: &Sound| {
        let (loudness, whole) = (&sound.measured.loudness, &sound.measured.whole);
        vec![
            escaped(&words::name(name)),
            role.to_owned(),
            percent(shares[0]),
            percent(shares[1]),
            plain(loudness.integrated_lufs, 1),
            plain(loudness.true_peak_dbtp, 1),
            plain(whole.level_dbfs, 1),
            percent(whole.width_percent),
            signed(whole.correlation, 2),
            plain(whole.coherence, 2),
            mono_loss(whole),
        ]
    };
    let layers = document.layers.iter();
    let mut rows: Vec<Vec<String>> = layers
        .map(|one| row(&one.layer.name, &one.role, [one.share_percent, one.lead_percent], &one.sound))
        .collect();
    rows.push(row(&document.bus.name, Role::Mix.name(), [None; 2], &document.bus.sound));
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
    if document.unaccounted_db.is_some() {
        let db = unit(signed(document.unaccounted_db, 1), "dB");
        out += &format!("<p class=\"note\">The mix against the sum of its layers: {db}.</p>\n");
    }
    for layer in &document.layers {
        if let Some(stated) = &layer.recorded_as {
            out += &format!("<p>{}</p>\n", recorded_as(&layer.layer.name, stated));
        }
    }
    out
}

/// "boom, stated as spaced pair, 0.40 m apart: nothing contradicts it."
fn recorded_as(name: &str, stated: &RecordedAs) -> String {
    let technique = Technique::ALL.iter().find(|one| one.key() == stated.technique);
    let technique = technique.map_or("", |one| one.name()).to_lowercase();
    let spacing =
        stated.spacing_m.map_or(String::new(), |m| format!(", {} apart", unit(plain(Some(m), 2), "m")));
    let words = stated.words.as_deref().unwrap_or("Nothing found that contradicts it.");
    format!("{}, stated as {technique}{spacing}. {}", escaped(&words::name(name)), escaped(words))
}

/// The named bands of the bus, with the shares of the roles.
pub(super) fn bands(document: &Survey) -> String {
    let row = |(at, band)| {
        let mut row = band_row(band);
        row.extend(document.roles.iter().map(|role| percent(role.bands_percent[at])));
        row
    };
    let rows: Vec<Vec<String>> = document.bus.sound.measured.bands.iter().enumerate().map(row).collect();
    let names: Vec<String> = document.roles.iter().map(|role| format!("n:{}", role.role)).collect();
    let columns: Vec<&str> = BAND_COLUMNS.into_iter().chain(names.iter().map(String::as_str)).collect();
    format!("<h2>Bands</h2>\n{}", table("plain", &columns, &rows))
}

/// The files read.
pub(super) fn files(document: &Survey) -> String {
    let layers = document.layers.iter().map(|one| (one.layer.name.as_str(), &one.files));
    let all = layers.chain([(document.bus.name.as_str(), &document.bus.files)]);
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
                file.start.timecode.clone().unwrap_or_default(),
                file.seconds.map_or_else(|| DASH.to_owned(), words::length),
            ]
        })
        .collect();
    format!(
        "<h2>Files</h2>\n{}",
        table("plain", &["Layer", "long:File", "Channels", "t:Starts", "n:Length"], &rows)
    )
}
