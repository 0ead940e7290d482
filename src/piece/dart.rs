//! A dart that was sewn shut, opened: what lies clockwise of its mouth moves off, and the piece gives elsewhere for it.
//!
//! Cloth round the point of a sewn dart is a cone, and a cone does not lie flat. Somewhere the outline of the open piece differs from what
//! was seen, and which edge gives is a choice:
//!
//! - as cutters turn a dart about its point, the edge that lies opposite gives, and all others keep their length and shape;
//! - a place on the fold must stay straight. A dart that points at one is opened along it instead: what lies between dart and hem moves off as
//!   it is, and the hem follows, from nothing at the fold. No edge gives by more than the slant of its hem.
//!
//! Both are common practice, no source.

use super::How;
use super::allowance::angle;
use super::fullness::FullnessError;
use super::layer::{Corner, Edge, Inner, Layer, Line, ends, mm, point};
use super::through::through;
use super::walk::Walk;
use crate::length::Mm;
use kurbo::{Affine, BezPath, ParamCurve, Point, Shape as _, Vec2};

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
    /// The edge that gives; the one straight beyond the point when left out.
    pub gives: Option<usize>,
}

impl<'a> ShutDart<'a> {
    /// The same dart on the mirror image of its piece, which has `n` edges, its own `long` mm.
    fn mirrored(&self, n: usize, long: f64) -> Self {
        let pressed = match self.pressed {
            PressedTo::First => PressedTo::Second,
            PressedTo::Second => PressedTo::First,
            PressedTo::Both => PressedTo::Both,
        };
        let point = mm(Affine::FLIP_X * point(self.point));
        Self { edge: n - 1 - self.edge, at: long - self.at, point, pressed, gives: self.gives.map(|k| n - 1 - k), ..self.clone() }
    }
}

/// A piece with a dart opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Its lines; the dart's end is two edges of its name, the second and third after the first stretch of the edge that it parts.
    pub layer: Layer,
    /// The edge that gives, and by how much it grew, mm.
    pub gave: (String, f64),
    /// By how much the dart's own edge is bent where the dart is closed, degrees: not at all where the piece was turned.
    pub bent_deg: f64,
    region: BezPath,
    motion: Motion,
}

impl Opened {
    /// Where a place of the piece lies now.
    pub fn carried(&self, p: Point) -> Point {
        // Places on the outline lie on the region's border.
        let within = self.region.contains(p) || Walk::of(&self.region).nearest(p).1 < ON_BORDER;
        if within { self.motion.of(p) } else { p }
    }

    /// The same of a piece that was mirrored for it, mirrored back. The edge that the dart parts stands first again.
    fn mirrored(self) -> Self {
        let mut layer = self.layer.mapped(Affine::FLIP_X);
        let first = layer.edges.len().saturating_sub(4);
        layer.edges.rotate_left(first);
        layer.corners.rotate_left(first);
        Self { layer, region: Affine::FLIP_X * self.region, motion: self.motion.mirrored(), ..self }
    }
}

/// How what moves does so.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Motion {
    /// All of it turns.
    Turned { about: Point, angle: f64 },
    /// It moves off beside a fold: the dart's mouth by `by`, what follows the dart's own edge by `on`, along the fold; what is nearer to that by
    /// less, on the fold nothing. The rest of its own edge turns about its mouth from one to the other.
    Along { by: Vec2, on: Vec2, fold: kurbo::Line, mouth: Point, end: Point },
}

impl Motion {
    fn of(&self, p: Point) -> Point {
        match *self {
            Self::Turned { .. } => self.whole() * p,
            Self::Along { by, on, fold, mouth, end } => {
                let way = (fold.p1 - fold.p0).normalize();
                let off = |p: Point| (p - fold.p0).cross(way).abs();
                let long = (end - mouth).dot(way);
                let done = if long.abs() < 1.0 { 0.0 } else { ((p - mouth).dot(way) / long).clamp(0.0, 1.0) };
                p + by.lerp(on, done) * (off(p) / off(mouth).max(1.0)).min(1.0).powi(2)
            }
        }
    }

    /// What edges do that keep their shape.
    fn whole(&self) -> Affine {
        match *self {
            Self::Turned { about, angle } => Affine::rotate_about(angle, about),
            Self::Along { on, .. } => Affine::translate(on),
        }
    }

    /// What the rest of the dart's own edge does, from its mouth on.
    fn rest(&self) -> Affine {
        match *self {
            Self::Turned { .. } => self.whole(),
            Self::Along { by, on, mouth, end, .. } => {
                let (before, after) = (end - mouth, end + on - (mouth + by));
                Affine::translate(by) * Affine::rotate_about(before.cross(after).atan2(before.dot(after)), mouth)
            }
        }
    }

