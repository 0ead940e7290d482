//! Where two lines cross, and whether a closed line crosses itself.

use kurbo::{ParamCurve, PathSeg, Point, Rect, Shape};

/// Crossings are found to this accuracy, mm.
const CLOSE: f64 = 1e-7;
/// Halvings of a segment before a box counts as a point.
const DEPTH: usize = 48;
/// More crossings than two stretches of pattern can have: they lie on one another.
const MOST: usize = 64;

/// A place where two paths cross: number of the segment and place within it, of either.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Crossing {
    /// On the first path.
    pub a: (usize, f64),
    /// On the second.
    pub b: (usize, f64),
    /// Where.
    pub at: Point,
}

/// All crossings of two paths. Stretches that lie on one another give some of their points.
pub(super) fn crossings(a: &[PathSeg], b: &[PathSeg]) -> Vec<Crossing> {
    let mut out: Vec<Crossing> = Vec::new();
    for (i, p) in a.iter().enumerate() {
        for (j, q) in b.iter().enumerate() {
            let mut found = Vec::new();
            meet(&Part::of(*p), &Part::of(*q), DEPTH, &mut found);
            for (t, u) in found {
                let at = p.eval(t);
                if out.iter().all(|c| c.at.distance(at) > 1e-4) {
                    out.push(Crossing { a: (i, t), b: (j, u), at });
                }
            }
        }
    }
    out
}

/// A stretch of a segment with its box.
struct Part {
    whole: PathSeg,
    from: f64,
    to: f64,
    hull: Rect,
}

impl Part {
    fn of(whole: PathSeg) -> Self {
        Self::between(whole, 0.0, 1.0)
    }

    fn between(whole: PathSeg, from: f64, to: f64) -> Self {
        // The box of the control points holds the curve and costs no roots.
        let hull = match whole.subsegment(from..to) {
            PathSeg::Line(l) => Rect::from_points(l.p0, l.p1),
            PathSeg::Quad(q) => Rect::from_points(q.p0, q.p1).union_pt(q.p2),
            PathSeg::Cubic(c) => Rect::from_points(c.p0, c.p1).union_pt(c.p2).union_pt(c.p3),
        };
        Self { whole, from, to, hull }
    }

    fn size(&self) -> f64 {
        self.hull.width().max(self.hull.height())
    }

    fn halves(&self) -> [Self; 2] {
        let middle = 0.5 * (self.from + self.to);
        [Self::between(self.whole, self.from, middle), Self::between(self.whole, middle, self.to)]
    }
}

fn meet(a: &Part, b: &Part, depth: usize, out: &mut Vec<(f64, f64)>) {
    let (p, q) = (a.hull.inflate(CLOSE, CLOSE), b.hull);
    if out.len() >= MOST || p.x0 > q.x1 || q.x0 > p.x1 || p.y0 > q.y1 || q.y0 > p.y1 {
        return;
    }
    if let (PathSeg::Line(p), PathSeg::Line(q)) = (a.whole, b.whole) {
        let (d, e) = (p.p1 - p.p0, q.p1 - q.p0);
        let det = d.cross(e);
        if det.abs() > 1e-12 * d.hypot() * e.hypot() {
            let (t, u) = ((q.p0 - p.p0).cross(e) / det, (q.p0 - p.p0).cross(d) / det);
            let (slack_t, slack_u) = (CLOSE / d.hypot(), CLOSE / e.hypot());
            if t > -slack_t && t < 1.0 + slack_t && u > -slack_u && u < 1.0 + slack_u {
                out.push((t.clamp(0.0, 1.0), u.clamp(0.0, 1.0)));
            }
        }
        return;
    }
    if depth == 0 || (a.size() < CLOSE && b.size() < CLOSE) {
        out.push((0.5 * (a.from + a.to), 0.5 * (b.from + b.to)));
        return;
    }
    let (long, short) = if a.size() >= b.size() { (a, b) } else { (b, a) };
    for half in long.halves() {
        if a.size() >= b.size() { meet(&half, short, depth - 1, out) } else { meet(short, &half, depth - 1, out) }
    }
}

