//! Numbers of the parameters, which are in users' projects and automation and never change.

/// *Hold*.
pub const HOLD: u32 = 3_208_383;
/// *Reset*.
pub const RESET: u32 = 108_404_047;
/// *Mark*.
pub const MARK: u32 = 3_344_077;
