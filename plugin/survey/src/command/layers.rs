//! From files to layers and microphones: their names, and their channels.

use super::args::Survey;
use super::channels::{Pick, Which};
use super::error::CommandError;
use plumbline_audio::{Options, Reader, StemFile, Stems, StemsError};
use plumbline_programme::{Role, session};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The most layers besides the bus.
const MOST_LAYERS: usize = session::MOST_LAYERS - 1;
/// Longest name of a layer, bytes.
const LONGEST_NAME: usize = 64;

/// A layer, and the files that sum to it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Layer {
    pub(crate) name: String,
    pub(crate) role: Role,
    pub(crate) stems: Vec<StemFile>,
}

/// A microphone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Mic {
    pub(crate) name: String,
    pub(crate) stem: StemFile,
}

/// All the sounds of a survey.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Sounds {
    pub(crate) layers: Vec<Layer>,
    pub(crate) mix: Option<StemFile>,
}

impl Sounds {
    /// All files in the order of the layers, the mix last.
    pub(crate) fn files(&self) -> Vec<StemFile> {
        self.layers.iter().flat_map(|layer| &layer.stems).chain(&self.mix).cloned().collect()
    }
}

/// The sounds that the arguments name.
pub(crate) fn sounds(survey: &Survey) -> Result<Sounds, CommandError> {
    let mut layers: Vec<Layer> = Vec::new();
    let mut names = Names::default();
    let named_by_hand: BTreeSet<&str> = survey.layer.iter().map(|layer| layer.name.as_str()).collect();
    named_by_hand.iter().for_each(|name| names.reserve(name));
    for (role, files) in [
        (Role::Natural, &survey.natural),
        (Role::Foley, &survey.foley),
        (Role::Design, &survey.design),
        (Role::Voice, &survey.voice),
        (Role::Music, &survey.music),
    ] {
        for file in files {
            for (name, stem) in split(file, false)? {
                layers.push(Layer { name: names.give(&name), role, stems: vec![stem] });
            }
        }
    }
    for given in &survey.layer {
        let stems = split(&given.file, false)?.into_iter().map(|(_, stem)| stem);
        match layers.iter_mut().find(|layer| layer.name == given.name) {
            Some(layer) if layer.role != given.role => {
                return Err(CommandError::Usage(format!(
                    "the layer {} is {} and {}; give both files one role, or two names. Nothing was done",
                    given.name,
                    layer.role.name(),
                    given.role.name()
                )));
            }
            Some(layer) => layer.stems.extend(stems),
            None => layers.push(Layer { name: given.name.clone(), role: given.role, stems: stems.collect() }),
        }
    }
    if layers.is_empty() && survey.mix.is_none() {
        return Err(CommandError::Usage(
            "nothing to survey; give stems with --natural, --foley, --design, --voice, --music or --layer, or a mix with \
             --mix"
                .to_owned(),
        ));
    }
    if layers.len() > MOST_LAYERS {
        return Err(CommandError::Usage(format!(
            "{} layers, and {MOST_LAYERS} are counted; sum some with --layer \"NAME=ROLE:FILE\", the same name for each \
             file. Nothing was done",
            layers.len()
        )));
    }
    once_each(layers.iter().flat_map(|layer| &layer.stems))?;
    let mix = survey.mix.as_deref().map(whole).transpose()?;
    Ok(Sounds { layers, mix })
}

/// The microphones to compare. If there is only one file, each of its channels is a microphone.
pub(crate) fn mics(files: &[PathBuf]) -> Result<Vec<Mic>, CommandError> {
    let mut names = Names::default();
    let mut mics = Vec::new();
    for file in files {
        for (name, stem) in split(file, files.len() == 1)? {
            mics.push(Mic { name: names.give(&name), stem });
        }
    }
    if mics.len() < 2 {
        return Err(CommandError::Usage(format!(
            "{}: one microphone, and two are compared; give a second file. Nothing was done",
            files.first().map_or(Path::new(""), PathBuf::as_path).display()
        )));
    }
    once_each(mics.iter().map(|mic| &mic.stem))?;
    Ok(mics)
}

/// The mix: one sound, mono or stereo.
fn whole(word: &Path) -> Result<StemFile, CommandError> {
    let pick = Pick::of(word)?;
    let channels = match pick.channels {
        Which::Usual => None,
        Which::These(channels) => Some(channels),
        Which::Each => {
            return Err(CommandError::Usage(format!(
                "{}: the mix is one sound; choose its channels as #1+2. Nothing was done",
                word.display()
            )));
        }
    };
    if channels.is_none() && channel_count(&pick.path)? > 2 {
        return Err(CommandError::Input(format!(
            "{}: has more than two channels, and the mix is mono or stereo; choose them as {}#1+2. Nothing was measured",
            word.display(),
            word.display()
        )));
    }
    Ok(StemFile { path: pick.path, channels })
}

