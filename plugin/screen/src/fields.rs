//! Fields that are typed into. What is typed is taken on Enter or on leaving the field, and given up by Esc; while a
//! field has the keyboard, no key means anything else.

use egui::{Context, DragValue, Id, Key, Response, TextEdit, Ui};

/// A text that is being typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Field {
    /// What was typed and not yet taken; none shows the value in use.
    pub(crate) typed: Option<String>,
    /// Why it was not taken.
    pub(crate) error: Option<String>,
}

/// How a text field looks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look<'a> {
    /// Accessible name.
    pub(crate) name: &'a str,
    /// Tooltip.
    pub(crate) tip: &'a str,
    /// Stands in an empty field.
    pub(crate) hint: &'a str,
    /// Points.
    pub(crate) width: f32,
    /// Most letters.
    pub(crate) most: usize,
}

impl Field {
    /// Shows the value in use until something is typed. Returns what was typed, once it is to be taken.
    pub(crate) fn ui(&mut self, ui: &mut Ui, current: &str, look: Look<'_>) -> Option<String> {
        let mut text = self.typed.clone().unwrap_or_else(|| current.to_owned());
        let edit = TextEdit::singleline(&mut text).desired_width(look.width).hint_text(look.hint);
        let response = ui.add(edit.char_limit(look.most)).on_hover_text(look.tip).accessible_name(look.name);
        note(ui.ctx(), response.id);
        if response.changed() {
            self.typed = Some(text);
            self.error = None;
        }
        if given_up(ui, &response) {
            *self = Self::default();
        }
        if response.lost_focus() { self.typed.clone() } else { None }
    }
}

/// Whether a field was just left by Esc.
fn given_up(ui: &Ui, response: &Response) -> bool {
    response.lost_focus() && ui.input(|input| input.key_pressed(Key::Escape))
}

/// A number that is dragged, or clicked and typed.
pub(crate) fn number(ui: &mut Ui, drag: DragValue<'_>, name: &str, tip: &str) -> Response {
    // Half a number is one too: "0." on the way to "0.071" would be taken as 0, and do what 0 does.
    let given_up = esc_was_pressed(ui.ctx());
    let read = move |text: &str| if given_up { None } else { parse(text) };
    let response = ui.add(drag.update_while_editing(false).custom_parser(read));
    note(ui.ctx(), response.id);
    response.on_hover_text(tip).accessible_name(name)
}

/// Whether Esc was pressed now or in the pass before: the toolkit takes what a number field had one pass after that took
/// the keyboard from it.
fn esc_was_pressed(ctx: &Context) -> bool {
    let (now, last) = (ctx.cumulative_pass_nr(), Id::unique("plumbline esc"));
    if ctx.input(|input| input.key_pressed(Key::Escape)) {
        ctx.data_mut(|data| data.insert_temp(last, now));
    }
    ctx.data(|data| data.get_temp::<u64>(last)).is_some_and(|pressed| now.saturating_sub(pressed) <= 1)
}

/// Reads a number as people type it: any minus, a decimal comma, its unit behind it.
fn parse(text: &str) -> Option<f64> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let text = text.replace(['−', '–'], "-").replace(',', ".");
    let number = text.trim_start_matches(['±', '+']);
    let number = number.trim_end_matches(|c: char| !c.is_ascii_digit() && c != '.');
    number.parse().ok().filter(|value: &f64| !value.is_nan())
}

/// Remembers that a widget is a field. Before its first letter nothing else tells.
pub(crate) fn note(ctx: &Context, id: Id) {
    ctx.data_mut(|data| data.insert_temp(mark(id), ()));
}

fn mark(id: Id) -> Id {
    id.with("plumbline field")
}

/// Whether a field has the keyboard.
pub fn has_keyboard(ctx: &Context) -> bool {
    let noted = |id: Id| ctx.data(|data| data.get_temp::<()>(mark(id))).is_some();
    ctx.text_edit_focused() || ctx.memory(|memory| memory.focused()).is_some_and(noted)
}

/// A text cut to so many bytes, between letters.
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
