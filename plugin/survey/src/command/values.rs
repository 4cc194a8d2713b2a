//! Values of arguments, and their parsers.

use plumbline_measure::{FrameRate, SampleRate};
use plumbline_programme::delivery::{PRESETS, Preset};
use plumbline_programme::recording::{LEAST_SPACING_M, MOST_SPACING_M, Recording, Technique};
use plumbline_programme::session::Aim;
use plumbline_programme::{BalanceTarget, PARTS, Role};
use std::path::PathBuf;

/// Short names of the delivery documents, in the order of [`PRESETS`].
const DOCUMENTS: [&str; PRESETS.len()] = ["r128", "r128-live", "r128-s1", "r128-s2"];
/// Tolerance of an aim without one, per cent.
const USUAL_TOLERANCE: f64 = 10.0;
/// Largest deviation of a fader from 0 dB.
const MOST_GAIN_DB: f64 = 60.0;
/// Longest name of a layer, in bytes: as on the plug-in's board.
const LONGEST_NAME: usize = 64;

/// A layer as typed on the command line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Layer {
    pub(crate) name: String,
    pub(crate) role: Role,
    pub(crate) file: PathBuf,
}

/// `mason=natural:boom.wav`. Both the name and the file may contain `=` and `:`.
pub(crate) fn layer(text: &str) -> Result<Layer, String> {
    let wanted = || {
        let roles = Role::PARTS.map(|role| role.name().to_lowercase()).join(", ");
        format!("expected NAME=ROLE:FILE with a role of {roles}, as in mason=natural:boom.wav")
    };
    let (name, role, file) = text
        .match_indices('=')
        .find_map(|(at, _)| {
            let (word, file) = text[at + 1..].split_once(':')?;
            Some((&text[..at], role_of(word)?, file))
        })
        .ok_or_else(wanted)?;
    if role == Role::Mix {
        return Err("a mix is not a layer; use --mix FILE".to_owned());
    }
    let name = name.trim();
    if name.is_empty() || file.is_empty() {
        return Err(wanted());
    }
    if name.len() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(format!("a name has at most {LONGEST_NAME} bytes, and no line ends"));
    }
    Ok(Layer { name: name.to_owned(), role, file: PathBuf::from(file) })
}

fn role_of(word: &str) -> Option<Role> {
    Role::ALL.into_iter().find(|role| role.name().eq_ignore_ascii_case(word.trim()))
}

/// The fader setting of a layer.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Gain {
    pub(crate) layer: String,
    pub(crate) db: f64,
}

/// `mason=-4.5`. The name may contain `=`.
pub(crate) fn gain(text: &str) -> Result<Gain, String> {
    let read = text.rsplit_once('=').and_then(|(name, number)| {
        let number = number.trim().trim_end_matches("dB").trim_end().replace('\u{2212}', "-");
        let db = number.parse::<f64>().ok().filter(|db| db.abs() <= MOST_GAIN_DB)?;
        Some(Gain { layer: name.trim().to_owned(), db })
    });
    read.filter(|gain| !gain.layer.is_empty())
        .ok_or_else(|| format!("expected NAME=DB within {MOST_GAIN_DB} dB either way, as in mason=-4.5"))
}

/// The recording technique of a layer.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Recorded {
    pub(crate) layer: String,
    pub(crate) recording: Recording,
}

