//! From sounds to stems and a mix: levels, gains, rounding.

use super::error::SceneError;
use super::loudness::{integrated, k_energy, lufs};
use super::plan::{
    BOOM_DELAY_SAMPLES, DROPOUT, LATE_CORE, ONE_SIDED, SECONDS, STEPS, Stretch, TOWER_CORE, WORK, frames,
};
use super::{design, foley, mason, tower};

/// Integrated loudness of the mix, EBU R 128 (h).
pub(crate) const TARGET_LUFS: f64 = -23.0;
/// Shares of the K-weighted energy, natural to Foley to design (common practice for hybrid mixes, no source).
const SHARES: [f64; 3] = [70.0, 18.0, 12.0];
/// Full scale of a 24-bit sample.
pub(crate) const FULL_SCALE: f64 = 8_388_608.0;
/// Gain of a mono stem into either side of the bus: panned to the middle by the equal-power law, −3.01 dB (common
/// practice, no source). Its K-weighted energy on the bus then equals that on its own track, where BS.1770 counts one
/// channel once.
pub(crate) const MONO_PAN: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Iterations for setting the loudness: each leaves far less than a tenth of the previous error.
const ROUNDS: usize = 6;

const WHOLE: Stretch = Stretch { start: 0.0, end: SECONDS };

/// The role of a stem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    Natural,
    Foley,
    Design,
}

impl Role {
    pub(crate) const ALL: [Self; 3] = [Self::Natural, Self::Foley, Self::Design];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Natural => "Natural",
            Self::Foley => "Foley",
            Self::Design => "Design",
        }
    }
}

/// One stem at its level in the mix; for a mono stem, the level in each channel.
pub(crate) struct Track {
    pub(crate) file: &'static str,
    pub(crate) name: &'static str,
    pub(crate) role: Role,
    pub(crate) gain_db: f64,
    pub(crate) sides: Vec<Vec<f64>>,
}

impl Track {
    fn scale(&mut self, gain: f64) {
        self.sides.iter_mut().flatten().for_each(|s| *s *= gain);
    }

    /// The signal for a channel of the bus: mono goes to both.
    pub(crate) fn side(&self, channel: usize) -> &[f64] {
        &self.sides[channel.min(self.sides.len() - 1)]
    }

    /// Gain from the file into a side of the mix: fader and pan.
    pub(crate) fn gain(&self) -> f64 {
        let pan = if self.sides.len() == 1 { MONO_PAN } else { 1.0 };
        pan * 10.0_f64.powf(self.gain_db / 20.0)
    }

    /// Scales the track to a loudness over a stretch.
    fn set(mut self, to_lufs: f64, over: Stretch) -> Self {
        let by_lu = to_lufs - lufs(&self.sides, over);
        self.scale(10.0_f64.powf(by_lu / 20.0));
        self
    }
}

/// All stems at their levels in the mix.
pub(crate) fn tracks(step: &mut dyn FnMut(&str)) -> Result<Vec<Track>, SceneError> {
    let track = |file, name, role, gain_db, sides| Track { file, name, role, gain_db, sides };
    step("the tower");
    let air = tower::tower();
    step("the mason");
    let strikes = mason::strikes();
    let close = mason::close_sound(&strikes);
    step("boom and lavalier");
    let boom = mason::boom(&close);
    let lavalier = mason::lavalier(&close, &air);
    drop(close);
    step("Foley");
    let [chisel, rope, steps] = [foley::chisel(&strikes), foley::rope(), foley::steps()];
    step("booms and swells");
    let [booms, swells] = [design::booms(), design::swells()];
    let boom_stretch = Stretch { start: 39.6, end: 42.0 };
    let mut tracks = vec![
        track("boom.wav", "boom", Role::Natural, -4.0, vec![boom]).set(-24.5, WORK[0]),
        track("lavalier.wav", "lavalier on the mason", Role::Natural, -8.0, vec![lavalier])
            .set(-29.0, WORK[0]),
        track("tower.wav", "tower ambience", Role::Natural, -2.0, air.into()).set(-28.0, TOWER_CORE),
        track("foley_chisel.wav", "Foley chisel", Role::Foley, -5.0, chisel.into()).set(-27.5, WORK[0]),
        track("foley_rope.wav", "Foley rope", Role::Foley, -6.0, rope.into()).set(-26.0, ONE_SIDED),
        track("foley_steps.wav", "Foley steps", Role::Foley, -7.0, steps.into()).set(-28.0, STEPS),
        track("design_booms.wav", "designed booms and bell", Role::Design, 3.0, booms.into())
            .set(-23.0, boom_stretch),
        track("design_swells.wav", "designed swells", Role::Design, 0.0, swells.into()).set(-24.0, LATE_CORE),
    ];
    step("the balance");
    balance(&mut tracks);
    punch_hole(&mut tracks);
    let spots = design::spots();
    set_loudness(&mut tracks, &spots)?;
    if let Some(booms) = tracks.iter_mut().find(|t| t.file == "design_booms.wav") {
        for (side, spot) in booms.sides.iter_mut().zip(&spots) {
            side.iter_mut().zip(spot).for_each(|(s, spot)| *s += spot);
        }
    }
    Ok(tracks)
}

