//! What pixels hand to curves: points in millimetres, in order, each with how well it is known.

use crate::length::{Mm, Px};
use nalgebra::Vector2;

/// What is known about how one point was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags {
    /// Two rivals were nearly as good; the standard error includes their distance.
    pub rival: bool,
    /// The line could not be seen here; the point is carried over from its neighbours.
    pub unseen: bool,
    /// The point lies on the picture's frame or where the view ends: cut, not measured.
    pub cut: bool,
    /// A person has settled that the line runs here.
    pub by_hand: bool,
}

/// One point of a found line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamPoint {
    /// Where it is on the sheet, in mm, parallax of the cloth's height already taken out.
    pub at: Mm,
    /// Unit normal in sheet axes; for a closed rim it points out of the cloth.
    pub normal: Vector2<f64>,
    /// Standard error along the normal, in mm, view error not included.
    pub error: f64,
    /// Where it was seen, in pixels of the upright picture.
    pub px: Px,
    /// How it was found.
    pub flags: Flags,
}

/// An ordered line of points: a rim, a stitch line or a seam within the piece.
///
/// A closed path runs clockwise as seen (x right, y down), its last point is not its first again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SeamPath {
    /// The points, a fraction of a millimetre to about a millimetre apart.
    pub points: Vec<SeamPoint>,
    /// Whether the last point joins the first.
    pub closed: bool,
    /// Length over which neighbouring errors are alike, in mm (cloth is rough over millimetres).
    pub correlation_mm: f64,
}