/// `mason=spaced:40`, in centimetres, or another technique without a spacing. The name may contain `=`.
pub(crate) fn recorded(text: &str) -> Result<Recorded, String> {
    let known = || {
        let names = Technique::ALL[1..].iter().map(|one| one.key().replace('_', "-")).collect::<Vec<_>>();
        format!(
            "expected NAME=TECHNIQUE with one of {}; of a spaced pair NAME=spaced:CM, as in mason=spaced:40",
            names.join(", ")
        )
    };
    let (name, words) = text.rsplit_once('=').ok_or_else(known)?;
    let (word, spacing) = words.split_once(':').map_or((words, None), |(word, cm)| (word, Some(cm)));
    let technique = Technique::ALL[1..].iter().find(|one| plain(one.key()) == plain(word)).copied();
    let technique = technique.filter(|_| !name.trim().is_empty()).ok_or_else(known)?;
    let (least, most) = (LEAST_SPACING_M * 100.0, MOST_SPACING_M * 100.0);
    let spacing_m = match (technique, spacing) {
        (Technique::Spaced, Some(text)) => {
            let number = text.trim().trim_end_matches("cm").trim_end();
            let cm = number.parse::<f64>().ok().filter(|cm| (least..=most).contains(cm));
            cm.ok_or_else(|| {
                format!("the spacing `{text}` cannot be used; expected {least:.0} to {most:.0} cm")
            })? / 100.0
        }
        (Technique::Spaced, None) => {
            return Err("a spaced pair needs its spacing in cm, as in mason=spaced:40".to_owned());
        }
        (_, Some(_)) => return Err(known()),
        (_, None) => Recording::default().spacing_m,
    };
    Ok(Recorded { layer: name.trim().to_owned(), recording: Recording { technique, spacing_m } })
}

/// Gain of a mono file into each side of the bus.
pub(crate) fn mono_pan(text: &str) -> Result<f64, String> {
    let db = text.trim().parse::<f64>().ok().filter(|db| (-12.0..=0.0).contains(db));
    db.ok_or_else(|| format!("`{text}` is not a pan law; expected dB from -12 to 0"))
}

/// `natural=70±10,foley=20`, or `none`.
pub(crate) fn aims(text: &str) -> Result<BalanceTarget, String> {
    let mut aims = [None; PARTS];
    if text.trim().eq_ignore_ascii_case("none") {
        return Ok(BalanceTarget { aims });
    }
    for one in text.split(',') {
        let (word, numbers) = one
            .split_once('=')
            .ok_or_else(|| format!("`{one}` is not an aim; expected one like natural=70±10, or none"))?;
        let role = role_of(word).and_then(|role| Some((role, role.part()?)));
        let (role, place) = role.ok_or_else(|| {
            let roles = Role::PARTS.map(|role| role.name().to_lowercase()).join(", ");
            format!("`{word}` is not a role with a share; use one of {roles}")
        })?;
        if aims[place].is_some() {
            return Err(format!("{} has two aims; name it once", role.name()));
        }
        aims[place] = Some(aim(numbers)?);
    }
    Ok(BalanceTarget { aims })
}

/// `70±10`, in per cent.
fn aim(text: &str) -> Result<Aim, String> {
    let (share, tolerance) =
        ["±", "+/-", "+-"].iter().find_map(|mark| text.split_once(mark)).unwrap_or((text, ""));
    let number = |text: &str| text.trim().trim_end_matches('%').trim_end().parse::<f64>().ok();
    let share = number(share).filter(|share| (0.0..=100.0).contains(share));
    let tolerance = if tolerance.trim().is_empty() { Some(USUAL_TOLERANCE) } else { number(tolerance) };
    let tolerance = tolerance.filter(|tolerance| (1.0..=100.0).contains(tolerance));
    match (share, tolerance) {
        (Some(share), Some(tolerance)) => Ok(Aim { share: share / 100.0, tolerance: tolerance / 100.0 }),
        _ => Err(format!(
            "`{text}` is not a share; expected 0 to 100 per cent and a tolerance of 1 to 100, as in 70±10"
        )),
    }
}

