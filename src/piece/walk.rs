//! Walking along an edge by its length.

use kurbo::{BezPath, ParamCurve, ParamCurveArclen, ParamCurveDeriv, PathSeg, Point, Vec2};

/// Accuracy of lengths along an edge, mm.
const ACCURACY: f64 = 1e-6;

/// A path by the distance along it, mm.
#[derive(Clone, Debug)]
pub struct Walk {
    segments: Vec<PathSeg>,
    /// Where each segment starts, and the whole length at the end.
    starts: Vec<f64>,
}

impl Walk {
    /// Makes a path ready to be walked. Segments without length are left out.
    pub fn of(path: &BezPath) -> Self {
        let mut walk = Self { segments: Vec::new(), starts: vec![0.0] };
        let mut far = 0.0;
        for segment in path.segments() {
            let long = segment.arclen(ACCURACY);
            if long > ACCURACY {
                far += long;
                walk.segments.push(segment);
                walk.starts.push(far);
            }
        }
        walk
    }

    /// Length of the whole, mm.
    pub fn length(&self) -> f64 {
        self.starts.last().copied().unwrap_or(0.0)
    }

    /// The part between the places nearest to two places.
    pub fn between(&self, places: [Point; 2]) -> BezPath {
        let [a, b] = places.map(|p| self.nearest(p).0);
        self.part(a.min(b), a.max(b))
    }

    /// The segment at a distance along and where within it.
    fn place(&self, s: f64) -> Option<(usize, f64)> {
        let last = self.segments.len().checked_sub(1)?;
        let s = s.clamp(0.0, self.length());
        let k = self.starts.partition_point(|&start| start <= s).saturating_sub(1).min(last);
        let within = (s - self.starts[k]).min(self.starts[k + 1] - self.starts[k]);
        let t = match self.segments[k] {
            PathSeg::Line(_) => within / (self.starts[k + 1] - self.starts[k]),
            other => other.inv_arclen(within, ACCURACY),
        };
        Some((k, t.clamp(0.0, 1.0)))
    }

    /// The point `s` mm along; ends hold beyond the ends.
    pub fn at(&self, s: f64) -> Point {
        self.place(s).map_or(Point::ZERO, |(k, t)| self.segments[k].eval(t))
    }

    /// The direction of the path `s` mm along, of length 1.
    pub fn along(&self, s: f64) -> Vec2 {
        self.place(s).map_or(Vec2::ZERO, |(k, t)| direction(&self.segments[k], t))
    }

    /// The stretch from `a` to `b` mm along, as an open path.
    pub fn part(&self, a: f64, b: f64) -> BezPath {
        let mut out = BezPath::new();
        let (Some((i, t)), Some((j, u))) = (self.place(a), self.place(b)) else { return out };
        for k in i..=j {
            let from = if k == i { t } else { 0.0 };
            let to = if k == j { u } else { 1.0 };
            if to - from > 1e-12 {
                let piece = self.segments[k].subsegment(from..to);
                if out.is_empty() {
                    out.move_to(piece.start());
                }
                out.push(piece.as_path_el());
            }
        }
        out
    }

    /// How far along the point of the path nearest to `p` lies, and its distance, both mm.
    pub fn nearest(&self, p: Point) -> (f64, f64) {
        let mut best = (0.0, f64::INFINITY);
        for (k, segment) in self.segments.iter().enumerate() {
            let near = kurbo::ParamCurveNearest::nearest(segment, p, 1e-6);
            let off = near.distance_sq.sqrt();
            if off < best.1 {
                best = (self.starts[k] + segment.subsegment(0.0..near.t).arclen(ACCURACY), off);
            }
        }
        best
    }

    /// Distances along it at most `step` apart, from end to end, both included.
    pub fn steps(&self, step: f64) -> Vec<f64> {
        let n = (self.length() / step).ceil().max(1.0) as usize;
        (0..=n).map(|k| self.length() * k as f64 / n as f64).collect()
    }
}

/// Direction of a segment at `t`, of length 1; where a handle has no length, that of the chord onwards.
pub(super) fn direction(segment: &PathSeg, t: f64) -> Vec2 {
    if let PathSeg::Line(l) = segment {
        let d = l.p1 - l.p0;
        return if d.hypot() > 0.0 { d.normalize() } else { Vec2::ZERO };
    }
    let cubic = segment.to_cubic();
    let d = cubic.deriv().eval(t).to_vec2();
    if d.hypot() > 1e-9 {
        return d.normalize();
    }
    let (a, b) = if t < 0.5 { (t, t + 1e-3) } else { (t - 1e-3, t) };
    let chord = cubic.eval(b) - cubic.eval(a);
    if chord.hypot() > 0.0 { chord.normalize() } else { Vec2::ZERO }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(text: &str) -> BezPath {
        BezPath::from_svg(text).expect("path data")
    }

    /// The arch's length by numerical quadrature of another program: 204.829257656.
    #[test]
    fn an_arch_is_walked_from_end_to_end() {
        let walk = Walk::of(&path("M0,0 C30,90 120,80 150,10 L 150 -10"));
        assert!((walk.length() - 224.829_257_656).abs() < 1e-5);
        assert!(walk.at(214.829_257_656).distance(Point::new(150.0, 0.0)) < 1e-5);
        assert!((walk.along(1e9) - Vec2::new(0.0, -1.0)).hypot() < 1e-12);
        let (a, b) = (Walk::of(&walk.part(0.0, 50.0)).length(), Walk::of(&walk.part(50.0, 400.0)).length());
        assert!((a - 50.0).abs() < 1e-5 && (a + b - walk.length()).abs() < 1e-5);
        let (s, off) = walk.nearest(Point::new(155.0, 0.0));
        assert!((s - 214.829_257_656).abs() < 1e-5 && (off - 5.0).abs() < 1e-9);
    }

    #[test]
    fn nothing_to_walk() {
        let walk = Walk::of(&BezPath::new());
        assert_eq!((walk.length(), walk.at(3.0)), (0.0, Point::ZERO));
        assert!(walk.part(0.0, 1.0).is_empty());
    }
}
