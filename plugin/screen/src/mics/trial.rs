//! Trying a repair: the switch, the values, and the banner that says the signal is altered.

use crate::banner::Banner;
use crate::fields;
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::settings::Settings;
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::{self, State};
use egui::{Button, DragValue, Rect, RichText, Ui};
use plumbline_measure::SampleRate;
use plumbline_programme::mics::{LEAST_FRACTION_SAMPLES, LONGEST_TRIAL_SECS};
use plumbline_programme::pair::{Advice, Side};
use plumbline_programme::{Command, Mic, PairLine, Session, Trial, View};
use plumbline_report::figures;

/// The trial of a pair's advice on this layer, or the reason why there is none, in words.
pub(super) fn of(line: &PairLine, session: &Session, settings: &Settings) -> Result<Trial, String> {
    let Advice::Repair(fix) = line.advice(settings.start.rate(), settings.celsius) else {
        return Err("Nothing to repair here.".to_owned());
    };
    if line.is_of([Mic::Left, Mic::Right]) {
        return Ok(Trial::between_channels(&fix));
    }
    let own = session.own().map(|line| Mic::Layer(line.id));
    let is_own = |mic: Mic| mic == Mic::Main || Some(mic) == own;
    let side = match line.mics {
        [first, _] if is_own(first) => Side::First,
        [_, second] if is_own(second) => Side::Second,
        [first, second] => {
            let leads = if fix.trails == Some(Side::First) { second } else { first };
            return Err(format!("To try it, open Plumbline on {}.", words::mic_name(leads, session)));
        }
    };
    Trial::on(side, &fix).ok_or_else(|| {
        let other = line.mics[usize::from(side == Side::First)];
        format!("This layer is late: to try it, delay {} in its own window.", words::mic_name(other, session))
    })
}

/// The switch, or the reason why there is none.
pub(super) fn switch_ui(shared: &mut Shared, row: &mut Ui, scene: &Scene<'_>, line: &PairLine) {
    let on = scene.view.trial.is_some();
    let trial = of(line, &scene.view.session, &shared.settings);
    let tip = "Delays this layer or inverts its polarity, so that you hear the repair before you make it (F). The \
               output of this plug-in is altered until the trial ends. Not saved with the project, and not in \
               offline renders unless ticked. Listen at a moderate level.";
    let label = if on { "End the trial" } else { "Try the fix" };
    let enabled = on || trial.is_ok();
    let button = row.add_enabled(enabled, Button::selectable(on, label).frame_when_inactive(true));
    let button = button.on_hover_text(tip);
    let why = trial.as_ref().err().cloned().filter(|_| !on);
    let button = match &why {
        Some(why) => button.on_disabled_hover_text(why),
        None => button,
    };
    if button.clicked() {
        shared.intents.push(Intent::Command(Command::Try(if on { None } else { trial.ok() })));
    }
    if let Some(why) = why {
        let weak = row.visuals().weak_text_color();
        row.add(egui::Label::new(RichText::new(why).size(size::SMALL).color(weak)).truncate());
    }
}

/// The values of the trial that is on.
pub(super) fn values_ui(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>, rect: Rect) {
    let Some(now) = scene.view.trial else { return };
    let mut row = widgets::row(ui, "trial values", rect);
    row.spacing_mut().item_spacing.x = space::NEAR;
    let mut trial = now.sane();
    let mut dragged = false;
    let stereo = scene.view.clock.channels == 2;
    let names: &[&str] = if stereo { &["Left", "Right"] } else { &["Delay"] };
    for (at, name) in names.iter().enumerate() {
        row.label(RichText::new(*name).size(size::SMALL));
        let mut ms = trial.delay_secs[at] * 1e3;
        let drag = DragValue::new(&mut ms)
            .range(0.0..=LONGEST_TRIAL_SECS * 1e3)
            .speed(0.01)
            .fixed_decimals(3)
            .suffix(" ms");
        let tip = "Delay of this channel, 0 to 100 ms; under 32 samples, in whole samples. Drag, or click and type.";
        let response = fields::number(&mut row, drag, &format!("Trial delay {name}"), tip);
        if response.changed() {
            trial.delay_secs[at] = ms / 1e3;
        }
        dragged |= response.dragged();
        row.checkbox(&mut trial.flip[at], "Ø")
            .on_hover_text("Inverts the polarity of this channel")
            .accessible_name(format!("Trial polarity {name}"));
    }
    if !stereo {
        trial.delay_secs[1] = trial.delay_secs[0];
        trial.flip[1] = trial.flip[0];
    }
    let tip = "Off: offline renders are made without the trial. On: they are altered too.";
    row.checkbox(&mut trial.in_renders, "also in renders").on_hover_text(tip);
    // A trial of 0 ends, but not during a drag; a trial that has just ended stays ended.
    let ended = shared.intents.contains(&Intent::Command(Command::Try(None)));
    if trial != now && !ended && (trial.alters() || !dragged) {
        shared.intents.push(Intent::Command(Command::Try(Some(trial.sane()))));
    }
}

