//! What a sheet is drawn with.

use crate::write::page::{Ink, Pen};

/// What cloth lies on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ground {
    /// A pale grey-blue: darker than white cloth, lighter than black, and quiet to the eye.
    #[default]
    Tint,
    /// The bare paper: saves ink, and leaves white cloth hardly anything to be told by.
    White,
}

impl Ground {
    pub(super) fn ink(self) -> Ink {
        match self {
            Self::Tint => Ink::Colour([198, 205, 213]),
            Self::White => Ink::Grey(1.0),
        }
    }
}

/// Lines, marks and words: dark enough to stand out from the tint in a print without colours.
pub(super) const INK: Ink = Ink::Colour([66, 74, 92]);
/// The ruled lines.
pub(super) const LINE: Pen = Pen::new(0.4, &[]).ink(INK);
/// Rulers.
pub(super) const TICK: Pen = Pen::new(0.15, &[]).ink(INK);
/// Ends of the long rulers.
pub(super) const END: Pen = Pen::new(0.3, &[]).ink(INK);
/// What pages are joined by.
pub(super) const JOIN: Pen = Pen::new(0.2, &[]).ink(INK);
/// Where a page without a tint is cut.
pub(super) const TRIM: Pen = Pen::new(0.1, &[]).ink(Ink::Grey(0.6));
