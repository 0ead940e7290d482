//! A drawn line through what a rule gives along it: few cubics that touch the rule's tangents at their joints.

use kurbo::{BezPath, ParamCurve, Point, Vec2};

/// How far the drawing may leave the rule, mm.
const TOLERANCE: f64 = 0.01;
/// Most cubics to one line.
const MOST: usize = 256;

/// Draws the line that `rule` gives for shares 0 to 1 along it, each with its derivative by the share. Cubics of equal
/// shares by Hermite's interpolation, twice as many until they hold; a line where one does.
pub(super) fn through(rule: impl Fn(f64) -> (Point, Vec2)) -> BezPath {
    let (a, b) = (rule(0.0).0, rule(1.0).0);
    if (1..16).all(|k| off_chord(rule(f64::from(k) / 16.0).0, a, b) < 1e-4) {
        let mut line = BezPath::new();
        line.move_to(a);
        line.line_to(b);
        return line;
    }
    let mut n = 1;
    loop {
        let path = drawn(&rule, n);
        if n >= MOST || holds(&path, &rule, n) {
            return path;
        }
        n *= 2;
    }
}

fn off_chord(p: Point, a: Point, b: Point) -> f64 {
    let d = b - a;
    if d.hypot() < 1e-12 { p.distance(a) } else { (p - a).cross(d).abs() / d.hypot() }
}

fn drawn(rule: &impl Fn(f64) -> (Point, Vec2), n: usize) -> BezPath {
    let mut path = BezPath::new();
    path.move_to(rule(0.0).0);
    for k in 0..n {
        let ((a, da), (b, db)) = (rule(k as f64 / n as f64), rule((k + 1) as f64 / n as f64));
        let third = 1.0 / (3.0 * n as f64);
        path.curve_to(a + da * third, b - db * third, b);
    }
    path
}

fn holds(path: &BezPath, rule: &impl Fn(f64) -> (Point, Vec2), n: usize) -> bool {
    path.segments().enumerate().all(|(k, s)| {
        (1..4).all(|q| {
            let t = f64::from(q) / 4.0;
            s.eval(t).distance(rule((k as f64 + t) / n as f64).0) < TOLERANCE
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circle's arc: radius everywhere as it should be.
    #[test]
    fn an_arc_and_a_line() {
        let arc = through(|t| {
            let (s, c) = (2.0 * t).sin_cos();
            (Point::new(100.0 * c, 100.0 * s), Vec2::new(-200.0 * s, 200.0 * c))
        });
        assert!(arc.segments().count() <= 8);
        for s in arc.segments() {
            assert!((0..=10).all(|k| (s.eval(f64::from(k) / 10.0).to_vec2().hypot() - 100.0).abs() < TOLERANCE));
        }
        let line = through(|t| (Point::new(3.0 * t, 4.0 * t), Vec2::new(3.0, 4.0)));
        assert_eq!(line.to_svg(), "M0,0 L3,4");
    }
}