/// Where a closed line through points crosses itself: numbers of the two stretches and the place.
pub(super) fn self_crossing(points: &[Point]) -> Option<(usize, usize, Point)> {
    let n = points.len();
    let side = |k: usize| (points[k], points[(k + 1) % n]);
    let left = |k: usize| side(k).0.x.min(side(k).1.x);
    let right = |k: usize| side(k).0.x.max(side(k).1.x);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| left(a).total_cmp(&left(b)).then(a.cmp(&b)));
    let mut open: Vec<usize> = Vec::new();
    let mut first: Option<(usize, usize, Point)> = None;
    for &k in &order {
        open.retain(|&o| right(o) >= left(k));
        for &o in &open {
            let (i, j) = (k.min(o), k.max(o));
            let neighbours = j - i <= 1 || j - i == n - 1;
            if !neighbours
                && let Some(at) = cross(side(i), side(j))
                && first.is_none_or(|f| (i, j) < (f.0, f.1))
            {
                first = Some((i, j, at));
            }
        }
        open.push(k);
    }
    first
}

/// Where two straight stretches properly cross.
fn cross((a, b): (Point, Point), (c, d): (Point, Point)) -> Option<Point> {
    let turn = |p: Point, q: Point, r: Point| (q - p).cross(r - p);
    let (t0, t1) = (turn(c, d, a), turn(c, d, b));
    let (u0, u1) = (turn(a, b, c), turn(a, b, d));
    (t0 * t1 < 0.0 && u0 * u1 < 0.0).then(|| a.lerp(b, t0 / (t0 - t1)))
}

/// Points along segments, no chord further than `tolerance` mm from the curve, the last point left out; each with its segment.
pub(super) fn flattened(segments: &[PathSeg], tolerance: f64) -> Vec<(usize, Point)> {
    let mut out = Vec::new();
    for (k, s) in segments.iter().enumerate() {
        out.push((k, s.start()));
        if !matches!(s, PathSeg::Line(_)) {
            kurbo::flatten(s.to_path(tolerance).elements().iter().copied(), tolerance, |el| {
                if let kurbo::PathEl::LineTo(p) = el
                    && p.distance(s.end()) > 1e-9
                {
                    out.push((k, p));
                }
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::BezPath;

    fn segments(text: &str) -> Vec<PathSeg> {
        BezPath::from_svg(text).expect("path data").segments().collect()
    }

    #[test]
    fn a_line_cuts_a_parabola_twice() {
        // y = x² as a cubic, and y = 1/4: x = ±1/2 (calculus).
        let parabola = segments("M -1 1 C -0.3333333333333333 -0.3333333333333333 0.3333333333333333 -0.3333333333333333 1 1");
        let found = crossings(&parabola, &segments("M -2 0.25 L 2 0.25"));
        assert_eq!(found.len(), 2, "{found:?}");
        for (c, x) in found.iter().zip([-0.5, 0.5]) {
            assert!((c.at.x - x).abs() < 1e-6 && (c.at.y - 0.25).abs() < 1e-6, "{c:?}");
        }
        assert!(crossings(&parabola, &segments("M -2 -0.1 L 2 -0.1")).is_empty());
    }

    #[test]
    fn ends_that_touch_cross() {
        let found = crossings(&segments("M 0 0 L 10 0"), &segments("M 10 0 C 12 3 12 6 10 9"));
        assert!(found.iter().any(|c| c.at.distance(Point::new(10.0, 0.0)) < 1e-6), "{found:?}");
    }

    #[test]
    fn an_eight_crosses_itself_and_a_ring_does_not() {
        let eight = [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)].map(Point::from);
        let (i, j, at) = self_crossing(&eight).expect("it does");
        assert_eq!((i, j), (0, 2));
        assert!(at.distance(Point::new(5.0, 5.0)) < 1e-9);
        let ring = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)].map(Point::from);
        assert!(self_crossing(&ring).is_none());
    }

    #[test]
    fn flat_pieces_of_a_curve_stay_near_it() {
        let arch = segments("M0,0 C30,90 120,80 150,10 L 150 -10");
        let points = flattened(&arch, 0.01);
        assert!(points.len() > 20 && points.iter().filter(|p| p.0 == 1).count() == 1);
        assert!(points.iter().all(|p| kurbo::ParamCurveNearest::nearest(&arch[p.0], p.1, 1e-9).distance_sq < 1e-4));
    }
}
