//! The lines of one piece: corners and edges round it, seams within, holes. Millimetres, x right, y down, clockwise as seen.

use super::How;
use super::walk::Walk;
use crate::length::Mm;
use crate::outline::signed_area;
use kurbo::{Affine, BezPath, PathEl, Point};

/// How the line of an edge was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// Where cloth ends.
    Rim,
    /// The stitch line.
    Seam,
    /// A folded edge, or a place on the fold.
    Fold,
    /// Along the picture's frame: nothing is known of it.
    Cut,
}

/// A corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Corner {
    /// Its name, as the notes or the tracing have it.
    pub name: String,
    /// Where it is.
    pub at: Mm,
    /// How far it may be out, mm (standard error); `None` for a corner that was drafted.
    pub error: Option<f64>,
}

/// The stretch between two corners, or all of a round piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Its name.
    pub name: String,
    /// From its first corner to its second, one move and then lines and cubics.
    pub path: BezPath,
    /// How it was seen.
    pub line: Line,
    /// How the line came to be known.
    pub how: How,
    /// 95 % of its points lie within this distance of the truth, mm; `None` where nothing is claimed.
    pub bound: Option<f64>,
}

impl Edge {
    /// Its length, mm.
    pub fn length(&self) -> f64 {
        Walk::of(&self.path).length()
    }
}

/// A seam within the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Inner {
    /// Its name.
    pub name: String,
    /// From end to end.
    pub path: BezPath,
    /// 95 % of its points lie within this distance of the truth, mm.
    pub bound: Option<f64>,
}

/// All lines of a piece at one stage of the work. Edge k runs from corner k to corner k + 1; a round piece has one edge and no corner.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layer {
    /// Corners in order.
    pub corners: Vec<Corner>,
    /// Edges in order.
    pub edges: Vec<Edge>,
    /// Seams within.
    pub inner: Vec<Inner>,
    /// Holes, anticlockwise as seen.
    pub holes: Vec<BezPath>,
}

/// Why lines make no piece.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LayerError {
    /// There is no edge.
    #[error("the piece has no edges; trace it again")]
    Empty,
    /// Corners and edges do not belong together.
    #[error("the piece has {edges} edges and {corners} corners; the outline is not closed, trace it whole")]
    Counts {
        /// Edges.
        edges: usize,
        /// Corners.
        corners: usize,
    },
    /// An edge does not start where the one before it ends.
    #[error("{edge} starts {gap:.2} mm from where the edge before it ends; trace the piece again")]
    Apart {
        /// Its name.
        edge: String,
        /// The gap, mm.
        gap: f64,
    },
    /// An edge has no length or holds what is no number.
    #[error("{edge} has no length; trace the piece again, or leave out the corner that parts it")]
    NoLength {
        /// Its name.
        edge: String,
    },
}

/// Ends of neighbouring edges lie together within this distance, mm: files round to 0.0001.
pub(super) const TOGETHER: f64 = 0.002;

impl Layer {
    /// Whether corners and edges make a closed line.
    ///
    /// # Errors
    /// They don't; the edge is named.
    pub fn check(&self) -> Result<(), LayerError> {
        if self.edges.is_empty() {
            return Err(LayerError::Empty);
        }
        if self.corners.len() != self.edges.len() && !(self.corners.is_empty() && self.edges.len() == 1) {
            return Err(LayerError::Counts { edges: self.edges.len(), corners: self.corners.len() });
        }
        for (k, edge) in self.edges.iter().enumerate() {
            let before = &self.edges[(k + self.edges.len() - 1) % self.edges.len()];
            let (start, end) = (ends(&edge.path), ends(&before.path));
            let (Some((start, _)), Some((_, end))) = (start, end) else { return Err(LayerError::NoLength { edge: edge.name.clone() }) };
            if !edge.path.is_finite() || edge.length() < TOGETHER {
                return Err(LayerError::NoLength { edge: edge.name.clone() });
            }
            let gap = start.distance(end);
            if gap > TOGETHER {
                return Err(LayerError::Apart { edge: edge.name.clone(), gap });
            }
        }
        Ok(())
    }

    /// All edges as one closed path.
    pub fn outline(&self) -> BezPath {
        joined(self.edges.iter().map(|e| &e.path))
    }

    /// Area within the outline less its holes, mm².
    pub fn area(&self) -> f64 {
        signed_area(&self.outline()) - self.holes.iter().map(|h| signed_area(h).abs()).sum::<f64>()
    }

    /// Length round the outline, mm.
    pub fn perimeter(&self) -> f64 {
        self.edges.iter().map(Edge::length).sum()
    }

    /// Number of an edge by its name, whatever its spaces and capitals.
    pub fn edge(&self, name: &str) -> Option<usize> {
        self.edges.iter().position(|e| alike(&e.name, name))
    }

    /// Number of a corner by its name.
    pub fn corner(&self, name: &str) -> Option<usize> {
        self.corners.iter().position(|c| alike(&c.name, name))
    }

