//! The log in words.

use plumbline_programme::MOST_ENTRIES;

/// The number of entries that the log has dropped, and why; `None` if it has dropped none.
pub fn dropped(count: u64) -> Option<String> {
    let entries = match count {
        0 => return None,
        1 => "The oldest entry was".to_owned(),
        more => format!("The {more} oldest entries were"),
    };
    Some(format!("{entries} dropped: the log keeps {MOST_ENTRIES} findings and as many joins."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dropped_entries_are_counted() {
        assert_eq!(dropped(0), None);
        assert!(dropped(1).is_some_and(|text| text.starts_with("The oldest entry was dropped")));
        assert!(
            dropped(312).is_some_and(|text| text.contains("The 312 oldest entries") && text.contains("2000"))
        );
    }
}
