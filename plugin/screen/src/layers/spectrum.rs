//! One layer over the mix per third, and the leader of each third.

use super::state::LayersState;
use super::title::title;
use crate::cursor::tag;
use crate::frame_data::Scene;
use crate::mapping::{FrequencyAxis, LABELLED_HZ, ValueAxis};
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::role_marks;
use crate::session_view;
use crate::settings::Settings;
use crate::tokens::{size, space, stroke};
use egui::{Align2, Rangef, Rect, Stroke, Ui, pos2};
use plumbline_measure::bands::{THIRD_LABELS, THIRDS, third_at, third_span};
use plumbline_programme::session::{LayerLine, Leader};
use plumbline_programme::{Role, Session};
use plumbline_report::figures;

const TIP: &str = "Thirds (IEC 61260-1) over the last 3 s, in dBFS: the mix pale, the layer coloured. Hatched thirds \
                   are covered: the other layers together are 10 dB or more above it, one of them 6 dB. The strip names the loudest \
                   layer in each third, with its lead over the next in dB.";

/// The frequency axis of a block, with room for values at the right.
pub(super) fn axis(inside: Rect) -> FrequencyAxis {
    let right = (inside.right() - space::VALUES).max(inside.left() + 1.0);
    FrequencyAxis { x: Rangef::new(inside.left(), right) }
}

/// The place of a third, narrower than its span so that neighbours stay apart.
pub(super) fn column(axis: FrequencyAxis, y: Rangef, third: usize) -> Rect {
    let span = third_span(third);
    let (left, right) = (axis.x(span.low_hz).max(axis.x.min), axis.x(span.high_hz).min(axis.x.max));
    Rect::from_x_y_ranges(left + 0.75..=(right - 0.75).max(left + 0.75), y)
}

pub(super) fn spectrum_ui(
    shared: &mut Shared,
    state: &LayersState,
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    let session = &*scene.view.session;
    if rect.height() < 70.0 || rect.width() < 120.0 {
        return;
    }
    painter.block(rect, scene.theme.panel);
    let Some(line) = state.shown(session) else { return };
    let own = if line.identity.role == Role::Mix { "" } else { " over the mix" };
    let inside = title(painter, rect, &format!("{}{own}, dBFS per third", session_view::name(line)));
    let axis = axis(inside);
    let labels = inside.bottom() - space::LINE;
    let strip = Rect::from_x_y_ranges(axis.x, labels - 30.0..=labels - 1.0);
    let plot = Rect::from_x_y_ranges(axis.x, inside.top()..=(strip.top() - 3.0).max(inside.top()));
    let leaders = session.leaders();
    background(painter, plot, axis, &shared.settings);
    bars(&shared.settings, painter, scene, line, plot, axis);
    leads(painter, scene, strip, axis, &leaders);
    for (hz, label) in LABELLED_HZ {
        let anchor = if hz >= 20_000.0 { Align2::RIGHT_CENTER } else { Align2::CENTER_CENTER };
        let x = if hz <= 20.0 { axis.x.min + 6.0 } else { axis.x(hz) };
        painter.text(pos2(x, labels + space::LINE / 2.0), anchor, label, size::AXIS, painter.theme.muted);
    }
    painter.text(
        pos2(strip.right() + 5.0, strip.top() + 8.0),
        Align2::LEFT_CENTER,
        "lead",
        size::AXIS,
        painter.theme.muted,
    );
    painter.text(
        pos2(strip.right() + 5.0, strip.bottom() - 7.0),
        Align2::LEFT_CENTER,
        "dB",
        size::AXIS,
        painter.theme.muted,
    );

    let all = Rect::from_x_y_ranges(axis.x, plot.top()..=strip.bottom());
    let hz = shared.cursor.follow(ui, "layer cursor", all, axis);
    let third = hz.and_then(third_at);
    let words = third.map(|third| readout(&shared.settings, session, line, &leaders, third));
    let name = session_view::name(line);
    let title = rect.with_max_y(inside.top());
    named_area(ui, title, "solo", || match &words {
        Some(words) => format!("Spectrum of {name}: {}", words.join(", ")),
        None => format!("Spectrum of {name} over the mix"),
    })
    .on_hover_text(TIP);
    if let (Some(hz), Some(words)) = (hz, words) {
        let x = axis.x(hz).clamp(axis.x.min, axis.x.max);
        painter.hairline(pos2(x, plot.top()), pos2(x, strip.bottom()), painter.theme.plumb);
        tag(painter, plot, x, &words);
    }
}

fn levels(settings: &Settings, plot: Rect) -> ValueAxis {
    let top = settings.top_db;
    ValueAxis { bottom: top - settings.span_db, top, y: plot.y_range() }
}

fn background(painter: &Painter, plot: Rect, axis: FrequencyAxis, settings: &Settings) {
    let theme = painter.theme;
    painter.fill(plot, theme.plot);
    for (hz, _) in LABELLED_HZ {
        painter.hairline(pos2(axis.x(hz), plot.top()), pos2(axis.x(hz), plot.bottom()), theme.grid);
    }
    let values = levels(settings, plot);
    let fit = f64::from(plot.height() / 22.0).max(1.0);
    let step = [10.0, 20.0, 40.0].into_iter().find(|s| settings.span_db / s <= fit).unwrap_or(80.0);
    let mut level = (values.top / step).floor() * step;
    while level > values.bottom {
        let y = values.y(level);
        painter.hairline(pos2(plot.left(), y), pos2(plot.right(), y), theme.grid);
        if y < plot.bottom() - 6.0 {
            let label = figures::plain(Some(level), 0);
            painter.text(
                pos2(plot.right() + 5.0, y.max(plot.top() + 5.0)),
                Align2::LEFT_CENTER,
                label,
                size::AXIS,
                theme.muted,
            );
        }
        level -= step;
    }
}

