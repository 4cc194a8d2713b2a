//! Columns of the statistics: value, unit and standard.

use plumbline_programme::{Log, PassageLine, Role};
use plumbline_report::figures;

/// The columns that are shown together if not all fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(in crate::joins) enum ColumnGroup {
    #[default]
    Loudness,
    Stereo,
    Roles,
}

/// The reading in a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Integrated,
    Range,
    MaxMomentary,
    MaxShortTerm,
    TruePeak,
    Clipped,
    Lost,
    Width,
    Correlation,
    Lowest,
    Coherence,
    OutOfStep,
    MonoLoss,
    Balance,
    Share(usize),
    Lead(usize),
    Unaccounted,
}

/// A column with its width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Column {
    kind: Kind,
    pub(super) group: ColumnGroup,
    pub(super) width: f32,
}

/// All columns; shares and leads only of roles that are heard in at least one passage.
pub(super) fn all(log: &Log) -> Vec<Column> {
    let column = |group, width| move |kind| Column { kind, group, width };
    let mut all: Vec<Column> =
        [Kind::Integrated, Kind::Range, Kind::MaxMomentary, Kind::MaxShortTerm, Kind::TruePeak]
            .map(column(ColumnGroup::Loudness, 42.0))
            .to_vec();
    all.extend([Kind::Clipped, Kind::Lost].map(column(ColumnGroup::Loudness, 47.0)));
    let stereo = [
        Kind::Width,
        Kind::Correlation,
        Kind::Lowest,
        Kind::Coherence,
        Kind::OutOfStep,
        Kind::MonoLoss,
        Kind::Balance,
    ];
    all.extend(stereo.map(column(ColumnGroup::Stereo, 41.0)));
    let roles: Vec<usize> = log.roles().collect();
    all.extend(roles.iter().map(|part| column(ColumnGroup::Roles, 44.0)(Kind::Share(*part))));
    all.extend(roles.iter().map(|part| column(ColumnGroup::Roles, 44.0)(Kind::Lead(*part))));
    all.push(column(ColumnGroup::Roles, 44.0)(Kind::Unaccounted));
    all
}

impl Column {
    /// The name, and the unit under it.
    pub(super) fn head(&self) -> (&'static str, &'static str) {
        match self.kind {
            Kind::Integrated => ("Integr.", "LUFS"),
            Kind::Range => ("Range", "LU"),
            Kind::MaxMomentary => ("Max M", "LUFS"),
            Kind::MaxShortTerm => ("Max S", "LUFS"),
            Kind::TruePeak => ("Peak", "dBTP"),
            Kind::Clipped => ("Clipped", "samples"),
            Kind::Lost => ("Lost", "samples"),
            Kind::Width => ("Width", "%"),
            Kind::Correlation => ("Corr.", "−1…+1"),
            Kind::Lowest => ("lowest", "0.3 s"),
            Kind::Coherence => ("Coher.", "0…1"),
            Kind::OutOfStep => ("Out of", "step"),
            Kind::MonoLoss => ("Mono", "dB"),
            Kind::Balance => ("Bal.", "dB"),
            Kind::Share(part) => (Role::PARTS[part].name(), "share %"),
            Kind::Lead(part) => (Role::PARTS[part].name(), "leads %"),
            Kind::Unaccounted => ("Unacc.", "dB"),
        }
    }

    pub(super) fn value(&self, line: &PassageLine) -> String {
        let loudness = &line.loudness;
        let percent = |share: Option<f64>| figures::plain(share.map(|share| share * 100.0), 0);
        match self.kind {
            Kind::Integrated => figures::plain(loudness.integrated_lufs, 1),
            Kind::Range => figures::plain(loudness.range_lu, 1),
            Kind::MaxMomentary => figures::plain(loudness.max_momentary_lufs, 1),
            Kind::MaxShortTerm => figures::plain(loudness.max_short_term_lufs, 1),
            Kind::TruePeak => figures::plain(line.true_peak_dbtp(), 1),
            Kind::Clipped => counted(line.overs[0].saturating_add(line.overs[1])),
            Kind::Lost => counted(line.lost),
            Kind::Width => percent(line.whole.side_share),
            Kind::Correlation => figures::signed(line.whole.correlation, 2),
            Kind::Lowest => figures::signed(line.lowest_correlation, 2),
            Kind::Coherence => figures::plain(line.whole.coherence, 2),
            Kind::OutOfStep => figures::plain(line.whole.out_of_step, 2),
            Kind::MonoLoss => figures::loss(line.whole.mono_loss_db),
            Kind::Balance => figures::balance(line.whole.balance_db),
            Kind::Share(part) => percent(line.shares[part]),
            Kind::Lead(part) => percent(line.leads[part]),
            Kind::Unaccounted => figures::signed(line.unaccounted_db, 1),
        }
    }

