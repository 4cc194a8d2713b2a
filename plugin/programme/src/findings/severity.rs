//! The values from which a finding is clear, and from which it is grave.

use super::{Finding, Grade, Kind};
use crate::arrival::Cause;

/// Sets the severity of a finding from its worst value.
pub(super) fn set_severity(finding: &mut Finding) {
    let (clear, grave) = match finding.kind {
        Kind::OutOfStep => (0.75, 0.9),
        Kind::MonoLoss => (6.0, 10.0),
        Kind::OneSided => (40.0, 80.0),
        Kind::TruePeak => (-0.5, 0.0),
        Kind::Clipped => (1.0, 10.0),
        Kind::Dropout => (10.0, 100.0),
        Kind::Wind => (9.0, 15.0),
        Kind::Balance => (10.0, 30.0),
        Kind::Covered => (15.0, 25.0),
        Kind::Jump => (2.0, 3.0),
        Kind::Gap => (1.0, 4_800.0),
    };
    let worst = finding.worst.abs();
    let worst = if finding.kind == Kind::TruePeak { finding.worst } else { worst };
    // Without a known cause there is nothing to repair: tones in a room are out of step by chance.
    let unexplained = matches!(finding.cause, Some(Cause::Unexplained | Cause::Opposed));
    finding.grade = match worst {
        _ if unexplained => Grade::Slight,
        w if w >= grave && finding.cause != Some(Cause::InvertedInPart) => Grade::Grave,
        w if w >= clear => Grade::Clear,
        _ => Grade::Slight,
    };
}