/// A delivery document, by its short name or as the plug-in lists it.
pub(crate) fn delivery(text: &str) -> Result<Preset, String> {
    let asked = plain(text);
    let asked = asked.strip_prefix("ebu").unwrap_or(&asked);
    let names = |at: usize| {
        let listed = plain(PRESETS[at].name);
        // "EBU R 128 s1, short form": the part before the comma is enough if no other name starts with it.
        let head = plain(PRESETS[at].name.split([',', '(']).next().unwrap_or_default());
        [plain(DOCUMENTS[at]), listed.replace("ebu", ""), head.replace("ebu", "")]
    };
    (0..PRESETS.len())
        .find(|at| names(*at).iter().any(|name| name == asked))
        .map(|at| PRESETS[at])
        .ok_or_else(|| format!("`{text}` is not a known document; use one of {}", DOCUMENTS.join(", ")))
}

/// The letters and digits of a text, in lower case.
fn plain(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_lowercase()
}

/// A frame rate as the screen lists it, or shortened: `29.97df`.
pub(crate) fn frame_rate(text: &str) -> Result<FrameRate, String> {
    let asked = text.trim().to_lowercase().replace([' ', '-', '_'], "");
    let spellings = |rate: FrameRate| {
        let number = rate.name().split(' ').next().unwrap_or_default();
        let rest: &[&str] = match rate {
            FrameRate::F29_97Drop | FrameRate::F59_94Drop => &["df", "drop"],
            FrameRate::F29_97 | FrameRate::F59_94 => &["ndf", "nondrop"],
            _ => &["", "fps"],
        };
        rest.iter().map(|rest| format!("{number}{rest}")).collect::<Vec<_>>()
    };
    let found = FrameRate::ALL.into_iter().find(|rate| spellings(*rate).contains(&asked));
    found.ok_or_else(|| match asked.as_str() {
        "29.97" | "59.94" => format!("{text} counts in two ways: say {text}df (drop-frame) or {text}ndf"),
        _ => {
            let all = FrameRate::ALL.map(|rate| spellings(rate).swap_remove(0)).join(", ");
            format!("`{text}` is not a frame rate; use one of {all}")
        }
    })
}

