//! A dart with a point at either end, as at the waist of a dress, opened within its piece.
//!
//! It takes cloth from within, so nothing turns: all that lies on the side of it away from the centre moves straight off its axis, at each
//! level by as much as the dart takes in there. The opened piece is at every level as wide as it was found and as the dart is there, and
//! above and below it nothing moves (common practice, no source). From its widest place the dart runs out to its points without a bend,
//! so that edges which move along get none either.

use super::fullness::FullnessError;
use super::layer::{Inner, Layer, ends, mm, point};
use super::through::through;
use super::walk::Walk;
use crate::length::Mm;
use kurbo::{BezPath, Point, Shape, Vec2};

/// The widest place of a dart lies between its points, no nearer to one of them than this, mm.
const SHORTEST: f64 = 5.0;
/// The axis runs within the piece at places this far apart, mm, or the dart does not.
const LOOKED: f64 = 2.0;
/// Half of what a dart takes in is at most this share of either half's length: a wider one is a mistake in the notes.
const WIDEST: f64 = 0.5;

/// A dart with two points, sewn shut.
#[derive(Clone, Debug, PartialEq)]
pub struct DoublePointed<'a> {
    /// Its name.
    pub name: &'a str,
    /// Both its points.
    pub points: [Mm; 2],
    /// Where it is widest.
    pub wide: Mm,
    /// What it takes in there, mm.
    pub intake: f64,
    /// The way that what moves lies from it: away from the centre of the piece.
    pub away: Vec2,
}

/// A piece with such a dart opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Widened {
    /// Its lines; the dart is no edge of them.
    pub layer: Layer,
    /// The edges that moved along, each with by how much longer it is, mm.
    pub gave: Vec<(String, f64)>,
    /// The dart's legs at its widest place.
    pub legs: [Point; 2],
    field: Field,
}

impl Widened {
    /// Where a place of the piece lies now.
    pub fn carried(&self, p: Point) -> Point {
        self.field.carried(p)
    }
}

/// What the dart takes in along its axis.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Field {
    start: Point,
    /// Along the axis, and straight off it on the side that moves.
    along: Vec2,
    off: Vec2,
    /// How far along the axis it is widest, and how long it is, mm.
    wide: f64,
    long: f64,
    intake: f64,
}

impl Field {
    fn of(dart: &DoublePointed) -> Result<Self, FullnessError> {
        let [start, end] = dart.points.map(point);
        let long = start.distance(end);
        let wrong = |leg: f64| FullnessError::Dart { dart: dart.name.into(), intake: dart.intake, leg };
        let along = (end - start) / long.max(1e-9);
        let wide = (point(dart.wide) - start).dot(along);
        let leg = wide.min(long - wide);
        if leg < SHORTEST || !(1e-3..2.0 * WIDEST * leg).contains(&dart.intake) {
            return Err(wrong(leg));
        }
        let off = if along.turn_90().dot(dart.away) < 0.0 { -along.turn_90() } else { along.turn_90() };
        Ok(Self { start, along, off, wide, long, intake: dart.intake })
    }

    /// What it takes in at a distance along the axis, mm, and how fast that grows.
    fn width(&self, s: f64) -> (f64, f64) {
        let (t, way, over) = if s < self.wide {
            (s / self.wide, 1.0, self.wide)
        } else {
            ((self.long - s) / (self.long - self.wide), -1.0, self.long - self.wide)
        };
        if t <= 0.0 {
            return (0.0, 0.0);
        }
        (self.intake * t * t * (3.0 - 2.0 * t), way * self.intake * 6.0 * t * (1.0 - t) / over)
    }

    fn moves(&self, p: Point) -> bool {
        (p - self.start).dot(self.off) > 0.0
    }

    fn carried(&self, p: Point) -> Point {
        if self.moves(p) { p + self.off * self.width((p - self.start).dot(self.along)).0 } else { p }
    }

    fn touches(&self, walk: &Walk) -> bool {
        walk.steps(1.0).into_iter().map(|s| walk.at(s)).any(|p| self.carried(p).distance(p) > 1e-6)
    }

    /// Whether a line moves along as one.
    fn takes(&self, path: &BezPath) -> bool {
        let walk = Walk::of(path);
        let across = |p: Point| (self.moves(p), self.width((p - self.start).dot(self.along)).0 > 0.0);
        let parted = walk.steps(1.0).windows(2).any(|w| {
            let ((a, within), (b, _)) = (across(walk.at(w[0])), across(walk.at(w[1])));
            within && a != b
        });
        self.touches(&walk) && !parted
    }

