//! A dart that was sewn shut, opened: the piece is parted from its mouth to its point and turned about the point until the mouth gapes by the intake.
//!
//! Cloth round the point of a sewn dart is a cone, and a cone does not lie flat: pressed flat for its picture, its outline is seen somewhat
//! otherwise than it is. What of it has to give is a choice:
//!
//! - left to itself every edge keeps its length and shape, and corners open or close a little, as evenly as they can (`linkage`). Where an
//!   edge is placed on the fold the corners at its ends keep their angles but for a hundredth;
//! - where the notes name an edge that `gives`, all corners but those at its ends stay as they are, and that edge takes it up.
//!
//! Both are common practice, no source.

use super::How;
use super::fullness::FullnessError;
use super::layer::{Corner, Edge, Inner, Layer, Line, ends, mm, point};
use super::linkage::{carried, turn, turned};
use super::through::through;
use super::walk::Walk;
use crate::length::Mm;
use kurbo::{Affine, BezPath, PathEl, Point, Shape as _, Vec2};
use std::f64::consts::TAU;

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
    /// The edge that gives; where none is named all keep their lengths.
    pub gives: Option<usize>,
    /// Edges that keep their angle to their neighbours: ends of darts that were opened before.
    pub welded: &'a [usize],
}

/// What gave when a dart was opened.
#[derive(Clone, Debug, PartialEq)]
pub enum Gave {
    /// One edge, and by how much it grew, mm.
    Edge(String, f64),
    /// The corners; the one that opened or closed most, and by how much, degrees, more than nothing where it opened.
    Corners(String, f64),
}

/// A piece with a dart opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Its lines; the dart's end is two edges of its name, the second and third after the first stretch of the edge that it parts.
    pub layer: Layer,
    /// What gave.
    pub gave: Gave,
    motion: Motion,
}

impl Opened {
    /// Where a place of the piece lies now.
    pub fn carried(&self, p: Point) -> Point {
        self.motion.of(p)
    }

    /// Where a place lies now that moves as a place on the outline does: the point of another dart with its mouth.
    pub fn carried_with(&self, mouth: Point, p: Point) -> Point {
        self.motion.at(mouth) * p
    }
}

/// How what moves does so.
#[derive(Clone, Debug, PartialEq)]
enum Motion {
    /// One part of it turns, the rest stays.
    Part { region: BezPath, by: Affine },
    /// Each edge as it is; what lies between them by how near it is to each.
    Bars { bars: Vec<(BezPath, Affine)>, slit: Slit },
}

/// The line along which the piece was parted, from the dart's mouth to its point.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Slit {
    mouth: Point,
    tip: Point,
    /// 1 where the first stretch lies clockwise of the way from point to mouth, else −1.
    first: f64,
    /// What the side of the second stretch does; the first one's stays.
    second: Affine,
}

/// A place this near to the border of what moves, mm, moves too.
const ON_BORDER: f64 = 0.01;

impl Motion {
    fn of(&self, p: Point) -> Point {
        match self {
            // Places on the outline lie on the region's border.
            Self::Part { region, by } if region.contains(p) || Walk::of(region).nearest(p).1 < ON_BORDER => *by * p,
            Self::Part { .. } => p,
            Self::Bars { bars, slit } => {
                // By the inverse square of their distances (Shepard 1968): as an edge does on it, and smooth between them.
                let (mut sum, mut weight) = (Vec2::ZERO, 0.0);
                let sides = slit.seen(p).map(|(w, by)| (w / slit.off(p).max(1e-9).powi(2), by));
                let edges = bars.iter().map(|(path, by)| (1.0 / Walk::of(path).nearest(p).1.max(1e-9).powi(2), *by));
                for (w, by) in edges.chain(sides) {
                    sum += (by * p).to_vec2() * w;
                    weight += w;
                }
                (sum / weight).to_point()
            }
        }
    }

    /// What a place on the outline does.
    fn at(&self, on: Point) -> Affine {
        match self {
            Self::Part { by, .. } => {
                if self.of(on).distance(on) > 1e-9 {
                    *by
                } else {
                    Affine::IDENTITY
                }
            }
            Self::Bars { bars, .. } => {
                let near = bars.iter().min_by(|a, b| Walk::of(&a.0).nearest(on).1.total_cmp(&Walk::of(&b.0).nearest(on).1));
                near.map_or(Affine::IDENTITY, |(_, by)| *by)
            }
        }
    }

