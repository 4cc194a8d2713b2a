//! The words that the command understands. Their help is its documentation.

mod examples;

use super::values;
use clap::{Args, Parser, Subcommand, ValueEnum};
use plumbline_measure::FrameRate;
use plumbline_programme::BalanceTarget;
use plumbline_programme::delivery::Preset;
use plumbline_programme::findings::Grade;
use std::path::PathBuf;

/// Measures mixes and stems off line: width, mono, microphones, balance, joins, delivery.
#[derive(Debug, Parser)]
#[command(
    name = "plumbline",
    version,
    arg_required_else_help = true,
    infer_long_args = true,
    after_help = examples::WHOLE,
    after_long_help = examples::WHOLE
)]
pub(crate) struct Cli {
    #[command(flatten)]
    pub(crate) global: Global,
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What holds for every command that measures.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "For every command that measures")]
pub(crate) struct Global {
    /// Shares that the roles are meant to have, in per cent, with how far off they may be: natural=70±10,foley=20±5.
    ///
    /// Without the tolerance it is 10; +- may stand for ±. What is not named is free; `none` has no aim at all. Left out,
    /// it is natural=70±10, from common practice.
    #[arg(long, global = true, value_name = "AIMS", value_parser = values::target)]
    pub(crate) target: Option<BalanceTarget>,
    /// The document to be delivered by: r128, r128-live, r128-s1 (short form) or r128-s2 (streaming).
    ///
    /// The names of the documents as the plug-in lists them are understood too: "EBU R 128 s1". Left out, it is r128. A
    /// broadcaster's or platform's own specification stands above it.
    #[arg(long, global = true, value_name = "DOCUMENT", value_parser = values::loudness)]
    pub(crate) loudness: Option<Preset>,
    /// Frames a second: 23.976, 24, 25, 29.97df, 29.97ndf, 30, 50, 59.94df, 59.94ndf or 60. Left out, it is 25.
    #[arg(long, global = true, value_name = "RATE", value_parser = values::frame_rate, default_value = "25", hide_default_value = true)]
    pub(crate) rate_of_frames: FrameRate,
    /// Timecode of the first sample, HH:MM:SS:FF.
    ///
    /// Left out, it is what the earliest file says of itself (the time reference of a broadcast WAV), or 00:00:00:00.
    #[arg(long, global = true, value_name = "TIMECODE")]
    pub(crate) start: Option<String>,
    /// With `-`, report.json goes to standard output, and all that is said otherwise to standard error.
    #[arg(long, global = true, value_name = "-", value_parser = ["-"], hide_possible_values = true)]
    pub(crate) json: Option<String>,
    /// Say nothing but what went wrong.
    #[arg(long, short, global = true)]
    pub(crate) quiet: bool,
    /// Threads to measure with. Left out, it is as many as the computer runs at once.
    #[arg(long, global = true, value_name = "COUNT", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub(crate) threads: Option<u16>,
    /// Bring all files to this rate, 22050 to 384000; without it, files of different rates are refused.
    #[arg(long, global = true, value_name = "HZ", value_parser = values::rate)]
    pub(crate) resample: Option<u32>,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Measures stems, a mix, or both, and writes a report.
    #[command(after_help = examples::SURVEY, after_long_help = examples::SURVEY, infer_long_args = true)]
    Survey(Box<Survey>),
    /// Compares microphones in pairs: delay, polarity, drift, what to move, what it wins.
    #[command(after_help = examples::MICS, after_long_help = examples::MICS, infer_long_args = true)]
    Mics {
        /// Two files or more; of a file of several channels each channel is a microphone, FILE#2 is its second.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
    },
    /// Makes the bell-tower scene: stems, a mix, and truth.json with what was planted in them.
    #[command(after_help = examples::SCENE, after_long_help = examples::SCENE)]
    Scene {
        /// Folder to write into; made if it is not there. Files of the same names are replaced.
        dir: PathBuf,
    },
    /// Prints what a shell needs to complete the words of this command.
    #[command(after_help = examples::COMPLETIONS, after_long_help = examples::COMPLETIONS)]
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
    /// Prints a page for `man`.
    #[command(after_help = examples::MAN, after_long_help = examples::MAN)]
    Man {
        /// The command that it is about; without it, the whole.
        of: Option<String>,
    },
}

impl Command {
    /// Its word.
    pub(crate) fn name(&self) -> &'static str {
        match self {
            Self::Survey(_) => "survey",
            Self::Mics { .. } => "mics",
            Self::Scene { .. } => "scene",
            Self::Completions { .. } => "completions",
            Self::Man { .. } => "man",
        }
    }
}

