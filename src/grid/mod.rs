//! Finds the sheet's lattice: its nodes to a fraction of a pixel, each with a whole-number address.

mod blobs;
mod candidate;
pub mod checker;
pub mod crosses;
mod damped;
pub mod dots;
mod patch;
mod spot;

pub use candidate::Candidate;

use crate::length::Px;
use crate::sheet::SheetKind;

/// One node of the sheet seen in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Node {
    /// Where it is seen.
    pub at: Px,
    /// Its address along x, in squares from the origin node.
    pub i: i32,
    /// Its address along y (down).
    pub j: i32,
    /// Standard error of each coordinate, px.
    pub error: f64,
}

/// The nodes found, numbered.
///
/// Address (0, 0) is the node nearest the picture's centre; i grows along the lattice direction nearest the
/// picture's right, j along the one nearest its bottom. The numbering is never mirrored.
#[derive(Clone, Debug, PartialEq)]
pub struct Lattice {
    /// How the sheet is marked, as found or as told.
    pub kind: SheetKind,
    /// Distance of neighbouring nodes along x and y, mm.
    pub pitch: [f64; 2],
    /// Nodes that were seen, sorted by (j, i).
    pub nodes: Vec<Node>,
    /// Typical half-width of the ruled marks, mm (for drawing what the bare sheet would look like).
    pub mark_half_width: f64,
}