    fn path(&self, path: &BezPath) -> BezPath {
        let p = |p: &Point| self.of(*p);
        let moved = path.elements().iter().map(|el| match el {
            PathEl::MoveTo(a) => PathEl::MoveTo(p(a)),
            PathEl::LineTo(a) => PathEl::LineTo(p(a)),
            PathEl::QuadTo(a, b) => PathEl::QuadTo(p(a), p(b)),
            PathEl::CurveTo(a, b, c) => PathEl::CurveTo(p(a), p(b), p(c)),
            PathEl::ClosePath => PathEl::ClosePath,
        });
        BezPath::from_iter(moved)
    }
}

impl Slit {
    /// How far a place is off it, mm.
    fn off(&self, p: Point) -> f64 {
        Walk::of(&straight(self.mouth, self.tip)).nearest(p).1
    }

    /// How much of each of its sides a place sees: all of the one it lies on, half of both beyond the point.
    fn seen(&self, p: Point) -> [(f64, Affine); 2] {
        let (out, to) = (self.mouth - self.tip, p - self.tip);
        let round = (self.first * out.cross(to).atan2(out.dot(to))).rem_euclid(TAU) / TAU;
        [(1.0 - round, Affine::IDENTITY), (round, self.second)]
    }
}

/// The most that a corner may open or close, degrees: more, and the piece is no longer what was seen.
const MOST_TURNED: f64 = 25.0;
/// How much harder a corner on a fold turns than another.
const STIFF: f64 = 100.0;
/// A dart's line is looked at this often, mm.
const LOOKED: f64 = 2.0;

/// Opens a dart: the second stretch of its edge turns about its point by the dart's angle, so that closed both lie as they lay. Every edge keeps
/// its length and shape, and corners open or close for it; unless one edge is named that gives, which then does so evenly while all else
/// stays or turns as it is. The dart's end is shaped so that, folded and pressed to its side, it lies along the edge (common practice, no source).
///
/// # Errors
/// Measures that no dart can have, a dart that leaves the piece, one that no corners can make room for.
pub fn dart_opened(layer: &Layer, dart: &ShutDart) -> Result<Opened, FullnessError> {
    let walk = Walk::of(&layer.edges[dart.edge].path);
    let (mouth, tip) = (walk.at(dart.at), point(dart.point));
    let leg = mouth.distance(tip);
    let half = dart.intake / (2.0 * leg);
    if !(1e-6..0.7).contains(&half) || dart.at < 1.0 || dart.at > walk.length() - 1.0 {
        return Err(FullnessError::Dart { dart: dart.name.into(), intake: dart.intake, leg });
    }
    if !within(layer, mouth, tip) || dart.gives == Some(dart.edge) {
        return Err(FullnessError::Hinge { dart: dart.name.into() });
    }
    let angle = 2.0 * half.asin();
    match dart.gives {
        Some(edge) => one_gives(layer, dart, edge, (tip, angle)),
        None => corners_give(layer, dart, (tip, angle)),
    }
}

/// Whether a dart runs within the piece from its mouth to its point.
pub(super) fn within(layer: &Layer, mouth: Point, tip: Point) -> bool {
    let outline = layer.outline();
    let rim = Walk::of(&outline);
    let long = mouth.distance(tip);
    let steps = (long / LOOKED).ceil().max(1.0) as usize;
    // The mouth itself lies on the outline.
    let along = (0..steps).map(|k| tip.lerp(mouth, k as f64 / steps as f64)).filter(|p| p.distance(mouth) > 1.0);
    rim.nearest(tip).1 > 1.0 && along.into_iter().all(|p| outline.contains(p))
}

/// The dart's own edge in two, the second stretch turned, and the dart's end between them.
struct Mouth {
    edges: Vec<Edge>,
    corners: Vec<Corner>,
    /// Where the second stretch ends.
    end: Point,
}

