//! Published values, each as its own named case at its tight tolerance, with the source beside it.
//!
//! One file a chapter. Where a document gives a tolerance of its own, both it and the tighter one that exact
//! arithmetic meets are checked. Values recalled rather than read are marked "from memory".

mod averaging;
mod balance;
mod bs1770;
mod correlation;
mod ebu_cases;
mod ebu_true_peak;
mod events;
mod fold_down;
mod joins;
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
mod timecode;
mod windows;
