//! Numbers of the layers of a session, for layers without a name from the host.
//!
//! A layer takes the highest number plus one, once, and keeps it for life: "Layer 2" stays layer 2 when layer 1 leaves.
//! The number is on the board, so that every window shows the same one.

use plumbline_programme::LayerId;
use std::collections::BTreeMap;
use std::time::Duration;

/// How long a layer waits for an earlier one without a number: that layer's process may be busy.
const WAIT: Duration = Duration::from_secs(1);
/// How long after taking a number a layer checks whether another process took the same one at the same moment.
pub(super) const SETTLING: Duration = Duration::from_secs(2);

/// A layer and its number, 0 before it has one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Claim {
    pub(crate) id: LayerId,
    /// When it was made. Layers are numbered in this order.
    pub(crate) joined: u64,
    pub(crate) number: u8,
}

impl Claim {
    fn came(self) -> (u64, LayerId) {
        (self.joined, self.id)
    }
}

/// The numbers taken in one round of the worker, not yet read back from the board.
#[derive(Debug, Default)]
pub(crate) struct Numbers(BTreeMap<LayerId, u8>);

impl Numbers {
    /// A new number for a layer; `None` if it keeps its number or waits. `waited`: time without a number.
    pub(super) fn next(
        &mut self,
        claims: impl Iterator<Item = Claim>,
        own: Claim,
        waited: Duration,
    ) -> Option<u8> {
        let others = claims.filter(|other| other.id != own.id).map(|other| {
            let number = self.0.get(&other.id).copied().unwrap_or(other.number);
            Claim { number, ..other }
        });
        let number = choose(own, others, waited)?;
        self.0.insert(own.id, number);
        Some(number)
    }
}

fn choose(own: Claim, others: impl Iterator<Item = Claim>, waited: Duration) -> Option<u8> {
    let others: Vec<Claim> = others.collect();
    let earlier = |other: &Claim| other.came() < own.came();
    if own.number != 0 {
        let taken = others.iter().any(|other| other.number == own.number && earlier(other));
        if !taken {
            return None;
        }
    } else if waited < WAIT && others.iter().any(|other| other.number == 0 && earlier(other)) {
        return None;
    }
    let highest = others.iter().map(|other| other.number).max().unwrap_or(0);
    let free = |number: &u8| others.iter().all(|other| other.number != *number);
    // The highest possible number is taken: fill a gap.
    highest.checked_add(1).or_else(|| (1..=u8::MAX).find(free))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(id: u64, joined: u64, number: u8) -> Claim {
        Claim { id: LayerId(id), joined, number }
    }

    fn chosen(own: Claim, others: &[Claim], waited_ms: u64) -> Option<u8> {
        choose(own, others.iter().copied(), Duration::from_millis(waited_ms))
    }

    #[test]
    fn numbers_follow_the_order_of_joining_and_are_kept() {
        assert_eq!(chosen(claim(9, 5, 0), &[], 0), Some(1));
        let others = [claim(1, 1, 1), claim(2, 2, 2), claim(4, 4, 4)];
        assert_eq!(
            chosen(claim(9, 5, 0), &others, 0),
            Some(5),
            "the number of one that left is not given again"
        );
        assert_eq!(chosen(claim(4, 4, 4), &others[..2], 0), None, "kept, though 3 left");
    }

    #[test]
    fn who_joined_later_waits_for_a_while() {
        let others = [claim(1, 1, 0), claim(2, 9, 0)];
        assert_eq!(chosen(claim(3, 5, 0), &others, 0), None);
        assert_eq!(chosen(claim(3, 5, 0), &others, 999), None);
        assert_eq!(chosen(claim(3, 5, 0), &others, 1_000), Some(1), "a process that hangs takes none");
        assert_eq!(chosen(claim(3, 0, 0), &others, 0), Some(1), "the first waits for nobody");
    }

    #[test]
    fn of_two_that_took_one_number_at_once_the_later_takes_another() {
        let (first, second) = (claim(7, 1, 3), claim(3, 2, 3));
        assert_eq!(chosen(first, &[second], 0), None);
        assert_eq!(chosen(second, &[first], 0), Some(4));
        // If both joined at the same moment, the smaller id comes first, in both processes.
        let (first, second) = (claim(3, 1, 3), claim(7, 1, 3));
        assert_eq!((chosen(first, &[second], 0), chosen(second, &[first], 0)), (None, Some(4)));
    }

    #[test]
    fn beyond_the_highest_a_gap_is_filled_and_there_may_be_none() {
        let mut others: Vec<Claim> = (1..=255).map(|n| claim(u64::from(n), 0, n)).collect();
        assert_eq!(chosen(claim(900, 9, 0), &others, 0), None);
        others.remove(16);
        assert_eq!(chosen(claim(900, 9, 0), &others, 0), Some(17));
    }
}
