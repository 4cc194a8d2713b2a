//! The chunks of a WAV file and their positions: RIFF, RF64 (EBU Tech 3306) and BW64 (ITU-R BS.2088).

use std::io::{self, Read, Seek, SeekFrom};

/// A 32-bit size with this value: in RF64 and BW64 the `ds64` chunk has the size; in RIFF it was never filled in.
pub(crate) const TOLD_ELSEWHERE: u32 = u32::MAX;

/// Most chunks that are read: a file with nothing but empty chunks would take hours.
const CHUNKS_MOST: usize = 4_096;

/// Most entries of the table in `ds64`.
const TABLE_MOST: u32 = 256;

/// The form of a file, by its first four bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    /// 32-bit sizes.
    Riff,
    /// 64-bit sizes, EBU Tech 3306.
    Rf64,
    /// 64-bit sizes, ITU-R BS.2088.
    Bw64,
}

impl Form {
    /// The form that four bytes announce.
    pub(crate) fn of(magic: &[u8]) -> Option<Self> {
        match magic {
            b"RIFF" => Some(Self::Riff),
            b"RF64" => Some(Self::Rf64),
            b"BW64" => Some(Self::Bw64),
            _ => None,
        }
    }
}

/// One chunk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Chunk {
    /// Its name.
    pub(crate) id: [u8; 4],
    /// Start of its content, in bytes from the start of the file.
    pub(crate) at: u64,
    /// Bytes of content according to the header, perhaps more than exist; `None` if the size was never filled in, so
    /// that the content extends to the end of the file.
    pub(crate) size: Option<u64>,
}

/// The chunks of a file in their order.
#[derive(Clone, Debug)]
pub(crate) struct Chunks {
    /// Bytes in the file.
    pub(crate) length: u64,
    /// All chunks, including `ds64`.
    pub(crate) list: Vec<Chunk>,
    /// Whether a chunk ends past the end of the file.
    pub(crate) cut_short: bool,
    /// Whether the RIFF size extends past the end of the file; many writers miscount it by a few bytes.
    pub(crate) claims_more: bool,
    /// Whether there are more chunks than are read.
    pub(crate) too_many: bool,
    /// RIFF, RF64 or BW64.
    pub(crate) form: Form,
}

/// Why the chunks of a file cannot be read.
#[derive(Debug)]
pub(crate) enum ChunkError {
    /// The file ends inside its first twelve bytes.
    CutShort,
    /// RIFF, but not a WAVE.
    NotWave,
    /// RF64 or BW64 without the chunk that holds its sizes.
    NoSizes,
    /// A RIFF file of more than 4 GB, whose sizes cannot be true.
    Overflown,
    /// The system's error.
    Io(io::Error),
}

/// The sizes of a `ds64` chunk (EBU Tech 3306, clause 3).
#[derive(Default)]
struct Sizes {
    data: u64,
    table: Vec<([u8; 4], u64)>,
}

impl Chunks {
    /// Reads the chunks of an open file of `length` bytes. The file position is undefined afterwards.
    pub(crate) fn read(file: &mut (impl Read + Seek), length: u64) -> Result<Self, ChunkError> {
        file.seek(SeekFrom::Start(0)).map_err(ChunkError::Io)?;
        let mut head = [0; 12];
        fill(file, &mut head)?;
        let form = Form::of(&head[..4]).ok_or(ChunkError::NotWave)?;
        if &head[8..] != b"WAVE" {
            return Err(ChunkError::NotWave);
        }
        let told = u32_at(&head, 4);
        let mut chunks =
            Self { form, length, list: Vec::new(), cut_short: false, claims_more: false, too_many: false };
        if form == Form::Riff && told != TOLD_ELSEWHERE {
            chunks.claims_more = u64::from(told) + 8 > length;
        }
        let mut sizes = Sizes::default();
        let mut at = 12_u64;
        while at.checked_add(8).is_some_and(|content| content <= length) {
            if chunks.list.len() == CHUNKS_MOST {
                chunks.too_many = true;
                break;
            }
            file.seek(SeekFrom::Start(at)).map_err(ChunkError::Io)?;
            let mut head = [0; 8];
            fill(file, &mut head)?;
            let id = [head[0], head[1], head[2], head[3]];
            // Names are printable (FOURCC), so this is debris after the last chunk.
            if !id.iter().all(|letter| matches!(letter, b' '..=b'~')) {
                break;
            }
            let told_size = u32_at(&head, 4);
            let at_content = at + 8;
            if form != Form::Riff && chunks.list.is_empty() {
                if &id != b"ds64" {
                    return Err(ChunkError::NoSizes);
                }
                sizes = Sizes::read(file, told_size)?;
            }
            // A recorder that dies early leaves the sizes as written at the start: all bits set, or those of a file
            // without sound.
            let never_filled = &id == b"data"
                && told_size == 0
                && form == Form::Riff
                && u64::from(told) + 8 <= at_content
                && length > at_content;
            let size = match told_size {
                _ if never_filled => None,
                TOLD_ELSEWHERE if form == Form::Riff => (&id != b"data").then_some(u64::from(told_size)),
                TOLD_ELSEWHERE if &id == b"data" => sizes.data(),
                TOLD_ELSEWHERE => sizes.of(id).or(Some(u64::from(told_size))),
                size => Some(u64::from(size)),
            };
            chunks.list.push(Chunk { id, at: at_content, size });
            let Some(end) = size.and_then(|size| at_content.checked_add(size)) else { break };
            chunks.cut_short |= end > length;
            // Content is padded to an even length.
            let Some(next) = end.checked_add(end & 1) else { break };
            at = next;
        }
        let open_ended = chunks.list.last().is_some_and(|last| last.size.is_none());
        if form == Form::Riff && length > u64::from(u32::MAX) + 8 && !open_ended {
            return Err(ChunkError::Overflown);
        }
        Ok(chunks)
    }

