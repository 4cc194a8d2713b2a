//! Keys and their commands. Typing in a field triggers none.

use crate::fields;
use egui::{Context, Event, Key, Modifiers};

/// The action of a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum KeyAction {
    Hold,
    Reset,
    Theme,
    Averaging,
    PeakHold,
    StoreReference,
    Larger,
    Smaller,
    Help,
    Settings,
    CursorDown,
    CursorUp,
    Escape,
    Mark,
    Identity,
    NextOrder,
    RowUp,
    RowDown,
    Copy,
    Keep,
    Try,
    Open,
    Seen,
    Export,
    Remove,
    Earlier,
    Later,
    Closer,
    Wider,
    Now,
    /// Step by this many tenths.
    Step(i8),
    Page(usize),
}

/// Keys and what they do, for the help panel.
pub(crate) const LIST: [(&str, &str); 29] = [
    ("H", "Freeze picture; measuring continues"),
    ("R", "Reset averages, peaks and loudness"),
    ("A", "Next averaging: fast, slow, since reset"),
    ("P", "Peak hold of the spectrum on or off"),
    ("S", "Store the spectrum as reference"),
    ("T", "Dark or light"),
    ("+  −", "Larger, smaller"),
    ("Left  Right", "Move the column cursor by a third"),
    ("Click", "Pin the column cursor"),
    ("Esc", "Cancel typing, close a panel, return to now"),
    (",", "Settings"),
    ("1 … 5", "Bus, Layers, Mics, Joins, Log page"),
    ("N", "Name, role and session of this layer"),
    ("M", "Mark: a new passage begins here"),
    ("Up  Down", "Select a row of the page's list"),
    ("O", "Next order of the page's list"),
    ("C", "Mics page: copy the advice"),
    ("K", "Mics page: keep the reading, to compare"),
    ("F", "Mics page: try the fix; anywhere: end the trial"),
    ("Enter", "Joins, Log page: show that moment"),
    ("Delete", "Joins page: remove the mark"),
    ("V", "Log page: done, or not"),
    ("E", "Joins, Log page: export"),
    ("[  ]", "Bus page: earlier, later in the time lanes"),
    ("Z  X", "Bus page: less time, more time"),
    ("Shift+Left  Right", "Step by a tenth; with Ctrl by 1 s"),
    ("End", "Return to now, and follow it"),
    ("Tab", "Next control; Enter presses it"),
    ("?", "This list"),
];

/// The actions of this frame's keys. `typing`: a field had the keyboard when the last frame ended, and the key that
/// ends the typing belongs to it.
pub(crate) fn actions(ctx: &Context, typing: bool) -> Vec<KeyAction> {
    if typing || fields::has_keyboard(ctx) {
        return Vec::new();
    }
    // A focused control keeps the arrows.
    let free = ctx.memory(|memory| memory.focused().is_none());
    ctx.input(|input| {
        input
            .events
            .iter()
            .filter_map(|event| match event {
                Event::Key { key, pressed: true, modifiers, .. } => command(*key, *modifiers, free),
                Event::Text(text) => typed(text),
                _ => None,
            })
            .collect()
    })
}

fn command(key: Key, modifiers: Modifiers, free: bool) -> Option<KeyAction> {
    if modifiers.shift && !modifiers.alt && free {
        // The one use of Ctrl: hosts rarely use Ctrl and Shift with an arrow (common practice, no source).
        let tenths = if modifiers.ctrl || modifiers.command { 10 } else { 1 };
        match key {
            Key::ArrowLeft => return Some(KeyAction::Step(-tenths)),
            Key::ArrowRight => return Some(KeyAction::Step(tenths)),
            _ => {}
        }
    }
    if modifiers.command || modifiers.ctrl || modifiers.alt || modifiers.mac_cmd {
        return None;
    }
    Some(match key {
        Key::H => KeyAction::Hold,
        Key::R => KeyAction::Reset,
        Key::T => KeyAction::Theme,
        Key::A => KeyAction::Averaging,
        Key::P => KeyAction::PeakHold,
        Key::S => KeyAction::StoreReference,
        Key::Escape => KeyAction::Escape,
        Key::ArrowLeft if free => KeyAction::CursorDown,
        Key::ArrowRight if free => KeyAction::CursorUp,
        Key::ArrowUp if free => KeyAction::RowUp,
        Key::ArrowDown if free => KeyAction::RowDown,
        Key::M => KeyAction::Mark,
        Key::N => KeyAction::Identity,
        Key::O => KeyAction::NextOrder,
        Key::C => KeyAction::Copy,
        Key::K => KeyAction::Keep,
        Key::F => KeyAction::Try,
        Key::Enter if free => KeyAction::Open,
        Key::V => KeyAction::Seen,
        Key::E => KeyAction::Export,
        Key::Delete | Key::Backspace => KeyAction::Remove,
        Key::Z => KeyAction::Closer,
        Key::X => KeyAction::Wider,
        Key::End => KeyAction::Now,
        Key::Num1 => KeyAction::Page(0),
        Key::Num2 => KeyAction::Page(1),
        Key::Num3 => KeyAction::Page(2),
        Key::Num4 => KeyAction::Page(3),
        Key::Num5 => KeyAction::Page(4),
        _ => return None,
    })
}

