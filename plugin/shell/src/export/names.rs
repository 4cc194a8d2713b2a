//! File names that are valid on Linux, macOS and Windows.

use plumbline_screen::Role;

/// The longest part of a file name that comes from the layer's name, in bytes: far below the 255 bytes that file
/// systems allow.
const LONGEST_BYTES: usize = 96;

/// The start of the names of a set: "`<layer>-<date>`". A layer without a name goes by its role.
///
/// Dots are replaced too: Windows takes NUL or CON before the first dot as a device.
pub(super) fn stem(layer: &str, role: Role, date: &str) -> String {
    let mut name = String::new();
    for letter in layer.chars().map(|letter| if is_bad(letter) { '-' } else { letter }) {
        // One hyphen per run of replaced characters.
        if letter == '-' && name.ends_with('-') {
            continue;
        }
        if name.len() + letter.len_utf8() > LONGEST_BYTES {
            break;
        }
        name.push(letter);
    }
    let name = name.trim_matches(['-', ' ']);
    let name = if name.is_empty() { role.name() } else { name };
    format!("{name}-{date}")
}

/// Whether one of the three systems refuses a character or hides files that contain it.
fn is_bad(letter: char) -> bool {
    letter.is_control()
        || (letter.is_whitespace() && letter != ' ')
        || matches!(
            letter,
            '<' | '>' | ':' | '"' | '/' | '\\' | '|' | '?' | '*' | '.' | '%' | '$' | '~' | '`'
        )
        || matches!(letter, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}')
        || matches!(letter, '\u{feff}' | '\u{e000}'..='\u{f8ff}' | '\u{fff0}'..='\u{ffff}')
}
