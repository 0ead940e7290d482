//! Cloth beyond the stitch line: every edge offset by its own width, corners finished as the trade does.
//!
//! Edges are offset one by one (`kurbo`'s parallel curves of cubics, within 0.005 mm), then neighbours are joined:
//! lengthened along their tangents until they meet, squared off at an unfolded hem, or mirrored at a folded one, so that
//! the hem turned up covers the cloth behind it edge on edge. Where an allowance is wider than the curve allows nothing is
//! guessed: the edge is named.

use super::How;
use super::crossing::{flattened, self_crossing};
use super::finish::{self, Meet, Run};
use super::layer::{Layer, LayerError, mm};
use super::walk::direction;
use crate::length::Mm;
use kurbo::{BezPath, CubicBez, ParamCurve, ParamCurveDeriv, ParamCurveNearest, PathSeg, Point, Vec2};

/// How the ends of an allowance are cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Finish {
    /// Both cut lines lengthened until they meet.
    #[default]
    Mitred,
    /// At right angles to this edge, from where the neighbour's cut line meets it: a faced or raw hem.
    Squared,
    /// As the mirror image of the piece about this edge: a hem that is folded up along it.
    Mirrored,
}

/// The allowance of one edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    /// How far the cut line lies outside the stitch line, mm; negative lies inside.
    pub width: f64,
    /// How its ends are cut.
    pub finish: Finish,
    /// Where the width comes from.
    pub how: How,
}

/// The cut line of one edge.
#[derive(Clone, Debug, PartialEq)]
pub struct CutEdge {
    /// Name of the edge it belongs to.
    pub name: String,
    /// From corner to corner.
    pub path: BezPath,
    /// Its allowance.
    pub allowance: Allowance,
}

/// The line a piece is cut along.
#[derive(Clone, Debug, PartialEq)]
pub struct CutLine {
    /// All round, closed, clockwise as seen.
    pub path: BezPath,
    /// Edge by edge, as the stitch line's edges stand.
    pub edges: Vec<CutEdge>,
}

/// Why no cut line could be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AllowanceError {
    /// The stitch line is no piece.
    #[error(transparent)]
    Layer(#[from] LayerError),
    /// Edges and allowances do not match.
    #[error("{given} allowances were given for {edges} edges; give one for each")]
    Counts {
        /// Edges.
        edges: usize,
        /// Allowances.
        given: usize,
    },
    /// A width that is no number.
    #[error("the allowance of {edge} is no length; give it in mm or inches")]
    NoLength {
        /// The edge.
        edge: String,
    },
    /// The edge bends more tightly than its allowance is wide.
    #[error(
        "{edge} bends too tightly at {x:.0}, {y:.0} mm for an allowance of {width:.1} mm; its radius there allows less than {most:.1} mm"
    )]
    TooTight {
        /// The edge.
        edge: String,
        /// Where, mm.
        x: f64,
        /// Where, mm.
        y: f64,
        /// The allowance, mm.
        width: f64,
        /// What the curve allows, mm.
        most: f64,
    },
    /// At an inner corner, or on a short edge, nothing is left of the edge's cut line.
    #[error("{edge} is too short for its allowance and those of its neighbours; give it less, or leave a corner out")]
    TooShort {
        /// The edge.
        edge: String,
    },
    /// The allowances of two edges run into each other.
    #[error("the allowances of {edge} and {other} run into each other at {x:.0}, {y:.0} mm; give one of them less")]
    Crosses {
        /// One edge.
        edge: String,
        /// The other.
        other: String,
        /// Where, mm.
        x: f64,
        /// Where, mm.
        y: f64,
    },
}

/// Offsets are exact to this, mm.
const EXACT: f64 = 0.005;
/// Places nearer to one another than this are one, mm: files round to it.
const SAME: f64 = 1e-4;
/// What the check of every cut line allows, mm; a pencil line is ten times as wide.
const CHECKED: f64 = 0.05;
/// Within an edge a bend sharper than this is a corner to be joined, radians (0.1°).
pub(super) const KINK: f64 = 0.001_75;

/// The cut line round a stitch line, with an allowance for each edge in order.
///
/// # Errors
/// An allowance wider than the edge or a corner allows; the edge is named.
pub fn cut_line(layer: &Layer, allowances: &[Allowance]) -> Result<CutLine, AllowanceError> {
    cut_line_past(layer, allowances, &[])
}

/// The same of a piece with darts open: their ends, by the numbers of their edges, may be too short for a cut line of their own in a hollow, where those
/// of their neighbours meet before them. They have a path without length there.
///
/// # Errors
/// As for [`cut_line`].
pub fn cut_line_past(layer: &Layer, allowances: &[Allowance], dart_ends: &[usize]) -> Result<CutLine, AllowanceError> {
    let out = beside_all(layer, allowances, Meet::Pointed, dart_ends)?;
    untangled(layer, &out)?;
    Ok(out)
}

