//! A path in millimetres, evenly stepped, with normals: what a band is unrolled along.

use crate::length::Mm;
use nalgebra::Vector2;

/// An evenly stepped path.
#[derive(Clone, Debug)]
pub(super) struct Guide {
    /// The points, `step` apart.
    pub at: Vec<Mm>,
    /// Unit normals, to the left of the walk as seen (out of the cloth for a rim).
    pub normal: Vec<Vector2<f64>>,
    /// Signed curvature at each point, 1/mm, positive where the side the normals point away from is convex.
    pub bend: Vec<f64>,
    /// Distance of neighbouring points, mm.
    pub step: f64,
    /// Whether the last point joins the first.
    pub closed: bool,
}

impl Guide {
    /// Steps along `points` every `step` mm or a little less, after smoothing by a Gaussian of `smooth` mm.
    ///
    /// `None` when the path is shorter than a few steps or holds numbers that are not finite.
    pub fn new(points: &[Mm], closed: bool, step: f64, smooth: f64) -> Option<Self> {
        let (at, step) = resample(points, closed, step)?;
        let at = if smooth > 0.0 { blur(&at, closed, smooth / step) } else { at };
        let (at, step) = resample(&at, closed, step)?;
        // Normals look a millimetre either way, so that pixel noise of the path does not turn them.
        let span = ((1.0 / step).round() as usize).max(1);
        let n = at.len();
        let ahead = |k: usize| if closed { at[(k + span) % n] } else { at[(k + span).min(n - 1)] };
        let behind = |k: usize| if closed { at[(k + n - span % n) % n] } else { at[k.saturating_sub(span)] };
        let normal: Vec<_> = (0..n)
            .map(|k| {
                let t = ahead(k) - behind(k);
                Vector2::new(t.y, -t.x).try_normalize(1e-12).unwrap_or(Vector2::new(0.0, -1.0))
            })
            .collect();
        let bend = (0..n)
            .map(|k| {
                let (a, b) = (at[k] - behind(k), ahead(k) - at[k]);
                let length = 0.5 * (a.norm() + b.norm());
                if length > 0.0 { a.perp(&b).atan2(a.dot(&b)) / length } else { 0.0 }
            })
            .collect();
        Some(Self { at, normal, bend, step, closed })
    }

    /// The same round a closed path, without its barbs: short ways out and back that leave the path going on as it came. A band
    /// unrolled along one would fold over, and show neither side of the edge.
    pub fn round(points: &[Mm], step: f64, smooth: f64) -> Option<Self> {
        let (at, step) = resample(points, true, step)?;
        Self::new(&unbarbed(&at, step), true, step, smooth)
    }

    /// Number of points.
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// The path shifted by `offset[k]` mm along the normal of each point.
    pub fn shifted(&self, offset: &[f64]) -> Vec<Mm> {
        self.at.iter().zip(&self.normal).zip(offset).map(|((p, n), o)| *p + n * *o).collect()
    }
}

/// A way round this long at most, mm, may be a barb.
const BARB: f64 = 12.0;
/// A barb is left out where going straight takes less than this share of its way.
const SHORT: f64 = 0.5;
/// The path goes on after a barb as it came, to this cosine; at a corner it does not.
const ONWARD: f64 = 0.7;
/// How far on either side of a barb its direction is taken from, mm.
const APPROACH: f64 = 3.0;

/// A closed path, stepped every `step` mm, without its barbs.
fn unbarbed(at: &[Mm], step: f64) -> Vec<Mm> {
    let n = at.len();
    let (longest, approach) = ((BARB / step) as usize, ((APPROACH / step) as usize).max(1));
    if n < 4 * (longest + approach) {
        return at.to_vec();
    }
    let p = |k: usize| at[if k < n { k } else { k - n }];
    let goes_on = |i: usize, j: usize| {
        let (before, after) = (p(i) - p(i + n - approach), p(j + approach) - p(j));
        before.dot(&after) > ONWARD * before.norm() * after.norm()
    };
    let barb = |i: usize| {
        let mut d = longest;
        while d >= 4 {
            let far = p(i).distance(p(i + d)) / step;
            if far < SHORT * d as f64 && goes_on(i, i + d) {
                return Some(d);
            }
            // A step back along the path comes nearer by a step at most, so that where it runs on there is nothing to ask for long.
            d = (d - 1).min(((d as f64 - far) / (1.0 - SHORT) + 1.0).max(0.0) as usize);
        }
        None
    };
    let (mut out, mut k) = (Vec::with_capacity(n), 0);
    while k < n {
        out.push(at[k]);
        k += barb(k).unwrap_or(1);
    }
    out
}

