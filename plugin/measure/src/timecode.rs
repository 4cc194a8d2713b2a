//! Timecode labels of sample positions (SMPTE ST 12-1:2014; high rates ST 12-3), computed in whole numbers throughout.

use crate::rate::SampleRate;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// Frame rates, and how their frames are counted.
///
/// ```
/// use plumbline_measure::{FrameRate, SampleRate};
///
/// let rate = SampleRate::new(48_000)?;
/// assert_eq!(FrameRate::F25.frame_at(48_000, rate), 25);
/// // 5 frames of 30000/1001 a second are 8008 samples.
/// assert_eq!(FrameRate::F29_97.sample_at(5, rate), 8_008);
/// # Ok::<(), plumbline_measure::RateError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum FrameRate {
    /// 24000/1001.
    F23_976,
    /// 24.
    F24,
    /// 25.
    #[default]
    F25,
    /// 30000/1001, drop-frame.
    F29_97Drop,
    /// 30000/1001, non-drop.
    F29_97,
    /// 30.
    F30,
    /// 50.
    F50,
    /// 60000/1001, drop-frame.
    F59_94Drop,
    /// 60000/1001, non-drop.
    F59_94,
    /// 60.
    F60,
}

impl FrameRate {
    /// All rates, slowest first.
    pub const ALL: [Self; 10] = [
        Self::F23_976,
        Self::F24,
        Self::F25,
        Self::F29_97Drop,
        Self::F29_97,
        Self::F30,
        Self::F50,
        Self::F59_94Drop,
        Self::F59_94,
        Self::F60,
    ];

    /// Frames per second as a fraction.
    pub fn fraction(self) -> (u32, u32) {
        match self {
            Self::F23_976 => (24_000, 1_001),
            Self::F24 => (24, 1),
            Self::F25 => (25, 1),
            Self::F29_97Drop | Self::F29_97 => (30_000, 1_001),
            Self::F30 => (30, 1),
            Self::F50 => (50, 1),
            Self::F59_94Drop | Self::F59_94 => (60_000, 1_001),
            Self::F60 => (60, 1),
        }
    }

    /// Frames per second of timecode: 24, 25, 30, 50 or 60.
    pub fn counted(self) -> i64 {
        let (n, d) = self.fraction();
        i64::from(n.div_ceil(d))
    }

    /// Labels skipped at the start of each minute except every tenth: 0, 2 or 4.
    pub fn dropped(self) -> i64 {
        match self {
            Self::F29_97Drop => 2,
            Self::F59_94Drop => 4,
            _ => 0,
        }
    }

    /// Name for a list.
    pub fn name(self) -> &'static str {
        match self {
            Self::F23_976 => "23.976",
            Self::F24 => "24",
            Self::F25 => "25",
            Self::F29_97Drop => "29.97 drop",
            Self::F29_97 => "29.97 non-drop",
            Self::F30 => "30",
            Self::F50 => "50",
            Self::F59_94Drop => "59.94 drop",
            Self::F59_94 => "59.94 non-drop",
            Self::F60 => "60",
        }
    }

    /// Frames in 24 hours of timecode.
    pub fn frames_per_day(self) -> i64 {
        let minutes = 24 * 60;
        minutes * 60 * self.counted() - self.dropped() * (minutes - minutes / 10)
    }

    /// The frame that holds `sample`, counted from sample 0 (floor; negative before it).
    pub fn frame_at(self, sample: i64, rate: SampleRate) -> i64 {
        let (n, d) = self.fraction();
        let frame = (i128::from(sample) * i128::from(n)).div_euclid(i128::from(rate.hz()) * i128::from(d));
        i64::try_from(frame).unwrap_or(if frame < 0 { i64::MIN } else { i64::MAX })
    }

    /// The first sample of `frame`: the inverse of [`FrameRate::frame_at`].
    pub fn sample_at(self, frame: i64, rate: SampleRate) -> i64 {
        let (n, d) = self.fraction();
        let samples = i128::from(frame) * i128::from(rate.hz()) * i128::from(d);
        let sample = samples.div_euclid(i128::from(n)) + i128::from(samples.rem_euclid(i128::from(n)) != 0);
        i64::try_from(sample).unwrap_or(if sample < 0 { i64::MIN } else { i64::MAX })
    }
}

/// A timecode label: frames since 00:00:00:00 on a 24-hour clock.
///
/// ```
/// use plumbline_measure::{FrameRate, Timecode};
///
/// // Drop-frame counting skips two labels at the start of a minute (SMPTE ST 12-1).
/// let last = Timecode::parse(FrameRate::F29_97Drop, "00:00:59;29")?;
/// let next = Timecode::from_frame(FrameRate::F29_97Drop, last.frame() + 1);
/// assert_eq!(next.to_string(), "00:01:00;02");
/// assert!(Timecode::parse(FrameRate::F29_97Drop, "00:01:00;00").is_err());
/// # Ok::<(), plumbline_measure::timecode::TimecodeError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Timecode {
    rate: FrameRate,
    frame: i64,
}