    /// The edge that gives: its start moves as all does, its end stays. Beside a fold it keeps its angle there.
    fn given(&self, edge: &Walk) -> BezPath {
        let long = edge.length();
        through(|t| {
            let (p, along) = (edge.at(t * long), edge.along(t * long) * long);
            match *self {
                Self::Turned { about, angle } => {
                    let turn = Affine::rotate_about(angle * (1.0 - t), about);
                    let (q, d) = (turn * p, turn * (p + along) - turn * p);
                    // The turn gives way along the edge: its own derivative adds a move straight across from the point.
                    (q, d - (q - about).turn_90() * angle)
                }
                Self::Along { on, .. } => (p + on * (1.0 - t).powi(2), along - on * (2.0 * (1.0 - t))),
            }
        })
    }

    fn mirrored(self) -> Self {
        let flip = |p: Point| Affine::FLIP_X * p;
        match self {
            Self::Turned { about, angle } => Self::Turned { about: flip(about), angle: -angle },
            Self::Along { by, on, fold, mouth, end } => {
                let [by, on] = [by, on].map(|v| flip(v.to_point()).to_vec2());
                Self::Along { by, on, fold: Affine::FLIP_X * fold, mouth: flip(mouth), end: flip(end) }
            }
        }
    }
}

/// Which edge gives, and for what.
#[derive(Clone, Copy, Debug)]
enum Gives {
    /// The piece turns, up to a place on this edge where that is known.
    Opposite(usize, Option<Point>),
    /// The piece moves along a fold; this edge beside it gives.
    Beside { edge: usize, fold: usize },
}

/// A place this near to the border of what moves, mm, moves too.
const ON_BORDER: f64 = 0.01;

/// Opens a dart. Everything clockwise from its mouth turns about its point by the dart's angle, up to the edge that lies straight beyond the
/// point, which gives evenly; all other edges keep their length and shape. Where a fold lies beyond the point, what lies between the dart
/// and the longer edge beside the fold moves off along it instead. The dart's end is shaped so that, folded and pressed to its side, it lies
/// along the edge (common practice, no source).
///
/// # Errors
/// Measures that no dart can have, a dart that points along its edge.
pub fn dart_opened(layer: &Layer, dart: &ShutDart) -> Result<Opened, FullnessError> {
    let walk = Walk::of(&layer.edges[dart.edge].path);
    let (mouth, tip) = (walk.at(dart.at), point(dart.point));
    let leg = mouth.distance(tip);
    let half = dart.intake / (2.0 * leg);
    if !(1e-6..0.7).contains(&half) || dart.at < 1.0 || dart.at > walk.length() - 1.0 {
        return Err(FullnessError::Dart { dart: dart.name.into(), intake: dart.intake, leg });
    }
    let outline = layer.outline();
    let within = outline.contains(tip) && Walk::of(&outline).nearest(tip).1 > 1.0;
    let gives = dart.gives.map(|k| Gives::Opposite(k, None)).or_else(|| beyond(layer, dart.edge, mouth, tip)).filter(|_| within);
    let turn = Motion::Turned { about: tip, angle: 2.0 * half.asin() };
    match gives {
        Some(Gives::Opposite(edge, hit)) if edge != dart.edge => parted(layer, dart, edge, (turn, moving(layer, dart, edge, hit, tip))),
        Some(Gives::Beside { edge, fold }) => {
            let n = layer.edges.len();
            if (fold + n - dart.edge) % n < (edge + n - dart.edge) % n {
                // Clockwise from the mouth the fold comes first: what moves lies the other way round.
                return dart_opened(&layer.mapped(Affine::FLIP_X), &dart.mirrored(n, walk.length())).map(Opened::mirrored);
            }
            let (p, q) = ends(&layer.edges[fold].path).ok_or_else(|| FullnessError::Hinge { dart: dart.name.into() })?;
            let fold = kurbo::Line::new(p, q);
            let motion = along_fold(fold, (mouth, turn.of(mouth) - mouth), walk.at(walk.length()));
            let beside = |p: Point| fold.p0 + (fold.p1 - fold.p0) * ((p - fold.p0).dot(fold.p1 - fold.p0) / (fold.p1 - fold.p0).hypot2());
            let mut region = moving(layer, dart, edge, Some(p), tip);
            region.pop();
            region.pop();
            [beside(tip), tip].into_iter().for_each(|p| region.line_to(p));
            region.close_path();
            parted(layer, dart, edge, (motion, region))
        }
        _ => Err(FullnessError::Hinge { dart: dart.name.into() }),
    }
}

/// How a piece moves beside a fold when the mouth of its dart moves by so much: what of that is across the fold is taken back by turning the rest of
/// the dart's own edge about its mouth, so that its end moves along the fold and it keeps its length.
fn along_fold(fold: kurbo::Line, (mouth, by): (Point, Vec2), end: Point) -> Motion {
    let way = (fold.p1 - fold.p0).normalize();
    let rest = end - mouth;
    let (along, across) = (rest.dot(way), way.cross(rest));
    // The rest's end lies as far across the fold as before: as far along it as its length leaves.
    let wanted = across - way.cross(by);
    let left = (rest.hypot2() - wanted * wanted).max(0.0).sqrt().copysign(along);
    Motion::Along { by, on: way * (by.dot(way) + left - along), fold, mouth, end }
}

