//! The copy of the mix with the findings as cue points.

use crate::files::{Wav, flac16, noise, tone, wav};
use crate::rig::{TempDir, run};

/// Frames of the cue points of a WAV (RIFF: a count, then 24 bytes per point, with its sample offset last).
fn cue_points(bytes: &[u8]) -> Vec<u32> {
    let u32_at = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
    let mut at = 12;
    while at + 8 <= bytes.len() {
        let size = u32_at(at + 4) as usize;
        if &bytes[at..at + 4] == b"cue " {
            let count = u32_at(at + 8) as usize;
            return (0..count).map(|n| u32_at(at + 12 + 24 * n + 20)).collect();
        }
        at += 8 + size + size % 2;
    }
    Vec::new()
}

/// Four seconds of two unrelated noises, with 40 samples at full scale from 2 s on.
fn clipping(rate: u32) -> Vec<Vec<f64>> {
    let frames = 4 * rate as usize;
    let side = |seed| {
        let mut side = noise(seed, frames, 0.1);
        side[2 * rate as usize..][..40].fill(1.0);
        side
    };
    vec![side(1), side(2)]
}

#[test]
fn cue_points_stand_on_the_files_own_time_line() {
    let folder = TempDir::new();
    let midnight = Wav { time_reference: Some(0), ..Wav::default() };
    let first = folder.file("n.wav", &midnight.bytes(&[tone(440.0, 96_000, 0.1)]));
    let mut marked = 0;
    for (rate, name) in [(48_000_u32, "same.wav"), (44_100, "other.wav")] {
        // One second after the start of the line.
        let later = Wav { time_reference: Some(u64::from(rate)), rate, ..Wav::default() };
        let sound = clipping(rate);
        let mix = folder.file(name, &later.bytes(&sound));
        let before = std::fs::read(&mix).expect("the mix");
        let out = folder.word(&format!("out-{name}"));
        let words =
            ["survey", "--natural", &first, "--mix", &mix, "--out", &out, "--cue", "--resample", "48000"];
        run(words).ended_with(0);
        assert_eq!(std::fs::read(&mix).expect("the mix"), before, "an input is never touched");
        let report = folder.json(&format!("out-{name}/report.json"));
        let found = report["findings"].as_array().expect("findings");
        let copy = std::fs::read(folder.path(&format!("out-{name}/mix-cues.wav"))).expect("the copy");
        let points = cue_points(&copy);
        assert_eq!(points.len(), found.len(), "a point for each finding");
        // The tenth that clips begins at 3.0 s of the line: 2.0 s of the file.
        assert!(points.contains(&(2 * rate)), "{name}: {points:?}, and {found:?}");
        // The samples are those of the mix.
        let data = &before[before.len() - sound[0].len() * 4..];
        assert!(copy.windows(64).any(|window| window == &data[..64]), "the sound is in the copy");
        marked += 1;
    }
    assert_eq!(marked, 2);
}

#[test]
fn a_mix_that_cannot_hold_them_is_told_before_it_is_measured() {
    let folder = TempDir::new();
    let mix = folder.file("mix.flac", &flac16(&clipping(48_000)));
    // Checked before the folder, and so before anything is measured.
    let words = ["survey", "--mix", &mix, "--out", &folder.word("no/such"), "--cue"];
    run(words).ended_with(3).said_in_one_line(&["mix.flac", "WAV", "--cue"]);
    // Without a mix there is nothing to copy.
    let stem = folder.file("n.wav", &wav(&[tone(440.0, 48_000, 0.1)]));
    run(["survey", "--natural", &stem, "--out", &folder.word("out"), "--cue"])
        .ended_with(2)
        .said_in_one_line(&["--mix"]);
    assert_eq!(folder.names(""), ["mix.flac", "n.wav"]);
}