/// What is surveyed, and what is written of it.
#[derive(Clone, Debug, Args)]
pub(crate) struct Survey {
    /// Sound of the place, recorded there. Each file is a layer that is named after it.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Sound")]
    pub(crate) natural: Vec<PathBuf>,
    /// Sound performed against picture.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Sound")]
    pub(crate) foley: Vec<PathBuf>,
    /// Designed effects.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Sound")]
    pub(crate) design: Vec<PathBuf>,
    /// Speech.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Sound")]
    pub(crate) voice: Vec<PathBuf>,
    /// Music.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Sound")]
    pub(crate) music: Vec<PathBuf>,
    /// A layer with its name and role: "mason=natural:boom.wav". Given again with the same name, the files are summed.
    #[arg(long, value_name = "NAME=ROLE:FILE", num_args = 1.., value_parser = values::layer, help_heading = "Sound")]
    pub(crate) layer: Vec<values::Layer>,
    /// The mix. Without it the sum of the layers is measured as the bus, mono files in its middle.
    #[arg(long, value_name = "FILE", help_heading = "Sound")]
    pub(crate) mix: Option<PathBuf>,
    /// Fader of a layer whose files were made before it, in dB: "mason=-4.5". `mix` is the mix.
    #[arg(long, value_name = "NAME=DB", num_args = 1.., value_parser = values::gain, help_heading = "Sound")]
    pub(crate) gain: Vec<values::Gain>,
    /// What a mono file gets into either side of the sum, dB: -3.01 where it is panned by equal power.
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = values::mono_pan, default_value = "-3.01", help_heading = "Sound")]
    pub(crate) mono_pan: f64,
    /// Folder for the report; made if it is not there, but not the folders that it lies in.
    #[arg(long, short, value_name = "DIR", required_unless_present = "json", help_heading = "Report")]
    pub(crate) out: Option<PathBuf>,
    /// Replace the report that is there already.
    #[arg(long, requires = "out", help_heading = "Report")]
    pub(crate) replace: bool,
    /// Write tenths.csv too: every reading of every tenth of a second.
    #[arg(long, requires = "out", help_heading = "Report")]
    pub(crate) tenths: bool,
    /// Write mix-cues.wav too: a copy of the mix, a WAV, with the findings as cue points.
    #[arg(long, requires = "out", requires = "mix", help_heading = "Report")]
    pub(crate) cue: bool,
    /// End with 1 if there is a finding as bad as this, or worse.
    #[arg(long, value_name = "GRADE", help_heading = "Report")]
    pub(crate) fail_on: Option<FailOn>,
}

/// How bad a finding must be for the command to end with 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// Any finding.
    Slight,
    /// Plain to hear or to see for whoever looks.
    Clear,
    /// Sound is lost, or delivery fails.
    Grave,
}

impl FailOn {
    /// The same as a grade.
    pub(crate) fn grade(self) -> Grade {
        match self {
            Self::Slight => Grade::Slight,
            Self::Clear => Grade::Clear,
            Self::Grave => Grade::Grave,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    fn read(words: &str) -> Result<Cli, clap::Error> {
        Cli::try_parse_from(std::iter::once("plumbline").chain(words.split_whitespace()))
    }

    #[test]
    fn the_arguments_are_put_together_rightly() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_word_of_the_help_is_understood() {
        let cli = read(
            "survey --natural boom.wav lav.wav --natural tower.wav --foley f.wav --design d.wav --voice v.wav --music \
             m.wav --layer bell=design:bell.wav --gain bell=-3 boom=2 --mono-pan -3 --mix mix.wav --out dir --replace --tenths --cue --fail-on clear \
             --target natural=60 --loudness r128-s2 --rate-of-frames 29.97df --start 01:00:00:00 --json - --quiet \
             --threads 2 --resample 48000",
        )
        .expect("all of it");
        let Command::Survey(survey) = cli.command else { panic!("a survey") };
        assert_eq!(survey.natural.len(), 3);
        assert_eq!((survey.layer.len(), survey.gain.len(), survey.mono_pan), (1, 2, -3.0));
        assert_eq!(survey.fail_on.map(FailOn::grade), Some(Grade::Clear));
        assert_eq!(cli.global.rate_of_frames, FrameRate::F29_97Drop);
        assert!(cli.global.json.is_some() && cli.global.quiet && cli.global.threads == Some(2));
        assert!(read("--quiet mics a.wav b.wav").expect("before the command").global.quiet);
    }

    #[test]
    fn what_makes_no_sense_is_refused() {
        for words in [
            "survey --mix m.wav",
            "survey --mix m.wav --json report.json",
            "survey --mix m.wav --json - --replace",
            "survey --natural n.wav --out dir --cue",
            "survey --mix m.wav --out dir --fail-on loud",
            "survey --mix m.wav --out dir --threads 0",
            "survey --mix m.wav --out dir --resample 8000",
            "survey --mix m.wav --out dir --target bells=3",
            "survey --mix m.wav --out dir --loudness loud",
            "survey --mix m.wav --out dir --rate-of-frames 29.97",
            "survey --mix m.wav --out dir --gain mix=loud",
            "survey --mix m.wav --out dir --mono-pan 3",
            "mics",
            "weigh",
        ] {
            let error = read(words).expect_err(words);
            assert_eq!(error.exit_code(), 2, "{words}");
        }
    }
}