/// Points every `step` mm (a little less, so that they divide the length) along straight joins.
fn resample(points: &[Mm], closed: bool, step: f64) -> Option<(Vec<Mm>, f64)> {
    if points.len() < 2 || points.iter().any(|p| !p.is_finite()) {
        return None;
    }
    let legs = if closed { points.len() } else { points.len() - 1 };
    let end = |k: usize| points[(k + 1) % points.len()];
    let length: f64 = (0..legs).map(|k| points[k].distance(end(k))).sum();
    let n = (length / step).ceil() as usize;
    // Eight steps is the least that has a direction and a bend everywhere.
    if !(8..=10_000_000).contains(&n) {
        return None;
    }
    let step = length / n as f64;
    let count = if closed { n } else { n + 1 };
    let mut out = Vec::with_capacity(count);
    let (mut leg, mut passed) = (0, 0.0);
    for k in 0..count {
        let s = k as f64 * step;
        let mut d = points[leg].distance(end(leg));
        while passed + d < s && leg + 1 < legs {
            passed += d;
            leg += 1;
            d = points[leg].distance(end(leg));
        }
        out.push(points[leg].lerp(end(leg), if d > 0.0 { ((s - passed) / d).min(1.0) } else { 0.0 }));
    }
    Some((out, step))
}

/// Gaussian along the path, `sigma` in points; an open path keeps its ends.
fn blur(at: &[Mm], closed: bool, sigma: f64) -> Vec<Mm> {
    let n = at.len() as isize;
    let reach = ((2.5 * sigma).ceil() as isize).min(n / 2 - 1).max(0);
    let weights: Vec<f64> = (0..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
    (0..n)
        .map(|k| {
            // An open path is blurred over a window that shrinks towards its ends, which leaves the ends in place.
            let reach = if closed { reach } else { reach.min(k).min(n - 1 - k) };
            let (mut sum, mut total) = (at[k as usize].vector() * weights[0], weights[0]);
            for d in 1..=reach {
                let w = weights[d as usize];
                sum += (at[(k + d).rem_euclid(n) as usize].vector() + at[(k - d).rem_euclid(n) as usize].vector()) * w;
                total += 2.0 * w;
            }
            Mm::from(sum / total)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn circle_has_outward_normals_and_its_curvature() {
        // Clockwise as seen: y grows down, so the angle grows.
        let points: Vec<_> = (0..720).map(|k| (k as f64).to_radians() / 2.0).map(|a| Mm::new(20.0 * a.cos(), 20.0 * a.sin())).collect();
        let guide = Guide::new(&points, true, 0.25, 1.0).expect("a good circle");
        for k in 0..guide.len() {
            assert!(guide.normal[k].dot(&guide.at[k].vector().normalize()) > 0.9999);
            assert!((guide.bend[k] - 0.05).abs() < 2e-3);
            // Gaussian smoothing shrinks a circle by sigma² / 2R.
            assert!((guide.at[k].vector().norm() - (20.0 - 1.0 / 40.0)).abs() < 0.01);
        }
    }

    #[test]
    fn open_paths_keep_their_ends() {
        let points = [Mm::new(0.0, 0.0), Mm::new(5.0, 3.0), Mm::new(10.0, 0.0)];
        let guide = Guide::new(&points, false, 0.5, 1.0).expect("a good path");
        assert!(guide.at[0].distance(points[0]) < 1e-9);
        assert!(guide.at[guide.len() - 1].distance(points[2]) < 1e-9);
    }

    #[test]
    fn barbs_go_and_corners_stay() {
        let side = |from: Mm, to: Mm| (0..400).map(move |k| from.lerp(to, f64::from(k) / 400.0));
        let corner = [Mm::new(0.0, 0.0), Mm::new(80.0, 0.0), Mm::new(80.0, 80.0), Mm::new(0.0, 80.0)];
        let plain: Vec<Mm> = (0..4).flat_map(|k| side(corner[k], corner[(k + 1) % 4])).collect();
        assert_eq!(unbarbed(&plain, 0.2), plain);
        let mut barbed = plain.clone();
        barbed.splice(200..204, (0..30).map(|k| Mm::new(40.0 + 0.02 * f64::from(k), -0.2 * f64::from(15 - (k - 15i32).abs()))));
        let (away, found) = (|p: &Mm| p.x.min(p.y).min(80.0 - p.x).min(80.0 - p.y), unbarbed(&barbed, 0.2));
        assert!(barbed.iter().map(away).fold(0.0, f64::min) < -2.9 && found.iter().map(away).fold(0.0, f64::min) > -0.7);
        assert!(found.len() + 65 > plain.len());
    }

    #[test]
    fn nothing_to_follow() {
        assert!(Guide::new(&[Mm::new(1.0, 1.0); 5], true, 0.25, 1.0).is_none());
        assert!(Guide::new(&[Mm::new(1.0, f64::NAN), Mm::new(9.0, 9.0)], false, 0.25, 1.0).is_none());
    }
}
