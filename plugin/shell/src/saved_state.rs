//! An instance's state in a project: versioned, bounded, and tolerant on load.

use nice_plug::params::persist::PersistentField;
use nice_plug::prelude::PluginState;
use plumbline_live::Layer;
use plumbline_measure::Grid;
use plumbline_programme::{Command, Identity, Mark};
use plumbline_screen::{Role, Settings};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Value, json};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// The version of the format. It only ever grows; of a newer state, the known fields are read.
pub const VERSION: u32 = 1;
/// The longest layer name kept, in bytes.
pub const LONGEST_NAME: usize = 64;
/// The longest field of a state that is read, in bytes: a thousand times the length that an instance writes without a
/// stored reference, and ten times that with one.
const LONGEST_FIELD: usize = 1 << 20;

/// The smallest editor, in points.
pub const SMALLEST: [u32; 2] = [760, 480];
/// The editor of a new instance, in points.
pub const USUAL: [u32; 2] = [1_180, 760];
/// The largest editor that a state may ask for, in points.
pub const LARGEST: [u32; 2] = [7_680, 4_320];

/// The state besides the parameters.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Saved {
    /// Version of the format.
    pub version: u32,
    /// Name of the layer; if empty, the host's track name is used.
    pub name: String,
    /// The role of the layer.
    pub role: Role,
    /// Session letter, A to H.
    pub session: char,
    /// Width and height of the editor in points.
    pub window: [u32; 2],
    /// Tenths of song time at which passages begin.
    pub marks: Vec<i64>,
    /// The screen's settings.
    pub screen: Settings,
}

/// The most marks that are kept.
const MOST_MARKS: usize = 1_000;

impl Default for Saved {
    fn default() -> Self {
        Self {
            version: VERSION,
            name: String::new(),
            role: Role::default(),
            session: 'A',
            window: USUAL,
            marks: Vec::new(),
            screen: Settings::default(),
        }
    }
}

impl<'de> Deserialize<'de> for Saved {
    /// Reads each field separately: a field that is missing, of the wrong type or out of bounds gets its default and
    /// does not affect the others. A state that is not an object, or has no version of 1 or more, is refused as a
    /// whole.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let value = Value::deserialize(deserializer)?;
        Self::from_value(&value).ok_or_else(|| {
            serde::de::Error::custom("expected a state of version 1 or later; nothing was changed")
        })
    }
}

impl Saved {
    fn from_value(value: &Value) -> Option<Self> {
        let fields = value.as_object()?;
        if fields.get("version")?.as_u64()? == 0 {
            return None;
        }
        let usual = Self::default();
        let take = |key: &str| fields.get(key).cloned();
        let name = take("name").and_then(|v| v.as_str().map(shortened)).unwrap_or(usual.name);
        let role = take("role").and_then(|v| serde_json::from_value(v).ok()).unwrap_or(usual.role);
        let session = take("session")
            .and_then(|v| serde_json::from_value(v).ok())
            .filter(|letter| ('A'..='H').contains(letter))
            .unwrap_or(usual.session);
        let window = take("window")
            .and_then(|v| serde_json::from_value(v).ok())
            .map(within_bounds)
            .unwrap_or(usual.window);
        let screen = take("screen").and_then(|v| serde_json::from_value(v).ok()).unwrap_or(usual.screen);
        let mut marks: Vec<i64> =
            take("marks").and_then(|v| serde_json::from_value(v).ok()).unwrap_or_default();
        marks.truncate(MOST_MARKS);
        Some(Self { version: VERSION, name, role, session, window, marks, screen })
    }
}

/// `name` without control characters, cut to [`LONGEST_NAME`].
pub fn shortened(name: &str) -> String {
    let mut out = String::new();
    for letter in name.chars().filter(|c| !c.is_control()) {
        if out.len() + letter.len_utf8() > LONGEST_NAME {
            break;
        }
        out.push(letter);
    }
    out
}

