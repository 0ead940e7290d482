//! One half of a piece: kept as the pattern on the fold, mirrored for the whole, or the mean of both.

use super::How;
use super::centre::Centre;
use super::layer::{Corner, Edge, Layer, LayerError, Line, mm, point};
use super::through::through;
use super::walk::Walk;
use kurbo::{Affine, BezPath, ParamCurve, PathSeg, Point, Vec2};

/// Which half a pattern is drawn from. Sides of the page as the piece lies upright; who knows which is the wearer's left
/// says so by names.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Keep {
    /// Both as they were found.
    #[default]
    AsIs,
    /// The half on the left of the page.
    PageLeft,
    /// The half on the right of the page.
    PageRight,
    /// The mean of both.
    Mean,
}

/// How an edge meets the fold.
#[derive(Clone, Debug, PartialEq)]
pub struct Meeting {
    /// The edge.
    pub edge: String,
    /// Angle between edge and fold within the piece, degrees; 90 makes no point and no dent when the fold is opened.
    pub angle_deg: f64,
}

/// Half a piece on its fold.
#[derive(Clone, Debug, PartialEq)]
pub struct Half {
    /// Its lines; the fold is the last edge.
    pub layer: Layer,
    /// How the edges at both ends meet the fold, the upper first.
    pub meets: [Meeting; 2],
    /// Whether its first edge starts at the upper end.
    from_top: bool,
}

/// Why a piece could not be halved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum HalfError {
    /// The centre line does not cut the outline in two.
    #[error("the centre line meets the outline {found} times, not twice; give the centre by two corners, or keep the piece as it is")]
    Cuts {
        /// Crossings found.
        found: usize,
    },
    /// One half has other corners than the other.
    #[error("the halves have {left} and {right} edges, so there is no mean of them; keep one half, or name the corners")]
    Unlike {
        /// Edges on the left of the page.
        left: usize,
        /// Edges on the right.
        right: usize,
    },
    /// What came out is no piece.
    #[error(transparent)]
    Layer(#[from] LayerError),
}

/// A cut this near to a corner, mm, goes through the corner.
const AT_CORNER: f64 = 0.3;
/// An edge that is squared to the fold keeps its line from this far on, mm.
const SQUARED_OVER: f64 = 25.0;
/// Beyond this an edge that meets the fold makes a point on purpose (a V neck), degrees. Common practice, no source.
const POINT: f64 = 20.0;

/// Both halves, left and right on the page, each with the fold as its last edge and clockwise as seen.
///
/// # Errors
/// The centre line does not cut the outline twice.
pub fn halves(layer: &Layer, centre: &Centre) -> Result<[Half; 2], HalfError> {
    let cuts = cuts(layer, centre);
    // Furthest up and furthest down; a neck that dips below the centre's own line would give more.
    if cuts.len() != 2 {
        return Err(HalfError::Cuts { found: cuts.len() });
    }
    let (mut top, mut bottom) = (cuts[0], cuts[1]);
    if centre.station(mm(top.at)) > centre.station(mm(bottom.at)) {
        std::mem::swap(&mut top, &mut bottom);
    }
    // Clockwise as seen from the top of the centre on is the right of the page.
    let right = half(layer, centre, top, bottom, "right")?;
    let left = half(layer, centre, bottom, top, "left")?;
    Ok([left, right])
}

/// A place where the centre line cuts: number of the edge, distance along it, and where.
#[derive(Clone, Copy)]
struct Cut {
    edge: usize,
    far: f64,
    at: Point,
}

fn cuts(layer: &Layer, centre: &Centre) -> Vec<Cut> {
    let along = Vec2::new(centre.along.x, centre.along.y);
    let line = kurbo::Line::new(point(centre.at) - along * 1e4, point(centre.at) + along * 1e4);
    let mut out: Vec<Cut> = Vec::new();
    for (edge, e) in layer.edges.iter().enumerate() {
        let walk = Walk::of(&e.path);
        for s in e.path.segments() {
            for hit in s.intersect_line(line) {
                let (far, _) = walk.nearest(s.eval(hit.segment_t));
                let far = if far < AT_CORNER {
                    0.0
                } else if walk.length() - far < AT_CORNER {
                    walk.length()
                } else {
                    far
                };
                let at = walk.at(far);
                if out.iter().all(|c| c.at.distance(at) > AT_CORNER) {
                    out.push(Cut { edge, far, at });
                }
            }
        }
    }
    out
}