/// Every edge beside itself, neighbours joined where they meet; those of `gives` are lost where the others meet before them.
pub(super) fn beside_all(layer: &Layer, allowances: &[Allowance], meet: Meet, gives: &[usize]) -> Result<CutLine, AllowanceError> {
    layer.check()?;
    if allowances.len() != layer.edges.len() {
        return Err(AllowanceError::Counts { edges: layer.edges.len(), given: allowances.len() });
    }
    let mut runs = Vec::new();
    for (k, (edge, allowance)) in layer.edges.iter().zip(allowances).enumerate() {
        if !allowance.width.is_finite() {
            return Err(AllowanceError::NoLength { edge: edge.name.clone() });
        }
        runs.extend(smooth_runs(&edge.path).into_iter().map(|stitch| run(k, *allowance, stitch)));
    }
    finish::join(&mut runs, &layer.edges, meet, gives)?;
    verify(layer, &runs)?;
    Ok(assemble(layer, allowances, &runs))
}

/// Stretches of an edge without a kink.
fn smooth_runs(path: &BezPath) -> Vec<Vec<PathSeg>> {
    let mut runs: Vec<Vec<PathSeg>> = Vec::new();
    for segment in path.segments().filter(|s| s.start().distance(s.end()) > 1e-9 || !matches!(s, PathSeg::Line(_))) {
        let turn = runs.last().and_then(|r| r.last()).map(|before| angle(direction(before, 1.0), direction(&segment, 0.0)));
        match (turn, runs.last_mut()) {
            (Some(turn), Some(last)) if turn.abs() <= KINK => last.push(segment),
            _ => runs.push(vec![segment]),
        }
    }
    runs
}

/// Signed turn from one direction to another, radians, positive to the right as seen.
pub(super) fn angle(from: Vec2, to: Vec2) -> f64 {
    from.cross(to).atan2(from.dot(to))
}

/// Away from the piece, for a direction along its clockwise outline.
pub(super) fn outward(along: Vec2) -> Vec2 {
    -along.turn_90()
}

fn run(edge: usize, allowance: Allowance, stitch: Vec<PathSeg>) -> Run {
    let mut cut: Vec<PathSeg> = Vec::new();
    for segment in &stitch {
        let piece = beside(segment, allowance.width);
        // Neighbours meet at an angle below KINK, so their offsets end within hundredths of a millimetre of each other.
        if let (Some(last), Some(first)) = (cut.last_mut(), piece.first()) {
            let meet = last.end().midpoint(first.start());
            *last = ending(*last, meet);
            let mut piece = piece.clone();
            piece[0] = starting(piece[0], meet);
            cut.extend(piece);
        } else {
            cut.extend(piece);
        }
    }
    Run::new(edge, allowance, stitch, cut)
}

/// The parallel of one segment.
fn beside(segment: &PathSeg, width: f64) -> Vec<PathSeg> {
    let (a, b) = (segment.start(), segment.end());
    let c = segment.to_cubic();
    let (t0, t1) = (direction(segment, 0.0), direction(segment, 1.0));
    if width == 0.0 {
        return vec![*segment];
    }
    if matches!(segment, PathSeg::Line(_)) || straight(&c) {
        return vec![PathSeg::Line(kurbo::Line::new(a + outward(t0) * width, b + outward(t1) * width))];
    }
    let mut path = BezPath::new();
    kurbo::offset::offset_cubic(c, -width, EXACT, &mut path);
    path.segments().filter(|s| s.start().distance(s.end()) > 1e-9).collect()
}

/// Whether all control points lie on the chord.
fn straight(c: &CubicBez) -> bool {
    let chord = (c.p3 - c.p0).normalize();
    [c.p1, c.p2].iter().all(|p| (*p - c.p0).cross(chord).abs() < 1e-6)
}

/// A segment with its end moved, the handle with it.
pub(super) fn ending(segment: PathSeg, at: Point) -> PathSeg {
    match segment {
        PathSeg::Line(l) => PathSeg::Line(kurbo::Line::new(l.p0, at)),
        PathSeg::Quad(q) => PathSeg::Quad(kurbo::QuadBez::new(q.p0, q.p1, at)),
        PathSeg::Cubic(c) => PathSeg::Cubic(CubicBez::new(c.p0, c.p1, c.p2 + (at - c.p3), at)),
    }
}

/// A segment with its start moved, the handle with it.
pub(super) fn starting(segment: PathSeg, at: Point) -> PathSeg {
    ending(segment.reverse(), at).reverse()
}

