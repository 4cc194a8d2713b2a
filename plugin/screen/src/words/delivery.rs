//! Delivery in words: a mix is judged by its target, any other layer is not.

use plumbline_measure::Loudness;
use plumbline_programme::Role;
use plumbline_programme::delivery::{DeliveryVerdict, Target};
use plumbline_report::words::{self, Context, VerdictText};

/// The delivery verdict for a role: only a mix is judged by the target.
pub fn delivery(verdict: &DeliveryVerdict, loudness: &Loudness, target: &Target, role: Role) -> VerdictText {
    match role {
        Role::Mix => words::delivery(verdict, loudness, target, None, Context::Live),
        part => words::delivery_of_a_part(verdict, loudness, part),
    }
}
