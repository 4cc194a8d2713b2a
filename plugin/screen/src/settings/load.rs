//! Saved text to settings and back. Each value is read on its own: one that cannot be used gets its default.

use super::{LONGEST, LONGEST_FOLDER, Reference, SCALES, SPANS_DB, Settings, TOPS_DB, VERSION};
use plumbline_measure::{FrameRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::pair::{LEAST_CELSIUS, MOST_CELSIUS};
use plumbline_programme::{BalanceTarget, Recording};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

impl Settings {
    /// Reads saved settings. Never fails: text over [`LONGEST`] bytes or malformed gives the defaults, unknown fields
    /// are ignored, and a value that cannot be used gets its default.
    pub fn from_json(text: &str) -> Self {
        if text.len() > LONGEST {
            return Self::default();
        }
        serde_json::from_str::<Value>(text).map(Self::from).unwrap_or_default()
    }

    /// The settings as text to save.
    pub fn to_json(&self) -> String {
        Value::from(self.clone()).to_string()
    }
}

impl From<Value> for Settings {
    fn from(saved: Value) -> Self {
        let default = Self::default();
        let rate: FrameRate = read(&saved, "frame_rate").unwrap_or_default();
        let start = read::<String>(&saved, "start_timecode")
            .and_then(|label| Timecode::parse(rate, &label).ok())
            .unwrap_or(Timecode::zero(rate));
        Self {
            version: VERSION,
            theme: read(&saved, "theme").unwrap_or(default.theme),
            scale_percent: read(&saved, "scale_percent")
                .filter(|s| SCALES.contains(s))
                .unwrap_or(default.scale_percent),
            tilt: read(&saved, "tilt").unwrap_or(default.tilt),
            averaging: read(&saved, "averaging").unwrap_or(default.averaging),
            peak_hold: read(&saved, "peak_hold").unwrap_or(default.peak_hold),
            top_db: read(&saved, "top_db").filter(|v| TOPS_DB.contains(v)).unwrap_or(default.top_db),
            span_db: read(&saved, "span_db").filter(|v| SPANS_DB.contains(v)).unwrap_or(default.span_db),
            reference: read::<Reference>(&saved, "reference").and_then(Reference::sane),
            start,
            target: read::<Target>(&saved, "target").map_or(default.target, Target::sane),
            band_edges: read(&saved, "band_edges").unwrap_or(default.band_edges),
            track_colour: read(&saved, "track_colour").unwrap_or(default.track_colour),
            recording: read::<Recording>(&saved, "recording").map_or(default.recording, Recording::sane),
            balance: read::<BalanceTarget>(&saved, "balance").map_or(default.balance, BalanceTarget::sane),
            stretch: read(&saved, "stretch").unwrap_or(default.stretch),
            celsius: read(&saved, "celsius")
                .filter(|t| (LEAST_CELSIUS..=MOST_CELSIUS).contains(t))
                .unwrap_or(default.celsius),
            rules: read(&saved, "rules").unwrap_or(default.rules),
            reach: read(&saved, "reach").unwrap_or(default.reach),
            export_folder: read::<String>(&saved, "export_folder")
                .filter(|folder| folder.len() <= LONGEST_FOLDER && !folder.contains('\0'))
                .unwrap_or(default.export_folder),
        }
    }
}

impl From<Settings> for Value {
    fn from(s: Settings) -> Self {
        json!({
            "version": VERSION,
            "theme": s.theme,
            "scale_percent": s.scale_percent,
            "tilt": s.tilt,
            "averaging": s.averaging,
            "peak_hold": s.peak_hold,
            "top_db": s.top_db,
            "span_db": s.span_db,
            "reference": s.reference,
            "frame_rate": s.start.rate(),
            "start_timecode": s.start.to_string(),
            "target": s.target,
            "band_edges": s.band_edges,
            "track_colour": s.track_colour,
            "recording": s.recording,
            "balance": s.balance,
            "stretch": s.stretch,
            "celsius": s.celsius,
            "rules": s.rules,
            "reach": s.reach,
            "export_folder": s.export_folder,
        })
    }
}

fn read<T: DeserializeOwned>(saved: &Value, key: &str) -> Option<T> {
    T::deserialize(saved.get(key)?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{LaneSpan, Tilt};
    use crate::tokens::ThemeName;
    use plumbline_measure::{Averaging, BandEdges};
    use plumbline_programme::Stretch;
    use plumbline_programme::findings::{Kind, Rule, Rules};
    use plumbline_programme::recording::Technique;
    use plumbline_programme::session::Aim;
    use proptest::prelude::*;

    fn full() -> Settings {
        let rate = FrameRate::F29_97Drop;
        Settings {
            theme: ThemeName::Light,
            scale_percent: 150,
            tilt: Tilt::Mix,
            averaging: Averaging::SinceReset,
            peak_hold: false,
            top_db: -6.0,
            span_db: 72.0,
            reference: Some(Reference::of(&[100.0, 1_000.0], &[-20.0, -40.0])),
            start: Timecode::parse(rate, "01:00:00;02").expect("a label that exists"),
            target: plumbline_programme::delivery::PRESETS[2].target,
            band_edges: BandEdges::new([25.0, 70.0, 210.0, 810.0, 2_600.0, 8_100.0, 19_000.0])
                .expect("rising"),
            track_colour: true,
            recording: Recording { technique: Technique::Spaced, spacing_m: 0.4 },
            balance: BalanceTarget {
                aims: [
                    Some(Aim { share: 0.55, tolerance: 0.05 }),
                    Some(Aim { share: 0.30, tolerance: 0.2 }),
                    None,
                    None,
                    None,
                ],
            },
            stretch: Stretch::Passage,
            celsius: -4.5,
            rules: {
                let mut rules = Rules::default();
                rules.set(Kind::Wind, Rule { on: false, limit: 12.0, secs: 4.0 });
                rules
            },
            reach: LaneSpan::TenMinutes,
            export_folder: "/somewhere/else".to_owned(),
            ..Settings::default()
        }
    }

    #[test]
    fn what_is_saved_is_what_is_read() {
        assert_eq!(Settings::from_json(&full().to_json()), full());
        assert_eq!(Settings::from_json(&Settings::default().to_json()), Settings::default());
        assert!(full().to_json().len() < LONGEST / 8, "{} bytes", full().to_json().len());
        let through_serde: Settings =
            serde_json::from_str(&serde_json::to_string(&full()).expect("writes")).expect("reads");
        assert_eq!(through_serde, full());
    }

    #[test]
    fn each_bad_value_costs_itself_alone() {
        let bad = [
            ("theme", json!("Sepia")),
            ("scale_percent", json!(1e9)),
            ("scale_percent", json!(101)),
            ("tilt", json!(-1)),
            ("averaging", json!("NaN")),
            ("peak_hold", json!("yes")),
            ("top_db", json!(1e308)),
            ("top_db", json!("NaN")),
            ("span_db", json!(0.0)),
            ("span_db", json!(null)),
            ("reference", json!({"values_db": [1, 2, 3]})),
            ("reference", json!([[]])),
            ("start_timecode", json!("25:00:00:00")),
            ("start_timecode", json!("01:01:00:00")),
            ("target", json!({"integrated_lufs": 1e300})),
            ("band_edges", json!([1, 2, 3])),
            ("band_edges", json!([20.0, 60.0, 50.0, 800.0, 2500.0, 8000.0, 20000.0])),
            ("track_colour", json!(3)),
            ("balance", json!({"aims": [null]})),
            ("balance", json!({"aims": [{"share": "NaN", "tolerance": 1}, null, null, null, null]})),
            ("balance", json!(70)),
            ("stretch", json!("Always")),
            ("rules", json!(7)),
            ("rules", json!([])),
            ("reach", json!("Forever")),
            ("export_folder", json!("x".repeat(5_000))),
            ("export_folder", json!("a\0b")),
        ];
        let default = Value::from(Settings::default());
        for (key, value) in bad {
            let mut saved = Value::from(full());
            saved[key] = value.clone();
            let read = Value::from(Settings::from_json(&saved.to_string()));
            for (other, kept) in Value::from(full()).as_object().expect("an object") {
                if other == key && key == "start_timecode" {
                    assert_eq!(read[key], "00:00:00;00", "{value}");
                } else if other == key {
                    assert_eq!(read[other], default[other], "{key} = {value}");
                } else {
                    assert_eq!(&read[other], kept, "{other}, after {key} = {value}");
                }
            }
        }
    }

    /// Up to version 3, lines were bins: a tilt still makes the same noise flat, and a reference stays one of bins.
    #[test]
    fn a_state_of_version_3_is_read() {
        for (saved, tilt) in [("Flat", Tilt::Pink), ("Three", Tilt::Pink), ("FourAndHalf", Tilt::Mix)] {
            let levels = vec![-42.5; crate::settings::REFERENCE_POINTS];
            let text = json!({"version": 3, "tilt": saved, "reference": {"values_db": levels}}).to_string();
            let read = Settings::from_json(&text);
            assert_eq!(read.tilt, tilt, "{saved}");
            let reference = read.reference.clone().expect("an old reference is kept");
            assert_eq!((reference.level_dbfs(1_000.0), reference.cells), (Some(-42.5), false));
            assert_eq!(Settings::from_json(&read.to_json()), read, "and saved again as what it is");
        }
        assert!(full().reference.is_some_and(|reference| reference.cells));
    }

    #[test]
    fn hostile_text_gives_the_defaults() {
        let deep = "[".repeat(LONGEST / 2);
        let long = format!("{{\"theme\":\"Light\",\"x\":\"{}\"}}", "x".repeat(100 << 20));
        for text in ["", "null", "{", "[]", "\u{0}", "{\"theme\":{}}", "1e999", deep.as_str(), long.as_str()]
        {
            assert_eq!(Settings::from_json(text), Settings::default(), "{} bytes", text.len());
        }
        let absurd = "{\"balance\": {\"aims\": [{\"share\": 7, \"tolerance\": 0.1}, null, {\"share\": 0.2, \
                      \"tolerance\": 0.1}, null, {\"share\": 0.5, \"tolerance\": 0}]}}";
        let aims = Settings::from_json(absurd).balance.aims.map(|aim| aim.map(|a| a.share));
        assert_eq!(aims, [None, None, Some(0.2), None, None], "an aim that cannot be met costs itself alone");
        let later = "{\"version\": 4000000000, \"theme\": \"Light\", \"of_later_days\": [1]}";
        assert_eq!(Settings::from_json(later).theme, ThemeName::Light);
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn any_text_is_survived(text in ".{0,400}") {
            let _ = Settings::from_json(&text);
        }

        #[test]
        fn any_numbers_end_up_bounded(top in proptest::num::f64::ANY, span in proptest::num::f64::ANY) {
            let text = format!("{{\"top_db\": {top:e}, \"span_db\": {span:e}}}");
            let read = Settings::from_json(&text);
            prop_assert!(TOPS_DB.contains(&read.top_db) && SPANS_DB.contains(&read.span_db));
        }
    }
}
