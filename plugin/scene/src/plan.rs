//! The scene's timetable in seconds. Every edge is on the grid of tenths, so that planted stretches and measured tenths
//! cover the same samples.

/// Sample rate of the scene.
pub(crate) const RATE_HZ: f64 = 48_000.0;
/// The sample rate, for a file header.
pub(crate) const RATE: u32 = 48_000;
/// Length of the scene.
pub(crate) const SECONDS: f64 = 72.0;
/// Bits per sample.
pub(crate) const BITS: u16 = 24;
/// Name of the mix file.
pub const MIX_FILE: &str = "mix.wav";

/// A stretch of the scene.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) start: f64,
    pub(crate) end: f64,
}

const fn stretch(start: f64, end: f64) -> Stretch {
    Stretch { start, end }
}

/// The sample at a time.
pub(crate) fn frame(secs: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a time inside the scene")]
    let frame = (secs.max(0.0) * RATE_HZ).round() as usize;
    frame
}

/// Samples in the scene.
pub(crate) fn frames() -> usize {
    frame(SECONDS)
}

impl Stretch {
    /// The samples of the stretch.
    pub(crate) fn range(self) -> std::ops::Range<usize> {
        frame(self.start)..frame(self.end)
    }

    /// The gain at a time: 1 inside, 0 outside, with raised-cosine fades of `fade` seconds just inside the edges.
    pub(crate) fn gate(self, secs: f64, fade: f64) -> f64 {
        let inside = (secs - self.start).min(self.end - secs) / fade;
        let x = inside.clamp(0.0, 1.0);
        0.5 - 0.5 * (std::f64::consts::PI * x).cos()
    }
}

/// The cut from behind the closed door to the tower.
pub(crate) const CUT_SECS: f64 = 2.2;
/// The tower alone: wind, pigeons, the yard. Unrelated channels.
pub(crate) const TOWER_ALONE: Stretch = stretch(0.0, 11.0);
/// The part in which its two channels are made exactly orthogonal, and are measured.
pub(crate) const TOWER_CORE: Stretch = stretch(3.0, 10.5);
/// The mason at work, on boom and lavalier.
pub(crate) const WORK: [Stretch; 4] =
    [stretch(11.2, 33.6), stretch(38.4, 43.6), stretch(52.6, 55.8), stretch(62.6, 69.8)];
/// A dropout: digital silence in every stem.
pub(crate) const DROPOUT: Stretch = stretch(19.3, 19.5);
/// Steps on the stair, from left to right.
pub(crate) const STEPS: Stretch = stretch(22.0, 30.0);
/// The right channel of the tower microphone is dead, and the rope creaks hard left.
pub(crate) const ONE_SIDED: Stretch = stretch(34.0, 38.0);
/// A designed swell whose right channel is late.
pub(crate) const LATE: Stretch = stretch(44.0, 52.0);
/// Its part at full level.
pub(crate) const LATE_CORE: Stretch = stretch(45.0, 51.0);
/// A designed swell whose right channel is inverted.
pub(crate) const FLIPPED: Stretch = stretch(56.0, 62.0);
/// Its part at full level.
pub(crate) const FLIPPED_CORE: Stretch = stretch(57.0, 61.0);
/// The middle of a thump that the mix bus clips.
pub(crate) const CLIP_SECS: f64 = 66.05;
/// The middle of a short ping whose peak is between the samples.
pub(crate) const PING_SECS: f64 = 71.05;

/// The boom's delay relative to the lavalier, in samples: 4.66 ms, the travel time of sound over 1.6 m.
pub(crate) const BOOM_DELAY_SAMPLES: f64 = 223.68;
/// The delay of the late swell's right channel, in samples: 3 ms.
pub(crate) const LATE_SAMPLES: usize = 144;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_planted_edge_lies_on_a_tenth_and_inside_the_scene() {
        let all =
            [TOWER_ALONE, TOWER_CORE, DROPOUT, STEPS, ONE_SIDED, LATE, LATE_CORE, FLIPPED, FLIPPED_CORE];
        for stretch in all.into_iter().chain(WORK) {
            assert!(stretch.start < stretch.end && stretch.end <= SECONDS);
            for edge in [stretch.start, stretch.end] {
                assert_eq!(frame(edge) % 4_800, 0, "{edge}");
            }
        }
    }

    #[test]
    fn a_gate_is_shut_outside_and_open_inside() {
        let gate = |secs| ONE_SIDED.gate(secs, 0.1);
        assert_eq!([gate(33.0), gate(34.0), gate(36.0), gate(39.0)], [0.0, 0.0, 1.0, 0.0]);
        assert!((gate(34.05) - 0.5).abs() < 1e-9);
    }
}
