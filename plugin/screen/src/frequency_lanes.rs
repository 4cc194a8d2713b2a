//! The lanes over frequency: one shared axis, one cursor through all of them.

mod band_numbers;
mod lane;
mod legend;
mod readout;
mod shares;
mod spectrum;
mod stereo;

use crate::frame_data::Scene;
use crate::layout::Lane;
use crate::mapping::{FrequencyAxis, LABELLED_HZ, ValueAxis};
use crate::page_state::Shared;
use crate::painter::{Painter, tooltip_area};
use crate::settings::Settings;
use crate::tokens::{size, space};
use egui::{Align2, Rect, Ui, pos2};
use lane::LanePainter;

/// A value on the axis of a lane, its label, and whether its line has a meaning, such as a limit.
struct Tick(f64, &'static str, bool);

/// Paints all lanes, their axis, the bands below them, and the cursor across them.
pub(crate) fn lanes_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
    let frequency = FrequencyAxis { x: scene.layout.axis };
    let layout = &scene.layout;
    let top = layout.lanes.first().map_or(layout.axis_labels.top(), |lane| lane.1.top());
    let field = Rect::from_x_y_ranges(frequency.x, top..=layout.axis_labels.bottom());
    let hz = shared.cursor.follow(ui, "column cursor", field, frequency);
    let settings = &shared.settings;
    let spectral = scene.view.spectral(settings.averaging);
    for &(lane, rect) in &scene.layout.lanes {
        let plot = lane::plot(rect, frequency);
        if !plot.is_positive() {
            continue;
        }
        let lane_painter = LanePainter {
            painter: painter.within(plot),
            scene,
            settings,
            spectral,
            lane,
            plot,
            frequency,
            values: values(lane, settings, plot),
        };
        lane_painter.background(painter);
        let gutter = Rect::from_x_y_ranges(rect.left()..=plot.left() - space::NEAR, plot.y_range());
        lane_painter.title(painter, gutter);
        match lane {
            Lane::Spectrum => lane_painter.spectrum(),
            Lane::Shares => lane_painter.shares(),
            _ => lane_painter.thirds(),
        }
        if spectral.whole.level_dbfs.is_none() && lane == Lane::Spectrum {
            lane_painter.nothing_yet(painter);
        }
        let tip = if lane == Lane::Spectrum && lane_painter.by_thirds() { THIRDS_TIP } else { tip(lane) };
        let id =
            ["spectrum", "width", "correlation", "out of step", "mono loss", "layer share"][lane as usize];
        // The tooltip is on the name: over the plot it would hide the readings.
        tooltip_area(ui, gutter, id, tip, || readout::aloud(scene, settings, lane, hz));
    }
    axis_labels(painter, scene, frequency);
    band_numbers::bands_ui(ui, painter, scene, spectral, frequency);
    if let Some(hz) = hz {
        readout::paint(painter, scene, settings, frequency, hz);
    }
}

fn values(lane: Lane, settings: &Settings, plot: Rect) -> ValueAxis {
    let (bottom, top) = match lane {
        Lane::Spectrum => (settings.top_db - settings.span_db, settings.top_db),
        Lane::Width => (0.0, 1.0),
        Lane::Correlation => (-1.0, 1.0),
        Lane::OutOfStep | Lane::Shares => (0.0, 1.0),
        Lane::MonoLoss => (-LOSS_SPAN_DB, 0.0),
    };
    ValueAxis { bottom, top, y: plot.y_range() }
}

/// Length of the mono loss axis in dB; an arrow marks a larger loss.
const LOSS_SPAN_DB: f64 = 12.0;

const THIRDS_TIP: &str = "No spectral lines were kept of this moment: the steps are the levels of the thirds (IEC \
                          61260-1), mean of both channels, in dBFS. A third is eight cells of 1/24 octave wide, so \
                          noise reads 9 dB higher in it. Thirds below 63 Hz are indicative.";