/// A sample rate at which Plumbline measures.
pub(crate) fn rate(text: &str) -> Result<u32, String> {
    let hz = text.trim().parse::<u32>().map_err(|_| format!("`{text}` is not a whole number of Hz"))?;
    SampleRate::new(hz).map(|_| hz).map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layer_has_name_role_and_file() {
        let read = |text: &str| layer(text).map(|l| (l.name, l.role, l.file.to_string_lossy().into_owned()));
        let fine = |name: &str, role, file: &str| Ok((name.to_owned(), role, file.to_owned()));
        assert_eq!(read("mason=natural:boom.wav"), fine("mason", Role::Natural, "boom.wav"));
        assert_eq!(read(" a=b =Foley:C:/x=y:z.wav"), fine("a=b", Role::Foley, "C:/x=y:z.wav"));
        assert!(read("mason=mix:boom.wav").is_err_and(|text| text.contains("--mix")));
        for wrong in [
            "",
            "boom.wav",
            "=natural:boom.wav",
            "mason=natural:",
            "mason=bells:boom.wav",
            "natural:boom.wav",
        ] {
            assert!(read(wrong).is_err_and(|text| text.contains("NAME=ROLE:FILE")), "{wrong}");
        }
        assert!(read(&format!("{}=natural:boom.wav", "x".repeat(65))).is_err_and(|text| text.contains("64")));
        assert!(read("a\nb=natural:boom.wav").is_err());
    }

    #[test]
    fn a_fader_has_a_layer_and_a_level() {
        let read = |text| gain(text).map(|gain| (gain.layer, gain.db));
        assert_eq!(read("mason=-4.5"), Ok(("mason".to_owned(), -4.5)));
        assert_eq!(read(" a=b = +3 dB"), Ok(("a=b".to_owned(), 3.0)));
        for wrong in ["mason", "=3", "mason=", "mason=nan", "mason=61", "mason=inf"] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
        assert_eq!(mono_pan("-3.01"), Ok(-3.01));
        assert!(mono_pan("1").is_err() && mono_pan("nan").is_err());
    }

    #[test]
    fn aims_are_read_as_they_are_written() {
        let of = |text: &str| aims(text).map(|t| t.aims.map(|aim| aim.map(|a| (a.share, a.tolerance))));
        assert_eq!(of("natural=70±10"), Ok([Some((0.7, 0.1)), None, None, None, None]));
        assert_eq!(
            of("natural=60 % +- 5 %, Foley=20"),
            Ok([Some((0.6, 0.05)), Some((0.2, 0.1)), None, None, None])
        );
        assert_eq!(of("music=0+/-1"), Ok([None, None, None, None, Some((0.0, 0.01))]));
        assert_eq!(of("None"), Ok([None; 5]));
        for wrong in [
            "",
            "natural",
            "natural=",
            "natural=x",
            "natural=101",
            "natural=-1",
            "natural=nan",
            "natural=70±0",
            "natural=70±inf",
            "mix=50",
            "bells=50",
            "natural=1,natural=2",
            "natural=70,",
        ] {
            assert!(of(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_technique_is_told_with_the_spacing_of_a_spaced_pair() {
        let of = |text: &str| {
            recorded(text).map(|one| (one.layer, one.recording.technique, one.recording.spacing_m))
        };
        assert_eq!(of("a=b=spaced:40"), Ok(("a=b".to_owned(), Technique::Spaced, 0.4)));
        assert_eq!(of(" bell = spaced: 17 cm").map(|one| one.2), Ok(0.17));
        for technique in &Technique::ALL[1..] {
            let spacing = if *technique == Technique::Spaced { ":40" } else { "" };
            let text = format!("bell={}{spacing}", technique.key().replace('_', "-"));
            assert_eq!(of(&text).map(|one| one.1), Ok(*technique), "{text}");
        }
        for wrong in [
            "bell",
            "bell=",
            "=spaced:40",
            "bell=spaced",
            "bell=spaced:0.5",
            "bell=spaced:1201",
            "bell=spaced:x",
            "bell=coincident:40",
            "bell=unstated",
            "bell=wide",
        ] {
            assert!(of(wrong).is_err(), "{wrong}");
        }
        assert!(recorded("bell=wide").is_err_and(|text| text.contains("mid-side")));
    }

    #[test]
    fn documents_are_known_by_both_their_names() {
        for (at, preset) in PRESETS.iter().enumerate() {
            assert_eq!(delivery(DOCUMENTS[at]), Ok(*preset));
            assert_eq!(delivery(preset.name), Ok(*preset), "{}", preset.name);
        }
        assert_eq!(delivery("EBU R128 S2"), Ok(PRESETS[3]));
        assert!(delivery("-14").is_err_and(|text| text.contains("r128-s2")));
        assert!(delivery("").is_err());
        // Every name must differ from every other.
        let mut all: Vec<String> = DOCUMENTS.iter().map(|name| plain(name)).collect();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), PRESETS.len());
    }

    #[test]
    fn rates_of_frames_are_known_as_the_screen_lists_them() {
        for rate in FrameRate::ALL {
            assert_eq!(frame_rate(rate.name()), Ok(rate), "{}", rate.name());
        }
        assert_eq!(frame_rate("29.97df"), Ok(FrameRate::F29_97Drop));
        assert_eq!(frame_rate("59.94NDF"), Ok(FrameRate::F59_94));
        assert_eq!(frame_rate("25 fps"), Ok(FrameRate::F25));
        assert!(frame_rate("29.97").is_err_and(|text| text.contains("29.97df")));
        assert!(frame_rate("31").is_err_and(|text| text.contains("23.976, 24, 25, 29.97df, 29.97ndf")));
    }

    #[test]
    fn a_rate_is_one_that_is_measured_at() {
        assert_eq!(rate("48000"), Ok(48_000));
        assert!(rate("8000").is_err() && rate("48 kHz").is_err() && rate("99999999999").is_err());
    }
}
