//! Measured prints of coded sheets: where they are kept, and those at hand.

use super::kept::Kept;
use super::say;
use crate::sheet::MeasuredPrint;

/// Measured prints of coded sheets.
pub(super) const PRINTS: Kept = Kept { variable: "RUBOFF_PRINTS", own: "prints", project: "calibration/prints" };

/// All that are kept, the newest first. One that can't be read is told and left out.
pub(super) fn gather() -> Vec<MeasuredPrint> {
    let mut kept = Vec::new();
    for file in PRINTS.files() {
        match MeasuredPrint::open(&file) {
            Ok(print) => kept.push(print),
            Err(e) => say::note(&format!("{e}; it is left out")),
        }
    }
    kept.sort_by(|a: &MeasuredPrint, b| b.measured_on.cmp(&a.measured_on));
    kept
}