fn tip(lane: Lane) -> &'static str {
    match lane {
        Lane::Spectrum => {
            "Power in cells of 1/24 octave, at least 6.3 Hz wide at 48 kHz, mean of both channels, in dBFS (AES17: a \
             full-scale sine reads 0). A tone reads its level; pink noise is flat from about 200 Hz up. Averages of \
             125 ms and 1 s follow IEC 61672-1 F and S."
        }
        Lane::Width => {
            "Side share S/(M+S) per third (IEC 61260-1), in per cent: 0 mono, 50 unrelated, 100 all side. Wide is \
             not a fault in itself. Thirds below 63 Hz are drawn faint: they are indicative."
        }
        Lane::Correlation => {
            "Bars: correlation of left and right per third, −1 to +1. Marks: coherence, 0 to 1, averaged 2 s: how \
             much sound both channels share, whatever its phase. A low bar under a high mark is one sound out of step."
        }
        Lane::OutOfStep => {
            "Share of the common sound that does not add up in phase, per third, 0 to 1: coherence − \
             max(correlation, 0)². Real ambience stays below the line at 0.6, and so does a pan. Orange where one delay \
             or polarity explains it, so that it can be repaired."
        }
        Lane::MonoLoss => {
            "Mono loss per third, in dB: 0 for identical channels, −3 for unrelated ones. Orange from −6 where the \
             mono verdict is a fault; an arrow means gone in mono."
        }
        Lane::Shares => {
            "Share of each role in the energy of all layers except the mix, per third, in per cent, stacked from the \
             bottom: Natural, Foley, Design, Voice, Music. Over the stretch chosen in the balance at the right."
        }
    }
}