    /// The same lines moved, turned, sized or mirrored. A mirrored piece keeps its corners' and edges' names and runs clockwise again.
    pub fn mapped(&self, by: Affine) -> Self {
        let map = |p: Mm| mm(by * point(p));
        let mut out = Self {
            corners: self.corners.iter().map(|c| Corner { at: map(c.at), ..c.clone() }).collect(),
            edges: self.edges.iter().map(|e| Edge { path: by * e.path.clone(), ..e.clone() }).collect(),
            inner: self.inner.iter().map(|i| Inner { path: by * i.path.clone(), ..i.clone() }).collect(),
            holes: self.holes.iter().map(|h| by * h.clone()).collect(),
        };
        if by.determinant() < 0.0 {
            // Backwards round: the corner an edge ended at is now the one it starts at.
            out.edges.reverse();
            out.edges.iter_mut().for_each(|e| e.path = e.path.reverse_subpaths());
            if !out.corners.is_empty() {
                out.corners.reverse();
                out.corners.rotate_right(1);
            }
            out.holes.iter_mut().for_each(|h| *h = h.reverse_subpaths());
        }
        out
    }
}

/// The closed path of edges that follow one another.
pub(super) fn joined<'a>(edges: impl IntoIterator<Item = &'a BezPath>) -> BezPath {
    let mut out = BezPath::new();
    for path in edges {
        for el in path.elements() {
            match el {
                PathEl::MoveTo(p) if out.is_empty() => out.move_to(*p),
                PathEl::MoveTo(_) | PathEl::ClosePath => {}
                other => out.push(*other),
            }
        }
    }
    if !out.is_empty() {
        out.close_path();
    }
    out
}

/// First and last point of an open path.
pub(super) fn ends(path: &BezPath) -> Option<(Point, Point)> {
    let first = path.segments().next()?;
    let last = path.segments().last()?;
    Some((kurbo::ParamCurve::start(&first), kurbo::ParamCurve::end(&last)))
}

pub use crate::notes::alike;

pub(super) fn point(p: Mm) -> Point {
    Point::new(p.x, p.y)
}

pub(super) fn mm(p: Point) -> Mm {
    Mm::new(p.x, p.y)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Mm;

    /// A piece of straight edges, corners named c0, c1 … and edges e0, e1 …
    fn polygon(points: &[[f64; 2]]) -> Layer {
        let n = points.len();
        let edge = |k: usize| {
            let mut path = BezPath::new();
            path.move_to((points[k][0], points[k][1]));
            path.line_to((points[(k + 1) % n][0], points[(k + 1) % n][1]));
            Edge { name: format!("e{k}"), path, line: Line::Rim, how: How::Seen, bound: Some(0.1) }
        };
        Layer {
            corners: (0..n).map(|k| Corner { name: format!("c{k}"), at: points[k].into(), error: Some(0.05) }).collect(),
            edges: (0..n).map(edge).collect(),
            ..Layer::default()
        }
    }

    #[test]
    fn a_rectangle_closes_and_has_its_size() {
        let r = polygon(&[[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]]);
        r.check().expect("closed");
        assert!((r.area() - 6000.0).abs() < 1e-9 && (r.perimeter() - 320.0).abs() < 1e-9);
        assert_eq!(r.edge("E 2"), None);
        assert_eq!(r.edge("E2"), Some(2));
    }

    #[test]
    fn what_does_not_close_is_refused_by_name() {
        let mut r = polygon(&[[0.0, 0.0], [100.0, 0.0], [100.0, 60.0]]);
        r.edges[1].path = BezPath::from_svg("M 100 1 L 100 60").expect("path data");
        assert_eq!(r.check(), Err(LayerError::Apart { edge: "e1".into(), gap: 1.0 }));
        r.corners.pop();
        assert!(matches!(r.check(), Err(LayerError::Counts { edges: 3, corners: 2 })));
        assert_eq!(Layer::default().check(), Err(LayerError::Empty));
    }

    #[test]
    fn a_mirrored_piece_runs_clockwise_and_keeps_its_names() {
        let r = polygon(&[[0.0, 0.0], [100.0, 0.0], [120.0, 60.0], [0.0, 60.0]]);
        let m = r.mapped(Affine::FLIP_X);
        m.check().expect("closed");
        assert!((m.area() - r.area()).abs() < 1e-9, "{}", m.area());
        for e in &r.edges {
            let k = m.edge(&e.name).expect("kept");
            assert!((m.edges[k].length() - e.length()).abs() < 1e-9);
            let (start, _) = ends(&m.edges[k].path).expect("a path");
            assert_eq!(m.corners[k].at, mm(start), "{}", e.name);
        }
        let there = r.corner("c2").map(|k| r.corners[k].at);
        let mirrored = m.corner("c2").map(|k| m.corners[k].at);
        assert_eq!(there.map(|p| Mm::new(-p.x, p.y)), mirrored);
    }
}
