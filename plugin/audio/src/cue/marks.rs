//! The chunks that hold marks: `cue ` and `LIST` of type `adtl`.

use crate::riff::{u32_at, u64_at};
use std::collections::BTreeSet;

/// Bytes of one cue point: name, position, chunk, chunk start, block start, sample offset.
pub(super) const POINT_BYTES: usize = 24;

/// One mark on a file's own time line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The frame of the file at which it starts, at most its end.
    pub start: u64,
    /// Its length in frames, cut at the end of the file; 0 for a point.
    pub frames: u64,
    /// Its text.
    pub label: String,
}

/// Marks of a file, old and new.
#[derive(Default)]
pub(super) struct Marks {
    points: Vec<[u8; POINT_BYTES]>,
    names: BTreeSet<u32>,
    /// Sub-chunks of the `adtl` list, padded.
    texts: Vec<u8>,
    /// The last name given to a mark.
    last: u32,
}

impl Marks {
    /// Keeps the points of a `cue ` chunk.
    pub(super) fn keep_points(&mut self, content: &[u8]) {
        let count = u32_at(content, 0) as usize;
        for old in content.get(4..).unwrap_or_default().chunks_exact(POINT_BYTES).take(count) {
            let mut point = [0; POINT_BYTES];
            point.copy_from_slice(old);
            self.names.insert(u32_at(old, 0));
            self.points.push(point);
        }
    }

    /// Keeps the texts of an `adtl` list.
    pub(super) fn keep_texts(&mut self, content: &[u8]) {
        let texts = content.get(4..).unwrap_or_default();
        let mut at = 0;
        while let Some(head) = texts.get(at..at + 8) {
            // A name and a size, and as much of the content as exists.
            let size = usize::try_from(u64_at(head, 0) >> 32).unwrap_or(usize::MAX);
            let end = at.saturating_add(8).saturating_add(size).min(texts.len());
            push(&mut self.texts, [head[0], head[1], head[2], head[3]], &texts[at + 8..end]);
            at = end + (end & 1);
        }
    }

    /// Adds a mark of `length` frames, or a point.
    pub(super) fn add(&mut self, start: u32, length: u32, label: &str) {
        let mut name = self.last.wrapping_add(1);
        while name == 0 || self.names.contains(&name) {
            name = name.wrapping_add(1);
        }
        self.names.insert(name);
        self.last = name;
        let mut point = [0; POINT_BYTES];
        // Without a play list the position in play order is the position in the samples.
        for (at, bytes) in
            [(0, name.to_le_bytes()), (4, start.to_le_bytes()), (8, *b"data"), (20, start.to_le_bytes())]
        {
            point[at..at + 4].copy_from_slice(&bytes);
        }
        self.points.push(point);
        let mut labelled = name.to_le_bytes().to_vec();
        labelled.extend(label.bytes().filter(|byte| *byte != 0));
        labelled.push(0);
        push(&mut self.texts, *b"labl", &labelled);
        if length > 0 {
            let mut region = name.to_le_bytes().to_vec();
            region.extend(length.to_le_bytes());
            // The standard leaves purposes open; this one is common practice, no source.
            region.extend(b"rgn ");
            // Country, language, dialect and code page: none.
            region.extend([0; 8]);
            push(&mut self.texts, *b"ltxt", &region);
        }
    }

    /// Both chunks, complete, or neither if there are no marks. `None` if they exceed 32-bit sizes.
    pub(super) fn chunks(&self) -> Option<Vec<u8>> {
        let mut out = Vec::new();
        if !self.points.is_empty() {
            let mut content = u32::try_from(self.points.len()).ok()?.to_le_bytes().to_vec();
            content.extend(self.points.iter().flatten());
            u32::try_from(content.len()).ok()?;
            push(&mut out, *b"cue ", &content);
        }
        if !self.texts.is_empty() {
            let mut content = b"adtl".to_vec();
            content.extend(&self.texts);
            u32::try_from(content.len()).ok()?;
            push(&mut out, *b"LIST", &content);
        }
        Some(out)
    }
}

/// Appends a chunk: name, size, content, and a byte that makes the length even.
fn push(out: &mut Vec<u8>, id: [u8; 4], content: &[u8]) {
    out.extend(id);
    out.extend(u32::try_from(content.len()).unwrap_or(u32::MAX).to_le_bytes());
    out.extend(content);
    if content.len() % 2 == 1 {
        out.push(0);
    }
}