impl PartialOrd for FrameRate {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for FrameRate {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        (*self as u8).cmp(&(*other as u8))
    }
}

impl Timecode {
    /// The label of a frame count; wraps at 24 hours, below zero as well.
    pub fn from_frame(rate: FrameRate, frame: i64) -> Self {
        Self { rate, frame: frame.rem_euclid(rate.frames_per_day()) }
    }

    /// The label of a sample position when sample 0 has the label `start`. The start sets the frame rate.
    pub fn at(start: Self, sample: i64, rate: SampleRate) -> Self {
        Self::from_frame(start.rate, start.frame.saturating_add(start.rate.frame_at(sample, rate)))
    }

    /// The label of a sample position as people read it. A position before 00:00:00:00, as in a count-in, has a minus:
    /// "−00:00:00:03" is three frames before it, where the 24-hour clock would say 23:59:59:22.
    pub fn label_at(start: Self, sample: i64, rate: SampleRate) -> String {
        let frame = start.frame.saturating_add(start.rate.frame_at(sample, rate));
        let sign = if frame < 0 { "−" } else { "" };
        format!("{sign}{}", Self::from_frame(start.rate, frame.saturating_abs()))
    }

    /// 00:00:00:00.
    pub fn zero(rate: FrameRate) -> Self {
        Self { rate, frame: 0 }
    }

    /// Frames since 00:00:00:00.
    pub fn frame(self) -> i64 {
        self.frame
    }

    /// The frame rate.
    pub fn rate(self) -> FrameRate {
        self.rate
    }

    /// Hours, minutes, seconds, frames.
    pub fn fields(self) -> [i64; 4] {
        let (counted, dropped) = (self.rate.counted(), self.rate.dropped());
        // SMPTE ST 12-1:2014 drop-frame: skip the first labels of every minute except each tenth.
        let per_minute = 60 * counted - dropped;
        let per_ten = 10 * per_minute + dropped;
        let (tens, rest) = (self.frame / per_ten, self.frame % per_ten);
        let skipped_in_ten = if rest >= dropped { dropped * ((rest - dropped) / per_minute) } else { 0 };
        let label = self.frame + tens * dropped * 9 + skipped_in_ten;
        let seconds = label / counted;
        [seconds / 3600, seconds / 60 % 60, seconds % 60, label % counted]
    }

    /// From hours, minutes, seconds, frames.
    ///
    /// # Errors
    /// If a field is out of range, or drop-frame counting skips the label.
    pub fn from_fields(rate: FrameRate, fields: [i64; 4]) -> Result<Self, TimecodeError> {
        let [h, m, s, f] = fields;
        let (counted, dropped) = (rate.counted(), rate.dropped());
        let in_range =
            (0..24).contains(&h) && (0..60).contains(&m) && (0..60).contains(&s) && (0..counted).contains(&f);
        if !in_range {
            return Err(TimecodeError::Range { rate: rate.name() });
        }
        if dropped > 0 && s == 0 && m % 10 != 0 && f < dropped {
            return Err(TimecodeError::Skipped { rate: rate.name() });
        }
        let minutes = 60 * h + m;
        let frame = (minutes * 60 + s) * counted + f - dropped * (minutes - minutes / 10);
        Ok(Self { rate, frame })
    }

    /// Reads `HH:MM:SS:FF`; `;` or `.` before the frames is accepted.
    ///
    /// # Errors
    /// If there are not four numbers, or as [`Timecode::from_fields`].
    pub fn parse(rate: FrameRate, text: &str) -> Result<Self, TimecodeError> {
        let parts: Vec<&str> = text.trim().split([':', ';', '.']).collect();
        let [h, m, s, f] = parts[..] else { return Err(TimecodeError::Form) };
        let number = |part: &str| match part.len() {
            1..=2 if part.bytes().all(|b| b.is_ascii_digit()) => {
                i64::from_str(part).map_err(|_| TimecodeError::Form)
            }
            _ => Err(TimecodeError::Form),
        };
        Self::from_fields(rate, [number(h)?, number(m)?, number(s)?, number(f)?])
    }
}

impl fmt::Display for Timecode {
    /// `HH:MM:SS:FF`, with `;` before the frames for drop-frame.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [h, m, s, f] = self.fields();
        let mark = if self.rate.dropped() > 0 { ';' } else { ':' };
        write!(out, "{h:02}:{m:02}:{s:02}{mark}{f:02}")
    }
}

/// Why a text is not a timecode. Nothing was changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum TimecodeError {
    /// Not of the form HH:MM:SS:FF.
    #[error("expected a timecode of the form HH:MM:SS:FF; nothing was changed")]
    Form,
    /// A field is out of range.
    #[error(
        "hours go to 23, minutes and seconds to 59, and frames to one under the count of {rate} fps; nothing was changed"
    )]
    Range {
        /// The frame rate.
        rate: &'static str,
    },
    /// The label does not exist.
    #[error("drop-frame counting at {rate} skips this label; nothing was changed")]
    Skipped {
        /// The frame rate.
        rate: &'static str,
    },
}
