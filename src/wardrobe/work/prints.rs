//! Measured prints of coded sheets: where they are kept, and those at hand.

use super::kept::Kept;
use crate::sheet::MeasuredPrint;

/// Measured prints of coded sheets.
pub const PRINTS: Kept = Kept { variable: "RUBOFF_PRINTS", own: "prints", project: "calibration/prints" };

/// Prints at hand.
#[derive(Clone, Debug, Default)]
pub struct Prints {
    /// The newest first.
    pub all: Vec<MeasuredPrint>,
    /// What a person had better know of those left out.
    pub said: Vec<String>,
}

impl Prints {
    /// All that are kept. One that can't be read is told and left out.
    pub fn gather() -> Self {
        let mut kept = Self::default();
        for file in PRINTS.files() {
            match MeasuredPrint::open(&file) {
                Ok(print) => kept.all.push(print),
                Err(e) => kept.said.push(format!("{e}; it is left out")),
            }
        }
        kept.all.sort_by(|a: &MeasuredPrint, b| b.measured_on.cmp(&a.measured_on));
        kept
    }
}
