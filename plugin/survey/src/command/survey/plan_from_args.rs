//! The plan of a survey from its arguments.

use crate::command::args::{Global, Survey};
use crate::command::error::CommandError;
use crate::command::layers::Sounds;
use crate::command::values::{Gain, Recorded};
use plumbline_measure::Timecode;
use plumbline_programme::Recording;
use plumbline_programme::delivery::PRESETS;
use plumbline_survey::engine::{EQUAL_POWER, Layer, Plan};
use std::num::NonZeroUsize;

/// The name of the mix in `--gain`.
const MIX: &str = "mix";

/// The timecode of the first sample, if the user gave one.
pub(crate) fn start(global: &Global) -> Result<Option<Timecode>, CommandError> {
    let read = |text: &String| {
        Timecode::parse(global.frame_rate, text)
            .map_err(|error| CommandError::Usage(format!("--start {text}: {error}")))
    };
    global.start.as_ref().map(read).transpose()
}

/// Date and time of the report, as shown.
fn now() -> String {
    jiff::ZonedDateTime::now().datetime().strftime("%Y-%m-%d %H:%M:%S").to_string()
}

/// The plan; stems are numbered in the order of [`Sounds::files`].
pub(crate) fn plan(
    words: &Survey,
    global: &Global,
    sounds: &Sounds,
    start: Option<Timecode>,
) -> Result<Plan, CommandError> {
    let faders = faders(&words.gain, sounds)?;
    let recordings = recordings(&words.recorded, sounds)?;
    let (mut layers, mut gains) = (Vec::new(), Vec::new());
    for ((layer, fader), recording) in sounds.layers.iter().zip(&faders).zip(recordings) {
        let stems = gains.len()..gains.len() + layer.stems.len();
        gains.resize(stems.end, *fader);
        let (name, role) = (layer.name.clone(), layer.role);
        layers.push(Layer { name, role, stems: stems.collect(), recording });
    }
    let mix = sounds.mix.as_ref().map(|_| vec![gains.len()]);
    if mix.is_some() {
        gains.extend(faders.last());
    }
    let bus = if mix.is_some() { "Mix" } else { "Sum of the layers" };
    let document = global.delivery.unwrap_or(PRESETS[0]);
    Ok(Plan {
        layers,
        mix,
        bus_name: bus.to_owned(),
        gains,
        mono_gain: ratio(words.mono_pan),
        target: document.target,
        target_name: Some(document.name.to_owned()),
        balance: global.aim.unwrap_or_default(),
        frames: global.frame_rate,
        start,
        threads: global.threads.and_then(|threads| NonZeroUsize::new(usize::from(threads))),
        date: Some(now()),
        ..Plan::default()
    })
}

/// The gain of each layer, and the mix's last.
fn faders(gains: &[Gain], sounds: &Sounds) -> Result<Vec<f32>, CommandError> {
    let mut names: Vec<&str> = sounds.layers.iter().map(|layer| layer.name.as_str()).collect();
    names.push(MIX);
    let mut faders = vec![None; names.len()];
    for gain in gains {
        // A layer may have the name of the mix; it takes precedence.
        let place = names.iter().position(|name| *name == gain.layer).ok_or_else(|| {
            CommandError::Usage(format!(
                "--gain {}: there is no such layer; the layers are {}. Nothing was done",
                gain.layer,
                names.join(", ")
            ))
        })?;
        if faders[place].replace(ratio(gain.db)).is_some() {
            return Err(CommandError::Usage(format!(
                "--gain {}: is set twice; set it once. Nothing was done",
                gain.layer
            )));
        }
    }
    Ok(faders.into_iter().map(|fader| fader.unwrap_or(1.0)).collect())
}

/// The recording technique of each layer.
fn recordings(stated: &[Recorded], sounds: &Sounds) -> Result<Vec<Recording>, CommandError> {
    let mut recordings = vec![None; sounds.layers.len()];
    for one in stated {
        let refused =
            |what: String| CommandError::Usage(format!("--recorded {}: {what}. Nothing was done", one.layer));
        let place = sounds.layers.iter().position(|layer| layer.name == one.layer).ok_or_else(|| {
            let names: Vec<&str> = sounds.layers.iter().map(|layer| layer.name.as_str()).collect();
            refused(format!("there is no such layer; the layers are {}", names.join(", ")))
        })?;
        if recordings[place].replace(one.recording).is_some() {
            return Err(refused("is stated twice; state it once".to_owned()));
        }
    }
    Ok(recordings.into_iter().map(Option::unwrap_or_default).collect())
}

/// A linear gain: 0 dB is exactly 1, and −3.01 dB is exactly the equal-power law.
fn ratio(db: f64) -> f32 {
    if db == EQUAL_POWER_DB {
        return EQUAL_POWER;
    }
    #[expect(clippy::cast_possible_truncation, reason = "samples are single precision")]
    let ratio = 10.0_f64.powf(db / 20.0) as f32;
    ratio
}

/// The equal-power law as written in the help.
const EQUAL_POWER_DB: f64 = -3.01;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::layers;
    use plumbline_audio::StemFile;
    use plumbline_programme::Role;
    use std::path::PathBuf;

    fn stem(name: &str) -> StemFile {
        StemFile { path: PathBuf::from(name), channels: None }
    }

    fn gain(layer: &str, db: f64) -> Gain {
        Gain { layer: layer.to_owned(), db }
    }

    #[test]
    fn a_fader_belongs_to_one_layer_or_to_the_mix() {
        let layer = |name: &str, stems| layers::Layer { name: name.to_owned(), role: Role::Foley, stems };
        let sounds = Sounds {
            layers: vec![layer("a", vec![stem("1"), stem("2")]), layer("b", vec![stem("3")])],
            mix: Some(stem("4")),
        };
        let set = |gains: &[Gain]| faders(gains, &sounds);
        assert_eq!(set(&[]), Ok(vec![1.0; 3]));
        let half = 0.501_187_2_f32;
        assert_eq!(set(&[gain("mix", -6.0), gain("a", 0.0)]), Ok(vec![1.0, 1.0, half]));
        assert!(set(&[gain("c", 1.0)]).is_err_and(|trouble| trouble.to_string().contains("a, b, mix")));
        assert!(
            set(&[gain("a", 1.0), gain("a", 1.0)])
                .is_err_and(|trouble| trouble.to_string().contains("twice"))
        );
    }

    #[test]
    fn the_default_pan_is_the_equal_power_law() {
        assert_eq!(ratio(-3.01).to_bits(), std::f32::consts::FRAC_1_SQRT_2.to_bits());
        assert_eq!(ratio(0.0).to_bits(), 1.0_f32.to_bits());
        assert!((f64::from(ratio(-20.0)) - 0.1).abs() < 1e-7);
    }
}
