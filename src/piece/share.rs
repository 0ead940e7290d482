//! A small difference between two edges that are sewn together, shared out: one a little longer, the other a little shorter.

use super::layer::{Edge, Layer, LayerError, Line, mm};
use super::walk::Walk;
use kurbo::{BezPath, PathSeg, Point, Vec2};

/// How far the length may be off what was asked for, mm.
const CLOSE: f64 = 0.001;

/// The layer with one edge longer by `by` mm (shorter when negative): the corner at one end slides along the edge's own
/// direction there, the edge itself gives evenly, and the neighbour's end follows, fading out over its length. Also how far
/// the corner moved, mm.
///
/// # Errors
/// The result is no piece: the edge or its neighbour is shorter than what is asked of it.
pub fn lengthened(layer: &Layer, edge: usize, at_end: bool, by: f64) -> Result<(Layer, f64), LayerError> {
    let n = layer.edges.len();
    let no_length = || LayerError::NoLength { edge: layer.edges.get(edge).map_or(String::new(), |e| e.name.clone()) };
    let own = layer.edges.get(edge).filter(|_| n > 1).ok_or_else(no_length)?;
    let walk = Walk::of(&own.path);
    if by.abs() > walk.length() / 2.0 {
        return Err(no_length());
    }
    let out = if at_end { walk.along(walk.length()) } else { -walk.along(0.0) };
    let moved = |x: f64| {
        let d = out * x;
        if at_end { displaced(&own.path, Vec2::ZERO, d) } else { displaced(&own.path, d, Vec2::ZERO) }
    };
    // Nearly one for one: the secant needs few steps.
    let mut x = by;
    for _ in 0..20 {
        let off = Walk::of(&moved(x)).length() - walk.length() - by;
        if off.abs() < CLOSE {
            break;
        }
        x -= off;
    }
    let mut layer = layer.clone();
    let neighbour = if at_end { (edge + 1) % n } else { (edge + n - 1) % n };
    let follow = out * x;
    layer.edges[neighbour].path = if at_end {
        displaced(&layer.edges[neighbour].path, follow, Vec2::ZERO)
    } else {
        displaced(&layer.edges[neighbour].path, Vec2::ZERO, follow)
    };
    layer.edges[edge].path = moved(x);
    for k in [edge, neighbour] {
        layer.edges[k].how = layer.edges[k].how.drafted();
    }
    let corner = if at_end { neighbour } else { edge };
    if let Some(c) = layer.corners.get_mut(corner) {
        c.at = mm(super::layer::point(c.at) + follow);
        c.error = None;
    }
    layer.check()?;
    Ok((layer, x.abs()))
}

/// An edge longer by `by` mm, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct Slid {
    /// The lines.
    pub layer: Layer,
    /// The corner that moved.
    pub corner: String,
    /// How far it moved, mm.
    pub moved: f64,
}

/// Lengthens an edge at its hem, where one of its ends is one, or else at its end; never where it ends at the fold or the centre while its other end
/// is free, for that would turn the fold or bend the centre.
///
/// # Errors
/// As [`lengthened`].
pub fn slid(layer: &Layer, edge: usize, by: f64) -> Result<Slid, LayerError> {
    let edges = layer.edges.len().max(1);
    slid_clear(layer, edge, by, |k| is_centre(&layer.edges[k % edges]))
}

/// Whether an edge is the fold, or by its name the centre, of half a piece.
pub(super) fn is_centre(edge: &Edge) -> bool {
    let centre = edge.name.to_lowercase().split(|c: char| !c.is_alphanumeric()).any(|w| matches!(w, "centre" | "center"));
    edge.line == Line::Fold || centre
}

/// The same, with which edges keep their place.
pub(super) fn slid_clear(layer: &Layer, edge: usize, by: f64, stays: impl Fn(usize) -> bool) -> Result<Slid, LayerError> {
    let n = layer.corners.len().max(1);
    let name = |c: usize| layer.corners.get(c % n).map_or("", |c| c.name.as_str());
    let hem = |c: usize| name(c).to_lowercase().contains("hem");
    let edges = layer.edges.len().max(1);
    let at_end = match (stays((edge + edges - 1) % edges), stays((edge + 1) % edges)) {
        (true, false) => true,
        (false, true) => false,
        _ => hem(edge + 1) || !hem(edge),
    };
    let corner = name(edge + usize::from(at_end)).to_owned();
    let (layer, moved) = lengthened(layer, edge, at_end, by)?;
    Ok(Slid { layer, corner, moved })
}

/// A path with its ends moved and everything between in proportion to the distance along.
pub(super) fn displaced(path: &BezPath, start: Vec2, end: Vec2) -> BezPath {
    let segments: Vec<PathSeg> = path.segments().collect();
    let lengths: Vec<f64> = segments.iter().map(|s| kurbo::ParamCurveArclen::arclen(s, 1e-6)).collect();
    let whole: f64 = lengths.iter().sum::<f64>().max(1e-9);
    let mut before = 0.0;
    let mut out = Vec::new();
    for (s, long) in segments.iter().zip(&lengths) {
        let at = |t: f64, p: Point| {
            let share = (before + t * long) / whole;
            p + start * (1.0 - share) + end * share
        };
        out.push(match *s {
            PathSeg::Line(l) => PathSeg::Line(kurbo::Line::new(at(0.0, l.p0), at(1.0, l.p1))),
            PathSeg::Quad(q) => PathSeg::Quad(kurbo::QuadBez::new(at(0.0, q.p0), at(0.5, q.p1), at(1.0, q.p2))),
            PathSeg::Cubic(c) => {
                PathSeg::Cubic(kurbo::CubicBez::new(at(0.0, c.p0), at(1.0 / 3.0, c.p1), at(2.0 / 3.0, c.p2), at(1.0, c.p3)))
            }
        });
        before += long;
    }
    BezPath::from_path_segments(out.into_iter())
}
