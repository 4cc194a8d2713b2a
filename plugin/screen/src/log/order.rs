//! The findings that the table shows, and their order.

use plumbline_programme::Finding;
use plumbline_programme::findings::{KINDS, Kind};
use std::cmp::Ordering;

/// Order of the table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum FindingOrder {
    /// The earliest first.
    #[default]
    Time,
    /// The gravest first.
    Grade,
    /// In the order of the rules.
    Kind,
}

/// The choice of findings in the table, and their order.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Filter {
    pub(super) order: FindingOrder,
    /// Whether the order is reversed.
    pub(super) turned: bool,
    /// The only kinds to show; if none is set, all are shown.
    pub(super) only: [bool; KINDS],
    pub(super) hide_seen: bool,
}

impl Filter {
    /// Sets an order; setting it again reverses it.
    pub(super) fn order_by(&mut self, order: FindingOrder) {
        self.turned = self.order == order && !self.turned;
        self.order = order;
    }
}

/// Indices into the log of the findings to show, in table order.
pub(super) fn order(findings: &[Finding], filter: &Filter) -> Vec<usize> {
    let mut rows: Vec<usize> = (0..findings.len()).filter(|at| shown(&findings[*at], filter)).collect();
    // Equal findings are ordered by number, so that no row jumps between frames.
    rows.sort_by(|a, b| {
        let (a, b) = (&findings[*a], &findings[*b]);
        let ordering = compare(a, b, filter.order).then_with(|| a.id.cmp(&b.id));
        if filter.turned { ordering.reverse() } else { ordering }
    });
    rows
}

fn shown(finding: &Finding, filter: &Filter) -> bool {
    let all = filter.only == [false; KINDS];
    (all || filter.only[finding.kind.place()]) && !(filter.hide_seen && finding.seen)
}

fn compare(a: &Finding, b: &Finding, order: FindingOrder) -> Ordering {
    let time = || (a.grid, a.start).cmp(&(b.grid, b.start));
    match order {
        FindingOrder::Time => time(),
        // Kinds have different units, so within a grade findings are grouped by kind, in order of worst value.
        FindingOrder::Grade => b
            .grade
            .cmp(&a.grade)
            .then_with(|| a.kind.cmp(&b.kind))
            .then_with(|| b.worst.abs().total_cmp(&a.worst.abs()))
            .then_with(time),
        FindingOrder::Kind => a.kind.cmp(&b.kind).then_with(time),
    }
}

/// The number of findings of each kind, without those hidden as done.
pub(super) fn counts(findings: &[Finding], filter: &Filter) -> [usize; KINDS] {
    let mut counts = [0; KINDS];
    for finding in findings.iter().filter(|finding| !(filter.hide_seen && finding.seen)) {
        counts[finding.kind.place()] += 1;
    }
    counts
}

/// Whether a kind's button is enabled: it has findings, or it is the only kind shown.
pub(super) fn usable(kind: Kind, counts: &[usize; KINDS], filter: &Filter) -> bool {
    counts[kind.place()] > 0 || filter.only[kind.place()]
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
            cause: None,
            right: None,
            role: None,
            layers: Vec::new(),
            follows: None,
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

    fn ids(filter: &Filter) -> Vec<u64> {
        let findings = five();
        order(&findings, filter).into_iter().map(|at| findings[at].id).collect()
    }

    #[test]
    fn orders_are_by_time_by_grade_and_by_kind_and_can_be_turned() {
        let by = |order, turned| ids(&Filter { order, turned, ..Filter::default() });
        assert_eq!(by(FindingOrder::Time, false), [4, 2, 5, 1, 3]);
        assert_eq!(by(FindingOrder::Time, true), [3, 1, 5, 2, 4]);
        assert_eq!(by(FindingOrder::Grade, false), [5, 4, 2, 3, 1], "−30 points are worse than +12");
        assert_eq!(by(FindingOrder::Kind, false), [5, 4, 1, 2, 3]);
    }

    #[test]
    fn a_chosen_kind_hides_the_others_and_what_was_seen_can_be_hidden() {
        let mut filter = Filter::default();
        filter.only[Kind::Balance.place()] = true;
        assert_eq!(ids(&filter), [2, 3]);
        filter.hide_seen = true;
        assert_eq!(ids(&filter), [2]);
        filter.only[Kind::Wind.place()] = true;
        assert_eq!(ids(&filter), [2, 1]);
        filter.only = [false; KINDS];
        assert_eq!(ids(&filter), [4, 2, 5, 1]);
    }

    #[test]
    fn counts_follow_what_is_hidden_and_an_empty_kind_can_still_be_let_go() {
        let findings = five();
        let mut filter = Filter::default();
        assert_eq!(counts(&findings, &filter)[Kind::Balance.place()], 2);
        filter.hide_seen = true;
        let counts = counts(&findings, &filter);
        assert_eq!(counts[Kind::Balance.place()], 1);
        assert!(usable(Kind::Wind, &counts, &filter) && !usable(Kind::Gap, &counts, &filter));
        filter.only[Kind::Gap.place()] = true;
        assert!(usable(Kind::Gap, &counts, &filter));
    }

    #[test]
    fn an_order_taken_twice_is_turned_over_and_another_starts_afresh() {
        let mut filter = Filter::default();
        filter.order_by(FindingOrder::Time);
        assert!(filter.turned, "time is where it starts");
        filter.order_by(FindingOrder::Grade);
        assert!(!filter.turned);
        filter.order_by(FindingOrder::Grade);
        filter.order_by(FindingOrder::Grade);
        assert!(!filter.turned && filter.order == FindingOrder::Grade);
    }
}
