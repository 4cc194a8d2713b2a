//! Layout of the Bus page, header and footer, from the size alone. If space is tight, blocks are left out in a fixed
//! order.

use crate::tokens::space;
use egui::{Rangef, Rect, Vec2, pos2, vec2};

/// Smallest size at which no block is left out, in points.
pub const SMALLEST: Vec2 = vec2(760.0, 480.0);
/// Size of a fresh window, in points.
pub const DEFAULT: Vec2 = vec2(1180.0, 760.0);

/// Height of the time lanes if only loudness and findings fit.
pub(crate) const TIME_SHORT: f32 = 52.0;
/// Height of all time lanes at the default size.
pub(crate) const TIME_FULL: f32 = 168.0;

/// The lanes over frequency, top to bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Lane {
    /// Level over frequency.
    Spectrum,
    /// Side share per third.
    Width,
    /// Correlation and coherence per third.
    Correlation,
    /// Out of step per third.
    OutOfStep,
    /// Mono loss per third.
    MonoLoss,
    /// Share of each role per third; only in a session of several layers.
    Shares,
}

impl Lane {
    /// All six, top to bottom.
    pub const ALL: [Self; 6] =
        [Self::Spectrum, Self::Width, Self::Correlation, Self::OutOfStep, Self::MonoLoss, Self::Shares];

    /// The lanes to show; with layer shares if `shares`.
    pub fn shown(shares: bool) -> &'static [Self] {
        if shares { &Self::ALL } else { &Self::ALL[..5] }
    }

    /// The lane's part of the height. If space is tight, the spectrum gives up some of its own so that every lane is
    /// legible.
    fn share(self, shares: bool, short: bool) -> f32 {
        let [alone, among] = match self {
            Self::Spectrum if short => [0.32, 0.26],
            Self::Width | Self::MonoLoss if short => [0.16, 0.14],
            Self::Correlation if short => [0.19, 0.15],
            Self::OutOfStep if short => [0.17, 0.14],
            Self::Spectrum => [0.40, 0.32],
            Self::Width | Self::MonoLoss => [0.14, 0.12],
            Self::Correlation => [0.19, 0.15],
            Self::OutOfStep => [0.13, 0.12],
            Self::Shares => [0.0, 0.17],
        };
        if shares { among } else { alone }
    }
}

/// The place of every block.
///
/// # Order of leaving out
/// As the height shrinks: rows of the time lanes (loudness and findings stay), the long form of sentences, rows of the
/// bands (correlation first), meters (peaks with DC, then balance; loudness last). As the width shrinks: buttons of the
/// control row, which the settings panel has too. Below [`SMALLEST`] the meters are left out as well, then the time
/// lanes.
#[derive(Clone, Debug, PartialEq)]
pub struct ScreenLayout {
    /// Whether space is tight.
    pub compact: bool,
    /// Name, session, timecode, hold, reset.
    pub header: Rect,
    /// The four verdicts.
    pub cards: [Rect; 4],
    /// The controls above the lanes.
    pub controls: Rect,
    /// Horizontal range of the frequency axis.
    pub axis: Rangef,
    /// The lanes, each with its gutter at the left and the labels of its values at the right.
    pub lanes: Vec<(Lane, Rect)>,
    /// Labels of the frequency axis.
    pub axis_labels: Rect,
    /// The bands as numbers.
    pub bands: Rect,
    /// Number of rows in the bands.
    pub band_rows: usize,
    /// Scope, meters, loudness.
    pub meters: Option<Rect>,
    /// The lanes over time.
    pub time: Option<Rect>,
    /// Lost audio, and the offer to undo.
    pub footer: Rect,
}

impl ScreenLayout {
    /// The gap between blocks.
    pub(crate) fn gap(&self) -> f32 {
        if self.compact { space::GAP_COMPACT } else { space::GAP }
    }

