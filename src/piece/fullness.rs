//! What a flat outline can't tell, opened on request: darts, pleats and gathers; and pieces that were traced folded.

use super::How;
use super::layer::{Corner, Edge, Inner, Layer, LayerError, Line, ends, mm, point};
use super::share::displaced;
use super::through::through;
use super::walk::Walk;
use crate::length::Mm;
use kurbo::{Affine, BezPath, ParamCurve, Point, Shape as _, Vec2};

/// Why fullness could not be opened.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FullnessError {
    /// The dart's measures are none a dart can have.
    #[error("the dart \"{dart}\" takes in {intake:.1} mm on legs of {leg:.1} mm, which no dart can; check its places")]
    Dart {
        /// Its name.
        dart: String,
        /// What it takes in, mm.
        intake: f64,
        /// Length of its legs, mm.
        leg: f64,
    },
    /// The line from the dart's mouth through its point comes out at the edge it came in by, or nowhere.
    #[error("the dart \"{dart}\" does not point into the piece; give its point further within")]
    Hinge {
        /// Its name.
        dart: String,
    },
    /// A line along which the piece is spread does not cross it twice.
    #[error("a line at {x:.0}, {y:.0} mm crosses the outline {found} times, not twice, so the piece can't be spread along it")]
    Spread {
        /// Where, mm.
        x: f64,
        /// Where, mm.
        y: f64,
        /// Crossings.
        found: usize,
    },
    /// The folded edge is not there, or the piece has no other.
    #[error("there is no folded edge number {edge} to unfold the piece about")]
    Fold {
        /// Its number.
        edge: usize,
    },
    /// What came out is no piece.
    #[error(transparent)]
    Layer(#[from] LayerError),
}

/// To which side the cloth within a dart is pressed, as its legs follow one another clockwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PressedTo {
    /// Towards the leg that comes first.
    First,
    /// Towards the leg that comes second.
    Second,
    /// Slashed and pressed open.
    Both,
}

/// A dart as it was sewn shut.
#[derive(Clone, Debug, PartialEq)]
pub struct ShutDart<'a> {
    /// Its name.
    pub name: &'a str,
    /// The edge it opens into.
    pub edge: usize,
    /// How far along it, mm.
    pub at: f64,
    /// Where it ends.
    pub point: Mm,
    /// Width at the legs, mm.
    pub intake: f64,
    /// The side it is pressed to.
    pub pressed: PressedTo,
    /// The edge that gives; the one straight beyond the point when left out, or where that is a fold, the longer one beside it.
    pub gives: Option<usize>,
}

/// A piece with a dart opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Its lines; the dart's end is two edges of its name.
    pub layer: Layer,
    /// The edge that lies opposite and gives, so that all others keep their length, and by how much it grew, mm.
    pub gave: (String, f64),
    /// What of the piece turned, and by what turn.
    pub turned: (BezPath, Affine),
}

impl Opened {
    /// Where a place of the piece lies now.
    pub fn carried(&self, p: Point) -> Point {
        let (region, turn) = &self.turned;
        // Places on the outline lie on the region's border.
        let within = region.contains(p) || Walk::of(region).nearest(p).1 < ON_BORDER;
        if within { *turn * p } else { p }
    }
}

/// A place this near to the border of what turns, mm, turns too.
const ON_BORDER: f64 = 0.01;

