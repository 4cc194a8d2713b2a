//! The arguments of the command. Their doc comments are the help.

mod examples;

use super::values;
use clap::{Args, Parser, Subcommand, ValueEnum};
use plumbline_measure::FrameRate;
use plumbline_programme::BalanceTarget;
use plumbline_programme::delivery::Preset;
use plumbline_programme::findings::Grade;
use std::path::PathBuf;

/// Measures mixes and stems offline: width, mono, microphones, balance, joins, delivery.
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

/// Options of every command that measures.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "For every command that measures")]
pub(crate) struct Global {
    /// Aims for the shares of the roles, in per cent, with a tolerance: natural=70±10,foley=20±5.
    ///
    /// The tolerance is 10 if not given; +- may stand for ±. Roles not named are free; `none` sets no aim at all. The
    /// default is natural=70±10, from common practice.
    #[arg(long, global = true, value_name = "AIMS", value_parser = values::aims)]
    pub(crate) aim: Option<BalanceTarget>,
    /// Delivery target by its document: r128, r128-live, r128-s1 (short form) or r128-s2 (streaming).
    ///
    /// Names used in the plug-in work too: "EBU R 128 s1". The default is r128. A broadcaster's or
    /// platform's own specification takes precedence.
    #[arg(long, global = true, value_name = "DOCUMENT", value_parser = values::delivery)]
    pub(crate) delivery: Option<Preset>,
    /// Frame rate of the timecode: 23.976, 24, 25, 29.97df, 29.97ndf, 30, 50, 59.94df, 59.94ndf or 60. The default is
    /// 25.
    #[arg(long, global = true, value_name = "RATE", value_parser = values::frame_rate, default_value = "25", hide_default_value = true)]
    pub(crate) frame_rate: FrameRate,
    /// Timecode of the first sample, HH:MM:SS:FF.
    ///
    /// The default is the start time in the earliest file (the time reference of a broadcast WAV), or 00:00:00:00.
    #[arg(long, global = true, value_name = "TIMECODE")]
    pub(crate) start: Option<String>,
    /// With `-`, report.json goes to standard output, and all messages go to standard error.
    #[arg(long, global = true, value_name = "-", value_parser = ["-"], hide_possible_values = true)]
    pub(crate) json: Option<String>,
    /// Print errors only.
    #[arg(long, short, global = true)]
    pub(crate) quiet: bool,
    /// Number of threads. The default is the number that the computer runs at once.
    #[arg(long, global = true, value_name = "COUNT", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub(crate) threads: Option<u16>,
    /// Convert all files to this sample rate, 22050 to 384000; without it, files of different rates are refused.
    #[arg(long, global = true, value_name = "HZ", value_parser = values::rate)]
    pub(crate) resample: Option<u32>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Measures stems, a mix, or both, and writes a report.
    #[command(after_help = examples::SURVEY, after_long_help = examples::SURVEY, infer_long_args = true)]
    Survey(Box<Survey>),
    /// Compares microphones in pairs: delay, polarity, drift, which one to move, and the gain.
    #[command(after_help = examples::MICS, after_long_help = examples::MICS, infer_long_args = true)]
    Mics {
        /// Two or more files. In a file of several channels each channel is a microphone; FILE#2 is the second.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
    },
    /// Makes the bell-tower scene: stems, a mix, and truth.json, which lists the planted values.
    #[command(after_help = examples::SCENE, after_long_help = examples::SCENE)]
    Scene {
        /// Folder to write to; created if missing. Files with the same names are replaced.
        dir: PathBuf,
    },
    /// Prints a completion script for a shell.
    #[command(after_help = examples::COMPLETIONS, after_long_help = examples::COMPLETIONS)]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Prints a page for `man`.
    #[command(after_help = examples::MAN, after_long_help = examples::MAN)]
    Man {
        /// The command to describe; the default is all of them.
        of: Option<String>,
    },
}