    /// The first chunk with a name.
    pub(crate) fn find(&self, id: &[u8; 4]) -> Option<Chunk> {
        self.list.iter().find(|chunk| &chunk.id == id).copied()
    }

    /// Bytes of a chunk that exist in the file.
    pub(crate) fn present(&self, chunk: Chunk) -> u64 {
        let there = self.length.saturating_sub(chunk.at);
        chunk.size.map_or(there, |size| size.min(there))
    }

    /// Content of the first chunk with a name, cut to `most` bytes; empty if there is none.
    pub(crate) fn content(
        &self,
        file: &mut (impl Read + Seek),
        id: &[u8; 4],
        most: u64,
    ) -> io::Result<Vec<u8>> {
        self.find(id).map_or(Ok(Vec::new()), |chunk| self.content_of(file, chunk, most))
    }

    /// Content of one chunk, cut to `most` bytes.
    pub(crate) fn content_of(
        &self,
        file: &mut (impl Read + Seek),
        chunk: Chunk,
        most: u64,
    ) -> io::Result<Vec<u8>> {
        file.seek(SeekFrom::Start(chunk.at))?;
        let mut content = Vec::new();
        file.take(self.present(chunk).min(most)).read_to_end(&mut content)?;
        Ok(content)
    }
}

impl Sizes {
    /// Reads riffSize, dataSize and sampleCount of 8 bytes each, a count of 4 bytes, and that many entries of name and
    /// size.
    fn read(file: &mut impl Read, told: u32) -> Result<Self, ChunkError> {
        let mut content = Vec::new();
        let most = 28 + u64::from(TABLE_MOST) * 12;
        file.take(u64::from(told).min(most)).read_to_end(&mut content).map_err(ChunkError::Io)?;
        if content.len() < 24 {
            return Err(ChunkError::NoSizes);
        }
        let entries = content.get(28..).unwrap_or_default().chunks_exact(12);
        let count = content.get(24..28).map_or(0, |bytes| u32_at(bytes, 0));
        let table = entries
            .take(count as usize)
            .map(|entry| ([entry[0], entry[1], entry[2], entry[3]], u64_at(entry, 4)))
            .collect();
        Ok(Self { data: u64_at(&content, 8), table })
    }

    /// Size of the samples; `None` if it was never filled in.
    fn data(&self) -> Option<u64> {
        (self.data != 0 && self.data != u64::MAX).then_some(self.data)
    }

    fn of(&self, id: [u8; 4]) -> Option<u64> {
        self.table.iter().find(|(name, _)| *name == id).map(|(_, size)| *size)
    }
}

/// Fills a small buffer, or returns an error if the file ends.
fn fill(file: &mut impl Read, bytes: &mut [u8]) -> Result<(), ChunkError> {
    file.read_exact(bytes).map_err(|cause| match cause.kind() {
        io::ErrorKind::UnexpectedEof => ChunkError::CutShort,
        _ => ChunkError::Io(cause),
    })
}

/// A little-endian number of two bytes; 0 beyond the end.
pub(crate) fn u16_at(bytes: &[u8], at: usize) -> u16 {
    bytes.get(at..at + 2).map_or(0, |two| u16::from_le_bytes([two[0], two[1]]))
}

/// A little-endian number of four bytes; 0 beyond the end.
pub(crate) fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from(u16_at(bytes, at)) | (u32::from(u16_at(bytes, at + 2)) << 16)
}

/// A little-endian number of eight bytes; 0 beyond the end.
pub(crate) fn u64_at(bytes: &[u8], at: usize) -> u64 {
    u64::from(u32_at(bytes, at)) | (u64::from(u32_at(bytes, at + 4)) << 32)
}
