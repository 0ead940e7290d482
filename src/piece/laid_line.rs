//! An edge as a line that others are held against: where it passes a place, along that place's normal.

use super::layer::mm;
use super::walk::Walk;
use crate::solve::Similarity;
use kurbo::BezPath;
use nalgebra::Vector2;

/// Length of its legs, mm: on a bend of 20 mm radius a leg is 0.002 mm off the curve.
const LEG: f64 = 0.5;
/// The edge goes on straight beyond its ends by so much, mm: another laying's corner may lie further on.
const BEYOND: f64 = 40.0;
/// It is sought this far to either side, mm.
const REACH: f64 = 60.0;

/// The edge by legs, each with the distance along where it starts.
pub(super) struct LaidLine {
    points: Vec<(Vector2<f64>, f64)>,
    /// Its length, mm.
    pub length: f64,
}

impl LaidLine {
    /// The line of an edge; a closed one has no ends to go on from.
    pub fn of(path: &BezPath, closed: bool) -> Self {
        let walk = Walk::of(path);
        let long = walk.length();
        if long <= 0.0 {
            return Self { points: Vec::new(), length: 0.0 };
        }
        let mut points: Vec<(Vector2<f64>, f64)> = walk.steps(LEG).into_iter().map(|s| (mm(walk.at(s)).vector(), s)).collect();
        if !closed {
            let (a, b) = (walk.along(0.0), walk.along(long));
            let (first, last) = (points[0].0, points[points.len() - 1].0);
            points.insert(0, (first - Vector2::new(a.x, a.y) * BEYOND, -BEYOND));
            points.push((last + Vector2::new(b.x, b.y) * BEYOND, long + BEYOND));
        }
        Self { points, length: long }
    }

    /// Whether the edge has no length.
    pub fn is_empty(&self) -> bool {
        self.points.len() < 2
    }

    /// For each place and normal where the moved line passes it: how far along the edge (within its ends), and how far out, mm.
    pub fn passes(&self, places: impl Iterator<Item = (Vector2<f64>, Vector2<f64>)>, by: &Similarity) -> Vec<Option<(f64, f64)>> {
        let moved: Vec<(Vector2<f64>, f64)> = self.points.iter().map(|(p, s)| (by.apply(*p), *s)).collect();
        places.map(|(at, normal)| pass(&moved, at, normal).map(|(s, off)| (s.clamp(0.0, self.length), off))).collect()
    }
}

/// The nearest crossing of a normal with the legs.
fn pass(legs: &[(Vector2<f64>, f64)], at: Vector2<f64>, normal: Vector2<f64>) -> Option<(f64, f64)> {
    let mut best: Option<(f64, f64)> = None;
    for pair in legs.windows(2) {
        let ((a, s), (b, t)) = (pair[0], pair[1]);
        // How far to either side of the normal's line both ends lie.
        let (u, v) = (normal.perp(&(a - at)), normal.perp(&(b - at)));
        if (u > 0.0) == (v > 0.0) || u == v {
            continue;
        }
        let share = u / (u - v);
        let off = normal.dot(&(a + (b - a) * share - at));
        if off.abs() <= REACH && best.is_none_or(|(_, o)| off.abs() < o.abs()) {
            best = Some((s + (t - s) * share, off));
        }
    }
    best
}