/// From one cut clockwise to the other, closed along the fold.
fn half(layer: &Layer, centre: &Centre, from: Cut, to: Cut, side: &str) -> Result<Half, HalfError> {
    let n = layer.edges.len();
    let onto = |p: Point| point(centre.at + centre.along * centre.station(mm(p)));
    let (mut corners, mut edges): (Vec<Corner>, Vec<Edge>) = (Vec::new(), Vec::new());
    let mut k = from.edge;
    let mut rounds = 0;
    loop {
        let edge = &layer.edges[k];
        let walk = Walk::of(&edge.path);
        let start = if rounds == 0 { from.far } else { 0.0 };
        let last = k == to.edge && (rounds > 0 || to.far > from.far);
        let end = if last { to.far } else { walk.length() };
        if end - start > 1e-6 {
            let at = walk.at(start);
            let corner = layer.corners.get(k).filter(|_| start == 0.0).cloned();
            corners.push(corner.unwrap_or(Corner { name: "centre".into(), at: mm(at), error: None }));
            edges.push(Edge { path: walk.part(start, end), ..edge.clone() });
        }
        if last || rounds > n {
            break;
        }
        k = (k + 1) % n;
        rounds += 1;
    }
    let Some(e) = edges.len().checked_sub(1) else { return Err(HalfError::Layer(LayerError::Empty)) };
    // A cut through a corner a trifle beside the centre ends on the centre.
    edges[0].path = with_ends(&edges[0].path, Some(onto(from.at)), None);
    edges[e].path = with_ends(&edges[e].path, None, Some(onto(to.at)));
    let place = |down: bool| format!("centre {}", if down { "bottom" } else { "top" });
    let down = centre.station(mm(to.at)) > centre.station(mm(from.at));
    corners[0] = Corner { name: place(!down), at: mm(onto(from.at)), error: None };
    corners.push(Corner { name: place(down), at: mm(onto(to.at)), error: None });
    let mut fold = BezPath::new();
    fold.move_to(onto(to.at));
    fold.line_to(onto(from.at));
    edges.push(Edge { name: "centre".into(), path: fold, line: Line::Fold, how: How::Chosen, bound: None });
    let on_side = |p: Point| (centre.distance(mm(p)) > 0.0) == (side == "right");
    let inner = layer.inner.iter().filter(|i| on_side(middle(&i.path))).cloned().collect();
    let holes = layer.holes.iter().filter(|h| on_side(middle(h))).cloned().collect();
    let layer = Layer { corners, edges, inner, holes };
    layer.check()?;
    Ok(on_fold(layer, centre))
}

fn middle(path: &BezPath) -> Point {
    let walk = Walk::of(path);
    walk.at(walk.length() / 2.0)
}

/// The path with its ends moved, handles with them.
fn with_ends(path: &BezPath, start: Option<Point>, end: Option<Point>) -> BezPath {
    let mut segments: Vec<PathSeg> = path.segments().collect();
    if let (Some(p), Some(first)) = (start, segments.first_mut()) {
        *first = match first.to_cubic() {
            _ if matches!(first, PathSeg::Line(_)) => PathSeg::Line(kurbo::Line::new(p, first.end())),
            c => PathSeg::Cubic(kurbo::CubicBez::new(p, c.p1 + (p - c.p0), c.p2, c.p3)),
        };
    }
    if let (Some(p), Some(last)) = (end, segments.last_mut()) {
        *last = match last.to_cubic() {
            _ if matches!(last, PathSeg::Line(_)) => PathSeg::Line(kurbo::Line::new(last.start(), p)),
            c => PathSeg::Cubic(kurbo::CubicBez::new(c.p0, c.p1, c.p2 + (p - c.p3), p)),
        };
    }
    BezPath::from_path_segments(segments.into_iter())
}

