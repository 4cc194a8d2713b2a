//! loudness