/// An editor size, clamped to between [`SMALLEST`] and [`LARGEST`].
pub fn within_bounds(size: [u32; 2]) -> [u32; 2] {
    [0, 1].map(|i| size[i].clamp(SMALLEST[i], LARGEST[i]))
}

/// Switches off the parameters that are pulses, and removes fields that are unknown or too long from a host's state,
/// before it is parsed. A state saved in the middle of a pulse must not mark or reset where it is loaded.
pub fn sieve(state: &mut PluginState) {
    for pulse in ["reset", "mark"] {
        // A parameter that is missing from a state would keep its present value. The framework hides the type.
        if let Ok(off) = serde_json::from_value(json!({ "bool": false })) {
            state.params.insert(pulse.to_owned(), off);
        }
    }
    state.fields.retain(|key, text| key == "memory" && text.len() <= LONGEST_FIELD);
}

/// The track of an instance, as the host describes it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Its name; empty if the host gives none.
    pub name: String,
    /// Its colour.
    pub colour: Option<[u8; 3]>,
}

/// The state of one instance, shared between host, editor and layer.
pub struct Memory {
    saved: Mutex<Saved>,
    /// Not part of the state: the host passes it again.
    track: Mutex<Track>,
    loads: AtomicU32,
    layer: Arc<Layer>,
}

impl Memory {
    /// The state of a new instance.
    pub fn new(layer: Arc<Layer>) -> Self {
        let memory =
            Self { saved: Mutex::default(), track: Mutex::default(), loads: AtomicU32::new(0), layer };
        memory.instruct(&memory.saved());
        memory
    }

    /// A copy of the state.
    pub fn saved(&self) -> Saved {
        self.saved.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Changes the state on behalf of the user.
    pub fn change(&self, with: impl FnOnce(&mut Saved)) {
        let saved = {
            let mut saved = self.saved.lock().unwrap_or_else(PoisonError::into_inner);
            with(&mut saved);
            saved.clone()
        };
        self.instruct(&saved);
    }

    /// The track, as the host describes it.
    pub fn track(&self) -> Track {
        self.track.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Sets the host's track; a name or colour chosen by the user takes precedence.
    pub fn set_track(&self, track: Track) {
        *self.track.lock().unwrap_or_else(PoisonError::into_inner) = track;
        self.instruct(&self.saved());
    }

    /// The layer's name: the user's, else the host's, shortened; may be empty.
    pub fn name(&self) -> String {
        named(&self.saved(), &self.track())
    }

    /// A number that changes with each load of a state: an editor then rereads it.
    pub fn loads(&self) -> u32 {
        self.loads.load(Ordering::Acquire)
    }

    /// Passes the state on to the layer.
    fn instruct(&self, saved: &Saved) {
        let track = self.track();
        self.layer.change(|settings| {
            settings.delivery = saved.screen.target;
            settings.band_edges = saved.screen.band_edges;
            settings.balance = saved.screen.balance;
            settings.session = saved.session;
            settings.rules = saved.screen.rules;
            settings.recording = saved.screen.recording;
            settings.identity =
                Identity { name: named(saved, &track), role: saved.role, colour: track.colour };
        });
    }
}

fn named(saved: &Saved, track: &Track) -> String {
    shortened(if saved.name.is_empty() { &track.name } else { &saved.name })
}

impl PersistentField<'_, Saved> for Arc<Memory> {
    fn set(&self, new_value: Saved) {
        let marks = new_value.marks.iter().map(|index| Mark { grid: Grid::Song, index: *index });
        // Counted before and after: an editor that changes the state during the load finds its copy out of date, and one
        // that reads it then reads it again.
        self.loads.fetch_add(1, Ordering::Release);
        self.layer.send(Command::ReplaceMarks(marks.collect()));
        self.change(|saved| *saved = new_value);
        self.loads.fetch_add(1, Ordering::Release);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Saved) -> R,
    {
        let on_song = |mark: &Mark| (mark.grid == Grid::Song).then_some(mark.index);
        let marks = self.layer.marks().iter().filter_map(on_song).collect();
        f(&Saved { marks, ..self.saved() })
    }
}

#[cfg(test)]
mod tests;