/// Opens a dart by rotation about its point: everything clockwise from its mouth turns by the dart's angle, up to the edge that
/// lies straight beyond the point, which gives evenly. All other edges keep their length and shape. The dart's end is shaped
/// so that, folded and pressed to its side, it lies along the edge (common practice, no source).
///
/// # Errors
/// Measures that no dart can have, a dart that points along its edge.
pub fn dart_opened(layer: &Layer, dart: &ShutDart) -> Result<Opened, FullnessError> {
    let own = &layer.edges[dart.edge];
    let walk = Walk::of(&own.path);
    let (mouth, tip) = (walk.at(dart.at), point(dart.point));
    let leg = mouth.distance(tip);
    let half = dart.intake / (2.0 * leg);
    if !(1e-6..0.7).contains(&half) || dart.at < 1.0 || dart.at > walk.length() - 1.0 {
        return Err(FullnessError::Dart { dart: dart.name.into(), intake: dart.intake, leg });
    }
    let angle = 2.0 * half.asin();
    let outline = layer.outline();
    let within = outline.contains(tip) && Walk::of(&outline).nearest(tip).1 > 1.0;
    let opposite = dart.gives.map(|k| (k, None)).or_else(|| beyond(layer, dart.edge, mouth, tip));
    let (hinge, hit) = opposite.filter(|o| within && o.0 != dart.edge).ok_or_else(|| FullnessError::Hinge { dart: dart.name.into() })?;
    let region = turned(layer, dart, &walk, (hinge, hit), tip);
    let turn = |share: f64| Affine::rotate_about(angle * share, tip);
    let n = layer.edges.len();
    let mut edges: Vec<Edge> = Vec::new();
    let mut corners: Vec<Corner> = Vec::new();
    let drafted = |name: &str, corner: &str, at: Point, path: BezPath| {
        (
            Corner { name: corner.into(), at: mm(at), error: None },
            Edge { name: name.into(), path, line: Line::Seam, how: How::Chosen, bound: None },
        )
    };
    // From the corner where the dart's edge starts, clockwise.
    let first = walk.part(0.0, dart.at);
    let second = turn(1.0) * walk.part(dart.at, walk.length());
    let end = dart_end(&first, &second, tip, dart.pressed);
    corners.extend(layer.corners.get(dart.edge).cloned());
    edges.push(Edge { path: first, ..own.clone() });
    let other = turn(1.0) * mouth;
    for (from, to) in [(mouth, end), (end, other)] {
        let (corner, edge) = drafted(dart.name, dart.name, from, straight(from, to));
        corners.push(corner);
        edges.push(edge);
    }
    corners.push(Corner { name: dart.name.into(), at: mm(other), error: None });
    edges.push(Edge { path: second, ..own.clone() });
    let mut gave = (String::new(), 0.0);
    let mut turning = true;
    for k in (1..n).map(|k| (dart.edge + k) % n) {
        let edge = &layer.edges[k];
        let corner = layer.corners[k].clone();
        let by = if turning { turn(1.0) } else { Affine::IDENTITY };
        corners.push(Corner { at: mm(by * point(corner.at)), ..corner });
        if k == hinge {
            let w = Walk::of(&edge.path);
            let path = through(|t| {
                let s = t * w.length();
                let (p, share) = (w.at(s), 1.0 - t);
                // The turn gives way along the edge: its own derivative adds a move straight across from the point.
                let d = turn(share) * (p + w.along(s) * w.length()) - turn(share) * p;
                (turn(share) * p, d - (turn(share) * p - tip).turn_90() * angle)
            });
            gave = (edge.name.clone(), Walk::of(&path).length() - w.length());
            edges.push(Edge { path, how: How::Chosen, ..edge.clone() });
            turning = false;
        } else {
            edges.push(Edge { path: by * edge.path.clone(), ..edge.clone() });
        }
    }
    let turned = (region, turn(1.0));
    let within = |path: &BezPath| turned.0.contains(Walk::of(path).at(Walk::of(path).length() / 2.0));
    let moved = |path: &BezPath| if within(path) { turned.1 * path.clone() } else { path.clone() };
    let inner = layer.inner.iter().map(|i| Inner { path: moved(&i.path), ..i.clone() }).collect();
    let holes = layer.holes.iter().map(moved).collect();
    let out = Layer { corners, edges, inner, holes };
    out.check()?;
    Ok(Opened { layer: out, gave, turned })
}

