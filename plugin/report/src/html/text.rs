//! Text that is safe in a page: names come from anywhere.

use crate::words::turns_or_hides;

/// Text on one line, with everything escaped that a browser would interpret.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            hidden if turns_or_hides(hidden) => out.push(' '),
            plain => out.push(plain),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_left_that_a_browser_would_obey() {
        assert_eq!(
            escaped("<script>alert('x')&\"</script>"),
            "&lt;script&gt;alert(&#39;x&#39;)&amp;&quot;&lt;/script&gt;"
        );
        assert_eq!(escaped("a\0b\u{202e}c\r\nd"), "a b c  d");
    }
}