/// Half a piece, with how its edges meet the fold.
fn on_fold(layer: Layer, centre: &Centre) -> Half {
    let n = layer.edges.len();
    let (first, last) = (&layer.edges[0], &layer.edges[n - 2]);
    let (a, b) = (Walk::of(&first.path), Walk::of(&last.path));
    let fold = Walk::of(&layer.edges[n - 1].path).along(0.0);
    let angle = |u: Vec2, v: Vec2| u.dot(v).clamp(-1.0, 1.0).acos().to_degrees();
    // Within the piece: from the fold's end back along the fold, and from there along the edge.
    let start = Meeting { edge: first.name.clone(), angle_deg: angle(-fold, a.along(0.0)) };
    let end = Meeting { edge: last.name.clone(), angle_deg: angle(fold, -b.along(b.length())) };
    let from_top = centre.station(mm(a.at(0.0))) < centre.station(mm(b.at(b.length())));
    let meets = if from_top { [start, end] } else { [end, start] };
    Half { layer, meets, from_top }
}

impl Half {
    /// The whole piece from this half and its mirror image, without the fold.
    ///
    /// # Errors
    /// The half is no piece.
    pub fn opened(&self) -> Result<Layer, HalfError> {
        let n = self.layer.edges.len();
        let fold = Walk::of(&self.layer.edges[n - 1].path);
        let mirror = Affine::reflect(fold.at(0.0), fold.along(0.0));
        let other = self.layer.mapped(mirror);
        // This half runs from one end of the fold to the other, the mirrored one back. Its fold came first after turning round.
        let own = self.layer.edges[..n - 1].iter();
        let back = other.edges.iter().filter(|e| e.line != Line::Fold);
        let edges: Vec<Edge> = own.clone().cloned().chain(back.map(|e| Edge { name: swapped(&e.name), ..e.clone() })).collect();
        let start = |e: &Edge| e.path.segments().next().map(|s| mm(s.start())).unwrap_or_default();
        let near = |e: &Edge, corners: &[Corner]| corners.iter().find(|c| c.at.distance(start(e)) < 0.01).cloned();
        let corners = edges
            .iter()
            .enumerate()
            .map(|(k, e)| {
                let found = if k < n - 1 {
                    near(e, &self.layer.corners)
                } else {
                    near(e, &other.corners).map(|c| Corner { name: swapped(&c.name), ..c })
                };
                found.unwrap_or(Corner { name: format!("corner {}", k + 1), at: start(e), error: None })
            })
            .collect();
        let mut out = Layer { corners, edges, inner: self.layer.inner.clone(), holes: self.layer.holes.clone() };
        out.inner.extend(other.inner.iter().map(|i| super::Inner { name: swapped(&i.name), ..i.clone() }));
        out.holes.extend(other.holes.iter().cloned());
        out.check()?;
        Ok(out)
    }

    /// The same half with the edges at the fold bent, over their last 25 mm, to meet it at a right angle. Points that are
    /// meant (beyond 20°) are left. Also how far each end's line moved at most, mm, the upper first.
    pub fn squared(&self) -> (Self, [f64; 2]) {
        let n = self.layer.edges.len();
        let mut layer = self.layer.clone();
        let fold = Walk::of(&layer.edges[n - 1].path).along(0.0);
        let across = |along: Vec2| {
            let flat = fold.turn_90();
            if flat.dot(along) < 0.0 { -flat } else { flat }
        };
        let mut moved = [0.0; 2];
        for start in [true, false] {
            let k = if start { 0 } else { n - 2 };
            let meeting = &self.meets[usize::from(start != self.from_top)];
            if (meeting.angle_deg - 90.0).abs() > POINT || (meeting.angle_deg - 90.0).abs() < 1e-6 {
                continue;
            }
            let path = if start { layer.edges[k].path.clone() } else { layer.edges[k].path.reverse_subpaths() };
            let (bent, off) = bent(&path, across);
            moved[usize::from(start != self.from_top)] = off;
            layer.edges[k].path = if start { bent } else { bent.reverse_subpaths() };
            layer.edges[k].how = layer.edges[k].how.drafted();
        }
        let meets = self.meets.clone().map(|m| if (m.angle_deg - 90.0).abs() > POINT { m } else { Meeting { angle_deg: 90.0, ..m } });
        (Self { layer, meets, from_top: self.from_top }, moved)
    }
}

