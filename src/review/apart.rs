//! How far two outlines of one picture lie apart where they lie: nothing is laid on anything.

use crate::length::Mm;
use crate::write::path_from_text;
use kurbo::{BezPath, PathEl, Point};

/// Distance of the places that outlines are compared at, mm, and the most there are.
const STEP: f64 = 1.0;
const PLACES: usize = 4000;
/// How near a curve its polygon runs when outlines are compared, mm.
const FLAT: f64 = 0.02;
/// Share of places that lie no farther apart than is told.
const SHARE: f64 = 0.95;

/// How far two outlines (path data) lie apart: 95 % of places of both lie no farther than the first from the other one, and farthest at the
/// second. None where one of them has no length.
pub fn apart(a: &str, b: &str) -> Option<(f64, Mm)> {
    let (a, b) = (sides(a)?, sides(b)?);
    let mut far: Vec<(f64, Point)> = places(&a).into_iter().map(|p| (distance(p, &b), p)).collect();
    far.extend(places(&b).into_iter().map(|p| (distance(p, &a), p)));
    far.sort_by(|a, b| a.0.total_cmp(&b.0));
    let at = ((far.len() as f64 * SHARE).ceil() as usize).clamp(1, far.len()) - 1;
    let worst = far.last()?.1;
    Some((far[at].0, Mm::new(worst.x, worst.y)))
}

/// The straight sides of flattened path data.
fn sides(text: &str) -> Option<Vec<[Point; 2]>> {
    let path: BezPath = path_from_text(text).ok()?;
    let (mut out, mut at, mut first) = (Vec::new(), Point::ZERO, Point::ZERO);
    kurbo::flatten(path.iter(), FLAT, |el| match el {
        PathEl::MoveTo(p) => (at, first) = (p, p),
        PathEl::LineTo(p) => {
            out.push([at, p]);
            at = p;
        }
        PathEl::ClosePath => {
            out.push([at, first]);
            at = first;
        }
        _ => {}
    });
    out.retain(|[a, b]| a.distance(*b) > 0.0);
    let finite = out.iter().all(|s| s.iter().all(|p| p.is_finite()));
    (finite && !out.is_empty()).then_some(out)
}

/// Places at even distances along the sides.
fn places(sides: &[[Point; 2]]) -> Vec<Point> {
    let length: f64 = sides.iter().map(|[a, b]| a.distance(*b)).sum();
    let step = STEP.max(length / PLACES as f64);
    let (mut out, mut left) = (Vec::new(), 0.0);
    for [a, b] in sides {
        let long = a.distance(*b);
        while left < long {
            out.push(a.lerp(*b, left / long));
            left += step;
        }
        left -= long;
    }
    out
}

fn distance(p: Point, sides: &[[Point; 2]]) -> f64 {
    let off = |[a, b]: &[Point; 2]| {
        let leg = *b - *a;
        let t = ((p - *a).dot(leg) / leg.hypot2()).clamp(0.0, 1.0);
        (p - (*a + leg * t)).hypot2()
    };
    sides.iter().map(off).fold(f64::INFINITY, f64::min).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two squares of 100 mm, one moved by 2 mm to the right: two of four sides lie 2 mm apart.
    #[test]
    fn outlines_are_compared_both_ways() {
        let (off, _) = apart("M 0 0 L 100 0 L 100 100 L 0 100 Z", "M 2 0 L 102 0 L 102 100 L 2 100 Z").expect("both have sides");
        assert!((off - 2.0).abs() < 1e-9, "{off}");
        // A flap that only one of them has is a twentieth of neither, but the farthest place of both.
        let flap = "M 0 0 L 50 0 L 50 -3 L 51 -3 L 51 0 L 100 0 L 100 100 L 0 100 Z";
        let (off, at) = apart("M 0 0 L 100 0 L 100 100 L 0 100 Z", flap).expect("both have sides");
        assert!(off < 0.01 && at.y < -2.5, "{off} {at:?}");
        assert_eq!(apart("", flap), None);
        assert_eq!(apart("M 0 0", flap), None);
        assert_eq!(apart("no path", flap), None);
    }
}
