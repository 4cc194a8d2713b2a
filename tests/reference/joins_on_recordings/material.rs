//! Recordings for programmes with and without joins, in two halves: a detector is tuned on one and judged on the other.

use super::RATE;
use crate::rig::frames;
use ebur128::{EbuR128, Mode};
use plumbline_tests::debian;
use plumbline_tests::recording::{decoded, resampled};
use plumbline_tests::signal::Noise;
use std::path::Path;

/// Music, speech, and sounds: the Debian packages.
const MUSIC: &str = "hyperrogue-music";
const SPEECH: [(&str, &str); 2] = [("codec2-examples", "wav"), ("pocketsphinx-testdata", "wav")];
const SOUNDS: &str = "sonic-pi-samples";
/// Loudness of all material, LUFS.
pub(super) const LOUDNESS: f64 = -23.0;
/// Recordings of continuous sound in [`SOUNDS`]. Loops are cut to the bar and repeat without a seam; of a texture,
/// the end is faded into the start.
const LOOPS: [&str; 15] = [
    "loop_3d_printer",
    "loop_amen_full",
    "loop_breakbeat",
    "loop_compus",
    "loop_electric",
    "loop_garzul",
    "loop_mehackit1",
    "loop_mehackit2",
    "loop_mika",
    "loop_perc1",
    "loop_perc2",
    "loop_safari",
    "loop_tabla",
    "loop_weirdo",
    "loop_drone_g_97",
];
const TEXTURES: [&str; 6] =
    ["ambi_drone", "ambi_glass_hum", "ambi_haunted_hum", "ambi_lunar_land", "ambi_sauna", "vinyl_hiss"];
/// Seconds over which a texture's end is faded into its start.
const SEAM_SECS: f64 = 1.0;

/// Left and right at [`RATE`].
pub(super) type Stereo = [Vec<f64>; 2];

/// A recording as it is used: how often it may be repeated.
#[derive(Clone)]
pub(super) struct Recording {
    pub(super) name: String,
    pub(super) sound: Stereo,
    pub(super) repeats: bool,
}

/// What a half holds.
#[derive(Default)]
pub(super) struct Half {
    /// Loops, textures and music.
    pub(super) continuous: Vec<Recording>,
    /// Short sounds that begin and end in silence.
    pub(super) single: Vec<Recording>,
    pub(super) speech: Vec<Recording>,
}

fn stereo(path: &Path) -> Stereo {
    let (rate, channels) = decoded(path);
    let at = |channel: usize| resampled(&channels[channel.min(channels.len() - 1)], rate, RATE);
    [at(0), at(1)]
}

/// A stretch of a sound.
pub(super) fn part(sound: &Stereo, from: usize, to: usize) -> Stereo {
    [0, 1].map(|channel| sound[channel][from..to].to_vec())
}

pub(super) fn scaled(sound: &Stereo, gain: f64) -> Stereo {
    [0, 1].map(|channel| sound[channel].iter().map(|x| gain * x).collect())
}

/// A sound at [`LOUDNESS`], by the integrated loudness of BS.1770 (the `ebur128` crate).
pub(super) fn levelled(sound: &Stereo) -> Stereo {
    let mut meter = EbuR128::new(2, RATE, Mode::I).expect("stereo");
    // Half a second of silence, so that a sound of less than a block is measured too.
    let mut padded = sound.clone();
    padded.iter_mut().for_each(|channel| channel.extend(vec![0.0; frames(0.5, RATE)]));
    meter.add_frames_planar_f64(&[&padded[0], &padded[1]]).expect("equal lengths");
    let loudness = meter.loudness_global().expect("measured");
    let gain = if loudness.is_finite() { 10.0_f64.powf((LOUDNESS - loudness) / 20.0) } else { 1.0 };
    scaled(sound, gain)
}

/// A texture whose end goes over into its start.
fn without_seam(sound: &Stereo) -> Stereo {
    let seam = frames(SEAM_SECS, RATE);
    let length = sound[0].len() - seam;
    let mut out = part(sound, 0, length);
    for (faded, all) in out.iter_mut().zip(sound) {
        for n in 0..seam {
            let angle = n as f64 / seam as f64 * std::f64::consts::FRAC_PI_2;
            faded[n] = angle.sin() * all[n] + angle.cos() * all[length + n];
        }
    }
    out
}

/// The two halves; `None` where a package is missing and optional.
pub(super) fn halves() -> Option<[Half; 2]> {
    let mut halves = [Half::default(), Half::default()];
    let (music, sounds) = (debian::all(MUSIC, "ogg"), debian::all(SOUNDS, "flac"));
    let speech: Vec<_> = SPEECH.iter().flat_map(|(package, ending)| debian::all(package, ending)).collect();
    if music.is_empty() || sounds.is_empty() || speech.is_empty() {
        return None;
    }
    let stem = |path: &Path| path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let pieces = music.iter().filter(|path| stem(path).starts_with("hr3-"));
    for (at, path) in pieces.enumerate() {
        let recording = Recording { name: stem(path), sound: stereo(path), repeats: false };
        halves[at % 2].continuous.push(recording);
    }
    let (mut continuous, mut single) = (0, 0);
    for path in &sounds {
        let name = stem(path);
        let (is_loop, is_texture) = (LOOPS.contains(&name.as_str()), TEXTURES.contains(&name.as_str()));
        let sound = stereo(path);
        if is_loop || is_texture {
            let sound = if is_texture { without_seam(&sound) } else { sound };
            halves[continuous % 2].continuous.push(Recording { name, sound, repeats: true });
            continuous += 1;
        } else {
            halves[single % 2].single.push(Recording { name, sound, repeats: false });
            single += 1;
        }
    }
    // `all` is a collection of speakers: full of joins.
    let spoken = speech.iter().filter(|path| stem(path) != "all");
    let mut spoken: Vec<Stereo> = spoken.map(|path| stereo(path)).collect();
    spoken.retain(|sound| sound[0].len() >= frames(5.0, RATE));
    for (at, sound) in spoken.into_iter().enumerate() {
        let name = format!("speech {at}");
        halves[at % 2].speech.push(Recording { name, sound: levelled(&sound), repeats: false });
    }
    Some(halves)
}

/// A stretch of a recording from a random place, at [`LOUDNESS`].
pub(super) fn stretch(recording: &Recording, secs: f64, dice: &mut Noise) -> Stereo {
    let (length, all) = (frames(secs, RATE), recording.sound[0].len());
    if recording.repeats {
        let from = below(all, dice);
        let cycled = [0, 1].map(|channel| {
            recording.sound[channel].iter().cycle().skip(from).take(length).copied().collect()
        });
        return levelled(&cycled);
    }
    // Not from the first and last 5 s, where a piece fades in and out.
    let edge = frames(5.0, RATE);
    let from = edge + below(all - 2 * edge - length, dice);
    levelled(&part(&recording.sound, from, from + length))
}

/// A random number below `end`.
pub(super) fn below(end: usize, dice: &mut Noise) -> usize {
    usize::try_from(dice.bits() % end.max(1) as u64).expect("below a usize")
}
