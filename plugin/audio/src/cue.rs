//! Marks in a WAV: cue points, labels and regions, which editors and players show. Reads them, and writes them into a
//! copy.
//!
//! Marks are written as the RIFF standard defines them (Microsoft and IBM, Multimedia Programming Interface and Data
//! Specifications 1.0, 1991: chunks `cue ` and `LIST` of type `adtl` with `labl` and `ltxt`). Other chunks are copied
//! byte for byte, existing marks are kept, and RF64 and BW64 get new 64-bit sizes.

mod fault;
mod marks;
mod points;

pub use fault::{CueError, CueReadError};
pub use marks::Mark;
pub use points::{CuePoints, cue_points};

use crate::riff::{Chunk, ChunkError, Chunks, Form, TOLD_ELSEWHERE, u16_at};
use marks::Marks;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// Bytes that are copied at a time.
const STEP_BYTES: u64 = 1 << 20;
/// Most bytes of marks that a file may already have.
const MARKS_MOST: u64 = 1 << 24;

/// Called with the bytes written and the bytes in total; a break stops the copy.
pub type GoOn<'a> = &'a mut dyn FnMut(u64, u64) -> ControlFlow<()>;

/// Writes a copy of `from` to `to` with `marks` added. Memory does not grow with the file.
///
/// # Errors
/// [`CueError`]; `to` does not exist then. The input is only read, and an existing file is never replaced.
pub fn copy_with_marks(from: &Path, to: &Path, marks: &[Mark], go_on: GoOn<'_>) -> Result<(), CueError> {
    let mut input = Input::open(from)?;
    let plan = input.plan(marks)?;
    let failed = |cause| CueError::Output { path: to.to_owned(), cause };
    // Claims the name, so that no existing file can be lost; the finished copy then takes its place.
    OpenOptions::new().write(true).create_new(true).open(to).map_err(|cause| match cause.kind() {
        io::ErrorKind::AlreadyExists => CueError::Exists { path: to.to_owned() },
        _ => failed(cause),
    })?;
    let passing = passing_name(to);
    let written = input.write(&plan, &passing, go_on).and_then(|()| fs::rename(&passing, to).map_err(failed));
    if written.is_err() {
        // The first error says more than one from the removal.
        let _ = fs::remove_file(&passing);
        let _ = fs::remove_file(to);
    }
    written
}

/// A temporary name beside the final one, unique to this process.
fn passing_name(to: &Path) -> PathBuf {
    let name = to.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    to.with_file_name(format!(".{name}.{}.part", std::process::id()))
}

/// The file that is copied.
struct Input {
    path: PathBuf,
    file: File,
    chunks: Chunks,
}

/// The layout of the copy.
struct Plan {
    kept: Vec<Chunk>,
    /// The new chunks, complete.
    tail: Vec<u8>,
    /// Size of the copy in bytes.
    total: u64,
}

impl Input {
    fn open(path: &Path) -> Result<Self, CueError> {
        let path = path.to_owned();
        let failed = |cause| CueError::Input { path: path.clone(), cause };
        let meta = fs::metadata(&path).map_err(failed)?;
        if !meta.is_file() {
            return Err(CueError::NotWav { path });
        }
        let mut file = File::open(&path).map_err(failed)?;
        let chunks = match Chunks::read(&mut file, meta.len()) {
            Ok(chunks) => chunks,
            Err(ChunkError::Io(cause)) => return Err(failed(cause)),
            Err(ChunkError::NotWave) => return Err(CueError::NotWav { path }),
            Err(_) => return Err(CueError::Damaged { path }),
        };
        if chunks.cut_short || chunks.too_many {
            return Err(CueError::Damaged { path });
        }
        Ok(Self { path, file, chunks })
    }

