//! A piece cut from part of a circle, as a flared skirt, a peplum or a flounce is: waist and hem are arcs about one middle, sides run towards it.
//!
//! What lies flat as such a piece has no top to be told by an affine fit: of half a circle all four corners lie in one line. So corners are tried in every
//! way that keeps their order, a circle is laid through what would be the hem (least squares, [`crate::solve::circle`]), and the waist and the
//! sides are held against it. Its waist and hem are measured along their curves, as a tape stood on edge would. Common practice, no source.

use super::centre::Centre;
use super::fitting::Lay;
use super::layer::{Layer, mm};
use super::measures::{Measure, Taken};
use super::ruler::Ruler;
use super::walk::Walk;
use crate::solve::circle;
use kurbo::{BezPath, Point, Vec2};
use nalgebra::Vector2;

/// A narrower part of a circle, degrees, is a gore: its hem is hardly longer than what is straight across it.
const PART: f64 = 60.0;
/// Edges of the piece may lie so far (root mean square) off their circle or from straight towards its middle, as a share of the hem's radius: a hem that
/// was levelled on a wearer and a waist lowered in front are two hundredths out.
const OFF: f64 = 0.03;
/// A waist this near to the hem, as a share of the hem's radius, is none.
const NO_WAIST: f64 = 0.98;
/// More corners than this are not gone through, as in `fitting`.
const MOST_CORNERS: usize = 14;
/// Places along an edge that are looked at.
const PLACES: usize = 24;

/// How a piece is part of a circle.
pub(super) struct Circular {
    /// Its corners clockwise as seen: where the waist starts and ends, where the hem does.
    corners: [usize; 4],
    /// From the circle's middle through that of the hem.
    line: Centre,
    /// How far the worst of its four stretches lies off, as a share of the hem's radius.
    off: f64,
}

/// A stretch that may be the hem.
struct Hem {
    middle: Point,
    radius: f64,
    /// Root mean square of its distances, mm.
    off: f64,
    /// From the circle's middle through that of the stretch.
    down: Vec2,
}

impl Circular {
    /// The part of a circle that a piece with corners is cut from.
    pub fn of(layer: &Layer) -> Option<Self> {
        let n = layer.corners.len();
        if !(4..=MOST_CORNERS).contains(&n) || layer.edges.len() != n {
            return None;
        }
        let places: Vec<Vec<Point>> = layer.edges.iter().map(|e| places(&e.path)).collect();
        let stretch = |from: usize, long: usize| -> Vec<Point> { (0..long).flat_map(|k| places[(from + k) % n].iter().copied()).collect() };
        let mut best: Option<Self> = None;
        for from in 0..n {
            for long in 1..=n - 3 {
                let Some(hem) = hem(&stretch(from, long)) else { continue };
                // What is left over: a side, the waist, a side.
                let rest = n - long;
                for side in 1..=rest - 2 {
                    for waist in 1..=rest - side - 1 {
                        let starts = [from + long, from + long + side, from + long + side + waist].map(|k| k % n);
                        let other = rest - side - waist;
                        let off = hem.off_others(&stretch(starts[0], side), &stretch(starts[1], waist), &stretch(starts[2], other));
                        if off / hem.radius <= OFF && best.as_ref().is_none_or(|b| off / hem.radius < b.off) {
                            let corners = [starts[1], starts[2], from, starts[0]];
                            let line = Centre { at: mm(hem.middle), along: Vector2::new(hem.down.x, hem.down.y), levels: Vec::new() };
                            best = Some(Self { corners, line, off: off / hem.radius });
                        }
                    }
                }
            }
        }
        best
    }

    /// The corners of a skirt panel on it, in the order of its shape.
    pub fn lay(&self) -> Lay {
        Lay { corners: self.corners.to_vec(), misfit: self.off }
    }

    /// Down the piece, of length 1.
    pub fn down(&self) -> Vector2<f64> {
        self.line.along
    }

