//! Lags, windows and steps, in seconds.

/// Longest lag searched, in seconds: 20 m of path.
pub const LONGEST_LAG_SECS: f64 = 0.06;
/// Length of a window in seconds.
pub const WINDOW_SECS: f64 = 2.0;
/// Time in seconds from the middle of a window, at which a delay is dated, to its end.
pub const TRACK_STEP_SECS: f64 = WINDOW_SECS / 2.0;
/// Shortest time from one window to the next in seconds.
pub const HOP_SECS: f64 = 0.25;
