//! File names that hold on Linux, macOS and Windows.

use plumbline_screen::Role;

/// Longest part of a file name that comes from the layer's name, bytes: half of a layer name in most scripts, and far
/// under the 255 bytes that file systems take.
const LONGEST_BYTES: usize = 96;

/// "`<layer>-<date>`": how the names of a set begin. A layer without a name goes by its role.
///
/// Dots go too: Windows takes what stands before the first one for a device if it is called NUL or CON.
pub(super) fn stem(layer: &str, role: Role, date: &str) -> String {
    let mut name = String::new();
    for letter in layer.chars().map(|letter| if is_bad(letter) { '-' } else { letter }) {
        // One hyphen for a run of what was taken out.
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

/// What one of the three systems refuses, or what hides in a list of files.
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