impl LanePainter<'_> {
    fn ticks(&self) -> Vec<Tick> {
        match self.lane {
            Lane::Spectrum => Vec::new(),
            Lane::Width | Lane::Shares => {
                vec![Tick(1.0, "100", false), Tick(0.5, "50", true), Tick(0.0, "0", false)]
            }
            Lane::Correlation => vec![Tick(1.0, "+1", false), Tick(0.0, "0", true), Tick(-1.0, "−1", false)],
            Lane::OutOfStep => vec![
                Tick(1.0, "1", false),
                Tick(plumbline_programme::verdict::OUT_OF_STEP_FAULT, "0.6", true),
                Tick(0.0, "0", false),
            ],
            Lane::MonoLoss => vec![
                Tick(0.0, "0", false),
                Tick(plumbline_programme::verdict::MONO_FAULT_BAND_DB, "−6", true),
                Tick(-LOSS_SPAN_DB, "−12", false),
            ],
        }
    }

    /// Background, grid, and labels of the value axis. The labels are outside the plot, so their painter is not
    /// clipped.
    fn background(&self, outside: &Painter) {
        let (painter, theme, plot) = (&self.painter, self.painter.theme, self.plot);
        painter.fill(plot, theme.plot);
        for (hz, _) in LABELLED_HZ {
            let x = self.frequency.x(hz);
            painter.hairline(pos2(x, plot.top()), pos2(x, plot.bottom()), theme.grid);
        }
        if self.lane == Lane::Spectrum {
            self.level_grid(outside);
        } else {
            let ticks = self.ticks();
            self.value_grid(outside, &ticks);
        }
    }

    fn value_grid(&self, outside: &Painter, ticks: &[Tick]) {
        let theme = self.painter.theme;
        let mut taken: Vec<f32> = Vec::new();
        // If two labels would touch, the one with a meaning stays, since it comes first.
        let (strong, weak): (Vec<&Tick>, Vec<&Tick>) = ticks.iter().partition(|tick| tick.2);
        for Tick(value, label, strong) in strong.into_iter().chain(weak) {
            let y = self.values.y(*value);
            let ink = if *strong { theme.grid_strong } else { theme.grid };
            self.painter.hairline(pos2(self.plot.left(), y), pos2(self.plot.right(), y), ink);
            // Labels at the ends stay inside the lane.
            let half = size::AXIS / 2.0 - 1.0;
            let y = y.clamp(self.plot.top() + half, (self.plot.bottom() - half).max(self.plot.top() + half));
            if taken.iter().all(|other| (other - y).abs() >= size::AXIS) {
                taken.push(y);
                outside.text(
                    pos2(self.plot.right() + 5.0, y),
                    Align2::LEFT_CENTER,
                    *label,
                    size::AXIS,
                    theme.muted,
                );
            }
        }
    }

    fn level_grid(&self, outside: &Painter) {
        let theme = self.painter.theme;
        let span = self.settings.span_db;
        let fit = f64::from(self.plot.height() / 22.0).max(1.0);
        let step = [3.0, 6.0, 10.0, 20.0, 40.0].into_iter().find(|s| span / s <= fit).unwrap_or(80.0);
        let mut level = (self.values.top / step).floor() * step;
        while level > self.values.bottom {
            let y = self.values.y(level);
            let ink = if level == 0.0 { theme.grid_strong } else { theme.grid };
            self.painter.hairline(pos2(self.plot.left(), y), pos2(self.plot.right(), y), ink);
            let half = size::AXIS / 2.0 + 1.0;
            if y < self.plot.bottom() - half {
                let label = plumbline_report::figures::plain(Some(level), 0);
                let y = y.max(self.plot.top() + half - 2.0);
                outside.text(
                    pos2(self.plot.right() + 5.0, y),
                    Align2::LEFT_CENTER,
                    label,
                    size::AXIS,
                    theme.muted,
                );
            }
            level -= step;
        }
    }

    /// The lane's name in the gutter, and as much of its legend as fits.
    fn title(&self, painter: &Painter, gutter: Rect) {
        let theme = painter.theme;
        let (title, unit) = match self.lane {
            Lane::Spectrum => ("Spectrum", self.spectrum_unit()),
            Lane::Width => ("Width", "side share %".to_owned()),
            Lane::Correlation => ("Correlation", String::new()),
            Lane::OutOfStep => ("Out of step", String::new()),
            Lane::MonoLoss => ("Mono loss", "dB".to_owned()),
            Lane::Shares => ("Layer share", format!("% {}", self.settings.stretch.name().to_lowercase())),
        };
        let mut y = gutter.top() + space::LINE / 2.0 - 1.0;
        painter.text(pos2(gutter.left(), y), Align2::LEFT_CENTER, title, size::SMALL, theme.text);
        let next = |y: &mut f32| {
            *y += space::LINE;
            *y + space::LINE / 2.0 <= gutter.bottom() + 1.0
        };
        if !unit.is_empty() && next(&mut y) {
            painter.text(pos2(gutter.left(), y), Align2::LEFT_CENTER, unit, size::AXIS, theme.muted);
        }
        let entries = match self.lane {
            Lane::Spectrum => self.spectrum_legend(),
            Lane::Correlation => stereo::correlation_legend(theme),
            Lane::Shares => self.shares_legend(),
            _ => Vec::new(),
        };
        for (mark, label) in entries {
            if !next(&mut y) {
                return;
            }
            mark.paint(painter, gutter.left(), y);
            let at = pos2(gutter.left() + legend::MARK_WIDTH + space::NEAR, y);
            painter.text(at, Align2::LEFT_CENTER, label, size::AXIS, theme.muted);
        }
    }

    fn spectrum_unit(&self) -> String {
        let tilt = self.settings.tilt.db_per_octave();
        if tilt == 0.0 { "dBFS".to_owned() } else { format!("dBFS +{}/oct", self.settings.tilt.name()) }
    }

    fn nothing_yet(&self, painter: &Painter) {
        let why = if self.scene.view.clock.running { "–  Too little signal yet" } else { "–  No audio" };
        let galley = painter.line(why, size::BODY, painter.theme.muted);
        let room = Rect::from_center_size(self.plot.center(), galley.size() + egui::vec2(16.0, 8.0));
        painter.fill(room, painter.theme.plot);
        painter.put(self.plot.center(), Align2::CENTER_CENTER, galley);
    }
}

fn axis_labels(painter: &Painter, scene: &Scene<'_>, frequency: FrequencyAxis) {
    let rect = scene.layout.axis_labels;
    if rect.height() < space::LINE - 1.0 {
        return;
    }
    let y = rect.center().y;
    for (hz, label) in LABELLED_HZ {
        let x = frequency.x(hz);
        painter.text(pos2(x, y), Align2::CENTER_CENTER, label, size::AXIS, painter.theme.muted);
    }
    painter.text(
        pos2(frequency.x.min - 14.0, y),
        Align2::RIGHT_CENTER,
        "Hz",
        size::AXIS,
        painter.theme.muted,
    );
}
