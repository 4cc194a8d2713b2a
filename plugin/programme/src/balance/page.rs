//! Sixty-four neighbouring tenths of one layer, in the little that shares need.

use super::packed::{LARGEST_ENERGY, Packed};
use plumbline_measure::Digest;
use plumbline_measure::bands::{THIRDS, WINDOWS};
use std::ops::RangeInclusive;

/// Tenths a page: as many as a word has bits.
pub(super) const PAGE: usize = 64;

/// Share heard of a tenth that was heard whole.
const WHOLE: u16 = u16::MAX;

/// A page. Slots that are not used hold 0, so that sums may run over all of them.
#[derive(Debug)]
pub(super) struct Page {
    /// K-weighted mean squares.
    pub(super) k: [f32; PAGE],
    /// Left and right mean square of each third, added.
    pub(super) thirds: [[Packed; THIRDS]; PAGE],
    /// Bit w of a slot: window w had a frame in it.
    pub(super) windows: [u8; PAGE],
    /// Bit t: tenth t is there.
    pub(super) used: u64,
    /// Bit t: tenth t was heard whole.
    pub(super) whole: u64,
    /// Count of the last write.
    pub(super) written: u64,
    share: [u16; PAGE],
    sums: [f32; THIRDS],
    stale: bool,
}

/// Page and slot of an index.
pub(super) fn place(index: i64) -> (i64, usize) {
    (index.div_euclid(PAGE as i64), usize::try_from(index.rem_euclid(PAGE as i64)).unwrap_or(0))
}

/// Index of a slot.
pub(super) fn index_of(number: i64, slot: usize) -> i64 {
    number.saturating_mul(PAGE as i64).saturating_add(i64::try_from(slot).unwrap_or(0))
}

/// Bits of the slots of page `number` that lie in a range of indices.
pub(super) fn mask_of(number: i64, range: &RangeInclusive<i64>) -> u64 {
    let first = index_of(number, 0);
    let low = range.start().saturating_sub(first).max(0);
    let high = range.end().saturating_sub(first).min(PAGE as i64 - 1);
    if low > high {
        return 0;
    }
    let ones = u64::MAX >> (PAGE as i64 - 1 - (high - low));
    ones << low
}

/// The places of the ones of a word.
pub(super) fn ones(mut bits: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let at = bits.trailing_zeros() as usize;
        bits &= bits.wrapping_sub(1);
        (at < PAGE).then_some(at)
    })
}

/// Share of a tenth that was heard, rounded down, so that only a whole one is [`WHOLE`].
fn share_heard(digest: &Digest) -> u16 {
    if digest.length == 0 {
        return 0;
    }
    let share = u64::from(digest.frames) * u64::from(WHOLE) / u64::from(digest.length);
    u16::try_from(share).unwrap_or(WHOLE)
}

impl Page {
    pub(super) fn new() -> Box<Self> {
        Box::new(Self {
            k: [0.0; PAGE],
            thirds: [[Packed::default(); THIRDS]; PAGE],
            windows: [0; PAGE],
            used: 0,
            whole: 0,
            written: 0,
            share: [0; PAGE],
            sums: [0.0; THIRDS],
            stale: false,
        })
    }

    /// Writes a tenth, unless more of it was heard before. Returns whether it was written.
    pub(super) fn write(&mut self, slot: usize, digest: &Digest, count: u64) -> bool {
        let (bit, share) = (1_u64 << slot, share_heard(digest));
        if self.used & bit != 0 && share < self.share[slot] {
            return false;
        }
        self.share[slot] = share;
        self.k[slot] = energy(digest.k);
        for (third, packed) in self.thirds[slot].iter_mut().enumerate() {
            let stored = digest.thirds[third];
            let both = f64::from(stored.ll) + f64::from(stored.rr);
            *packed = if digest.has_third(third) { Packed::new(both) } else { Packed::default() };
        }
        self.windows[slot] = digest.heard & ((1 << WINDOWS) - 1);
        self.used |= bit;
        self.whole = if share == WHOLE && digest.lost == 0 { self.whole | bit } else { self.whole & !bit };
        self.written = count;
        self.stale = true;
        true
    }

