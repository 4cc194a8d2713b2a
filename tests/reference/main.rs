//! Published values, each a named case with a tight tolerance and its source.
//!
//! There is one file per chapter. If a document gives a tolerance, that and the tighter one of exact arithmetic are
//! checked. Values recalled rather than looked up are marked "from memory".

mod averaging;
mod balance;
mod bs1770;
mod correlation;
mod ebu_cases;
mod ebu_true_peak;
mod events;
mod fold_down;
mod joins;
mod joins_of_recordings;
mod lines;
mod loss_attribution;
mod noise_colours;
mod octaves;
mod onsets;
mod oracle;
mod pair;
mod phase;
mod presence;
mod recordings;
mod rig;
mod scipy;
mod stated;
mod techniques;
mod timecode;
mod verdicts;
mod windows;
