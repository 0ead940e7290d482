//! Which part of the sheet is covered: rough outlines of pieces and holes, to a pixel or few.

use crate::length::Px;

/// A side of the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
    /// Top.
    Top,
    /// Bottom.
    Bottom,
}

/// One covered region, roughly.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Closed polygon round it in picture px, clockwise as seen, a few px right or wrong.
    pub rim: Vec<Px>,
    /// Closed polygons of the holes in it through which the sheet is seen, anticlockwise.
    pub holes: Vec<Vec<Px>>,
    /// Sides of the picture that cut it off.
    pub cut_by: Vec<Side>,
    /// Covered area, mm².
    pub area: f64,
}

/// What covers the sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cloth {
    /// Pieces of cloth, largest first.
    pub regions: Vec<Region>,
    /// Things that lie on the sheet and were taken for no piece (a weight, a pencil), where each is.
    pub others: Vec<Px>,
}