/// Scales Foley and design so that the roles have their planned shares.
fn balance(tracks: &mut [Track]) {
    let energy = |tracks: &[Track], role: Role| -> f64 {
        tracks.iter().filter(|t| t.role == role).map(|t| k_energy(&t.sides, WHOLE)).sum()
    };
    let natural = energy(tracks, Role::Natural) / SHARES[0];
    for (role, share) in Role::ALL.into_iter().zip(SHARES).skip(1) {
        let gain = (natural * share / energy(tracks, role)).sqrt();
        tracks.iter_mut().filter(|t| t.role == role).for_each(|t| t.scale(gain));
    }
}

/// Sets a stretch of every stem to digital silence, as after a faulty transfer.
fn punch_hole(tracks: &mut [Track]) {
    for side in tracks.iter_mut().flat_map(|t| &mut t.sides) {
        side[DROPOUT.range()].fill(0.0);
    }
}

/// Scales everything except the planted spots until the mix, clipped by the bus, has its loudness.
fn set_loudness(tracks: &mut [Track], spots: &[Vec<f64>; 2]) -> Result<(), SceneError> {
    let sum = |channel: usize| -> Vec<f64> {
        let mut sum = vec![0.0; frames()];
        for track in tracks.iter() {
            sum.iter_mut().zip(track.side(channel)).for_each(|(sum, s)| *sum += s);
        }
        sum
    };
    let base = [sum(0), sum(1)];
    let mut gain = 1.0_f64;
    for _ in 0..ROUNDS {
        let side = |channel: usize| -> Vec<f64> {
            base[channel]
                .iter()
                .zip(&spots[channel])
                .map(|(s, spot)| (gain * s + spot).clamp(-1.0, 1.0))
                .collect()
        };
        let now =
            integrated(&[side(0), side(1)]).map_err(|_| SceneError::Levels("the loudness meter failed"))?;
        gain *= 10.0_f64.powf((TARGET_LUFS - now) / 20.0);
    }
    if !(0.01..100.0).contains(&gain) {
        return Err(SceneError::Levels("the mix cannot reach its loudness"));
    }
    tracks.iter_mut().for_each(|t| t.scale(gain));
    Ok(())
}

/// A stem or mix as written: 24-bit samples, one list per channel.
pub(crate) type Pcm = Vec<Vec<i32>>;

fn rounded(sample: f64) -> i32 {
    #[expect(clippy::cast_possible_truncation, reason = "held to 24 bits")]
    let value = (sample * FULL_SCALE).round().clamp(-FULL_SCALE, FULL_SCALE - 1.0) as i32;
    value
}

/// A stem at the level of its file, before fader and pan.
pub(crate) fn stem_pcm(track: &Track) -> Result<Pcm, SceneError> {
    let gain = track.gain();
    if track.sides.iter().flatten().any(|s| (s / gain).abs() >= 1.0) {
        return Err(SceneError::Levels("a stem reaches full scale"));
    }
    Ok(track.sides.iter().map(|side| side.iter().map(|s| rounded(s / gain)).collect()).collect())
}

/// The bus's mix of the stem files.
pub(crate) fn mix_pcm(tracks: &[Track], stems: &[Pcm]) -> Pcm {
    let channel = |channel: usize| {
        let mut sum = vec![0.0; frames()];
        for (track, stem) in tracks.iter().zip(stems) {
            let gain = track.gain() / FULL_SCALE;
            let side = &stem[channel.min(stem.len() - 1)];
            sum.iter_mut().zip(side).for_each(|(sum, s)| *sum += gain * f64::from(*s));
        }
        sum.into_iter().map(rounded).collect()
    };
    vec![channel(0), channel(1)]
}

/// Share of each stem in %, including planted spots.
pub(crate) fn shares(tracks: &[Track]) -> Vec<f64> {
    let energies: Vec<f64> = tracks.iter().map(|t| k_energy(&t.sides, WHOLE)).collect();
    let all: f64 = energies.iter().sum();
    energies.into_iter().map(|e| 100.0 * e / all).collect()
}

/// The delay of the boom relative to the lavalier, in ms.
pub(crate) fn boom_delay_ms() -> f64 {
    1000.0 * BOOM_DELAY_SAMPLES / super::plan::RATE_HZ
}
