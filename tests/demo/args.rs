//! The command line.

use std::path::PathBuf;

/// What the user asked for.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Args {
    /// A file of the user's own; the scene without it.
    pub(crate) input: Option<PathBuf>,
    /// Open no window, even where there is a display.
    pub(crate) headless: bool,
}

impl Args {
    /// Reads the words after the program's name.
    pub(crate) fn from(words: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut args = Self::default();
        let mut words = words;
        while let Some(word) = words.next() {
            match word.as_str() {
                "--headless" => args.headless = true,
                "--input" => {
                    let file = words.next().ok_or("`--input` wants a file after it; nothing was done")?;
                    args.input = Some(PathBuf::from(file));
                }
                other => {
                    return Err(format!(
                        "`{other}` was not expected; the demo takes --input FILE and --headless. Nothing was done"
                    ));
                }
            }
        }
        Ok(args)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Args, String> {
        Args::from(text.split_whitespace().map(str::to_owned))
    }

    #[test]
    fn words_become_arguments_or_a_clear_refusal() {
        assert_eq!(read(""), Ok(Args::default()));
        let both = Args { input: Some(PathBuf::from("mix.wav")), headless: true };
        assert_eq!(read("--input mix.wav --headless"), Ok(both));
        assert!(read("--input").is_err_and(|text| text.contains("wants a file")));
        assert!(read("mix.wav").is_err_and(|text| text.contains("`mix.wav`")));
    }
}
