//! An example for each need, at the end of the help. No line is wider than the help in a pipe.

/// Examples of the whole command.
pub(crate) const WHOLE: &str = "\
Examples:
  Stems against a mix, report in a folder:
    plumbline survey --natural boom.wav tower.wav --foley steps.wav --mix mix.wav --out report
  Do two microphones fight?
    plumbline mics boom.wav lavalier.wav
  A scene to try it on:
    plumbline scene demo

Exit codes: 0 done, 1 a finding as severe as --fail-on or worse, 2 command line not understood,
3 a file cannot be measured, 4 a result cannot be written, 130 stopped. `plumbline help survey`
has more examples.";

/// Examples of `survey`.
pub(crate) const SURVEY: &str = "\
Examples:
  A finished mix alone:
    plumbline survey --mix mix.wav --out report
  Stems; their sum is the mix:
    plumbline survey --natural boom.wav tower.wav --foley steps.wav --out report
  Stems against the mix that was made of them:
    plumbline survey --natural n.wav --foley f.wav --mix mix.wav --out report
  With aims for the shares of the roles:
    plumbline survey --natural n.wav --foley f.wav --aim natural=60±10,foley=30 --out report
  Names and roles by hand, two files in one layer:
    plumbline survey --layer \"mason=natural:boom.wav\" \"mason=natural:lav.wav\" --out report
  Stems that were made before their faders:
    plumbline survey --natural n.wav --foley f.wav --gain n=-4.5 f=2 --mix mix.wav --out report
  A field recorder's file of several channels, each a microphone:
    plumbline survey --natural take7.wav --out report
  Its third channel alone, and its first two as a stereo pair:
    plumbline survey --natural take7.wav#3 --foley take7.wav#1+2 --out report
  Another delivery document:
    plumbline survey --mix mix.wav --delivery r128-s1 --out report
  Timecode of the picture instead of the recorder's:
    plumbline survey --mix mix.wav --start 10:00:00:00 --frame-rate 29.97df --out report
  Files of different rates:
    plumbline survey --natural n.wav --music m.flac --resample 48000 --out report
  A gate for a batch: no output, exit code 1 on a clear finding:
    plumbline survey --mix mix.wav --out report --replace --fail-on clear --quiet
  Into a pipe, without a folder:
    plumbline survey --mix mix.wav --json - | jq .bus.loudness
  Every tenth of a second as a table, and a copy of the mix with cue points at the findings:
    plumbline survey --mix mix.wav --out report --tenths --cue
  Joins where the editor cut, and all joins back to the editor:
    plumbline survey --mix mix.wav --marks cut.edl --write-marks joins.edl --out report

Files: WAV (RF64 and BW64 too), FLAC, AIFF, Ogg Vorbis. A file with a start time is
placed there on the time line; one without is placed at its beginning. The report is written as a
whole or not at all; no input is ever changed.

Exit codes: 0 done, 1 a finding as severe as --fail-on or worse, 2 command line not understood,
3 a file cannot be measured, 4 the report cannot be written, 130 stopped.";

/// Examples of `mics`.
pub(crate) const MICS: &str = "\
Examples:
  Boom and lavalier:
    plumbline mics boom.wav lavalier.wav
  Every channel of a field recorder's file with every other:
    plumbline mics take7.wav
  Its second and its fifth channel, and a file beside it:
    plumbline mics take7.wav#2 take7.wav#5 spare.wav
  Left with right of a stereo file:
    plumbline mics room.wav#each
  For a program:
    plumbline mics boom.wav lavalier.wav --json -";

/// Examples of `scene`.
pub(crate) const SCENE: &str = "\
Example:
  plumbline scene demo && plumbline survey --mix demo/stems/mix.wav --out report";

/// Examples of `completions`.
pub(crate) const COMPLETIONS: &str = "\
Example:
  plumbline completions bash > ~/.local/share/bash-completion/completions/plumbline";

/// Examples of `man`.
pub(crate) const MAN: &str = "\
Examples:
  plumbline man survey | man -l -
  plumbline man > ~/.local/share/man/man1/plumbline.1";

#[cfg(test)]
mod tests {
    use super::*;

    /// The width that clap assumes without a terminal.
    const WIDTH: usize = 100;

    #[test]
    fn no_line_is_broken_in_a_pipe() {
        let mut lines = 0;
        for text in [WHOLE, SURVEY, MICS, SCENE, COMPLETIONS, MAN] {
            for line in text.lines() {
                assert!(line.chars().count() <= WIDTH, "{line}");
                lines += 1;
            }
        }
        assert!(lines > 60, "only {lines} lines were read");
    }
}
