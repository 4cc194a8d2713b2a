//! Statistics since reset: of everything, and of each passage between marks.

use super::{History, Mark, PassageLine, Programme, RangeInclusive, SessionFollower, Settings};
use plumbline_measure::Grid;
use plumbline_programme::Summary;
use plumbline_programme::session::Stretch;

/// A line for everything since reset, then one for each passage in order; lines without audio are left out.
pub(super) fn of(
    history: &mut History,
    programme: &Programme,
    session: &mut SessionFollower,
    (settings, marks): (&Settings, &[Mark]),
) -> Vec<PassageLine> {
    let grid = programme.grid();
    let mut lines = Vec::new();
    for (place, range) in stretches(marks, grid).into_iter().enumerate() {
        let mut summary = Summary::default();
        history.summarise(grid, &range, &settings.band_edges, &mut summary);
        if summary.is_empty() {
            continue;
        }
        let mut line = PassageLine { grid, ..PassageLine::default() };
        summary.fill(&mut line);
        let (integrated, spread) = programme.part(range.clone());
        line.loudness.integrated_lufs = integrated;
        line.loudness.range_lu = spread;
        if let Some(feed) = session.feed_mut() {
            let stretch = if place == 0 { Stretch::Programme } else { Stretch::Passage };
            feed.fill(stretch, grid, &range, &mut line);
        }
        lines.push(line);
    }
    lines
}

/// All time on the grid, then the passages between marks, if there are marks.
fn stretches(marks: &[Mark], grid: Grid) -> Vec<RangeInclusive<i64>> {
    let mut all = vec![i64::MIN..=i64::MAX];
    let mut edges: Vec<i64> = marks.iter().filter(|m| m.grid == grid).map(|m| m.index).collect();
    if edges.is_empty() {
        return all;
    }
    edges.push(i64::MAX);
    let mut from = i64::MIN;
    for edge in edges {
        all.push(from..=edge.saturating_sub(1));
        from = edge;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passages_lie_between_marks_and_leave_nothing_out() {
        let mark = |grid, index| Mark { grid, index };
        assert_eq!(stretches(&[mark(Grid::Clock, 3)], Grid::Song).len(), 1);
        let found = stretches(&[mark(Grid::Song, -5), mark(Grid::Song, 70)], Grid::Song);
        assert_eq!(found[1..], [i64::MIN..=-6, -5..=69, 70..=i64::MAX - 1]);
    }
}