impl Mouth {
    fn of(layer: &Layer, dart: &ShutDart, turn: Affine) -> Self {
        let own = &layer.edges[dart.edge];
        let walk = Walk::of(&own.path);
        let (mouth, tip) = (walk.at(dart.at), point(dart.point));
        let (first, second) = (walk.part(0.0, dart.at), turn * walk.part(dart.at, walk.length()));
        let other = turn * mouth;
        let end = dart_end(&first, &second, tip, dart.pressed);
        let mut corners: Vec<Corner> = layer.corners.get(dart.edge).cloned().into_iter().collect();
        corners.extend([mouth, end, other].map(|at| Corner { name: dart.name.into(), at: mm(at), error: None }));
        let drafted = |from: Point, to: Point| Edge {
            name: dart.name.into(),
            path: straight(from, to),
            line: Line::Seam,
            how: How::Chosen,
            bound: None,
        };
        let edges =
            vec![Edge { path: first, ..own.clone() }, drafted(mouth, end), drafted(end, other), Edge { path: second, ..own.clone() }];
        Self { edges, corners, end: turn * walk.at(walk.length()) }
    }

    /// The piece, each of its other edges and the corner before it moved as is told.
    fn closed(
        mut self,
        layer: &Layer,
        dart: &ShutDart,
        moved: impl Fn(usize) -> (Affine, Option<BezPath>),
        motion: &Motion,
    ) -> Result<Layer, FullnessError> {
        let n = layer.edges.len();
        for k in (1..n).map(|k| (dart.edge + k) % n) {
            let (edge, corner) = (&layer.edges[k], layer.corners[k].clone());
            let (by, given) = moved(k);
            self.corners.push(Corner { at: mm(by * point(corner.at)), ..corner });
            self.edges.push(match given {
                Some(path) => Edge { path, how: edge.how.drafted(), ..edge.clone() },
                None => Edge { path: by * edge.path.clone(), ..edge.clone() },
            });
        }
        let inner = layer.inner.iter().map(|i| Inner { path: motion.path(&i.path), ..i.clone() }).collect();
        let holes = layer.holes.iter().map(|h| motion.path(h)).collect();
        let out = Layer { corners: self.corners, edges: self.edges, inner, holes };
        out.check()?;
        Ok(out)
    }
}

/// All that lies clockwise from the mouth turns about the point, up to the edge that gives.
fn one_gives(layer: &Layer, dart: &ShutDart, gives: usize, (tip, angle): (Point, f64)) -> Result<Opened, FullnessError> {
    let n = layer.edges.len();
    let turn = Affine::rotate_about(angle, tip);
    let before = Walk::of(&layer.edges[gives].path);
    let long = before.length();
    let path = through(|t| {
        let (p, along) = (before.at(t * long), before.along(t * long) * long);
        let turn = Affine::rotate_about(angle * (1.0 - t), tip);
        let (q, d) = (turn * p, turn * (p + along) - turn * p);
        // The turn gives way along the edge: its own derivative adds a move straight across from the point.
        (q, d - (q - tip).turn_90() * angle)
    });
    let gave = Gave::Edge(layer.edges[gives].name.clone(), Walk::of(&path).length() - long);
    let place = |k: usize| (k + n - dart.edge) % n;
    let moved = |k: usize| match place(k).cmp(&place(gives)) {
        std::cmp::Ordering::Less => (turn, None),
        std::cmp::Ordering::Equal => (turn, Some(path.clone())),
        std::cmp::Ordering::Greater => (Affine::IDENTITY, None),
    };
    let motion = Motion::Part { region: moving(layer, dart, gives, tip), by: turn };
    let layer = Mouth::of(layer, dart, turn).closed(layer, dart, moved, &motion)?;
    Ok(Opened { layer, gave, motion })
}

/// What moves: from the dart's mouth clockwise to the middle of the edge that gives, and back to the dart's point.
fn moving(layer: &Layer, dart: &ShutDart, gives: usize, tip: Point) -> BezPath {
    let n = layer.edges.len();
    let own = Walk::of(&layer.edges[dart.edge].path);
    let mut region = own.part(dart.at, own.length());
    for k in (1..n).map(|k| (dart.edge + k) % n) {
        let walk = Walk::of(&layer.edges[k].path);
        let to = if k == gives { walk.length() / 2.0 } else { walk.length() };
        region.extend(walk.part(0.0, to).elements().iter().skip(1).copied());
        if k == gives {
            break;
        }
    }
    region.line_to(tip);
    region.close_path();
    region
}