/// What turns: from the dart's mouth clockwise to the middle of the edge that gives, or to where the dart points at it.
fn turned(layer: &Layer, dart: &ShutDart, own: &Walk, (hinge, hit): (usize, Option<Point>), tip: Point) -> BezPath {
    let n = layer.edges.len();
    let mut region = own.part(dart.at, own.length());
    for k in (1..n).map(|k| (dart.edge + k) % n) {
        let walk = Walk::of(&layer.edges[k].path);
        let to = if k == hinge { hit.map_or(walk.length() / 2.0, |p| walk.nearest(p).0) } else { walk.length() };
        region.extend(walk.part(0.0, to).elements().iter().skip(1).copied());
        if k == hinge {
            break;
        }
    }
    region.line_to(tip);
    region.close_path();
    region
}

/// The edge that the line from a dart's mouth through its point meets first beyond the point, and where. A place on the fold must stay
/// straight: the longer of the edges beside it gives instead.
fn beyond(layer: &Layer, own: usize, mouth: Point, tip: Point) -> Option<(usize, Option<Point>)> {
    let ray = kurbo::Line::new(tip, tip + (tip - mouth).normalize() * 1e4);
    let hits = layer
        .edges
        .iter()
        .enumerate()
        .flat_map(|(k, e)| e.path.segments().flat_map(|s| s.intersect_line(ray)).map(move |h| (h.line_t, k)).collect::<Vec<_>>());
    let (far, k) = hits.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|h| h.1 != own)?;
    let n = layer.edges.len();
    if layer.edges[k].line != Line::Fold {
        return Some((k, Some(ray.eval(far))));
    }
    let beside = [(k + n - 1) % n, (k + 1) % n].into_iter().filter(|&b| b != own);
    beside.max_by(|&a, &b| layer.edges[a].length().total_cmp(&layer.edges[b].length())).map(|b| (b, None))
}

/// Where the dart's end stands out: folded about its middle and laid to one side, it lies along the edge there.
fn dart_end(first: &BezPath, second: &BezPath, tip: Point, pressed: PressedTo) -> Point {
    let (a, b) = (Walk::of(first), Walk::of(second));
    let (m, n) = (a.at(a.length()), b.at(0.0));
    let middle = (m.midpoint(n) - tip).normalize();
    let outer = |leg: Point, edge: Vec2| {
        // The edge's own direction away from the dart, mirrored about the leg, runs into the dart; where it meets the middle.
        let axis = (leg - tip).normalize();
        let into = axis * (2.0 * edge.dot(axis)) - edge;
        let det = into.cross(middle);
        let s = if det.abs() < 1e-9 { 0.0 } else { (tip - leg).cross(middle) / det };
        leg + into * s
    };
    let (p, q) = (outer(m, -a.along(a.length())), outer(n, b.along(0.0)));
    match pressed {
        PressedTo::First => p,
        PressedTo::Second => q,
        PressedTo::Both => p.midpoint(q),
    }
}

fn straight(a: Point, b: Point) -> BezPath {
    let mut path = BezPath::new();
    path.move_to(a);
    path.line_to(b);
    path
}