fn bars(
    settings: &Settings,
    painter: &Painter,
    scene: &Scene<'_>,
    line: &LayerLine,
    plot: Rect,
    axis: FrequencyAxis,
) {
    let (theme, session) = (painter.theme, &*scene.view.session);
    let painter = painter.within(plot);
    let values = levels(settings, plot);
    let mix = session.mix_thirds_dbfs();
    let covered = session.covered_thirds(line);
    let ink = scene.layer_ink(line.identity.colour, line.identity.role);
    for third in 0..THIRDS {
        let place = column(axis, plot.y_range(), third);
        if let Some(level) = mix[third] {
            painter.fill(place.with_min_y(values.y(level)), theme.bar_faint);
        }
        let Some(level) = line.thirds_dbfs[third].get() else { continue };
        let bar = place.shrink2(egui::vec2(place.width() * 0.16, 0.0)).with_min_y(values.y(level));
        if bar.height() < 0.5 {
            continue;
        }
        if line.identity.role != Role::Mix {
            painter.fill(bar, ink);
            painter.egui.rect_stroke(
                bar,
                0.0,
                Stroke::new(stroke::HAIR, theme.plot),
                egui::StrokeKind::Outside,
            );
        }
        if covered[third] {
            hatch(&painter, bar);
        }
    }
}

/// Slanted lines over a covered bar, so that colour alone does not mark it.
fn hatch(painter: &Painter, bar: Rect) {
    let clipped = painter.within(bar);
    let line = Stroke::new(stroke::MARK, painter.theme.plot);
    let mut y = bar.top() - bar.width();
    // The loop is bounded: no bar is higher than the screen.
    for _ in 0..400 {
        if y > bar.bottom() {
            break;
        }
        clipped.egui.line_segment([pos2(bar.left(), y + bar.width()), pos2(bar.right(), y)], line);
        y += 5.0;
    }
}

/// The leaders: runs of one layer with its name, and below them its margin in each third.
fn leads(
    painter: &Painter,
    scene: &Scene<'_>,
    strip: Rect,
    axis: FrequencyAxis,
    leaders: &[Option<Leader>; THIRDS],
) {
    let (theme, session) = (painter.theme, &*scene.view.session);
    painter.fill(strip, theme.plot);
    let names = Rangef::new(strip.top(), strip.top() + 15.0);
    let under = Rangef::new(names.max + 1.0, strip.bottom());
    let mut third = 0;
    while third < THIRDS {
        let Some(leader) = leaders[third] else {
            third += 1;
            continue;
        };
        let mut last = third;
        while last + 1 < THIRDS && leaders[last + 1].is_some_and(|next| next.id == leader.id) {
            last += 1;
        }
        let role = session.layer(leader.id).map_or(Role::Mix, |line| line.identity.role);
        let run = column(axis, names, third).union(column(axis, names, last));
        painter.fill(run, theme.role(role));
        let ink = theme.on_role(role);
        if run.width() >= 12.0 {
            role_marks::mark(painter, pos2(run.left() + 7.0, run.center().y), 8.0, role, ink);
        }
        let room = run.width() - 18.0;
        if room >= 24.0 {
            let name = session_view::name_of(session, leader.id);
            let galley = painter.fitted_in(name, size::AXIS, room, ink);
            painter.put(pos2(run.left() + 14.0, run.center().y), Align2::LEFT_CENTER, galley);
        }
        third = last + 1;
    }
    for (third, leader) in leaders.iter().enumerate() {
        let Some(leader) = leader else { continue };
        let place = column(axis, under, third);
        let text = if leader.by_db == f64::INFINITY {
            "∞".to_owned()
        } else {
            figures::plain(Some(leader.by_db), 0)
        };
        painter.text_if_fits(
            place.center(),
            Align2::CENTER_CENTER,
            text,
            size::AXIS,
            theme.text,
            place.width() - 1.0,
        );
    }
}

fn readout(
    settings: &Settings,
    session: &Session,
    line: &LayerLine,
    leaders: &[Option<Leader>; THIRDS],
    third: usize,
) -> Vec<String> {
    let level = |value: Option<f64>| figures::unit(figures::plain(value, 1), "dBFS");
    let stretch = settings.stretch;
    let share = line.parts[stretch.place()].thirds[third].get();
    let lead = match leaders[third] {
        Some(leader) if leader.by_db == f64::INFINITY => {
            format!("only {} plays", session_view::name_of(session, leader.id))
        }
        Some(leader) => {
            format!(
                "{} leads by {}",
                session_view::name_of(session, leader.id),
                figures::db(Some(leader.by_db))
            )
        }
        None => "none plays".to_owned(),
    };
    vec![
        format!("third {}  ·  {}", THIRD_LABELS[third], level(line.thirds_dbfs[third].get())),
        format!("mix {}", level(session.mix_thirds_dbfs()[third])),
        format!("share {}, {}", figures::percent(share), stretch.name().to_lowercase()),
        lead,
    ]
}
