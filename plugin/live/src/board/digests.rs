//! Digests as words of a board file, and the checks of what is read.

use super::identity::{grid_of, grid_word};
use super::layout::DIGEST_WORDS;
use plumbline_measure::bands::WINDOWS;
use plumbline_measure::cross::Stored;
use plumbline_measure::rate::{HIGHEST_RATE_HZ, LOWEST_RATE_HZ, TENTHS_PER_SECOND};
use plumbline_measure::{Digest, Grid, LARGEST_SAMPLE};

/// Limit of a plausible tenth index: 2^48 tenths are 890 000 years, and leave room for sums.
const FARTHEST: i64 = 1 << 48;
/// Largest plausible mean square: two channels at the largest sample, and 30 dB for filters and rounding.
const LARGEST_POWER: f64 = 2e3 * (LARGEST_SAMPLE as f64) * (LARGEST_SAMPLE as f64);

/// A digest as words. `zero` is this process's zero on the clock by which processes agree, in tenths.
pub(super) fn to_words(digest: &Digest, zero: i64) -> [u64; DIGEST_WORDS] {
    let mut words = [0; DIGEST_WORDS];
    words[0] = shifted(digest.grid, digest.index, zero).cast_unsigned();
    words[1] = u64::from(digest.length) | u64::from(digest.frames) << 32;
    words[2] = u64::from(digest.lost) | u64::from(digest.heard) << 32 | grid_word(digest.grid) << 40;
    words[3] = digest.k.to_bits();
    let singles = digest.thirds.iter().flat_map(|t| [t.ll, t.rr, t.re]);
    for (k, single) in singles.enumerate() {
        words[4 + k / 2] |= u64::from(single.to_bits()) << (32 * (k % 2));
    }
    words
}

/// Reads a digest; `None` if it is implausible. A power that is NaN, infinite or out of range becomes 0.
pub(super) fn from_words(words: &[u64; DIGEST_WORDS], zero: i64) -> Option<Digest> {
    let low = |word: u64| u32::try_from(word & u64::from(u32::MAX)).unwrap_or(0);
    let grid = grid_of(words[2] >> 40)?;
    let index = words[0].cast_signed();
    let single = |k: usize| f32::from_bits(low(words[4 + k / 2] >> (32 * (k % 2))));
    let digest = Digest {
        grid,
        index: shifted(grid, Some(index).filter(|i| i.unsigned_abs() < FARTHEST.unsigned_abs())?, -zero),
        length: low(words[1]),
        frames: low(words[1] >> 32),
        lost: low(words[2]),
        k: power(f64::from_bits(words[3])),
        heard: u8::try_from(words[2] >> 32 & 0xFF).unwrap_or(0),
        thirds: std::array::from_fn(|t| third(single(3 * t), single(3 * t + 1), single(3 * t + 2))),
    };
    let lengths =
        i64::from(LOWEST_RATE_HZ) / TENTHS_PER_SECOND..=i64::from(HIGHEST_RATE_HZ) / TENTHS_PER_SECOND;
    let plausible = lengths.contains(&i64::from(digest.length))
        && digest.frames <= digest.length
        && digest.heard >> WINDOWS == 0
        && words[2] >> 41 == 0;
    plausible.then_some(digest)
}

/// A clock index converted between a process's zero and the board's; a song index does not change.
pub(super) fn shifted(grid: Grid, at: i64, by: i64) -> i64 {
    match grid {
        Grid::Song => at,
        Grid::Clock => at.saturating_add(by),
    }
}

fn power(value: f64) -> f64 {
    if (0.0..=LARGEST_POWER).contains(&value) { value } else { 0.0 }
}

/// The stored power of a third; zero if it is out of range, or the common part exceeds the mean of both channels.
fn third(ll: f32, rr: f32, re: f32) -> Stored {
    let fits = |x: f32| (0.0..=LARGEST_POWER).contains(&f64::from(x));
    // A part in a thousand for rounding in single precision.
    let common = f64::from(ll) * 0.5005 + f64::from(rr) * 0.5005;
    if fits(ll) && fits(rr) && f64::from(re).abs() <= common {
        Stored { ll, rr, re }
    } else {
        Stored::default()
    }
}

#[cfg(test)]
pub(super) fn sample(n: u64) -> Digest {
    // Every field is a function of n, so that a mixture of two digests is noticed.
    let x = (n % 1_000) as f32;
    Digest {
        grid: if n.is_multiple_of(2) { Grid::Song } else { Grid::Clock },
        index: n as i64,
        length: 4_800,
        frames: (n % 4_801) as u32,
        lost: (n % 77) as u32,
        k: n as f64,
        heard: (n % 8) as u8,
        thirds: std::array::from_fn(|t| Stored { ll: x + t as f32, rr: x, re: -x }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::bands::THIRDS;

    #[test]
    fn a_digest_travels_bit_for_bit_and_the_clock_moves_between_zeros() {
        let mut cases = 0;
        for n in 0..200 {
            let digest = sample(n);
            assert_eq!(from_words(&to_words(&digest, 9), 9), Some(digest));
            // Written by a process whose zero is 70 tenths after the reader's.
            let seen = from_words(&to_words(&digest, 170), 100).unwrap();
            assert_eq!(seen.index, digest.index + if digest.grid == Grid::Clock { 70 } else { 0 });
            cases += 1;
        }
        assert_eq!((cases, THIRDS), (200, 31));
    }

    #[test]
    fn what_is_no_number_becomes_nothing_and_what_cannot_be_is_refused() {
        let mut bad = sample(6);
        bad.k = f64::NAN;
        bad.thirds[3].ll = f32::INFINITY;
        bad.thirds[4].re = f32::NAN;
        bad.thirds[5].re = 1e6;
        bad.thirds[6].rr = -1.0;
        let seen = from_words(&to_words(&bad, 0), 0).unwrap();
        assert_eq!(seen.k, 0.0);
        assert!((3..=6).all(|t| seen.thirds[t] == Stored::default()));
        assert_eq!(seen.thirds[7], bad.thirds[7]);
        let refused = [
            Digest { index: 1 << 48, ..sample(6) },
            Digest { index: i64::MIN, ..sample(6) },
            Digest { length: 2_204, frames: 0, ..sample(6) },
            Digest { length: 38_401, ..sample(6) },
            Digest { frames: 4_801, ..sample(6) },
            Digest { heard: 8, ..sample(6) },
        ];
        assert!(refused.iter().all(|d| from_words(&to_words(d, 0), 0).is_none()));
    }
}