    /// The place of a page between header and footer, `above_footer` points clear of it.
    pub(crate) fn content(&self, above_footer: f32) -> Rect {
        let bottom = (self.footer.top() - above_footer).max(self.header.bottom());
        let top = (self.header.bottom() + self.gap()).min(bottom);
        Rect::from_min_max(pos2(self.header.left(), top), pos2(self.header.right(), bottom))
    }

    /// The layout of an area, with or without the lane of layer shares.
    pub fn new(area: Rect, shares: bool) -> Self {
        let compact = area.width() < 1_000.0 || area.height() < 640.0;
        let gap = if compact { space::GAP_COMPACT } else { space::GAP };
        let (header_h, cards_h, controls_h) = if compact { (32.0, 66.0, 24.0) } else { (38.0, 88.0, 26.0) };
        let inner = shrunk(area, gap);

        let mut rest = inner;
        let header = cut_top(&mut rest, header_h, gap);
        let cards_row = cut_top(&mut rest, cards_h, gap);
        let footer = cut_bottom(&mut rest, 18.0, gap * 0.5);
        let meters_w = (area.width() * 0.25).clamp(196.0, 300.0);
        let meters = (rest.width() >= meters_w * 2.0 && rest.height() >= 200.0).then(|| {
            let rect = Rect::from_min_max(pos2(rest.right() - meters_w, rest.top()), rest.max);
            rest.max.x = rect.left() - gap;
            rect
        });
        let time = time_height(rest.height()).map(|height| cut_bottom(&mut rest, height, gap));
        let controls = cut_top(&mut rest, controls_h, gap * 0.5);
        let gutter = if compact { space::GUTTER_COMPACT } else { space::GUTTER };
        let axis_left = rest.left() + gutter;
        let axis = Rangef::new(axis_left, (rest.right() - space::VALUES).max(axis_left + 1.0));

        let band_rows = rows(rest.height() - if shares && compact { 40.0 } else { 0.0 });
        let bands_h = if band_rows > 0 { space::LINE * (band_rows as f32 + 1.0) + 4.0 } else { 0.0 };
        let bands = cut_bottom(&mut rest, bands_h, 2.0);
        let axis_labels = cut_bottom(&mut rest, space::LINE, 0.0);
        Self {
            compact,
            header,
            cards: columns(cards_row, gap),
            controls,
            axis,
            lanes: stacked(rest, shares),
            axis_labels,
            bands,
            band_rows,
            meters,
            time,
            footer,
        }
    }
}

/// Height of the time lanes, from the height of the page below the verdicts; `None` if that is too low.
fn time_height(rest: f32) -> Option<f32> {
    match rest {
        h if h >= 480.0 => Some(TIME_FULL + ((h - 580.0) * 0.3).clamp(0.0, 140.0)),
        h if h >= 260.0 => Some(TIME_SHORT),
        _ => None,
    }
}

fn rows(height: f32) -> usize {
    match height {
        h if h >= 330.0 => 4,
        h if h >= 260.0 => 3,
        h if h >= 160.0 => 2,
        _ => 0,
    }
}

fn shrunk(area: Rect, by: f32) -> Rect {
    let by = by.min(area.width() / 4.0).min(area.height() / 4.0).max(0.0);
    area.shrink(by)
}

/// Cuts a row off the top, or takes all that is left if that is less.
fn cut_top(rest: &mut Rect, height: f32, gap: f32) -> Rect {
    let y = (rest.top() + height).min(rest.bottom());
    let row = Rect::from_min_max(rest.min, pos2(rest.right(), y));
    rest.min.y = (y + gap).min(rest.bottom());
    row
}

fn cut_bottom(rest: &mut Rect, height: f32, gap: f32) -> Rect {
    let y = (rest.bottom() - height).max(rest.top());
    let row = Rect::from_min_max(pos2(rest.left(), y), rest.max);
    rest.max.y = (y - gap).max(rest.top());
    row
}

fn columns(row: Rect, gap: f32) -> [Rect; 4] {
    let gap = gap.min(row.width() / 4.0);
    let width = ((row.width() - 3.0 * gap) / 4.0).max(0.0);
    [0.0, 1.0, 2.0, 3.0].map(|i| {
        let left = row.left() + i * (width + gap);
        Rect::from_min_size(pos2(left, row.top()), vec2(width, row.height()))
    })
}