/// What is left of every run lies as far from its edge as it should.
fn verify(layer: &Layer, runs: &[Run]) -> Result<(), AllowanceError> {
    for run in runs {
        let edge = &layer.edges[run.edge];
        let stitch: Vec<PathSeg> = edge.path.segments().collect();
        let width = run.allowance.width.abs();
        let kept = run.kept();
        if kept.is_empty() {
            return Err(AllowanceError::TooShort { edge: edge.name.clone() });
        }
        for (k, p) in flattened(&kept.iter().map(|k| k.1).collect::<Vec<_>>(), 0.5) {
            let off = stitch.iter().map(|s| s.nearest(p, 1e-6).distance_sq).fold(f64::INFINITY, f64::min).sqrt();
            let (lengthened, _) = kept[k];
            if off < width - CHECKED || (!lengthened && off > width + CHECKED) {
                let most = tightest(&stitch, run.allowance.width.signum());
                let at = mm(p);
                if most > width {
                    return Err(AllowanceError::TooShort { edge: edge.name.clone() });
                }
                return Err(AllowanceError::TooTight { edge: edge.name.clone(), x: at.x, y: at.y, width: run.allowance.width, most });
            }
        }
    }
    Ok(())
}

/// The least radius of a bend towards the side of the allowance, mm.
fn tightest(stitch: &[PathSeg], side: f64) -> f64 {
    let mut least = f64::INFINITY;
    for c in stitch.iter().map(PathSeg::to_cubic) {
        for k in 0..=64 {
            let t = f64::from(k) / 64.0;
            let (d, dd) = (c.deriv().eval(t).to_vec2(), c.deriv().deriv().eval(t).to_vec2());
            let curvature = d.cross(dd) / d.hypot().powi(3);
            if curvature.is_finite() && curvature * side < 0.0 {
                least = least.min(1.0 / curvature.abs());
            }
        }
    }
    least
}

fn assemble(layer: &Layer, allowances: &[Allowance], runs: &[Run]) -> CutLine {
    let mut edges: Vec<CutEdge> =
        layer.edges.iter().zip(allowances).map(|(e, a)| CutEdge { name: e.name.clone(), path: BezPath::new(), allowance: *a }).collect();
    let mut whole = BezPath::new();
    let add = |path: &mut BezPath, s: &PathSeg| {
        match path.current_position() {
            None => path.move_to(s.start()),
            Some(at) if at.distance(s.start()) > SAME => path.line_to(s.start()),
            Some(_) => {}
        }
        path.push(s.as_path_el());
    };
    for run in runs {
        for (_, s) in run.kept() {
            add(&mut whole, &s);
            add(&mut edges[run.edge].path, &s);
        }
        run.after.iter().for_each(|s| add(&mut whole, s));
    }
    close(&mut whole);
    // What is lost lies where its neighbours meet: at the end of the one before.
    for k in (0..edges.len()).filter(|&k| edges[k].path.is_empty()).collect::<Vec<_>>() {
        let before = (1..edges.len()).find_map(|back| edges[(k + edges.len() - back) % edges.len()].path.current_position());
        if let Some(at) = before {
            edges[k].path = BezPath::from_vec(vec![kurbo::PathEl::MoveTo(at), kurbo::PathEl::LineTo(at)]);
        }
    }
    CutLine { path: whole, edges }
}

/// Closes a path whose end lies on its start but for rounding, without a last stretch of no length.
fn close(path: &mut BezPath) {
    let start = path.elements().first().and_then(kurbo::PathEl::end_point);
    if let (Some(start), Some(last)) = (start, path.elements_mut().last_mut()) {
        match last {
            kurbo::PathEl::LineTo(p) | kurbo::PathEl::CurveTo(_, _, p) if p.distance(start) < SAME => *p = start,
            _ => {}
        }
    }
    path.close_path();
}

/// Whether the cut line crosses itself.
pub(super) fn untangled(layer: &Layer, cut: &CutLine) -> Result<(), AllowanceError> {
    let segments: Vec<PathSeg> = cut.path.segments().collect();
    let mut points: Vec<Point> = flattened(&segments, 0.02).into_iter().map(|p| p.1).collect();
    // Neighbours that meet in one place must be neighbours in the list, or rounding lets them cross there.
    points.dedup_by(|a, b| a.distance(*b) < SAME);
    // So must the last be and the first.
    while points.len() > 2 && points.last().is_some_and(|p| p.distance(points[0]) < SAME) {
        points.pop();
    }
    let Some((_, _, at)) = self_crossing(&points) else { return Ok(()) };
    // The two edges whose cut lines pass nearest to the place.
    let far = |k: &usize| cut.edges[*k].path.segments().map(|s| s.nearest(at, 1e-6).distance_sq).fold(f64::INFINITY, f64::min);
    let mut order: Vec<usize> = (0..cut.edges.len()).collect();
    order.sort_by(|a, b| far(a).total_cmp(&far(b)));
    let name = |k: usize| order.get(k).or(order.first()).map_or(String::new(), |&k| layer.edges[k].name.clone());
    let Mm { x, y } = mm(at);
    if let Some(&k) = order.first() {
        let width = cut.edges[k].allowance.width;
        let most = tightest(&layer.edges[k].path.segments().collect::<Vec<_>>(), width.signum());
        if most < width.abs() {
            return Err(AllowanceError::TooTight { edge: name(0), x, y, width, most });
        }
    }
    Err(AllowanceError::Crosses { edge: name(0), other: name(1), x, y })
}
