//! From found points to the curves a cutter would draw: corners where neighbouring edges cross, straight edges
//! straight, few cubics elsewhere. Nothing here sees a pixel.
//!
//! In: a [`SeamPath`](crate::path::SeamPath), points in mm with standard errors, alike over some millimetres. Out:
//! an [`Outline`] with its [`Corner`]s and [`Edge`]s, each edge with how far it may be out.
//!
//! | step | file | method |
//! |---|---|---|
//! | make ready | `trail` | thin to a millimetre, order, distance along |
//! | noise | `noise` | what parabolas over 25 mm leave |
//! | candidates | `turning` | direction before and after, at three scales |
//! | corners | `corners`, `crossing` | low curves from both sides, 3 mm off and further, cross (Goldenshluger & Nemirovski 1997 for the reach) |
//! | smooth | `smooth` | penalised splines (Eilers & Marx 1996), discrepancy principle (Morozov 1966) |
//! | draw | `straight`, `cubics`, `draw` | ruler lines; least squares of joined cubics (Wang, Pottmann & Liu 2006), fewest inside a guard |
//! | how sure | `sure` | errors propagated through the fit |

mod assemble;
mod corners;
mod crossing;
mod cubics;
mod draw;
mod measure;
mod noise;
mod side;
mod smooth;
mod straight;
mod sure;
mod trail;
mod turning;

pub use assemble::assemble;
pub use corners::corners;
pub use measure::{length, polygon, signed_area};

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
    /// How far along either edge the found points are rounded, mm; they are left out when edges are drawn.
    pub rounded: f64,
    /// Whether it stands because it was given, or lies where the line meets the frame, and not for its turn alone.
    pub given: bool,
}

/// What a person says of an outline beforehand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hints {
    /// Corners that are there, however gentle; each is looked for within 5 mm.
    pub corners: Vec<Mm>,
    /// Corners beside which a mark was laid, as near as cloth allows; one that was found by itself is looked for within 12 mm.
    pub marked: Vec<Mm>,
    /// Corners that are at these very places.
    pub exact: Vec<Mm>,
    /// Places within 5 mm of which the line only bends, however tightly.
    pub round: Vec<Mm>,
}

/// How to draw. Few settings; the defaults suit garments on a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// How far the drawn curve may leave the smooth curve through the points, mm, default 0.08. Larger gives fewer
    /// cubics and a larger error.
    pub tolerance_mm: f64,
    /// Bow up to which an edge counts as straight, mm, default 0.15: less than half a pencil line. Larger flattens
    /// shaped seams.
    pub straight_mm: f64,
    /// Edges that are drawn with a ruler whatever was found, each by about where its ends are (within 5 mm); none by default.
    pub ruled: Vec<[Mm; 2]>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { tolerance_mm: 0.08, straight_mm: 0.15, ruled: Vec::new() }
    }
}

/// Why no outline could be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OutlineError {
    /// Nearly nothing was found.
    #[error("only {found} points of the edge were found, too few to draw an outline; take the picture nearer or in better light")]
    TooFewPoints {
        /// Points left after dropping unusable ones.
        found: usize,
    },
    /// All points lie together.
    #[error("the edge found is only {size:.2} mm across, too small to draw; check the pitch of the sheet that was given")]
    TooSmall {
        /// Larger side of the box around the points, mm.
        size: f64,
    },
    /// A corner lies far from the path.
    #[error("the corner given at {x:.0}, {y:.0} mm lies {off:.0} mm from the edge that was found; move it onto the edge or leave it out")]
    CornerAstray {
        /// The corner, mm.
        x: f64,
        /// The corner, mm.
        y: f64,
        /// Distance to the path, mm.
        off: f64,
    },
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
    /// Index of the corner it starts at; `None` for a round piece or a loose end.
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

impl Edge {
    /// About the middle of it: of its middle segment, or where its two middle ones meet.
    pub fn middle(&self) -> Mm {
        let segments: Vec<kurbo::PathSeg> = self.path.segments().collect();
        segments.get(segments.len() / 2).map_or(Mm::default(), |s| {
            let p = kurbo::ParamCurve::eval(s, if segments.len() % 2 == 1 { 0.5 } else { 0.0 });
            Mm::new(p.x, p.y)
        })
    }

    /// Length of the drawn edge, mm.
    pub fn length(&self) -> f64 {
        length(&self.path)
    }

    /// Root mean square of the standard errors along it, mm.
    pub fn error(&self) -> f64 {
        let n = self.along.len().max(1) as f64;
        (self.along.iter().map(|a| a[1] * a[1]).sum::<f64>() / n).sqrt()
    }
}

/// One outline, closed unless the path was open.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// All edges joined, clockwise as seen (holes anticlockwise).
    pub path: BezPath,
    /// Corners in order along the path.
    pub corners: Vec<Corner>,
    /// Edges in order; edge k runs from corner k to corner k+1.
    pub edges: Vec<Edge>,
}