/// The piece with its dart's edge parted: first stretch, the dart's end, second stretch; edges after that moved up to the one that gives.
fn parted(layer: &Layer, dart: &ShutDart, gives: usize, (motion, region): (Motion, BezPath)) -> Result<Opened, FullnessError> {
    let own = &layer.edges[dart.edge];
    let walk = Walk::of(&own.path);
    let (mouth, tip, whole) = (walk.at(dart.at), point(dart.point), motion.whole());
    let (first, second) = (walk.part(0.0, dart.at), motion.rest() * walk.part(dart.at, walk.length()));
    let other = Walk::of(&second).at(0.0);
    let end = dart_end(&first, &second, tip, dart.pressed);
    // Closed, the second leg lies on the first.
    let turned = (other - tip).atan2() - (mouth - tip).atan2();
    let bent = angle(walk.along(dart.at), Vec2::from_angle(Walk::of(&second).along(0.0).atan2() - turned));
    let n = layer.edges.len();
    let mut corners: Vec<Corner> = layer.corners.get(dart.edge).cloned().into_iter().collect();
    corners.extend([mouth, end, other].map(|at| Corner { name: dart.name.into(), at: mm(at), error: None }));
    let drafted =
        |from: Point, to: Point| Edge { name: dart.name.into(), path: straight(from, to), line: Line::Seam, how: How::Chosen, bound: None };
    let mut edges =
        vec![Edge { path: first, ..own.clone() }, drafted(mouth, end), drafted(end, other), Edge { path: second, ..own.clone() }];
    let mut gave = (String::new(), 0.0);
    let mut moves = true;
    for k in (1..n).map(|k| (dart.edge + k) % n) {
        let (edge, corner) = (&layer.edges[k], layer.corners[k].clone());
        let by = if moves { whole } else { Affine::IDENTITY };
        corners.push(Corner { at: mm(by * point(corner.at)), ..corner });
        if k == gives {
            let before = Walk::of(&edge.path);
            let path = motion.given(&before);
            gave = (edge.name.clone(), Walk::of(&path).length() - before.length());
            edges.push(Edge { path, how: edge.how.drafted(), ..edge.clone() });
            moves = false;
        } else {
            edges.push(Edge { path: by * edge.path.clone(), ..edge.clone() });
        }
    }
    let moved = |path: &BezPath| {
        let walk = Walk::of(path);
        let middle = walk.at(walk.length() / 2.0);
        match motion {
            _ if !region.contains(middle) => path.clone(),
            Motion::Turned { .. } => whole * path.clone(),
            // As it is, by what its middle does.
            Motion::Along { .. } => Affine::translate(motion.of(middle) - middle) * path.clone(),
        }
    };
    let inner = layer.inner.iter().map(|i| Inner { path: moved(&i.path), ..i.clone() }).collect();
    let holes = layer.holes.iter().map(moved).collect();
    let out = Layer { corners, edges, inner, holes };
    out.check()?;
    Ok(Opened { layer: out, gave, bent_deg: bent.to_degrees().abs(), region, motion })
}

/// What moves: from the dart's mouth clockwise to the middle of the edge that gives, or to a place on it, and back to the dart's point.
fn moving(layer: &Layer, dart: &ShutDart, hinge: usize, hit: Option<Point>, tip: Point) -> BezPath {
    let n = layer.edges.len();
    let own = Walk::of(&layer.edges[dart.edge].path);
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

/// What the line from a dart's mouth through its point meets first beyond the point. A place on the fold must stay straight: the longer of
/// the edges beside it gives.
fn beyond(layer: &Layer, own: usize, mouth: Point, tip: Point) -> Option<Gives> {
    let ray = kurbo::Line::new(tip, tip + (tip - mouth).normalize() * 1e4);
    let hits = layer
        .edges
        .iter()
        .enumerate()
        .flat_map(|(k, e)| e.path.segments().flat_map(|s| s.intersect_line(ray)).map(move |h| (h.line_t, k)).collect::<Vec<_>>());
    let (far, k) = hits.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|h| h.1 != own)?;
    let n = layer.edges.len();
    if layer.edges[k].line != Line::Fold {
        return Some(Gives::Opposite(k, Some(ray.eval(far))));
    }
    let beside = [(k + n - 1) % n, (k + 1) % n].into_iter().filter(|&b| b != own);
    let longer = beside.max_by(|&a, &b| layer.edges[a].length().total_cmp(&layer.edges[b].length()));
    longer.map(|edge| Gives::Beside { edge, fold: k })
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
