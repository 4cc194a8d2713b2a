//! The footer: lost audio, undo, and the format measured.

use crate::frame_data::Scene;
use crate::page_state::Undo;
use crate::painter::{Painter, tooltip_area};
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::State;
use egui::{Align2, Ui, pos2};
use plumbline_programme::View;
use plumbline_report::figures;

/// The problems with the audio, and whether each is a fault; empty if there were none.
fn trouble(view: &View, held: bool, unfit_blocks: u64) -> Vec<(State, String)> {
    let health = &view.health;
    let mut words = Vec::new();
    if held {
        words.push((State::Note, "Held: picture frozen, measuring continues".to_owned()));
    }
    if health.gaps > 0 || health.lost_frames > 0 {
        let gaps = figures::count(health.gaps as f64, "gap", "gaps");
        let lost = figures::count(health.lost_frames as f64, "sample lost", "samples lost");
        words.push((State::Fault, format!("{gaps} in the measurement, {lost}")));
    }
    if unfit_blocks > 0 {
        let blocks = figures::count(unfit_blocks as f64, "block", "blocks");
        words.push((State::Fault, format!("{blocks} not measured: the host broke the rules of its format")));
    }
    if health.not_finite > 0 {
        let bad = figures::count(health.not_finite as f64, "sample", "samples");
        words.push((State::Fault, format!("{bad} not a number, measured as silence")));
    }
    if health.jumps > 0 {
        words.push((
            State::Note,
            figures::count(health.jumps as f64, "jump in song position", "jumps in song position"),
        ));
    }
    words.extend(view.session.notes.iter().map(crate::words::note_in_short));
    if view.clock.rate_hz > 0 && !view.on_song_time() {
        words.push((State::Note, "No song position: clock time".to_owned()));
    }
    words
}

fn format_words(view: &View) -> String {
    if view.clock.rate_hz == 0 {
        return "No audio yet".to_owned();
    }
    let channels = match view.clock.channels {
        1 => "mono",
        2 => "stereo",
        _ => "no channels",
    };
    let rate = figures::plain(Some(f64::from(view.clock.rate_hz) / 1_000.0), 2);
    let rate = rate.trim_end_matches('0').trim_end_matches('.');
    format!("{rate}\u{a0}kHz  ·  {channels}")
}

/// Width in points kept free at the right, for the corner that resizes the window.
const CORNER: f32 = 14.0;

/// Paints the footer; returns whether the user clicked the undo.
pub(crate) fn footer_ui(undo: Option<&Undo>, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) -> bool {
    let (rect, theme) = (scene.layout.footer, scene.theme);
    if rect.height() < 12.0 {
        return false;
    }
    let mut undone = false;
    let right = painter.text(
        // The corner belongs to the handle that resizes the window.
        pos2(rect.right() - CORNER, rect.center().y),
        Align2::RIGHT_CENTER,
        format_words(scene.view),
        size::SMALL,
        theme.muted,
    );
    let mut left = rect.left();
    if let Some(what) = undo.map(|undo| undo.what) {
        let mut row = widgets::row(ui, "undo", rect);
        row.spacing_mut().interact_size.y = rect.height();
        row.spacing_mut().button_padding.y = 0.0;
        row.label(egui::RichText::new(what).size(size::SMALL));
        undone = row.button("Undo").on_hover_text("Undoes the last change").clicked();
        left = row.min_rect().right() + space::GAP * 2.0;
    }
    let words = trouble(scene.view, scene.info.held, scene.info.unfit_blocks);
    for (state, text) in &words {
        let ink = if *state == State::Fault { theme.fault_text } else { theme.text };
        let galley = painter.line(text, size::SMALL, ink);
        let needed = galley.size().x + 14.0;
        if left + needed > right.left() - space::GAP {
            break;
        }
        painter.state(pos2(left + 4.0, rect.center().y), 8.0, *state);
        painter.put(pos2(left + 14.0, rect.center().y), Align2::LEFT_CENTER, galley);
        left += needed + space::GAP * 2.0;
    }
    if words.is_empty() && (undo.is_none() || undone) && scene.view.clock.running {
        let text = "No audio lost";
        painter.text(pos2(left, rect.center().y), Align2::LEFT_CENTER, text, size::SMALL, theme.muted);
    }
    let tip = "Faults between host and measurement since reset: lost samples, blocks in which the host broke the rules of \
               its format, samples that are not a number, jumps of the transport. At the right, the format measured.";
    tooltip_area(ui, rect.with_min_x(left.min(rect.right())), "health", tip, || {
        let words: Vec<&str> = words.iter().map(|(_, text)| text.as_str()).collect();
        if words.is_empty() {
            "Health: no audio lost".to_owned()
        } else {
            format!("Health: {}", words.join(". "))
        }
    });
    undone
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_programme::{Clock, Health};

    #[test]
    fn trouble_is_silent_when_all_is_well_and_names_each_thing_otherwise() {
        let clock = Clock {
            position: plumbline_measure::Position { grid: plumbline_measure::Grid::Song, sample: 0 },
            rate_hz: 44_100,
            running: true,
            channels: 2,
            ..Clock::default()
        };
        let mut view = View { clock, ..View::default() };
        assert!(trouble(&view, false, 0).is_empty());
        assert_eq!(format_words(&view), "44.1\u{a0}kHz  ·  stereo");
        view.health = Health { gaps: 1, lost_frames: 512, not_finite: 3, jumps: 2 };
        view.clock.position.grid = plumbline_measure::Grid::Clock;
        let alone = plumbline_programme::session::SessionNote::Alone("no folder".to_owned());
        view.session =
            plumbline_programme::Session { notes: vec![alone], ..plumbline_programme::Session::default() }
                .into();
        let words: Vec<String> = trouble(&view, true, 4).into_iter().map(|(_, text)| text).collect();
        assert_eq!(
            words,
            [
                "Held: picture frozen, measuring continues",
                "1\u{a0}gap in the measurement, 512\u{a0}samples lost",
                "4\u{a0}blocks not measured: the host broke the rules of its format",
                "3\u{a0}samples not a number, measured as silence",
                "2\u{a0}jumps in song position",
                "Other layers cannot be heard: see the Layers page",
                "No song position: clock time",
            ]
        );
    }
}