    /// A path moved along.
    fn path(&self, path: &BezPath) -> BezPath {
        let walk = Walk::of(path);
        // Where the law of the width changes the line is drawn in two.
        let level = |p: Point| (p - self.start).dot(self.along);
        let mut stops = vec![0.0];
        for w in walk.steps(1.0).windows(2) {
            let (a, b) = (level(walk.at(w[0])), level(walk.at(w[1])));
            let between = [0.0, self.wide, self.long].into_iter().filter(|at| (a - at) * (b - at) < 0.0);
            stops.extend(between.map(|at| w[0] + (w[1] - w[0]) * (at - a) / (b - a)));
        }
        stops.push(walk.length());
        stops.sort_by(f64::total_cmp);
        let mut out = BezPath::new();
        for pair in stops.windows(2).filter(|w| w[1] - w[0] > 1e-3) {
            let part = through(|t| {
                let s = pair[0] + t * (pair[1] - pair[0]);
                let (p, d) = (walk.at(s), walk.along(s) * (pair[1] - pair[0]));
                let grows = if self.moves(p) { self.width(level(p)).1 * d.dot(self.along) } else { 0.0 };
                (self.carried(p), d + self.off * grows)
            });
            out.extend(part.elements().iter().skip(usize::from(!out.is_empty())).copied());
        }
        out
    }
}

/// Opens a dart that has a point at either end.
///
/// # Errors
/// Measures that no dart can have; a dart that does not lie within the piece.
pub fn double_pointed_opened(layer: &Layer, dart: &DoublePointed) -> Result<Widened, FullnessError> {
    let field = Field::of(dart)?;
    let outline = layer.outline();
    let n = (field.long / LOOKED).ceil();
    let within = (0..=n as usize).all(|k| outline.contains(field.start + field.along * (field.long * k as f64 / n)));
    if !within {
        return Err(FullnessError::Within { dart: dart.name.into() });
    }
    let mut out = layer.clone();
    let mut gave = Vec::new();
    for edge in &mut out.edges {
        let walk = Walk::of(&edge.path);
        if field.touches(&walk) {
            edge.path = field.path(&edge.path);
            edge.how = edge.how.drafted();
            gave.push((edge.name.clone(), edge.length() - walk.length()));
        }
    }
    for corner in &mut out.corners {
        corner.at = mm(field.carried(point(corner.at)));
    }
    out.inner = layer
        .inner
        .iter()
        // One that runs across the dart is parted by it and stays as it lay.
        .map(|i| if field.takes(&i.path) { Inner { path: field.path(&i.path), ..i.clone() } } else { i.clone() })
        .collect();
    // A hole is worked in the cloth and keeps its shape.
    for hole in &mut out.holes {
        let middle = hole.bounding_box().center();
        *hole = kurbo::Affine::translate(field.carried(middle) - middle) * hole.clone();
    }
    out.check()?;
    let wide = field.start + field.along * field.wide;
    let half = field.off * (field.intake / 2.0);
    // The dart lies where it was sewn, half of it on either side of its seam as that lies now.
    Ok(Widened { layer: out, gave, legs: [wide - half, wide + half], field })
}

/// The stitch lines of a dart with two points, from its widest place to either point, as they run out.
pub(super) fn legs(wide: [Point; 2], points: [Point; 2]) -> Vec<BezPath> {
    let axis = (points[1] - points[0]) / points[0].distance(points[1]).max(1e-9);
    let leg = |from: Point, to: Point| {
        // As the width does: flat at the widest place and at the point.
        let third = axis * ((to - from).dot(axis) / 3.0);
        let mut path = BezPath::new();
        path.move_to(from);
        path.curve_to(from + third, to - third, to);
        path
    };
    wide.into_iter().flat_map(|from| points.map(|to| leg(from, to))).filter(|p| ends(p).is_some()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::ParamCurve;

    /// The drawn leg is the law of the width: half the intake at the same level everywhere.
    #[test]
    fn legs_run_as_the_width_does() {
        let dart = DoublePointed {
            name: "waist",
            points: [Mm::new(0.0, 0.0), Mm::new(0.0, 230.0)],
            wide: Mm::new(0.0, 130.0),
            intake: 26.0,
            away: Vec2::new(1.0, 0.0),
        };
        let field = Field::of(&dart).expect("a dart");
        let drawn = legs([Point::new(-13.0, 130.0), Point::new(13.0, 130.0)], dart.points.map(point));
        assert_eq!(drawn.len(), 4);
        for leg in drawn {
            for s in leg.segments().flat_map(|s| (0..=20).map(move |k| s.eval(f64::from(k) / 20.0))) {
                assert!((2.0 * s.x.abs() - field.width(s.y).0).abs() < 1e-9, "{s:?}");
            }
        }
    }
}
