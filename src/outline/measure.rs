//! Lengths and areas of outlines.

use crate::length::Mm;
use kurbo::{BezPath, PathSeg, Point, Shape as _};

/// Accuracy of lengths, mm: far below anything that can be cut.
const LENGTH_ACCURACY: f64 = 1e-6;

/// Signed area of a closed path in mm², positive when it runs clockwise as seen (x right, y down). By Green's
/// theorem, exact for cubics.
pub fn signed_area(path: &BezPath) -> f64 {
    path.segments().map(|s| area_under(&s)).sum()
}

/// Length of a path in mm.
pub fn length(path: &BezPath) -> f64 {
    path.perimeter(LENGTH_ACCURACY)
}

/// A path through points by straight lines, closed or not.
pub fn polygon(points: &[Mm], closed: bool) -> BezPath {
    let mut path = BezPath::new();
    for (k, p) in points.iter().enumerate() {
        let p = Point::new(p.x, p.y);
        if k == 0 { path.move_to(p) } else { path.line_to(p) }
    }
    if closed && !points.is_empty() {
        path.close_path();
    }
    path
}

/// Half the integral of x dy - y dx along one cubic.
fn area_under(segment: &PathSeg) -> f64 {
    let c = segment.to_cubic();
    let cross = |a: Point, b: Point| a.x * b.y - b.x * a.y;
    (6.0 * cross(c.p0, c.p1)
        + 3.0 * cross(c.p0, c.p2)
        + cross(c.p0, c.p3)
        + 3.0 * cross(c.p1, c.p2)
        + 3.0 * cross(c.p1, c.p3)
        + 6.0 * cross(c.p2, c.p3))
        / 20.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(text: &str) -> BezPath {
        BezPath::from_svg(text).expect("path data")
    }

    /// Quarter circles with the handle 4/3 (√2 - 1), of radius 1: not a circle. Area of four and length of one by
    /// exact integration of the cubic; the handle is the well-known one (Mortensen, "Approximate a circle with
    /// cubic Bézier curves").
    #[test]
    fn quarter_circles_of_four_cubics() {
        let k = 0.552_284_749_830_793_5;
        let text = format!("M1 0C1 {k} {k} 1 0 1C-{k} 1 -1 {k} -1 0C-1 -{k} -{k} -1 0 -1C{k} -1 1 -{k} 1 0Z");
        assert!((signed_area(&path(&text)) - 3.142_472_332_656_5).abs() < 1e-12);
        let quarter = path(&format!("M1 0C1 {k} {k} 1 0 1"));
        assert!((length(&quarter) - 1.571_016_698_073_9).abs() < 1e-9);
    }

    /// Green's theorem for a cubic by hand: a cap of 200 by 75, and a half integral of -6480; lengths by numerical
    /// quadrature of another program.
    #[test]
    fn cap_and_arch() {
        let cap = path("M300,140 C300,40 500,40 500,140 Z");
        assert!((signed_area(&cap).abs() - 12_000.0).abs() < 1e-9);
        assert!((length(&path("M300,140 C300,40 500,40 500,140")) - 278.931_385_132).abs() < 1e-6);
        let arch = path("M0,0 C30,90 120,80 150,10");
        assert!((signed_area(&arch) + 6480.0).abs() < 1e-9, "{}", signed_area(&arch));
        assert!((length(&arch) - 204.829_257_656).abs() < 1e-6);
    }

    /// Length of y = x² from 0 to 1 is √5/2 + asinh(2)/4: calculus.
    #[test]
    fn parabola() {
        let p = path("M0,0 C0.3333333333333333,0 0.6666666666666666,0.3333333333333333 1,1");
        assert!((length(&p) - (5f64.sqrt() / 2.0 + 2f64.asinh() / 4.0)).abs() < 1e-7);
    }

    /// Perimeter of an ellipse by the arithmetic-geometric mean (Gauss); 3, 2 → 15.86543958929058979 is a published
    /// value. Drawn with many cubics the length must come to it.
    #[test]
    fn ellipse_perimeters() {
        for (a, b, want) in [
            (3.0, 2.0, 15.865_439_589_290_59),
            (9.0, 8.0, 53.453_285_002_971_88),
            (2.0, 1.0, 9.688_448_220_548),
            (5.0, 1.0, 21.010_044_539_689),
            (300.0, 200.0, 1_586.543_958_929_059),
            (100.0, 50.0, 484.422_411_027_384),
        ] {
            let ellipse = kurbo::Ellipse::new((0.0, 0.0), (a, b), 0.0).to_path(1e-9 * a);
            assert!((length(&ellipse) / want - 1.0).abs() < 1e-7, "{a} {b}: {}", length(&ellipse));
            assert!((signed_area(&ellipse).abs() / (std::f64::consts::PI * a * b) - 1.0).abs() < 1e-7);
        }
    }

    #[test]
    fn clockwise_as_seen_is_positive() {
        let square = polygon(&[Mm::new(0.0, 0.0), Mm::new(10.0, 0.0), Mm::new(10.0, 5.0), Mm::new(0.0, 5.0)], true);
        assert!((signed_area(&square) - 50.0).abs() < 1e-12);
        assert!((length(&square) - 30.0).abs() < 1e-9);
    }
}