/// The sounds that an argument names, each with its own name.
fn split(word: &Path, apart: bool) -> Result<Vec<(String, StemFile)>, CommandError> {
    let Pick { path, channels } = Pick::of(word)?;
    let stem = path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    match channels {
        Which::These(channels) => {
            let numbers = channels.iter().map(|n| (n + 1).to_string()).collect::<Vec<_>>().join("+");
            Ok(vec![(format!("{stem} {numbers}"), StemFile { path, channels: Some(channels) })])
        }
        Which::Usual | Which::Each => {
            let count = channel_count(&path)?;
            if count == 1 || (count == 2 && !apart && channels == Which::Usual) {
                return Ok(vec![(stem, StemFile { path, channels: None })]);
            }
            let each: Vec<StemFile> =
                (0..count).map(|n| StemFile { path: path.clone(), channels: Some(vec![n]) }).collect();
            let names = recorded_names(&each)?;
            let named = names.into_iter().zip(1..).map(|(name, number)| {
                name.map_or_else(|| format!("{stem} {number}"), |name| format!("{stem} {name}"))
            });
            Ok(named.zip(each).collect())
        }
    }
}

fn channel_count(path: &Path) -> Result<usize, CommandError> {
    Reader::open(path).map(|reader| reader.channels()).map_err(|error| CommandError::Input(error.to_string()))
}

/// The names that the recorder gave the channels.
fn recorded_names(each: &[StemFile]) -> Result<Vec<Option<String>>, CommandError> {
    let stems = Stems::open(each, &Options::default()).map_err(|error| input(&error))?;
    let told =
        |names: &[String]| names.first().map(|name| name.trim().to_owned()).filter(|name| !name.is_empty());
    Ok(stems.stems().iter().map(|info| told(&info.channel_names)).collect())
}

/// The error for a file that cannot be used, with the option that helps, if any.
pub(crate) fn input(error: &StemsError) -> CommandError {
    let way_out = match error {
        StemsError::Rates { .. } => " (--resample 48000 does that)",
        StemsError::ChannelsNotChosen { .. } => " (as FILE#1+2)",
        _ => "",
    };
    CommandError::Input(format!("{error}{way_out}"))
}

/// Refuses a sound given twice, which would count twice.
fn once_each<'a>(stems: impl Iterator<Item = &'a StemFile>) -> Result<(), CommandError> {
    // For each file, the channels taken from it, or all.
    let mut seen: BTreeMap<PathBuf, Option<BTreeSet<usize>>> = BTreeMap::new();
    for stem in stems {
        let real = std::fs::canonicalize(&stem.path).unwrap_or_else(|_| stem.path.clone());
        let twice = match (seen.get_mut(&real), &stem.channels) {
            (None, channels) => {
                seen.insert(real, channels.as_ref().map(|list| list.iter().copied().collect()));
                false
            }
            (Some(Some(taken)), Some(channels)) => channels.iter().any(|n| !taken.insert(*n)),
            (Some(_), _) => true,
        };
        if twice {
            return Err(CommandError::Usage(format!(
                "{}: is given twice and would count twice; name it once. Nothing was done",
                stem.path.display()
            )));
        }
    }
    Ok(())
}

/// Names in use: each is given once.
#[derive(Default)]
struct Names(BTreeSet<String>);

impl Names {
    fn reserve(&mut self, name: &str) {
        self.0.insert(name.to_owned());
    }

    /// The name, or a similar free one. Characters that would break a line are removed, and a long name is cut.
    fn give(&mut self, name: &str) -> String {
        let tame: String = name.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let cut = |text: &str, room: usize| {
            let mut end = text.len().min(room);
            while !text.is_char_boundary(end) {
                end -= 1;
            }
            text[..end].trim().to_owned()
        };
        let base = match cut(&tame, LONGEST_NAME) {
            empty if empty.is_empty() => "layer".to_owned(),
            base => base,
        };
        let mut name = base.clone();
        for number in 2_u64.. {
            if self.0.insert(name.clone()) {
                break;
            }
            let suffix = format!(" {number}");
            name = cut(&base, LONGEST_NAME - suffix.len()) + &suffix;
        }
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sound_counts_once() {
        let stem = |path: &str, channels: Option<&[usize]>| StemFile {
            path: PathBuf::from(path),
            channels: channels.map(<[usize]>::to_vec),
        };
        let check = |stems: &[StemFile]| once_each(stems.iter()).is_ok();
        assert!(check(&[stem("a", None), stem("b", None), stem("c", Some(&[0])), stem("c", Some(&[1, 2]))]));
        assert!(!check(&[stem("a", None), stem("a", None)]));
        assert!(!check(&[stem("a", Some(&[1])), stem("a", None)]));
        assert!(!check(&[stem("a", None), stem("a", Some(&[1]))]));
        assert!(!check(&[stem("a", Some(&[0, 1])), stem("b", None), stem("a", Some(&[1]))]));
    }

    #[test]
    fn every_layer_has_a_name_of_its_own() {
        let mut names = Names::default();
        names.reserve("bell");
        assert_eq!(names.give("boom"), "boom");
        assert_eq!(names.give("boom"), "boom 2");
        assert_eq!(names.give("bell"), "bell 2");
        assert_eq!(names.give("a\nb"), "a b");
        assert_eq!(names.give(""), "layer");
        let long = "é".repeat(40);
        let (first, second) = (names.give(&long), names.give(&long));
        assert!(first.len() <= 64 && second.len() <= 64 && first != second, "{first} {second}");
    }
}
