//! The text of a file of marks.

use super::fault::MarksFault;

/// The bytes as UTF-8, without a byte-order mark.
pub(super) fn decoded(bytes: &[u8]) -> Result<&str, MarksFault> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(MarksFault::new(1, "is UTF-16; save the file as UTF-8"));
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    std::str::from_utf8(bytes).map_err(|error| {
        let line = line_of(bytes, error.valid_up_to());
        MarksFault::new(line, "holds bytes that are not UTF-8; save the file as UTF-8")
    })
}

/// The line, from 1, of the first byte at or after `at` that is not a line end.
pub(super) fn line_of(bytes: &[u8], at: usize) -> usize {
    let rest = bytes.get(at..).unwrap_or_default();
    let ends = rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
    let before = bytes.get(..at + ends).unwrap_or(bytes);
    1 + before.iter().filter(|byte| **byte == b'\n').count()
}
