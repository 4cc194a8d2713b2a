//! Identity and present state of a layer, as words of a board file.

use super::layout::{HEAD_WORDS, LIVE_WORDS, NAME_WORDS};
use plumbline_measure::{Grid, SampleRate};
use plumbline_programme::{Identity, LayerId, Role, SESSIONS};

/// Length of the longest name in bytes.
pub(crate) const NAME_BYTES: usize = NAME_WORDS * 8;

/// Identity and format of a layer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Head {
    pub(crate) id: LayerId,
    /// When the layer was made, in nanoseconds of UNIX time. Layers are sorted by it.
    pub(crate) joined: u64,
    /// Number of this file among the layer's files; a new format makes a new file.
    pub(crate) generation: u32,
    pub(crate) rate: SampleRate,
    pub(crate) channels: u8,
    pub(crate) letter: char,
    /// Its number in its session, in order of joining; 0 before it has one.
    pub(crate) number: u8,
    pub(crate) identity: Identity,
}

impl Head {
    pub(super) fn to_words(&self, pid: u32) -> [u64; HEAD_WORDS] {
        let name = self.identity.name.as_bytes();
        let name = &name[..name.len().min(NAME_BYTES)];
        let role = Role::ALL.iter().position(|r| *r == self.identity.role).unwrap_or(0) as u64;
        let letter = u64::from(u32::from(self.letter) & 0xFF);
        let colour = self.identity.colour.map_or(0, |[r, g, b]| u64::from(u32::from_be_bytes([1, r, g, b])));
        let mut words = [0; HEAD_WORDS];
        words[0] = self.id.0;
        words[1] = self.joined;
        words[2] = u64::from(pid) | u64::from(self.generation) << 32;
        words[3] = u64::from(self.rate.hz()) | u64::from(self.channels) << 32;
        let number = u64::from(self.number);
        words[4] = role | letter << 8 | (name.len() as u64) << 16 | number << 24 | colour << 32;
        for (word, bytes) in words[5..].iter_mut().zip(name.chunks(8)) {
            let mut eight = [0; 8];
            eight[..bytes.len()].copy_from_slice(bytes);
            *word = u64::from_le_bytes(eight);
        }
        words
    }

    /// Reads a head; `None` if any field is out of range.
    pub(super) fn from_words(words: &[u64; HEAD_WORDS]) -> Option<Self> {
        let low = |word: u64| u32::try_from(word & u64::from(u32::MAX)).unwrap_or(0);
        let byte = |word: u64, at: u32| u8::try_from(word >> (8 * at) & 0xFF).unwrap_or(0);
        let letter = Some(char::from(byte(words[4], 1))).filter(|c| SESSIONS.contains(c))?;
        let colour = match low(words[4] >> 32).to_be_bytes() {
            [0, 0, 0, 0] => None,
            [1, r, g, b] => Some([r, g, b]),
            _ => return None,
        };
        let length = usize::from(byte(words[4], 2));
        let name: Vec<u8> = words[5..].iter().flat_map(|w| w.to_le_bytes()).collect();
        let channels = Some(words[3] >> 32).filter(|c| (1..=2).contains(c))?;
        Some(Self {
            id: Some(LayerId(words[0])).filter(|id| id.0 != 0)?,
            joined: words[1],
            generation: low(words[2] >> 32),
            rate: SampleRate::new(low(words[3])).ok()?,
            channels: u8::try_from(channels).ok()?,
            letter,
            number: byte(words[4], 3),
            identity: Identity {
                name: clean_name(&String::from_utf8_lossy(name.get(..length)?)),
                role: *Role::ALL.get(usize::from(byte(words[4], 0)))?,
                colour,
            },
        })
    }
}

/// The name cut to 64 bytes, with spaces for control characters, so that it fits on one line and on the board.
pub(crate) fn clean_name(name: &str) -> String {
    let mut clean = String::new();
    for c in name.trim().chars() {
        let c = if c.is_control() { ' ' } else { c };
        if clean.len() + c.len_utf8() > NAME_BYTES {
            break;
        }
        clean.push(c);
    }
    clean
}

/// Present state of a layer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Live {
    /// Counts up while its worker is alive.
    pub(crate) beat: u64,
    /// Whether audio is running.
    pub(crate) running: bool,
    /// Whether a trial is in force, and how often the trial has changed.
    pub(crate) altered: bool,
    pub(crate) alterations: u32,
    pub(crate) grid: Grid,
    /// Position of its latest sample; in a file, a clock position counts from the board's zero.
    pub(crate) position: i64,
}

impl Live {
    pub(super) fn to_words(self) -> [u64; LIVE_WORDS] {
        let flags = u64::from(self.running) | u64::from(self.altered) << 1;
        let alterations = u64::from(self.alterations) << 32;
        [self.beat, flags | grid_word(self.grid) << 2 | alterations, self.position.cast_unsigned()]
    }

    pub(super) fn from_words(words: &[u64; LIVE_WORDS]) -> Option<Self> {
        let grid = grid_of((words[1] & u64::from(u32::MAX)) >> 2)?;
        let alterations = u32::try_from(words[1] >> 32).unwrap_or(0);
        let flag = |bit: u32| words[1] >> bit & 1 == 1;
        let position = words[2].cast_signed();
        Some(Self { beat: words[0], running: flag(0), altered: flag(1), alterations, grid, position })
    }
}

pub(super) fn grid_word(grid: Grid) -> u64 {
    match grid {
        Grid::Song => 0,
        Grid::Clock => 1,
    }
}

pub(super) fn grid_of(word: u64) -> Option<Grid> {
    match word {
        0 => Some(Grid::Song),
        1 => Some(Grid::Clock),
        _ => None,
    }
}
