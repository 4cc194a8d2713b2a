//! Loudness of a programme: everything since reset, each song tenth counted once.
use crate::tenth::Tenth;
use crate::view::Loudness;

/// Integrated loudness and loudness range over tenths.
#[derive(Clone, Debug, Default)]
pub struct Programme {}

impl Programme {
    /// Takes a tenth; one that was measured before is replaced, unless less of it was heard this time.
    pub fn push(&mut self, _tenth: &Tenth) {}
    /// Forgets everything.
    pub fn clear(&mut self) {}
    /// Writes integrated loudness, range and measured seconds.
    pub fn fill(&self, _loudness: &mut Loudness) {}
}