    /// Lays out the copy.
    fn plan(&mut self, marks: &[Mark]) -> Result<Plan, CueError> {
        let damaged = || CueError::Damaged { path: self.path.clone() };
        let failed = |cause| CueError::Input { path: self.path.clone(), cause };
        let data = self.chunks.find(b"data").ok_or_else(damaged)?;
        let fmt = self.chunks.content(&mut self.file, b"fmt ", 16).map_err(failed)?;
        let frames = self.chunks.present(data) / u64::from(u16_at(&fmt, 12)).max(1);
        let mut all = Marks::default();
        let mut kept = Vec::new();
        for chunk in &self.chunks.list {
            let part = match &chunk.id {
                b"cue " => true,
                b"LIST" => self.chunks.content_of(&mut self.file, *chunk, 4).map_err(failed)? == b"adtl",
                _ => false,
            };
            if !part {
                kept.push(*chunk);
                continue;
            }
            if self.chunks.present(*chunk) > MARKS_MOST {
                return Err(damaged());
            }
            let content = self.chunks.content_of(&mut self.file, *chunk, MARKS_MOST).map_err(failed)?;
            if &chunk.id == b"cue " { all.keep_points(&content) } else { all.keep_texts(&content) }
        }
        for mark in marks {
            let start = mark.start.min(frames);
            let length = mark.frames.min(frames - start);
            let (Ok(start), Ok(length)) = (u32::try_from(start), u32::try_from(length)) else {
                return Err(CueError::TooLong { path: self.path.clone() });
            };
            all.add(start, length, &mark.label);
        }
        let tail = all.chunks().ok_or_else(|| CueError::TooLong { path: self.path.clone() })?;
        let body: u64 = kept.iter().map(|chunk| 8 + padded(self.chunks.present(*chunk))).sum();
        let total = 12 + body + tail.len() as u64;
        // All bits set would mean that the size is in `ds64`.
        if self.chunks.form == Form::Riff && total - 8 >= u64::from(TOLD_ELSEWHERE) {
            return Err(CueError::TooLong { path: self.path.clone() });
        }
        Ok(Plan { kept, tail, total })
    }

    /// Writes the copy to a new file.
    fn write(&mut self, plan: &Plan, to: &Path, go_on: GoOn<'_>) -> Result<(), CueError> {
        let failed = |cause| CueError::Output { path: to.to_owned(), cause };
        let file = OpenOptions::new().write(true).create_new(true).open(to).map_err(failed)?;
        let mut out = Copy { out: BufWriter::new(file), to, written: 0, total: plan.total, go_on };
        let long = self.chunks.form != Form::Riff;
        let riff_size =
            if long { TOLD_ELSEWHERE } else { u32::try_from(plan.total - 8).unwrap_or(TOLD_ELSEWHERE) };
        let magic: &[u8; 4] = match self.chunks.form {
            Form::Riff => b"RIFF",
            Form::Rf64 => b"RF64",
            Form::Bw64 => b"BW64",
        };
        out.put(magic)?;
        out.put(&riff_size.to_le_bytes())?;
        out.put(b"WAVE")?;
        for chunk in &plan.kept {
            self.write_chunk(*chunk, &mut out)?;
        }
        out.put(&plan.tail)?;
        let file = out.out.into_inner().map_err(io::IntoInnerError::into_error);
        file.and_then(|file| file.sync_all()).map_err(failed)
    }

    /// Copies one chunk, with its true size.
    fn write_chunk(&mut self, chunk: Chunk, out: &mut Copy<'_>) -> Result<(), CueError> {
        let path = &self.path;
        let unread = |cause| CueError::Input { path: path.clone(), cause };
        let size = self.chunks.present(chunk);
        let long = self.chunks.form != Form::Riff;
        // The samples of RF64 have their size in `ds64`.
        let elsewhere = long && (&chunk.id == b"data" || size >= u64::from(TOLD_ELSEWHERE));
        let told = if elsewhere { TOLD_ELSEWHERE } else { u32::try_from(size).unwrap_or(TOLD_ELSEWHERE) };
        out.put(&chunk.id)?;
        out.put(&told.to_le_bytes())?;
        self.file.seek(SeekFrom::Start(chunk.at)).map_err(unread)?;
        let mut left = size;
        if long && &chunk.id == b"ds64" {
            let data = self.chunks.find(b"data").map_or(0, |data| self.chunks.present(data));
            let mut sizes = [0; 16];
            self.file.read_exact(&mut sizes).map_err(unread)?;
            out.put(&(out.total - 8).to_le_bytes())?;
            out.put(&data.to_le_bytes())?;
            left = left.saturating_sub(16);
        }
        let mut step = Vec::new();
        while left > 0 {
            step.clear();
            let read = (&mut self.file).take(left.min(STEP_BYTES)).read_to_end(&mut step).map_err(unread)?;
            if read == 0 {
                return Err(CueError::Damaged { path: path.clone() });
            }
            out.put(&step)?;
            left -= read as u64;
        }
        if size % 2 == 1 { out.put(&[0]) } else { Ok(()) }
    }
}

/// A file that is being written.
struct Copy<'a> {
    out: BufWriter<File>,
    to: &'a Path,
    written: u64,
    total: u64,
    go_on: GoOn<'a>,
}

impl Copy<'_> {
    fn put(&mut self, bytes: &[u8]) -> Result<(), CueError> {
        if (self.go_on)(self.written, self.total).is_break() {
            return Err(CueError::Stopped { path: self.to.to_owned() });
        }
        self.written += bytes.len() as u64;
        self.out.write_all(bytes).map_err(|cause| CueError::Output { path: self.to.to_owned(), cause })
    }
}

fn padded(size: u64) -> u64 {
    size + (size & 1)
}
