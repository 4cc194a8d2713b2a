//! The channels of a file that an argument names: `take7.wav`, `take7.wav#3`, `take7.wav#1+2`, `take7.wav#each`.

use super::error::CommandError;
use std::path::{Path, PathBuf};

/// The most channels of a file.
const MOST: usize = 64;

/// A file, and the channels named after it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Pick {
    pub(crate) path: PathBuf,
    pub(crate) channels: Which,
}

/// Channels of a file, counted from 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    /// None named: mono and stereo files as they are; in a file with more, each channel is a microphone.
    Usual,
    /// Each channel alone, even in a stereo file.
    Each,
    /// One, or two as left and right.
    These(Vec<usize>),
}

impl Pick {
    /// The meaning of an argument. A file whose name is the whole argument takes precedence, whatever its ending.
    pub(crate) fn of(word: &Path) -> Result<Self, CommandError> {
        let whole = Self { path: word.to_owned(), channels: Which::Usual };
        let Some((path, which)) = word.to_str().and_then(|text| text.rsplit_once('#')) else {
            return Ok(whole);
        };
        if path.is_empty() || std::fs::symlink_metadata(word).is_ok() {
            return Ok(whole);
        }
        let channels = if which == "each" {
            Which::Each
        } else {
            let numbers = which.split('+').map(|number| number.parse::<usize>().ok());
            let numbers: Option<Vec<usize>> = numbers.collect();
            // An ending that follows no rule is part of a file name; the error then says that this file is missing.
            let Some(numbers) = numbers else { return Ok(whole) };
            let repeated = numbers.len() == 2 && numbers[0] == numbers[1];
            if numbers.len() > 2 || repeated || numbers.iter().any(|n| !(1..=MOST).contains(n)) {
                return Err(CommandError::Usage(format!(
                    "{}: channels are chosen as #2 for one or #1+2 for a pair, each 1 to {MOST}; nothing was done",
                    word.display()
                )));
            }
            Which::These(numbers.into_iter().map(|n| n - 1).collect())
        };
        Ok(Self { path: PathBuf::from(path), channels })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(word: &str) -> Result<(String, Which), CommandError> {
        Pick::of(Path::new(word)).map(|pick| (pick.path.to_string_lossy().into_owned(), pick.channels))
    }

    #[test]
    fn channels_are_chosen_after_a_hash() {
        assert_eq!(of("take.wav"), Ok(("take.wav".to_owned(), Which::Usual)));
        assert_eq!(of("take.wav#3"), Ok(("take.wav".to_owned(), Which::These(vec![2]))));
        assert_eq!(of("a#b/take.wav#1+2"), Ok(("a#b/take.wav".to_owned(), Which::These(vec![0, 1]))));
        assert_eq!(of("take.wav#each"), Ok(("take.wav".to_owned(), Which::Each)));
        for name in ["take#one.wav", "take.wav#", "#2", "take.wav#2x"] {
            assert_eq!(of(name), Ok((name.to_owned(), Which::Usual)), "{name}");
        }
        for wrong in ["take.wav#0", "take.wav#65", "take.wav#1+2+3", "take.wav#2+2"] {
            assert!(matches!(of(wrong), Err(CommandError::Usage(_))), "{wrong}");
        }
    }

    #[test]
    fn a_file_that_is_there_is_that_file() {
        let folder = std::env::temp_dir().join(format!("plumbline-channels-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder to test in");
        let file = folder.join("take#2");
        std::fs::write(&file, "x").expect("a file to test with");
        let pick = Pick::of(&file);
        std::fs::remove_dir_all(&folder).expect("ours");
        assert_eq!(pick, Ok(Pick { path: file, channels: Which::Usual }));
    }
}
