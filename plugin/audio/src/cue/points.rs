//! The cue points that a WAV holds, with their labels and lengths.

use super::fault::CueReadError;
use super::marks::{Mark, POINT_BYTES};
use crate::reader::{BEXT_BYTES, time_reference};
use crate::riff::{ChunkError, Chunks, u32_at};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::Path;

/// Bytes of a chunk of marks that are read: some 700,000 points.
const BYTES_MOST: u64 = 1 << 24;
/// Letters of a label that are kept.
const LABEL_LETTERS: usize = 256;

/// The marks of a file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CuePoints {
    /// Sample rate of the file, Hz; not 0.
    pub rate_hz: u32,
    /// First sample's number since midnight, from the `bext` chunk; `None` without one.
    pub time_reference: Option<u64>,
    /// The marks in the order of the file, on its own time line. A label may be empty.
    pub marks: Vec<Mark>,
}

/// Reads the cue points of a WAV. A file without any has an empty list. The sound is not read.
///
/// # Errors
/// [`CueReadError`], each naming the file.
pub fn cue_points(path: impl AsRef<Path>) -> Result<CuePoints, CueReadError> {
    let path = path.as_ref();
    let failed = |cause| CueReadError::Input { path: path.to_owned(), cause };
    let damaged = || CueReadError::Damaged { path: path.to_owned() };
    // Checked before opening, because opening a pipe without a writer blocks.
    let meta = fs::metadata(path).map_err(failed)?;
    if !meta.is_file() {
        return Err(CueReadError::NotWav { path: path.to_owned() });
    }
    let mut file = File::open(path).map_err(failed)?;
    let chunks = match Chunks::read(&mut file, meta.len()) {
        Ok(chunks) => chunks,
        Err(ChunkError::Io(cause)) => return Err(failed(cause)),
        Err(ChunkError::NotWave | ChunkError::CutShort) => {
            return Err(CueReadError::NotWav { path: path.to_owned() });
        }
        Err(_) => return Err(damaged()),
    };
    let fmt = chunks.content(&mut file, b"fmt ", 16).map_err(failed)?;
    let bext = chunks.content(&mut file, b"bext", BEXT_BYTES).map_err(failed)?;
    let rate_hz = u32_at(&fmt, 4);
    if chunks.cut_short || chunks.too_many || rate_hz == 0 {
        return Err(damaged());
    }
    let (mut points, mut texts) = (Vec::new(), Texts::default());
    for chunk in &chunks.list {
        if !matches!(&chunk.id, b"cue " | b"LIST") {
            continue;
        }
        let is_cue = &chunk.id == b"cue ";
        if !is_cue && chunks.content_of(&mut file, *chunk, 4).map_err(failed)? != b"adtl" {
            continue;
        }
        if chunks.present(*chunk) > BYTES_MOST {
            return Err(damaged());
        }
        let content = chunks.content_of(&mut file, *chunk, BYTES_MOST).map_err(failed)?;
        if is_cue {
            let count = u32_at(&content, 0) as usize;
            let all = content.get(4..).unwrap_or_default().chunks_exact(POINT_BYTES);
            // The last field is the position in the samples; the position before it counts in play order.
            points.extend(all.take(count).map(|point| (u32_at(point, 0), u32_at(point, 20))));
        } else {
            texts.read(&content);
        }
    }
    let marks = points.into_iter().map(|(name, start)| Mark {
        start: u64::from(start),
        frames: texts.lengths.get(&name).copied().map_or(0, u64::from),
        label: texts.labels.get(&name).cloned().unwrap_or_default(),
    });
    Ok(CuePoints { rate_hz, time_reference: time_reference(&bext), marks: marks.collect() })
}

/// Labels and lengths by the name of their cue point; the first of each counts.
#[derive(Default)]
struct Texts {
    labels: BTreeMap<u32, String>,
    lengths: BTreeMap<u32, u32>,
}

impl Texts {
    /// Reads an `adtl` list.
    fn read(&mut self, content: &[u8]) {
        let mut at = 4_usize;
        while let Some(head) = content.get(at..at.saturating_add(8)) {
            let size = usize::try_from(u32_at(head, 4)).unwrap_or(usize::MAX);
            let end = at.saturating_add(8).saturating_add(size).min(content.len());
            let text = content.get(at + 8..end).unwrap_or_default();
            if let Some(body) = text.get(4..) {
                let name = u32_at(text, 0);
                match &head[..4] {
                    b"labl" => {
                        self.labels.entry(name).or_insert_with(|| label(body));
                    }
                    b"ltxt" => {
                        self.lengths.entry(name).or_insert_with(|| u32_at(body, 0));
                    }
                    _ => {}
                }
            }
            at = end.saturating_add(end & 1);
        }
    }
}

/// A label up to its zero.
fn label(bytes: &[u8]) -> String {
    let text = bytes.split(|byte| *byte == 0).next().unwrap_or_default();
    String::from_utf8_lossy(text).chars().take(LABEL_LETTERS).collect()
}