/// Every edge keeps its length and shape, and corners give.
fn corners_give(layer: &Layer, dart: &ShutDart, (tip, angle): (Point, f64)) -> Result<Opened, FullnessError> {
    let n = layer.edges.len();
    let second = Affine::rotate_about(angle, tip);
    let mouth = Mouth::of(layer, dart, second);
    let chain: Vec<usize> = (1..n).map(|k| (dart.edge + k) % n).collect();
    let firm = |a: usize, b: usize| [a, b].iter().any(|k| dart.welded.contains(k));
    // Edges that are welded move as one: with the second stretch, with the first, and among themselves.
    let mut bodies: Vec<Vec<usize>> = vec![vec![dart.edge]];
    for &k in chain.iter().chain([&dart.edge]) {
        match bodies.last_mut() {
            Some(body) if body.last().is_some_and(|&last| firm(last, k)) => body.push(k),
            _ => bodies.push(vec![k]),
        }
    }
    let stuck = |why: &str| FullnessError::Stuck { dart: dart.name.into(), why: why.into() };
    if bodies.len() < 4 {
        return Err(stuck("the piece has too few corners beside it that could give"));
    }
    let start = |k: usize| ends(&layer.edges[k].path).map_or(Point::ZERO, |e| e.0);
    let (first, last) = (bodies[0].clone(), bodies[bodies.len() - 1].clone());
    let free = &bodies[1..bodies.len() - 1];
    let starts: Vec<Point> = free.iter().map(|b| start(b[0])).chain([start(last[0])]).collect();
    let bars: Vec<Vec2> = starts.windows(2).map(|w| w[1] - w[0]).collect();
    let fold = |k: usize| layer.edges[k].line == Line::Fold;
    let stiff: Vec<f64> =
        bodies.windows(2).map(|w| if w[0].last().is_some_and(|&k| fold(k)) || fold(w[1][0]) { STIFF } else { 1.0 }).collect();
    let from = if first.len() > 1 { second * starts[0] } else { mouth.end };
    let turns = turned(&bars, &stiff, [angle, 0.0], from, starts[starts.len() - 1])
        .ok_or_else(|| stuck("the edges beside it are too short to go round it open"))?;
    let all: Vec<f64> = [angle].iter().chain(&turns).chain([&0.0]).copied().collect();
    let hinges = all.windows(2).map(|w| (w[1] - w[0]).to_degrees()).zip(&starts);
    let (most, at) = hinges.max_by(|a, b| a.0.abs().total_cmp(&b.0.abs())).ok_or_else(|| stuck("it has no corners"))?;
    let corner = layer.corners.iter().find(|c| point(c.at).distance(*at) < 0.01).map_or("a corner", |c| c.name.as_str()).to_owned();
    if most.abs() > MOST_TURNED {
        return Err(stuck(&format!("the corner \"{corner}\" would turn by {:.0}°", most.abs())));
    }
    let mut by = vec![Affine::IDENTITY; n];
    first.iter().for_each(|&k| by[k] = second);
    let mut is = from;
    for ((body, bar), (turns, was)) in free.iter().zip(&bars).zip(turns.iter().zip(&starts)) {
        body.iter().for_each(|&k| by[k] = carried(*was, is, *turns));
        is += turn(*bar, *turns);
    }
    last.iter().for_each(|&k| by[k] = Affine::IDENTITY);
    let walk = Walk::of(&layer.edges[dart.edge].path);
    let mut moved: Vec<(BezPath, Affine)> = vec![(walk.part(0.0, dart.at), Affine::IDENTITY), (walk.part(dart.at, walk.length()), second)];
    moved.extend(chain.iter().map(|&k| (layer.edges[k].path.clone(), by[k])));
    let (at, out) = (walk.at(dart.at), walk.at(dart.at) - tip);
    let slit = Slit { mouth: at, tip, first: -out.cross(walk.along(dart.at)).signum(), second };
    let motion = Motion::Bars { bars: moved, slit };
    let layer = mouth.closed(layer, dart, |k| (by[k], None), &motion)?;
    // Corners open where what is clockwise of them turns back.
    Ok(Opened { layer, gave: Gave::Corners(corner, -most), motion })
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
