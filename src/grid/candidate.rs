//! What a detector of one kind of mark hands to the lattice grower.

use crate::length::Px;
use nalgebra::Vector2;

/// A place that may be a node of the sheet.
///
/// Every kind of mark has a module with two functions of the same shape:
/// `candidates(gray: &Gray) -> Vec<Candidate>` looks over a reduced level and names places to about half a reduced
/// pixel, and `refine(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<(Px, f64)>` measures one node at
/// full resolution once the lattice says where it should be. `frame` holds the steps to the next node along i and j, px; a window
/// never reaches the next node (Geiger et al. 2012). `None` when the mark is hidden, blurred or shaped otherwise; the
/// number is the standard error of each coordinate, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Where it is, in pixels of the full picture.
    pub at: Px,
    /// How clearly it stands out; only compared with other candidates of the same picture and kind.
    pub strength: f32,
    /// Directions of the lattice here when the mark tells them (arms of a crossing, sides of a square), unit length,
    /// each up to sign; `None` for a round dot.
    pub axes: Option<[Vector2<f64>; 2]>,
    /// What differs between neighbouring marks: +1 or -1 for the two kinds of checker corner, 0 where all are alike.
    pub state: i8,
}