    /// Takes the sound out of some slots. Returns whether there was any slot among them.
    pub(super) fn silence(&mut self, slots: u64) -> bool {
        for slot in ones(self.used & slots) {
            self.k[slot] = 0.0;
            self.thirds[slot] = [Packed::default(); THIRDS];
            self.stale = true;
        }
        self.used & slots != 0
    }

    /// Brings the sums up to date.
    pub(super) fn settle(&mut self) {
        if !std::mem::take(&mut self.stale) {
            return;
        }
        let mut sums = [0.0; THIRDS];
        for slot in ones(self.used) {
            add_thirds(&mut sums, &self.thirds[slot]);
        }
        #[expect(clippy::cast_possible_truncation, reason = "a sum of numbers of eight bits each")]
        let single = sums.map(|sum| sum as f32);
        self.sums = single;
    }

    /// Sum of each third over the page, as of [`Self::settle`].
    pub(super) fn sums(&self) -> &[f32; THIRDS] {
        &self.sums
    }
}

/// Adds a tenth's thirds to sums.
pub(super) fn add_thirds(sums: &mut [f64; THIRDS], thirds: &[Packed; THIRDS]) {
    for (sum, third) in sums.iter_mut().zip(thirds) {
        *sum += f64::from(third.get());
    }
}

/// A K-weighted mean square as it is kept; what is none counts as silence.
fn energy(k: f64) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "storage in single precision is the purpose")]
    let single = if (0.0..=LARGEST_ENERGY).contains(&k) { k as f32 } else { 0.0 };
    single
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_masks_its_slots_up_to_the_ends_of_what_a_number_holds() {
        let mut cases = 0;
        for number in [i64::MIN >> 6, -1, 0, 1, i64::MAX >> 6] {
            for range in [
                i64::MIN..=i64::MAX,
                i64::MIN..=i64::MIN + 5,
                i64::MAX - 5..=i64::MAX,
                -3..=3,
                0..=63,
                60..=70,
                7..=7,
            ] {
                let expected = (0..PAGE)
                    .filter(|slot| range.contains(&index_of(number, *slot)))
                    .fold(0, |bits, slot| bits | 1_u64 << slot);
                assert_eq!(mask_of(number, &range), expected, "{number} {range:?}");
                assert_eq!(ones(expected).count(), expected.count_ones() as usize);
                cases += 1;
            }
        }
        assert_eq!(cases, 35);
        assert_eq!(mask_of(0, &RangeInclusive::new(1, 0)), 0);
    }

    #[test]
    fn an_index_has_one_place() {
        for index in [i64::MIN, i64::MIN + 63, -65, -64, -1, 0, 63, 64, i64::MAX] {
            let (number, slot) = place(index);
            assert_eq!(index_of(number, slot), index);
        }
    }

    #[test]
    fn what_was_heard_more_stays() {
        let heard = |frames, k| Digest { frames, length: 4_800, k, ..Digest::default() };
        let mut page = Page::new();
        assert!(page.write(3, &heard(4_800, 1.0), 1));
        assert!(!page.write(3, &heard(4_799, 2.0), 2));
        assert_eq!((page.k[3], page.whole), (1.0, 8));
        assert!(page.write(3, &heard(4_800, 3.0), 3));
        assert_eq!(page.k[3], 3.0);
        for k in [f64::NAN, f64::INFINITY, -1.0, 1e31] {
            assert!(page.write(3, &heard(4_800, k), 4));
            assert_eq!(page.k[3], 0.0);
        }
        assert_eq!(share_heard(&heard(u32::MAX, 1.0)), WHOLE);
        assert_eq!(share_heard(&Digest::default()), 0);
    }
}