    /// Waist and hem along their curves, the length down the middle, the sides.
    pub fn measures(&self, layer: &Layer, scale: f64) -> Vec<Measure> {
        let ruler = Ruler::with(layer, self.line.clone(), scale);
        let n = layer.edges.len();
        let edges = |from: usize, to: usize| (0..(to + n - from) % n).map(|k| (from + k) % n).collect::<Vec<_>>();
        let [waist, waist_end, hem, hem_end] = self.corners;
        let mut out = vec![ruler.edges("waist", edges(waist, waist_end)), ruler.edges("hem sweep", edges(hem, hem_end))];
        out.extend(ruler.onward("centre length"));
        ruler.along("side length", "side", &mut out);
        out
    }
}

/// A stretch as a hem: clockwise round a middle, over more than a gore's share of its circle.
fn hem(stretch: &[Point]) -> Option<Hem> {
    let points: Vec<Vector2<f64>> = stretch.iter().map(|p| Vector2::new(p.x, p.y)).collect();
    let fit = circle(&points)?;
    let off = fit.residual / (points.len() as f64).sqrt();
    let middle = Point::new(fit.centre.x, fit.centre.y);
    let swept = swept(stretch, middle);
    let turn = 0.5 * swept;
    let first = *stretch.first()? - middle;
    let down = Vec2::new(first.x * turn.cos() - first.y * turn.sin(), first.x * turn.sin() + first.y * turn.cos());
    (off <= OFF * fit.radius && swept.to_degrees() > PART).then(|| Hem { middle, radius: fit.radius, off, down: down.normalize() })
}

/// How far a stretch runs round a middle, radians, clockwise as seen.
fn swept(stretch: &[Point], middle: Point) -> f64 {
    let turn = |a: Vec2, b: Vec2| a.cross(b).atan2(a.dot(b));
    stretch.windows(2).map(|w| turn(w[0] - middle, w[1] - middle)).sum()
}

impl Hem {
    /// The worst root mean square, mm, of the hem, of two sides and of the waist between them.
    fn off_others(&self, side: &[Point], waist: &[Point], other: &[Point]) -> f64 {
        let [side, other] = [side, other].map(|s| self.off_towards(s));
        self.off.max(side).max(other).max(self.off_waist(waist))
    }

    /// Of a side, off the straight line that runs to the middle.
    fn off_towards(&self, side: &[Point]) -> f64 {
        let way = side.iter().map(|p| *p - self.middle).sum::<Vec2>();
        if way.hypot() < 1e-9 {
            return f64::INFINITY;
        }
        root_mean_square(side.iter().map(|p| (*p - self.middle).cross(way.normalize())))
    }

    /// Of a waist, off an arc about the middle that runs the other way round.
    fn off_waist(&self, waist: &[Point]) -> f64 {
        let far: Vec<f64> = waist.iter().map(|p| p.distance(self.middle)).collect();
        let radius = far.iter().sum::<f64>() / far.len() as f64;
        if radius > NO_WAIST * self.radius || swept(waist, self.middle) > -PART.to_radians() {
            return f64::INFINITY;
        }
        root_mean_square(far.iter().map(|d| d - radius))
    }
}

fn root_mean_square(off: impl ExactSizeIterator<Item = f64>) -> f64 {
    let n = off.len() as f64;
    (off.map(|d| d * d).sum::<f64>() / n).sqrt()
}

/// Places along an edge, its ends among them.
fn places(path: &BezPath) -> Vec<Point> {
    let walk = Walk::of(path);
    (0..=PLACES).map(|k| walk.at(walk.length() * k as f64 / PLACES as f64)).collect()
}

/// A whole circle with the waist as a hole: a round skirt laid open.
pub(super) struct Ring {
    /// Which of the holes is the waist.
    hole: usize,
    /// From there to the hem, straight down the page.
    down: [Point; 2],
}

impl Ring {
    /// Of a round piece with a hole about the same middle.
    pub fn of(layer: &Layer) -> Option<Self> {
        let [edge] = &layer.edges[..] else { return None };
        if !layer.corners.is_empty() {
            return None;
        }
        let round = |path: &BezPath| {
            let points: Vec<Vector2<f64>> = places(path).iter().map(|p| Vector2::new(p.x, p.y)).collect();
            circle(&points).filter(|c| c.residual / (points.len() as f64).sqrt() <= OFF * c.radius)
        };
        let outer = round(&edge.path)?;
        let holes = layer.holes.iter().enumerate().filter_map(|(k, h)| round(h).map(|c| (k, c)));
        let (hole, waist) = holes.max_by(|a, b| a.1.radius.total_cmp(&b.1.radius))?;
        let about_one = (waist.centre - outer.centre).norm() <= OFF * outer.radius;
        let at = |path: &BezPath, radius: f64| {
            let walk = Walk::of(path);
            walk.at(walk.nearest(Point::new(outer.centre.x, outer.centre.y + radius)).0)
        };
        let down = [at(&layer.holes[hole], waist.radius), at(&edge.path, outer.radius)];
        (about_one && waist.radius < NO_WAIST * outer.radius).then_some(Self { hole, down })
    }

