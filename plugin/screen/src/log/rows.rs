//! Which findings are shown, and in which order: pure.

use super::{Memory, Order};
use plumbline_programme::Finding;
use plumbline_programme::findings::{KINDS, Kind};
use std::cmp::Ordering;

/// Places in the log of what is shown, in the order of the table.
pub(super) fn rows(findings: &[Finding], memory: &Memory) -> Vec<usize> {
    let mut rows: Vec<usize> = (0..findings.len()).filter(|at| shown(&findings[*at], memory)).collect();
    // The finding's number parts what is equal otherwise, so that no row jumps between frames.
    rows.sort_by(|a, b| {
        let (a, b) = (&findings[*a], &findings[*b]);
        let order = compare(a, b, memory.order).then_with(|| a.id.cmp(&b.id));
        if memory.turned { order.reverse() } else { order }
    });
    rows
}

fn shown(finding: &Finding, memory: &Memory) -> bool {
    let all = memory.only == [false; KINDS];
    (all || memory.only[finding.kind.place()]) && !(memory.hide_seen && finding.seen)
}

fn compare(a: &Finding, b: &Finding, order: Order) -> Ordering {
    let time = || (a.grid, a.start).cmp(&(b.grid, b.start));
    match order {
        Order::Time => time(),
        // Units of two kinds cannot be compared: within a grade, kinds stand together, each by its own worst.
        Order::Grade => b
            .grade
            .cmp(&a.grade)
            .then_with(|| a.kind.cmp(&b.kind))
            .then_with(|| b.worst.abs().total_cmp(&a.worst.abs()))
            .then_with(time),
        Order::Kind => a.kind.cmp(&b.kind).then_with(time),
    }
}

/// How many there are of each kind, those that are hidden as seen left out.
pub(super) fn counts(findings: &[Finding], memory: &Memory) -> [usize; KINDS] {
    let mut counts = [0; KINDS];
    for finding in findings.iter().filter(|finding| !(memory.hide_seen && finding.seen)) {
        counts[finding.kind.place()] += 1;
    }
    counts
}

/// Whether a kind's toggle can be used: it has findings, or it is what hides all others.
pub(super) fn usable(kind: Kind, counts: &[usize; KINDS], memory: &Memory) -> bool {
    counts[kind.place()] > 0 || memory.only[kind.place()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::Grid;
    use plumbline_programme::findings::Grade;

    fn finding(id: u64, kind: Kind, start: i64, grade: Grade, worst: f64) -> Finding {
        Finding {
            id,
            kind,
            grid: Grid::Song,
            start,
            end: start + 5,
            open: false,
            span: None,
            worst,
            at: start,
            grade,
            opposed: false,
            right: None,
            role: None,
            layers: Vec::new(),
            seen: id == 3,
        }
    }

    fn five() -> Vec<Finding> {
        vec![
            finding(1, Kind::Wind, 40, Grade::Slight, 7.0),
            finding(2, Kind::Balance, 10, Grade::Clear, -30.0),
            finding(3, Kind::Balance, 90, Grade::Clear, 12.0),
            finding(4, Kind::Clipped, -20, Grade::Grave, f64::NAN),
            finding(5, Kind::MonoLoss, 10, Grade::Grave, f64::INFINITY),
        ]
    }

    fn ids(memory: &Memory) -> Vec<u64> {
        let findings = five();
        rows(&findings, memory).into_iter().map(|at| findings[at].id).collect()
    }

    #[test]
    fn orders_are_by_time_by_grade_and_by_kind_and_can_be_turned() {
        let by = |order, turned| ids(&Memory { order, turned, ..Memory::default() });
        assert_eq!(by(Order::Time, false), [4, 2, 5, 1, 3]);
        assert_eq!(by(Order::Time, true), [3, 1, 5, 2, 4]);
        assert_eq!(by(Order::Grade, false), [5, 4, 2, 3, 1], "−30 points are worse than +12");
        assert_eq!(by(Order::Kind, false), [5, 4, 1, 2, 3]);
    }

    #[test]
    fn a_chosen_kind_hides_the_others_and_what_was_seen_can_be_hidden() {
        let mut memory = Memory::default();
        memory.only[Kind::Balance.place()] = true;
        assert_eq!(ids(&memory), [2, 3]);
        memory.hide_seen = true;
        assert_eq!(ids(&memory), [2]);
        memory.only[Kind::Wind.place()] = true;
        assert_eq!(ids(&memory), [2, 1]);
        memory.only = [false; KINDS];
        assert_eq!(ids(&memory), [4, 2, 5, 1]);
    }

    #[test]
    fn counts_follow_what_is_hidden_and_an_empty_kind_can_still_be_let_go() {
        let findings = five();
        let mut memory = Memory::default();
        assert_eq!(counts(&findings, &memory)[Kind::Balance.place()], 2);
        memory.hide_seen = true;
        let counts = counts(&findings, &memory);
        assert_eq!(counts[Kind::Balance.place()], 1);
        assert!(usable(Kind::Wind, &counts, &memory) && !usable(Kind::Gap, &counts, &memory));
        memory.only[Kind::Gap.place()] = true;
        assert!(usable(Kind::Gap, &counts, &memory));
    }
}