/// Total height of the lanes below which the spectrum gives height to the others.
const SHORT_LANES: f32 = 230.0;

fn stacked(rest: Rect, shares: bool) -> Vec<(Lane, Rect)> {
    let mut top = rest.top();
    let short = rest.height() < SHORT_LANES;
    let place = |lane: &Lane| {
        let height = rest.height() * lane.share(shares, short);
        let rect = Rect::from_min_size(pos2(rest.left(), top), vec2(rest.width(), height));
        top += height;
        (*lane, rect)
    };
    Lane::shown(shares).iter().map(place).collect()
}

/// Asserts that blocks are inside an area and do not overlap.
#[cfg(test)]
pub(crate) fn assert_apart(area: Rect, blocks: &[Rect]) {
    for (i, a) in blocks.iter().enumerate() {
        assert!(a.width() >= 0.0 && a.height() >= 0.0, "{area:?}: block {i} is {a:?}");
        assert!(area.expand(0.01).contains_rect(*a), "{area:?}: block {i} {a:?} is outside");
        for b in &blocks[i + 1..] {
            let shared = a.shrink(0.01).intersect(b.shrink(0.01));
            assert!(!shared.is_positive(), "{area:?}: {a:?} overlaps {b:?}");
        }
    }
}

/// Asserts, at many sizes down to tiny ones, that the blocks of a page are inside it and do not overlap.
#[cfg(test)]
pub(crate) fn assert_apart_at_any_size(blocks: impl Fn(Rect, &ScreenLayout) -> Vec<Rect>) {
    for width in (0_u16..2_400).step_by(67) {
        for height in (0_u16..1_500).step_by(53) {
            let size = egui::vec2(f32::from(width), f32::from(height));
            let area = Rect::from_min_size(egui::pos2(3.0, 5.0), size);
            assert_apart(area, &blocks(area, &ScreenLayout::new(area, true)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blocks(layout: &ScreenLayout) -> Vec<Rect> {
        let mut all = vec![layout.header, layout.controls, layout.axis_labels, layout.bands, layout.footer];
        all.extend(layout.cards);
        all.extend(layout.lanes.iter().map(|lane| lane.1));
        all.extend(layout.meters);
        all.extend(layout.time);
        all
    }

    #[test]
    fn nothing_overlaps_and_all_is_inside_at_any_size() {
        let mut ran = 0;
        for width in (0..2_600).step_by(37) {
            for height in (0..1_700).step_by(41) {
                let area = Rect::from_min_size(pos2(3.0, 5.0), vec2(width as f32, height as f32));
                let layout = ScreenLayout::new(area, ran % 2 == 0);
                let blocks = blocks(&layout);
                assert_apart(area, &blocks);
                ran += 1;
            }
        }
        assert!(ran > 2_000);
    }

    #[test]
    fn no_block_is_lost_at_the_smallest_size_and_none_is_short_at_the_default() {
        let small = ScreenLayout::new(Rect::from_min_size(pos2(0.0, 0.0), SMALLEST), false);
        assert!(small.compact && small.meters.is_some() && small.time.is_some());
        assert!(small.band_rows >= 2);
        assert!(small.lanes.iter().all(|lane| lane.1.height() >= 30.0), "{:?}", small.lanes);
        let among = ScreenLayout::new(Rect::from_min_size(pos2(0.0, 0.0), SMALLEST), true);
        assert_eq!((small.lanes.len(), among.lanes.len()), (5, 6));
        assert!(among.lanes.iter().all(|lane| lane.1.height() >= 26.0), "{:?}", among.lanes);
        let full = ScreenLayout::new(Rect::from_min_size(pos2(0.0, 0.0), DEFAULT), false);
        assert!(!full.compact && full.meters.is_some());
        assert!(full.time.is_some_and(|time| time.height() >= TIME_FULL));
        assert_eq!(full.band_rows, 4);
    }
}
