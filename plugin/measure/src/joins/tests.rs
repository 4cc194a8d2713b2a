//! Joins on tenths made by hand.
