//! From found points to the curves a cutter would draw: corners where neighbouring edges cross, straight edges
//! straight, few cubics elsewhere. Nothing here sees a pixel.

use crate::length::Mm;
use kurbo::BezPath;

/// A corner of an outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Corner {
    /// Where the neighbouring edges cross.
    pub at: Mm,
    /// How far it may be out, mm (standard error).
    pub error: f64,
    /// Turn of the outline there, degrees, 0 = straight on.
    pub turn_deg: f64,
}

/// Whether an edge is drawn with a ruler or a curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// One straight line.
    Straight,
    /// One or more cubics.
    Curve,
}

/// The stretch of an outline between two corners (or all of a round piece).
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Index of the corner it starts at; `None` for a round piece.
    pub from: Option<usize>,
    /// Index of the corner it ends at.
    pub to: Option<usize>,
    /// The fitted line, mm.
    pub path: BezPath,
    /// Straight or curved.
    pub shape: Shape,
    /// Whether it lies along the picture's frame: cut, not measured.
    pub cut: bool,
    /// Distance along the edge and the standard error of the fitted line there, both mm, every 5 mm or closer.
    pub along: Vec<[f64; 2]>,
}

/// One closed outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// All edges joined, closed, clockwise as seen (holes anticlockwise).
    pub path: BezPath,
    /// Corners in order along the path.
    pub corners: Vec<Corner>,
    /// Edges in order; edge k runs from corner k to corner k+1.
    pub edges: Vec<Edge>,
}
