//! The lines of a pattern, told apart in black and white by weight and dash. Weights are common practice, no source.

use super::piece::{LineKind, PatternLine, PatternNotch};
use crate::write::page::Pen;

/// What is cut along.
pub(super) const CUT: Pen = Pen::new(0.5, &[]);
/// What is cut along, where nobody measured it.
pub(super) const CUT_ASSUMED: Pen = Pen::new(0.5, &[7.0, 3.0]);
/// What is sewn along.
pub(super) const STITCH: Pen = Pen::new(0.25, &[4.0, 1.5]);
/// What is sewn along, where nobody measured it.
pub(super) const STITCH_ASSUMED: Pen = Pen::new(0.25, &[1.2, 1.2]);
/// What lies on the fold of the cloth.
pub(super) const FOLD: Pen = Pen::new(0.45, &[10.0, 1.5, 1.5, 1.5, 1.5, 1.5]);
/// A seam or another line within the piece.
pub(super) const INNER: Pen = Pen::new(0.25, &[9.0, 2.0, 0.6, 2.0]);
/// The leg of a dart.
pub(super) const DART: Pen = Pen::new(0.25, &[6.0, 1.2, 0.6, 1.2, 0.6, 1.2]);
/// A pleat's fold, or where it comes to lie.
pub(super) const PLEAT: Pen = Pen::new(0.25, &[14.0, 1.5]);
/// A notch that was proposed.
pub(super) const NOTCH_ASSUMED: Pen = Pen::new(0.5, &[0.8, 0.6]);
/// Grain, marks, arrows, rulers.
pub(super) const FINE: Pen = Pen::new(0.25, &[]);
/// Where pages are cut to be joined.
pub(super) const TRIM: Pen = Pen::new(0.15, &[]).grey(0.45);
/// Where the next page is laid.
pub(super) const LAY: Pen = Pen::new(0.15, &[2.0, 2.0]).grey(0.45);

/// The pen of a line.
pub(super) fn of(line: &PatternLine) -> Pen {
    match (line.kind, line.assumed) {
        (LineKind::Cut | LineKind::CutOut, false) => CUT,
        (LineKind::Cut | LineKind::CutOut, true) => CUT_ASSUMED,
        (LineKind::Stitch, false) => STITCH,
        (LineKind::Stitch, true) => STITCH_ASSUMED,
        (LineKind::Fold, _) => FOLD,
        (LineKind::Inner, _) => INNER,
        (LineKind::Dart, _) => DART,
        (LineKind::Pleat, _) => PLEAT,
    }
}

/// The pen of a notch.
pub(super) fn notch(notch: &PatternNotch) -> Pen {
    if notch.assumed { NOTCH_ASSUMED } else { CUT }
}
