//! A page of tenths of one layer, reduced to what shares need.

use super::packed_energy::{LARGEST_ENERGY, Packed};
use crate::paged::{self, PAGE, ones};
use plumbline_measure::Digest;
use plumbline_measure::bands::{THIRDS, WINDOWS};

/// Share heard of a tenth that was heard whole.
const WHOLE: u16 = u16::MAX;

/// The part of a page of tenths that shares need. Unused slots hold 0, so sums may run over all slots.
#[derive(Debug)]
pub(super) struct Cells {
    /// K-weighted mean squares, summed over the channels.
    pub(super) k: [f32; PAGE],
    /// Mean square of each third, left and right added.
    pub(super) thirds: [[Packed; THIRDS]; PAGE],
    /// Bit w of a slot: window w had a frame in the tenth.
    pub(super) windows: [u8; PAGE],
    /// Bit t: tenth t was heard whole and no audio of it was lost.
    pub(super) whole: u64,
    share: [u16; PAGE],
    sums: [f32; THIRDS],
    stale: bool,
}

/// A page of one layer.
pub(super) type Page = paged::Page<Cells>;

impl Default for Cells {
    fn default() -> Self {
        Self {
            k: [0.0; PAGE],
            thirds: [[Packed::default(); THIRDS]; PAGE],
            windows: [0; PAGE],
            whole: 0,
            share: [0; PAGE],
            sums: [0.0; THIRDS],
            stale: false,
        }
    }
}

/// Share of a tenth that was heard, rounded down so that only a whole tenth gives [`WHOLE`].
fn share_heard(digest: &Digest) -> u16 {
    if digest.length == 0 {
        return 0;
    }
    let share = u64::from(digest.frames) * u64::from(WHOLE) / u64::from(digest.length);
    u16::try_from(share).unwrap_or(WHOLE)
}

impl Page {
    /// Writes a tenth, unless more of it was heard before. Returns whether it was written.
    pub(super) fn write(&mut self, slot: usize, digest: &Digest, count: u64) -> bool {
        let (bit, share) = (1_u64 << slot, share_heard(digest));
        if self.used & bit != 0 && share < self.share[slot] {
            return false;
        }
        self.share[slot] = share;
        self.k[slot] = energy(digest.k);
        let thirds = &mut self.thirds[slot];
        for (third, packed) in thirds.iter_mut().enumerate() {
            let stored = digest.thirds[third];
            let both = f64::from(stored.ll) + f64::from(stored.rr);
            *packed = if digest.has_third(third) { Packed::new(both) } else { Packed::default() };
        }
        self.windows[slot] = digest.heard & ((1 << WINDOWS) - 1);
        self.used |= bit;
        let whole = share == WHOLE && digest.lost == 0;
        self.whole = if whole { self.whole | bit } else { self.whole & !bit };
        self.written = count;
        self.stale = true;
        true
    }

    /// Silences some slots. Returns whether any of them was used.
    pub(super) fn silence(&mut self, slots: u64) -> bool {
        for slot in ones(self.used & slots) {
            self.k[slot] = 0.0;
            self.thirds[slot] = [Packed::default(); THIRDS];
            self.stale = true;
        }
        self.used & slots != 0
    }

    /// Updates the sums.
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

    /// Sum of each third over the page, at the last [`Self::settle`].
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

/// A K-weighted mean square as stored. A negative, non-finite or too large value becomes 0.
fn energy(k: f64) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "storage in single precision is the purpose")]
    let single = if (0.0..=LARGEST_ENERGY).contains(&k) { k as f32 } else { 0.0 };
    single
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_heard_more_stays() {
        let heard = |frames, k| Digest { frames, length: 4_800, k, ..Digest::default() };
        let mut page = Page::default();
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
