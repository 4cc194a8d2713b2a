//! The command line.

use std::path::PathBuf;

/// The command line's options.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Args {
    /// The user's own file; `None` for the scene.
    pub(crate) input: Option<PathBuf>,
    /// Whether to open no window even if there is a display.
    pub(crate) headless: bool,
}

impl Args {
    /// Parses the arguments.
    pub(crate) fn from(words: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut args = Self::default();
        let mut words = words;
        while let Some(word) = words.next() {
            match word.as_str() {
                "--headless" => args.headless = true,
                "--input" => {
                    let file = words.next().ok_or("`--input` needs a file after it; nothing was done")?;
                    args.input = Some(PathBuf::from(file));
                }
                other => {
                    return Err(format!(
                        "unknown argument `{other}`; the demo takes --input FILE and --headless. Nothing was done"
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
        assert!(read("--input").is_err_and(|text| text.contains("needs a file")));
        assert!(read("mix.wav").is_err_and(|text| text.contains("`mix.wav`")));
    }
}
