//! One frame of the Bus page: layout and tessellation.
use crate::Line;
pub(crate) fn run() -> Line {
    Line { what: "x", bound: "", found: 0.0, budget: 3.0, unit: "ms", behind: String::new() }
}