impl Command {
    /// Its name on the command line.
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

/// The arguments of `survey`: what to measure, and what to write.
#[derive(Clone, Debug, Args)]
pub(crate) struct Survey {
    /// Location sound. Each file is a layer, named after the file.
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
    /// A layer with its name and role: "mason=natural:boom.wav". Files with the same name are summed.
    #[arg(long, value_name = "NAME=ROLE:FILE", num_args = 1.., value_parser = values::layer, help_heading = "Sound")]
    pub(crate) layer: Vec<values::Layer>,
    /// The mix. Without it, the sum of the layers is measured as the bus, with mono files in the centre.
    #[arg(long, value_name = "FILE", help_heading = "Sound")]
    pub(crate) mix: Option<PathBuf>,
    /// Fader level in dB of a layer whose files were made before the fader: "mason=-4.5". `mix` is the mix.
    #[arg(long, value_name = "NAME=DB", num_args = 1.., value_parser = values::gain, help_heading = "Sound")]
    pub(crate) gain: Vec<values::Gain>,
    /// Recording technique of a layer, to check it: "mason=spaced:40" (cm), coincident, mid-side, binaural or one-sound.
    #[arg(long, value_name = "NAME=TECHNIQUE", num_args = 1.., value_parser = values::recorded, help_heading = "Sound")]
    pub(crate) recorded: Vec<values::Recorded>,
    /// Gain of a mono file into each side of the sum, dB: -3.01 for equal-power panning.
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = values::mono_pan, default_value = "-3.01", help_heading = "Sound")]
    pub(crate) mono_pan: f64,
    /// Marks at edits, to be measured as joins: .csv, .edl (CMX 3600), or the cue points of a .wav.
    ///
    /// CSV needs a header line with a column `timecode` or `seconds`; `name` is optional. A report's joins.csv works
    /// too. Timecode is read at --frame-rate and counts from the timecode of the first sample. An EDL gives the
    /// record-in of each event. Marks outside the programme are skipped and counted.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Sound")]
    pub(crate) marks: Vec<PathBuf>,
    /// Folder for the report. It is created if missing; its parent folder must exist.
    #[arg(long, short, value_name = "DIR", required_unless_present = "json", help_heading = "Report")]
    pub(crate) out: Option<PathBuf>,
    /// Replace an earlier report.
    #[arg(long, requires = "out", help_heading = "Report")]
    pub(crate) replace: bool,
    /// Also write tenths.csv: every reading of every tenth of a second.
    #[arg(long, requires = "out", help_heading = "Report")]
    pub(crate) tenths: bool,
    /// Also write mix-cues.wav: a copy of the mix, as WAV, with the findings as cue points.
    #[arg(long, requires = "out", requires = "mix", help_heading = "Report")]
    pub(crate) cue: bool,
    /// Also write all joins, found and marked, for other programs: .csv, .edl (CMX 3600), or cue points in a copy of
    /// the mix, .wav. An earlier file is replaced only with --replace.
    #[arg(long, value_name = "FILE", num_args = 1.., help_heading = "Report")]
    pub(crate) write_marks: Vec<PathBuf>,
    /// Exit with code 1 if there is a finding of this severity or worse.
    #[arg(long, value_name = "GRADE", help_heading = "Report")]
    pub(crate) fail_on: Option<FailOn>,
}

/// The severity from which a finding makes the command exit with code 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// Any finding.
    Slight,
    /// Findings that are easy to hear or see.
    Clear,
    /// Findings that lose sound, or fail delivery.
    Grave,
}

impl FailOn {
    /// The severity as a grade.
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
    use proptest::prelude::*;
    use proptest::test_runner::RngSeed;

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
             m.wav --layer bell=design:bell.wav --gain bell=-3 boom=2 --recorded bell=spaced:40 --mono-pan -3 --mix mix.wav --out dir --replace --tenths --cue --marks a.csv b.edl --marks c.wav --write-marks d.edl e.csv --fail-on clear \
             --aim natural=60 --delivery r128-s2 --frame-rate 29.97df --start 01:00:00:00 --json - --quiet \
             --threads 2 --resample 48000",
        )
        .expect("all of it");
        let Command::Survey(survey) = cli.command else { panic!("a survey") };
        assert_eq!(survey.natural.len(), 3);
        assert_eq!((survey.layer.len(), survey.gain.len(), survey.mono_pan), (1, 2, -3.0));
        assert_eq!((survey.marks.len(), survey.write_marks.len()), (3, 2));
        assert_eq!(survey.fail_on.map(FailOn::grade), Some(Grade::Clear));
        assert_eq!(cli.global.frame_rate, FrameRate::F29_97Drop);
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
            "survey --mix m.wav --out dir --aim bells=3",
            "survey --mix m.wav --out dir --delivery loud",
            "survey --mix m.wav --out dir --frame-rate 29.97",
            "survey --mix m.wav --out dir --gain mix=loud",
            "survey --mix m.wav --out dir --mono-pan 3",
            "mics",
            "weigh",
        ] {
            let error = read(words).expect_err(words);
            assert_eq!(error.exit_code(), 2, "{words}");
        }
    }

    /// Words of the command line and values as nobody should give them.
    fn word() -> impl Strategy<Value = String> {
        let command = Cli::command();
        let options = |of: &clap::Command| -> Vec<String> {
            of.get_arguments().filter_map(|arg| arg.get_long()).map(|long| format!("--{long}")).collect()
        };
        let mut known = options(&command);
        for sub in command.get_subcommands() {
            known.push(sub.get_name().to_owned());
            known.extend(options(sub));
        }
        let values = [
            "",
            "-",
            "--",
            "=",
            "=:",
            "mason=",
            "mason=natural:",
            "a=natural:b.wav",
            "a=spaced:1e400",
            "natural=70±10",
            "natural=1e400±-0",
            "natural=±",
            "none",
            "=natural",
            "a=-inf",
            "a=NaN",
            "1e400",
            "-3.01",
            "99:99:99:99",
            "00:00:00;29",
            "29.97df",
            "r128-s1",
            "r128-",
            "4294967296",
            "-1",
            "\u{202e}x",
            "a#0",
            "#99999999999999999999",
            "a.wav#1+2",
            "\u{0}",
        ];
        prop_oneof![
            4 => prop::sample::select(known),
            3 => prop::sample::select(values.to_vec()).prop_map(str::to_owned),
            1 => ".{0,40}",
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: RngSeed::Fixed(
                std::env::var("PLUMBLINE_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(0xC0_DE)
            ),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn any_command_line_is_understood_or_refused_in_words(words in prop::collection::vec(word(), 0..14)) {
            let all = std::iter::once("plumbline".to_owned()).chain(words);
            if let Err(error) = Cli::try_parse_from(all) {
                prop_assert!([0, 2].contains(&error.exit_code()));
                prop_assert!(!error.to_string().trim().is_empty());
            }
        }
    }
}