    pub(super) fn tip(&self) -> &'static str {
        match self.kind {
            Kind::Integrated => "Integrated loudness, gated, LUFS (ITU-R BS.1770-5).",
            Kind::Range => "Loudness range, LU (EBU Tech 3342).",
            Kind::MaxMomentary => "Highest momentary loudness, 400 ms, LUFS (EBU Tech 3341).",
            Kind::MaxShortTerm => "Highest short-term loudness, 3 s, LUFS (EBU Tech 3341).",
            Kind::TruePeak => "True peak of the louder channel, dBTP (ITU-R BS.1770-5 Annex 2).",
            Kind::Clipped => "Samples at or over full scale, both channels.",
            Kind::Lost => "Samples that did not reach the measurement.",
            Kind::Width => "Side share S/(M+S), per cent: 0 mono, 50 unrelated, 100 all side.",
            Kind::Correlation => "Correlation of left and right, 20 Hz to 20 kHz: −1 to +1.",
            Kind::Lowest => "Lowest correlation over 300 ms.",
            Kind::Coherence => {
                "Coherence per bin of the longest window over 2 s, weighted by energy, bias removed: 0 unrelated, 1 \
                 one sound."
            }
            Kind::OutOfStep => {
                "Share of common sound that does not add up in phase: coherence minus the square of a positive \
                 correlation, 0 to 1."
            }
            Kind::MonoLoss => {
                "Mono loss, dB: (L+R)/2 against left and right. 0 identical, −3.0 unrelated, gone when everything \
                 cancels."
            }
            Kind::Balance => "Right against left, dB, with the louder side.",
            Kind::Share(_) => {
                "Share of the K-weighted energy (ITU-R BS.1770-5) of all layers except the mix, per cent."
            }
            Kind::Lead(_) => {
                "Share of the tenths of a second with sound in which it is loudest by 3 LU or more, per cent."
            }
            Kind::Unaccounted => {
                "The mix against the sum of its layers, dB: a layer is missing, or layers cancel."
            }
        }
    }
}

/// A short count: exact below 100 000, then in thousands and millions.
fn counted(count: u64) -> String {
    match count {
        0..100_000 => count.to_string(),
        100_000..1_000_000 => format!("{} k", count / 1_000),
        1_000_000..1_000_000_000 => format!("{} M", count / 1_000_000),
        _ => ">999 M".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_stay_short_and_never_look_smaller_than_they_are_by_more_than_their_last_digit() {
        for (count, text) in [
            (0, "0"),
            (99_999, "99999"),
            (100_000, "100 k"),
            (1_999_999, "1 M"),
            (999_999_999, "999 M"),
            (u64::MAX, ">999 M"),
        ] {
            assert_eq!(counted(count), text);
        }
    }

    #[test]
    fn no_reading_is_a_dash_in_every_column_but_the_counts() {
        let mut line = PassageLine::default();
        line.shares[1] = Some(0.5);
        let log = Log { passages: vec![line.clone()], ..Log::default() };
        let columns = all(&log);
        assert_eq!(columns.len(), 7 + 7 + 3, "one role has a share and a lead");
        line.shares[1] = None;
        for column in columns {
            let expected = match column.kind {
                Kind::Clipped | Kind::Lost => "0",
                _ => figures::DASH,
            };
            assert_eq!(column.value(&line), expected, "{:?}", column.kind);
        }
    }
}