/// The effect of a trial in words: the values in force, and the values asked for if they differ.
fn altered(asked: &Trial, rate_hz: u32) -> String {
    let rate = SampleRate::new(rate_hz).ok();
    let trial = rate.map_or(*asked, |rate| asked.in_force(rate));
    let mut rounded = false;
    let each = [0, 1].map(|at| {
        let mut parts = Vec::new();
        if asked.delay_secs[at] > 0.0 {
            let (late, is_rounded) = late(trial.delay_secs[at], asked.delay_secs[at], rate);
            rounded |= is_rounded;
            parts.push(late);
        }
        if trial.flip[at] {
            parts.push("polarity inverted".to_owned());
        }
        if parts.is_empty() { "unchanged".to_owned() } else { parts.join(" and ") }
    });
    let what = if each[0] == each[1] {
        format!("this layer is {}", each[0])
    } else {
        format!("left {}, right {}", each[0], each[1])
    };
    let renders = if trial.in_renders { ", in renders too" } else { "" };
    let why = if rounded {
        format!(" Fractions need {LEAST_FRACTION_SAMPLES:.0}\u{a0}samples or more.")
    } else {
        String::new()
    };
    let head = if trial.alters() { "Signal altered" } else { "Signal not altered" };
    format!("{head}: {what}{renders}.{why} Check by ear, at a moderate level.")
}

/// A delay in words, and whether it was rounded: "0.06 ms late (3 samples in force; 3.4 asked)".
fn late(secs: f64, asked_secs: f64, rate: Option<SampleRate>) -> (String, bool) {
    let ms = figures::unit(figures::plain(Some(secs * 1e3), 2), "ms");
    let Some(rate) = rate else { return (format!("{ms} late"), false) };
    let samples = |secs: f64| figures::plain(Some(secs * rate.as_f64()), 1);
    let (forced, asked) = (samples(secs), samples(asked_secs));
    if forced == asked {
        return (format!("{ms} late ({forced}\u{a0}samples)"), false);
    }
    let whole = figures::plain(Some(secs * rate.as_f64()), 0);
    let noun = if whole == "1" { "sample" } else { "samples" };
    (format!("{ms} late ({whole}\u{a0}{noun} in force; {asked} asked)"), true)
}

/// The banner on every page that says the signal is altered.
pub(crate) fn banner_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, view: &View, rect: Rect) {
    let Some(trial) = view.trial else { return };
    let (theme, text) = (painter.theme, altered(&trial, view.clock.rate_hz));
    let banner = Banner {
        id: "altered",
        inks: [theme.panel_fault, theme.fault, theme.fault_text],
        state: State::Fault,
        words: [&text, &text],
        button: ["Switch off", "Switch the trial off", "Ends the trial: audio passes untouched again (F)"],
    };
    if banner.ui(ui, painter, rect) {
        shared.intents.push(Intent::Command(Command::Try(None)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(samples: [f64; 2], flip: [bool; 2]) -> String {
        altered(&Trial { delay_secs: samples.map(|s| s / 48_000.0), flip, in_renders: false }, 48_000)
    }

    #[test]
    fn the_banner_says_what_is_in_force_and_what_was_asked() {
        let ear = " Check by ear, at a moderate level.";
        let cases = [
            (
                [3.4; 2],
                "Signal altered: this layer is 0.06\u{a0}ms late (3\u{a0}samples in force; 3.4 asked). Fractions \
                        need 32\u{a0}samples or more.",
            ),
            (
                [0.9; 2],
                "Signal altered: this layer is 0.02\u{a0}ms late (1\u{a0}sample in force; 0.9 asked). Fractions \
                        need 32\u{a0}samples or more.",
            ),
            (
                [0.4; 2],
                "Signal not altered: this layer is 0.00\u{a0}ms late (0\u{a0}samples in force; 0.4 asked). \
                        Fractions need 32\u{a0}samples or more.",
            ),
            ([3.0; 2], "Signal altered: this layer is 0.06\u{a0}ms late (3.0\u{a0}samples)."),
            ([223.6; 2], "Signal altered: this layer is 4.66\u{a0}ms late (223.6\u{a0}samples)."),
            ([0.0, 40.5], "Signal altered: left unchanged, right 0.84\u{a0}ms late (40.5\u{a0}samples)."),
        ];
        for (samples, words) in cases {
            assert_eq!(said(samples, [false; 2]), format!("{words}{ear}"));
        }
        assert!(said([3.4, 0.0], [false, true]).contains(
            "left 0.06\u{a0}ms late (3\u{a0}samples in force; 3.4 asked), right polarity inverted. Fractions"
        ));
        // Until the rate is known, samples are not mentioned.
        let trial = Trial { delay_secs: [1e-3; 2], ..Trial::default() };
        assert!(altered(&trial, 0).contains("this layer is 1.00\u{a0}ms late."), "{}", altered(&trial, 0));
        for words in [said([3.4; 2], [false; 2]), said([223.6; 2], [true; 2])] {
            assert!(!words.to_lowercase().contains("latency"));
        }
    }
}
