//! The command line, and the command's help, man page and completions.

use crate::files::{tone, wav};
use crate::rig::{TempDir, run};

#[test]
fn help_has_an_example_for_each_need_and_goes_to_stdout() {
    let whole = run(["--help"]).ended_with(0);
    for command in ["survey", "mics", "scene", "completions", "man"] {
        assert!(whole.stdout.contains(command), "{command}");
        let help = run(["help", command]).ended_with(0);
        assert!(
            help.stdout.contains("Example") && help.stdout.contains(&format!("plumbline {command}")),
            "{command}"
        );
        assert_eq!(help.stderr, "");
    }
    let version = run(["--version"]).ended_with(0);
    assert_eq!(version.stdout, format!("plumbline {}\n", env!("CARGO_PKG_VERSION")));
    let none = run::<&str>([]).ended_with(2);
    assert!(none.stdout.is_empty() && none.stderr.contains("Usage"), "help, but nothing was done");
}

/// Every example in the help must be a valid command line.
#[test]
fn every_example_in_the_help_is_understood() {
    let mut examples = 0;
    for command in ["survey", "mics", "scene"] {
        let help = run(["help", command]).stdout;
        for line in help.lines().map(str::trim).filter(|line| line.starts_with("plumbline ")) {
            for piece in line.split(" && ") {
                let words: Vec<&str> =
                    piece.split(" | ").next().expect("one at least").split(' ').skip(1).collect();
                if words[0] == "scene" {
                    continue;
                }
                // The files are missing, which is exit code 3; a command line that is not understood is 2.
                let words = words.iter().map(|word| word.trim_matches('"'));
                let words: Vec<String> = words.map(|word| word.replace("report", "no/such/folder")).collect();
                run(&words).ended_with(3);
                examples += 1;
            }
        }
    }
    assert!(examples >= 19, "only {examples} examples were read");
}

#[test]
fn what_is_not_understood_is_one_line_and_2() {
    let folder = TempDir::new();
    let mix = folder.file("mix.wav", &wav(&[tone(997.0, 4_800, 0.1)]));
    let out = folder.word("report");
    let cases: [(&[&str], &[&str]); 14] = [
        (&["weigh"], &["weigh"]),
        (&["survey", "--folley", &mix, "--out", &out], &["--folley", "--foley"]),
        (&["survey", "--mix", &mix], &["--out"]),
        (&["survey", "--out", &out], &["--mix", "--natural"]),
        (&["survey", "--mix", &mix, "--out", &out, "--delivery", "loud"], &["`loud`", "r128-s1"]),
        (&["survey", "--mix", &mix, "--out", &out, "--aim", "natural=900"], &["900", "70±10"]),
        (&["survey", "--mix", &mix, "--out", &out, "--frame-rate", "29.97"], &["29.97df"]),
        (&["survey", "--mix", &mix, "--out", &out, "--start", "25:00:00:00"], &["--start", "hours go to 23"]),
        (
            &["survey", "--mix", &mix, "--out", &out, "--frame-rate", "29.97df", "--start", "00:01:00:00"],
            &["--start", "drop-frame"],
        ),
        (&["survey", "--mix", &mix, "--json", "report.json"], &["--json"]),
        (&["survey", "--natural", &mix, &mix, "--out", &out], &["mix.wav", "twice"]),
        (&["survey", "--natural", &mix, "--gain", "bells=3", "--out", &out], &["bells", "mix"]),
        (&["mics", &mix], &["mix.wav", "second"]),
        (&["man", "weigh"], &["weigh", "survey"]),
    ];
    for (args, words) in cases {
        let ran = run(args).ended_with(2);
        ran.said_in_one_line(words);
        assert_eq!(folder.names(""), ["mix.wav"], "{args:?}");
    }
}

#[test]
fn shells_and_man_are_told_every_word() {
    let help = run(["help", "survey"]).stdout;
    let mut words: Vec<&str> = help
        .split_whitespace()
        .filter(|word| word.starts_with("--") && word.len() > 2)
        .map(|word| word.trim_end_matches(|c: char| !c.is_ascii_alphanumeric()))
        .collect();
    words.sort_unstable();
    words.dedup();
    assert!(words.len() > 20, "{words:?}");
    // Roff writes the hyphen as \-.
    let page = run(["man", "survey"]).ended_with(0).stdout.replace("\\-", "-");
    assert!(page.contains(".TH plumbline-survey 1"), "{page}");
    for word in &words {
        assert!(page.contains(word), "{word} is not on the page");
    }
    let mut shells = 0;
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = run(["completions", shell]).ended_with(0).stdout;
        for word in &words {
            // Fish names options without their hyphens.
            let word = if shell == "fish" { word.trim_start_matches('-') } else { word };
            assert!(script.contains(word), "{shell} does not know {word}");
        }
        shells += 1;
    }
    assert_eq!(shells, 5);
    let whole = run(["man"]).ended_with(0).stdout;
    assert!(whole.contains("plumbline\\-survey(1)") && whole.contains(".TH plumbline 1"), "{whole}");
}
