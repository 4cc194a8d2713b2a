//! Moments and layers, as every format writes them.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A moment as timecode, in seconds and in samples. An `end` is the first moment after its item.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Moment {
    /// Time base: `song`, the song position or the files' time line; or `clock`, the computer's clock.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["song", "clock"])))]
    pub clock: String,
    /// Time after its start, s; may be negative.
    pub seconds: f64,
    /// The same in samples at the programme's sample rate.
    pub sample: i64,
    /// Label of the frame that holds the sample, `;` before drop frames, − (U+2212) before zero; null on `clock`.
    pub timecode: Option<String>,
}

/// A layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LayerRef {
    /// Id: sixteen hexadecimal digits, more than a double can hold.
    pub id: String,
    /// Name; may be empty.
    pub name: String,
}