/// Spreads a piece by `by` mm along a line across it: the side to the right of the line's direction stays, the other moves off.
/// Pleats spread by twice their depth each; gathers by equal shares at several lines.
///
/// # Errors
/// The line does not cross the outline twice.
pub fn spread(layer: &Layer, at: Mm, along: Vec2, by: f64) -> Result<Layer, FullnessError> {
    let line = kurbo::Line::new(point(at) - along * 1e4, point(at) + along * 1e4);
    let away = -along.normalize().turn_90() * by;
    let left = |p: Point| along.cross(p - point(at)) < -1e-9;
    let mut out = layer.clone();
    let mut found = 0;
    for e in &mut out.edges {
        let walk = Walk::of(&e.path);
        let mut cuts: Vec<f64> = e
            .path
            .segments()
            .flat_map(|s| s.intersect_line(line).into_iter().map(move |h| s.eval(h.segment_t)))
            .map(|p| walk.nearest(p).0)
            .collect();
        cuts.retain(|s| *s > 1e-6 && *s < walk.length() - 1e-6);
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        found += cuts.len();
        let stops: Vec<f64> = std::iter::once(0.0).chain(cuts).chain([walk.length()]).collect();
        let mut path = BezPath::new();
        for w in stops.windows(2) {
            let stretch = walk.part(w[0], w[1]);
            let moved = if left(walk.at(0.5 * (w[0] + w[1]))) { Affine::translate(away) * stretch } else { stretch };
            match (path.current_position(), ends(&moved)) {
                (None, _) => path = moved,
                (Some(_), Some((start, _))) => {
                    path.line_to(start);
                    path.extend(moved.elements().iter().skip(1).copied());
                }
                (Some(_), None) => {}
            }
        }
        if stops.len() > 2 {
            e.how = How::Chosen;
        }
        e.path = path;
    }
    if found != 2 {
        return Err(FullnessError::Spread { x: at.x, y: at.y, found });
    }
    for c in out.corners.iter_mut().filter(|c| left(point(c.at))) {
        c.at = mm(point(c.at) + away);
    }
    for i in out.inner.iter_mut().filter(|i| ends(&i.path).is_some_and(|(a, b)| left(a.midpoint(b)))) {
        i.path = Affine::translate(away) * i.path.clone();
    }
    out.check()?;
    Ok(out)
}

/// A piece that was traced folded, laid open about its folded edge: with its own mirror image, or with the other face when that
/// was traced too and differs. Also by how much the two folded edges differ in length, mm; the other face gives evenly.
///
/// # Errors
/// There is no such edge, or the result is no piece.
pub fn unfolded(layer: &Layer, fold: usize, other: Option<(&Layer, usize)>) -> Result<(Layer, f64), FullnessError> {
    let n = layer.edges.len();
    let own = layer.edges.get(fold).filter(|_| n > 1).ok_or(FullnessError::Fold { edge: fold })?;
    let (p, q) = ends(&own.path).ok_or(FullnessError::Fold { edge: fold })?;
    let (face, at) = match other {
        Some((face, at)) => (face.clone(), at),
        None => {
            let mirrored = layer.mapped(Affine::reflect(p, q - p));
            // Mirrored, edges stand in the opposite order.
            (mirrored, n - 1 - fold)
        }
    };
    let m = face.edges.len();
    let (r, s) = face.edges.get(at).filter(|_| m > 1).and_then(|e| ends(&e.path)).ok_or(FullnessError::Fold { edge: at })?;
    // The other face's fold runs against this one: its end on this one's start.
    let turn = (q - p).atan2() - (r - s).atan2();
    let laid = face.mapped(Affine::translate(p.midpoint(q) - r.midpoint(s)) * Affine::rotate_about(turn, r.midpoint(s)));
    let apart = (q - p).hypot() - (r - s).hypot();
    let slack = (q - p).normalize() * (apart / 2.0);
    let mut edges: Vec<Edge> = (1..n).map(|k| layer.edges[(fold + k) % n].clone()).collect();
    let mut corners: Vec<Corner> = (1..n).map(|k| layer.corners[(fold + k) % n].clone()).collect();
    for k in 1..m {
        let j = (at + k) % m;
        let mut edge = laid.edges[j].clone();
        let mut corner = laid.corners[j].clone();
        // The neighbours of its fold give, so that both faces meet at the fold's ends.
        if k == 1 {
            edge.path = displaced(&edge.path, -slack, Vec2::ZERO);
            corner.at = mm(p);
        }
        if k == m - 1 {
            edge.path = displaced(&edge.path, Vec2::ZERO, slack);
        }
        edges.push(edge);
        corners.push(corner);
    }
    let mut inner: Vec<Inner> = layer.inner.iter().chain(&laid.inner).cloned().collect();
    inner.push(Inner { name: own.name.clone(), path: own.path.clone(), bound: own.bound });
    let holes = layer.holes.iter().chain(&laid.holes).cloned().collect();
    let out = Layer { corners, edges, inner, holes };
    out.check()?;
    Ok((out, apart))
}
