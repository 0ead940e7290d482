//! Where measured prints are kept.

use super::kept::Kept;

/// Measured prints of coded sheets.
pub(super) const PRINTS: Kept = Kept { variable: "RUBOFF_PRINTS", own: "prints", project: "calibration/prints" };
