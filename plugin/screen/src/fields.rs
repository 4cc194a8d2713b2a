//! Fields to type into: Enter or leaving the field accepts the text, Esc discards it. While a field has the keyboard,
//! no key is a command.

use egui::{Context, DragValue, Id, Key, Response, TextEdit, Ui};

/// The state of a text field.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Field {
    /// Text typed and not yet accepted; `None` shows the value in use.
    pub(crate) typed: Option<String>,
    /// Why the text was not accepted.
    pub(crate) error: Option<String>,
}

/// The look of a text field.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look<'a> {
    /// Accessible name.
    pub(crate) name: &'a str,
    /// Tooltip.
    pub(crate) tip: &'a str,
    /// Text shown while the field is empty.
    pub(crate) hint: &'a str,
    /// Width in points.
    pub(crate) width: f32,
    /// The most letters.
    pub(crate) most: usize,
}

impl Field {
    /// Shows the value in use until the user types. Returns the text once it is complete.
    pub(crate) fn ui(&mut self, ui: &mut Ui, current: &str, look: Look<'_>) -> Option<String> {
        let mut text = self.typed.clone().unwrap_or_else(|| current.to_owned());
        let edit = TextEdit::singleline(&mut text).desired_width(look.width).hint_text(look.hint);
        let response = ui.add(edit.char_limit(look.most)).on_hover_text(look.tip).accessible_name(look.name);
        register(ui.ctx(), response.id);
        if response.changed() {
            self.typed = Some(text);
            self.error = None;
        }
        if cancelled(ui, &response) {
            *self = Self::default();
        }
        if response.lost_focus() { self.typed.clone() } else { None }
    }
}

/// Whether the user just left a field by Esc.
fn cancelled(ui: &Ui, response: &Response) -> bool {
    response.lost_focus() && ui.input(|input| input.key_pressed(Key::Escape))
}

/// A number that can be dragged, or clicked and typed.
pub(crate) fn number(ui: &mut Ui, drag: DragValue<'_>, name: &str, tip: &str) -> Response {
    // Not while editing: "0.", typed on the way to "0.071", would be read as 0.
    let cancelled = esc_was_pressed(ui.ctx());
    let read = move |text: &str| if cancelled { None } else { parse(text) };
    let response = ui.add(drag.update_while_editing(false).custom_parser(read));
    register(ui.ctx(), response.id);
    response.on_hover_text(tip).accessible_name(name)
}

/// Whether Esc was pressed in this pass or the last: egui reads a number field one pass after Esc.
fn esc_was_pressed(ctx: &Context) -> bool {
    let (now, last) = (ctx.cumulative_pass_nr(), Id::unique("plumbline esc"));
    if ctx.input(|input| input.key_pressed(Key::Escape)) {
        ctx.data_mut(|data| data.insert_temp(last, now));
    }
    ctx.data(|data| data.get_temp::<u64>(last)).is_some_and(|pressed| now.saturating_sub(pressed) <= 1)
}

/// Reads a number as people type it: any kind of minus, a decimal comma, a unit at the end.
fn parse(text: &str) -> Option<f64> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let text = text.replace(['−', '–'], "-").replace(',', ".");
    let number = text.trim_start_matches(['±', '+']);
    let number = number.trim_end_matches(|c: char| !c.is_ascii_digit() && c != '.');
    number.parse().ok().filter(|value: &f64| !value.is_nan())
}

/// Registers a widget as a field: until its first letter, nothing else identifies it as one.
pub(crate) fn register(ctx: &Context, id: Id) {
    ctx.data_mut(|data| data.insert_temp(registered(id), ()));
}

fn registered(id: Id) -> Id {
    id.with("plumbline field")
}

/// Whether a field has the keyboard.
pub fn has_keyboard(ctx: &Context) -> bool {
    let noted = |id: Id| ctx.data(|data| data.get_temp::<()>(registered(id))).is_some();
    ctx.text_edit_focused() || ctx.memory(|memory| memory.focused()).is_some_and(noted)
}

/// A text cut to `most` bytes, never inside a character.
pub(crate) fn within_bytes(text: &str, most: usize) -> String {
    let mut end = text.len().min(most);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text[..end].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_people_type_them() {
        for (text, value) in [
            ("0.071", 0.071),
            ("0,071", 0.071),
            ("0.", 0.0),
            (".5", 0.5),
            (" 4.66 ms", 4.66),
            ("−3,5 dB", -3.5),
            ("± 10 %", 10.0),
            ("1e2", 100.0),
        ] {
            assert_eq!(parse(text), Some(value), "{text}");
        }
        for text in ["", ".", "-", "nan", "ms", "1.2.3"] {
            assert_eq!(parse(text), None, "{text}");
        }
    }
}