/// Actions of characters that arrive as text, because their keys differ between keyboards.
fn typed(text: &str) -> Option<KeyAction> {
    match text {
        "?" => Some(KeyAction::Help),
        "+" | "=" => Some(KeyAction::Larger),
        "-" | "−" => Some(KeyAction::Smaller),
        "," => Some(KeyAction::Settings),
        "[" => Some(KeyAction::Earlier),
        "]" => Some(KeyAction::Later),
        _ => None,
    }
}

/// A key as it came from the keyboard.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stroke {
    /// The printable ASCII character that it types.
    pub sign: Option<char>,
    /// The key, if it has a name instead of a character.
    pub key: Option<Key>,
    /// Whether Shift is held.
    pub shift: bool,
    /// Whether Ctrl is held.
    pub ctrl: bool,
    /// Whether Alt or the system's own key is held.
    pub alt: bool,
}

/// Whether the screen uses a key: as a command, in a field, or in a focused control. Any other belongs to the host.
pub fn takes(ctx: &Context, stroke: &Stroke) -> bool {
    if crate::fields::has_keyboard(ctx) {
        return true;
    }
    let focused = ctx.memory(|memory| memory.focused().is_some());
    let modifiers = Modifiers { alt: stroke.alt, shift: stroke.shift, ctrl: stroke.ctrl, ..Modifiers::NONE };
    // Capital letters are not commands, as in `command`.
    let sign = stroke.sign.filter(|sign| !sign.is_ascii_uppercase());
    let key =
        stroke.key.or_else(|| sign.and_then(|sign| Key::from_name(&sign.to_ascii_uppercase().to_string())));
    let plain = !stroke.ctrl && !stroke.alt;
    let moves = matches!(key, Some(Key::Tab)) && plain;
    let presses = matches!(
        stroke.key,
        Some(Key::Enter | Key::ArrowUp | Key::ArrowDown | Key::ArrowLeft | Key::ArrowRight)
    ) || stroke.sign == Some(' ');
    moves
        || focused && plain && presses
        || key.is_some_and(|key| command(key, modifiers, !focused).is_some())
        || plain && stroke.sign.is_some_and(|sign| typed(&sign.to_string()).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sign(sign: char) -> Stroke {
        Stroke { sign: Some(sign), ..Stroke::default() }
    }

    fn key(key: Key) -> Stroke {
        Stroke { key: Some(key), ..Stroke::default() }
    }

    #[test]
    fn commands_stay_and_everything_else_goes_to_the_host() {
        let ctx = Context::default();
        let ours = "hrtapsmnockfvezx12345?+=-,[]".chars().map(sign);
        let ours = ours.chain([Key::Escape, Key::Tab, Key::End, Key::ArrowLeft, Key::Delete].map(key));
        let mut cases = 0;
        for stroke in ours {
            assert!(takes(&ctx, &stroke), "{stroke:?}");
            cases += 1;
        }
        let hosts = " bdgijluwy67890HR.;/".chars().map(sign);
        let hosts = hosts.chain([Key::Home, Key::PageUp, Key::PageDown, Key::Insert].map(key));
        let hosts = hosts.chain([
            Stroke { ctrl: true, ..sign('s') },
            Stroke { ctrl: true, ..sign('z') },
            Stroke { alt: true, ..sign('h') },
            Stroke::default(),
        ]);
        for stroke in hosts {
            assert!(!takes(&ctx, &stroke), "{stroke:?}");
            cases += 1;
        }
        assert_eq!(cases, 61);
    }

    #[test]
    fn a_field_keeps_every_key_and_a_control_those_that_move_or_press_it() {
        let ctx = Context::default();
        let mut text = String::new();
        let (mut in_field, mut on_button) = (Vec::new(), Vec::new());
        let asked = [sign(' '), sign('7'), key(Key::PageUp), key(Key::Enter), key(Key::ArrowUp)];
        for frame in 0..4 {
            let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
                let field = ui.text_edit_singleline(&mut text);
                let button = ui.button("Press");
                match frame {
                    0 => field.request_focus(),
                    2 => button.request_focus(),
                    _ => {}
                }
            });
            // Nothing is painted here.
            output.textures_delta.clear();
            match frame {
                1 => in_field.extend(asked.map(|stroke| takes(&ctx, &stroke))),
                3 => on_button.extend(asked.map(|stroke| takes(&ctx, &stroke))),
                _ => {}
            }
        }
        assert_eq!(in_field, [true; 5]);
        assert_eq!(on_button, [true, false, false, true, true]);
    }
}
