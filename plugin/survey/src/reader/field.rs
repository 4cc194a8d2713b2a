//! What recorders write beside the sound: where on the clock it starts (`bext`, EBU Tech 3285).

use crate::riff::u64_at;

/// Where the time reference stands in a `bext` chunk: after description (256 bytes), originator and its reference (32
/// each), date (10) and time (8), EBU Tech 3285 version 2, clause 2.3.
const TIME_REFERENCE_AT: usize = 338;
/// Bytes of a `bext` chunk that are looked at.
pub(super) const BEXT_BYTES: u64 = 346;

/// The first sample's number since midnight; `None` where the chunk is missing or too short to tell.
pub(super) fn time_reference(bext: &[u8]) -> Option<u64> {
    (bext.len() as u64 >= BEXT_BYTES).then(|| u64_at(bext, TIME_REFERENCE_AT))
}
