//! meters
