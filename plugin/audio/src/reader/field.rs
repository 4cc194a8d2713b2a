//! The metadata that recorders write: start time (`bext`, EBU Tech 3285) and names of channels (`iXML`, specification
//! of the Institute of Broadcast Sound).

use crate::riff::u64_at;
use roxmltree::{Document, Node, ParsingOptions};

/// Offset of the time reference in a `bext` chunk: after description (256 bytes), originator and its reference (32
/// each), date (10) and time (8), EBU Tech 3285 version 2, clause 2.3.
const TIME_REFERENCE_AT: usize = 338;
/// Bytes of a `bext` chunk that are read.
pub(crate) const BEXT_BYTES: u64 = 346;

/// Bytes of an `iXML` chunk that are read; a recorder of 32 tracks writes some ten thousand.
pub(super) const IXML_BYTES: u64 = 1 << 18;
/// Most characters of a name that are kept.
const NAME_LETTERS: usize = 64;
/// Most XML nodes of an `iXML` text.
const NODES_MOST: u32 = 20_000;

/// The first sample's number since midnight; `None` if the chunk is missing or too short.
pub(crate) fn time_reference(bext: &[u8]) -> Option<u64> {
    (bext.len() as u64 >= BEXT_BYTES).then(|| u64_at(bext, TIME_REFERENCE_AT))
}

/// Names of `channels` channels, empty for one without; an empty list if the text has none or cannot be read. A file is
/// never refused because of its names.
pub(super) fn channel_names(ixml: &[u8], channels: usize) -> Vec<String> {
    let text = String::from_utf8_lossy(ixml);
    // The chunk may be padded with zeros, so that a recorder can write longer names later.
    let text = text.trim_start_matches('\u{feff}').trim_end_matches(['\0', ' ', '\r', '\n', '\t']);
    let options = ParsingOptions { nodes_limit: NODES_MOST, ..ParsingOptions::default() };
    let mut names = vec![String::new(); channels];
    if let Ok(document) = Document::parse_with_options(text, options) {
        for track in document.descendants().filter(|node| node.has_tag_name("TRACK")) {
            // The position among the channels of the file, from 1; the other index counts the channels of the mixer.
            let index = child(track, "INTERLEAVE_INDEX").or_else(|| child(track, "CHANNEL_INDEX"));
            let place =
                index.and_then(|text| text.trim().parse::<usize>().ok()).and_then(|n| n.checked_sub(1));
            if let (Some(name), Some(name_of)) =
                (child(track, "NAME"), place.and_then(|place| names.get_mut(place)))
            {
                *name_of = cleaned(name);
            }
        }
    }
    if names.iter().all(String::is_empty) {
        names.clear();
    }
    names
}

fn child<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    node.children().find(|child| child.has_tag_name(name))?.text()
}

/// A name as one line, cut to a length that fits a table.
fn cleaned(name: &str) -> String {
    let letters = name.trim().chars().map(|letter| if letter.is_control() { ' ' } else { letter });
    letters.take(NAME_LETTERS).collect()
}