    /// Waist and hem along their curves, and the length between them.
    pub fn measures(&self, layer: &Layer, scale: f64) -> Vec<Measure> {
        let bound = layer.edges[0].bound;
        let one = |name, length: f64, taken| Measure {
            name,
            side: None,
            length,
            bound: bound.map(|b| 2.0 * b + scale * length),
            taken,
            half_round: false,
            laid: None,
            closed: 0.0,
        };
        let waist = Walk::of(&layer.holes[self.hole]).length();
        vec![
            one("waist", waist, Taken::Hole(self.hole)),
            one("hem sweep", layer.edges[0].length(), Taken::Along(vec![0])),
            one("length", self.down[0].distance(self.down[1]), Taken::Straight(self.down.map(mm))),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::super::How;
    use super::super::layer::{Corner, Edge, Line};
    use super::super::measures::Measured;
    use super::super::propose::{AsSeen, proposed};
    use super::*;
    use crate::notes::PieceKind;
    use kurbo::{Affine, Arc};

    const WAIST: f64 = 110.0;
    const HEM: f64 = 700.0;

    fn edge(path: BezPath) -> Edge {
        Edge { name: String::new(), path, line: Line::Rim, how: How::Seen, bound: Some(0.2) }
    }

    fn at(radius: f64, degrees: f64) -> Point {
        Point::new(radius * degrees.to_radians().cos(), radius * degrees.to_radians().sin())
    }

    fn arc(radius: f64, from: f64, to: f64) -> BezPath {
        let mut path = BezPath::new();
        path.move_to(at(radius, from));
        Arc::new((0.0, 0.0), (radius, radius), from.to_radians(), (to - from).to_radians(), 0.0)
            .append_iter(1e-6)
            .for_each(|el| path.push(el));
        path
    }

    fn line(a: Point, b: Point) -> BezPath {
        let mut path = BezPath::new();
        path.move_to(a);
        path.line_to(b);
        path
    }

    fn closed(paths: Vec<BezPath>) -> Layer {
        let corner = |(k, path): (usize, &BezPath)| {
            let name = format!("corner {}", k + 1);
            Corner { name, at: mm(Walk::of(path).at(0.0)), error: Some(0.1) }
        };
        let corners = paths.iter().enumerate().map(corner).collect();
        let edges = paths.into_iter().enumerate().map(|(k, path)| Edge { name: format!("edge {}", k + 1), ..edge(path) }).collect();
        Layer { corners, edges, ..Layer::default() }
    }

    /// A part of a circle whose middle hangs straight down, with as many corners along its hem as are asked for.
    fn part(degrees: f64, corners: usize) -> Layer {
        let [from, to] = [90.0 - degrees / 2.0, 90.0 + degrees / 2.0];
        let turn = |k: usize| from + degrees * k as f64 / (corners + 1) as f64;
        let mut paths: Vec<BezPath> = (0..=corners).map(|k| arc(HEM, turn(k), turn(k + 1))).collect();
        paths.extend([line(at(HEM, to), at(WAIST, to)), arc(WAIST, to, from), line(at(WAIST, from), at(HEM, from))]);
        closed(paths)
    }

    fn named(layer: &Layer) -> Layer {
        let mut named = layer.clone();
        let seen = AsSeen { kind: Some(PieceKind::SkirtPanel), ..AsSeen::default() };
        proposed(layer, &seen).expect("a skirt").apply(&mut named);
        named
    }

    fn measures(layer: &Layer) -> Vec<Measure> {
        Measured { layer, kind: PieceKind::SkirtPanel, scale: 0.001, fold: None, open: &[] }.all()
    }

    /// A quarter, half and three quarters of a circle, nearly all of it, and with corners where stretches of hem meet: waist and hem are as long as
    /// their arcs (radius times angle), however the piece lies.
    #[test]
    fn parts_of_a_circle_are_named_and_measured() {
        for (degrees, corners) in [(65.0, 0), (90.0, 0), (120.0, 1), (180.0, 0), (180.0, 3), (270.0, 0), (350.0, 2)] {
            for turn in [0.0, 1.3, 3.0] {
                let layer = named(&part(degrees, corners).mapped(Affine::rotate(turn)));
                let all = measures(&layer);
                let long = f64::to_radians(degrees);
                let want =
                    [("waist", WAIST * long), ("hem sweep", HEM * long), ("centre length", HEM - WAIST), ("side length", HEM - WAIST)];
                for (name, length) in want {
                    let found: Vec<&Measure> = all.iter().filter(|m| m.name == name).collect();
                    assert_eq!(found.len(), if name == "side length" { 2 } else { 1 }, "{name} of {degrees}°: {all:?}");
                    assert!(found.iter().all(|m| (m.length - length).abs() < 0.01), "{name} of {degrees}°: {found:?}");
                }
                let down = Measured { layer: &layer, kind: PieceKind::SkirtPanel, scale: 0.0, fold: None, open: &[] }.down().expect("down");
                let hangs = Affine::rotate(turn) * Point::new(0.0, 1.0);
                assert!((down - Vector2::new(hangs.x, hangs.y)).norm() < 1e-6, "{degrees}° turned by {turn}: {down:?}");
            }
        }
    }

    fn moved(layer: &Layer, to: impl Fn(Point) -> Point) -> Layer {
        let path = |e: &Edge| {
            let walk = Walk::of(&e.path);
            let mut out = BezPath::new();
            out.move_to(to(walk.at(0.0)));
            walk.steps(5.0).iter().skip(1).for_each(|s| out.line_to(to(walk.at(*s))));
            out
        };
        closed(layer.edges.iter().map(path).collect())
    }

    /// A hem that was levelled by 15 mm on a wearer and a waist lowered by 12 mm in front are still those of a half circle; a straight panel, a
    /// gore of 40° and a half oval of twice the width are not.
    #[test]
    fn what_is_nearly_a_circle_counts_and_what_is_not_does_not() {
        let half = part(180.0, 0);
        let levelled = moved(&half, |p| {
            let far = p.to_vec2().hypot();
            let lower = p.y / far;
            let by = if far > 400.0 { -15.0 * (2.0 * lower * lower - 1.0).abs() } else { 12.0 * lower.powi(4) };
            p + p.to_vec2() / far * by
        });
        assert!(Circular::of(&levelled).is_some());
        let oval = moved(&half, |p| Point::new(2.0 * p.x, p.y));
        let corners = [(-100.0, 0.0), (100.0, 0.0), (180.0, 600.0), (-180.0, 600.0)].map(Point::from);
        let straight = closed((0..4).map(|k| line(corners[k], corners[(k + 1) % 4])).collect());
        for other in [oval, part(40.0, 0), straight] {
            assert!(Circular::of(&other).is_none(), "{other:?}");
        }
    }

    /// A whole circle laid open has no corner; its waist is a hole.
    #[test]
    fn a_whole_circle_with_its_waist_as_a_hole() {
        let ring = |x: f64| Layer {
            edges: vec![Edge { name: "edge 1".into(), ..edge(arc(HEM, 0.0, 360.0)) }],
            holes: vec![Affine::translate((x, 0.0)) * arc(WAIST, 360.0, 0.0), Affine::translate((300.0, 0.0)) * arc(10.0, 360.0, 0.0)],
            ..Layer::default()
        };
        let layer = named(&ring(2.0));
        assert_eq!(layer.edges[0].name, "hem");
        let all = measures(&layer);
        let round = 2.0 * std::f64::consts::PI;
        for (name, length, within) in [("waist", WAIST * round, 0.01), ("hem sweep", HEM * round, 0.01), ("length", HEM - WAIST, 0.1)] {
            let found = all.iter().find(|m| m.name == name).expect(name);
            assert!((found.length - length).abs() < within, "{found:?}");
        }
        assert!(Ring::of(&ring(80.0)).is_none());
    }
}