/// A path whose first stretch starts straight across the fold.
fn bent(path: &BezPath, across: impl Fn(Vec2) -> Vec2) -> (BezPath, f64) {
    let walk = Walk::of(path);
    let over = SQUARED_OVER.min(walk.length() * 0.5);
    let (a, b) = (walk.at(0.0), walk.at(over));
    let handle = over / 3.0;
    let mut out = BezPath::new();
    out.move_to(a);
    out.curve_to(a + across(walk.along(0.0)) * handle, b - walk.along(over) * handle, b);
    let off = out.segments().next().map_or(0.0, |s| (1..20).map(|k| walk.nearest(s.eval(f64::from(k) / 20.0)).1).fold(0.0, f64::max));
    out.extend(walk.part(over, walk.length()).elements().iter().skip(1).copied());
    (out, off)
}

/// Left for right and the other way round, for a name on the mirrored half.
pub(super) fn swapped(name: &str) -> String {
    let swap = |w: &str| match w.to_lowercase().as_str() {
        "left" => "right".to_owned(),
        "right" => "left".to_owned(),
        _ => w.to_owned(),
    };
    name.split(' ').map(swap).collect::<Vec<_>>().join(" ")
}

/// The half that a pattern on the fold is drawn from.
///
/// # Errors
/// The piece can't be halved, or its halves have different corners and a mean was asked for.
pub fn kept(layer: &Layer, centre: &Centre, keep: Keep) -> Result<Option<Half>, HalfError> {
    if keep == Keep::AsIs {
        return Ok(None);
    }
    let [left, right] = halves(layer, centre)?;
    Ok(Some(match keep {
        Keep::PageLeft => left,
        Keep::PageRight => right,
        _ => mean(&left, &right, centre)?,
    }))
}

/// The mean of both halves, on the right of the page: edge by edge, at equal shares of their lengths.
fn mean(left: &Half, right: &Half, centre: &Centre) -> Result<Half, HalfError> {
    let other = left.layer.mapped(centre.mirror());
    let mut others: Vec<&Edge> = other.edges.iter().filter(|e| e.line != Line::Fold).collect();
    let own = &right.layer.edges[..right.layer.edges.len() - 1];
    if own.len() != others.len() {
        return Err(HalfError::Unlike { left: others.len(), right: own.len() });
    }
    // Turned round, the mirrored half may begin at its fold; both must start at the same end of it.
    let start = |e: &Edge| e.path.segments().next().map_or(Point::ZERO, |s| s.start());
    let first = (0..others.len())
        .min_by(|&a, &b| start(others[a]).distance(start(&own[0])).total_cmp(&start(others[b]).distance(start(&own[0]))))
        .unwrap_or(0);
    others.rotate_left(first);
    let mut layer = right.layer.clone();
    for (k, (a, b)) in own.iter().zip(&others).enumerate() {
        let (p, q) = (Walk::of(&a.path), Walk::of(&b.path));
        layer.edges[k].path = through(|t| {
            let (s, u) = (t * p.length(), t * q.length());
            (p.at(s).midpoint(q.at(u)), (p.along(s) * p.length() + q.along(u) * q.length()) * 0.5)
        });
        layer.edges[k].how = layer.edges[k].how.drafted();
    }
    let n = layer.edges.len();
    let starts: Vec<Point> = layer.edges.iter().take(n - 1).map(start).collect();
    for (c, p) in layer.corners.iter_mut().zip(&starts) {
        *c = Corner { at: mm(*p), error: None, name: c.name.clone() };
    }
    let end = layer.edges[n - 2].path.segments().last().map_or(Point::ZERO, |s| s.end());
    layer.corners[n - 1].at = mm(end);
    layer.edges[n - 1].path = with_ends(&layer.edges[n - 1].path, Some(end), starts.first().copied());
    layer.check()?;
    Ok(on_fold(layer, centre))
}
