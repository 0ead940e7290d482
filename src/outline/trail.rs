//! The points made ready: bad ones dropped, order and start settled, thinned to about a millimetre, measured along.

use super::OutlineError;
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use nalgebra::Vector2;

/// Points nearer than this are joined to one site, mm. Errors of cloth are alike over a millimetre or more, so
/// nothing is lost; on a bend of 20 mm radius the mean of a millimetre lies 0.002 mm inside.
const SITE: f64 = 1.0;

/// Beyond this many points a path is thinned more coarsely, so that the work stays bounded.
const MOST_SITES: usize = 20_000;

/// Standard error taken for points that come without one, mm.
const UNKNOWN_ERROR: f64 = 0.1;

/// No point is trusted better than this, mm, so that one weight never outdoes all others.
const LEAST_ERROR: f64 = 1e-4;

/// A path whose box is smaller than this has no outline, mm.
const LEAST_SIZE: f64 = 0.5;

/// One thinned point.
#[derive(Clone, Copy, Debug)]
pub(super) struct Site {
    /// Where, mm.
    pub at: Vector2<f64>,
    /// Standard error along the normal, mm.
    pub error: f64,
    /// Distance along the line from the first site, mm.
    pub s: f64,
    /// Whether it lies on the frame.
    pub cut: bool,
}

/// An ordered, thinned line of points with distance along it.
#[derive(Clone, Debug)]
pub(super) struct Trail {
    /// Sites in order.
    pub sites: Vec<Site>,
    /// Whether the last joins the first.
    pub closed: bool,
    /// Length once round, or from end to end, mm.
    pub length: f64,
    /// Length over which errors are alike, mm.
    pub correlation: f64,
}

impl Trail {
    /// Makes a path ready; cloth lies on the right of the travel where normals tell, else a closed path runs clockwise.
    pub fn new(path: &SeamPath) -> Result<Self, OutlineError> {
        let mut points: Vec<&SeamPoint> =
            path.points.iter().filter(|p| p.at.is_finite() && p.at.x.abs() < 1e7 && p.at.y.abs() < 1e7).collect();
        points.dedup_by(|a, b| a.at.distance(b.at) < 1e-9);
        if path.closed && points.len() > 1 && points[0].at.distance(points[points.len() - 1].at) < 1e-9 {
            points.pop();
        }
        let least = if path.closed { 3 } else { 2 };
        if points.len() < least {
            return Err(OutlineError::TooFewPoints { found: points.len() });
        }
        let size = extent(&points);
        if size < LEAST_SIZE {
            return Err(OutlineError::TooSmall { size });
        }
        if path.closed {
            settle_turn(&mut points);
            let top = topmost(&points);
            points.rotate_left(top);
        }
        let correlation = if path.correlation_mm.is_finite() { path.correlation_mm.clamp(0.0, 50.0) } else { 0.0 };
        let mut trail =
            Self { sites: thin(&points, path.closed, correlation), closed: path.closed, length: 0.0, correlation: correlation.max(0.25) };
        if trail.sites.len() < least {
            return Err(OutlineError::TooSmall { size });
        }
        trail.measure();
        Ok(trail)
    }

    /// Mean distance of neighbouring sites, mm.
    pub fn step(&self) -> f64 {
        self.length / self.sites.len().max(1) as f64
    }

    /// How many sites say the same thing: the factor by which independent variances are too small.
    pub fn alike(&self) -> f64 {
        // An exponential correlation exp(-d/ℓ) sums to 2ℓ over both sides.
        (2.0 * self.correlation / self.step()).max(1.0)
    }

    /// Sites with `low <= s <= high`, in order, `s` continued past the join of a closed line (never twice round).
    pub fn between(&self, low: f64, high: f64) -> impl DoubleEndedIterator<Item = Site> + '_ {
        let n = self.sites.len();
        let (first, last) = if self.closed {
            let high = high.min(low + self.length - 1e-9);
            (self.rank(low), self.rank(high + 1e-12))
        } else {
            (self.rank(low).max(0), self.rank(high + 1e-12).min(n as i64))
        };
        (first..last.max(first)).map(move |k| self.unrolled(k))
    }

    /// Site `k`, counted past the join.
    fn unrolled(&self, k: i64) -> Site {
        let n = self.sites.len() as i64;
        let mut site = self.sites[k.rem_euclid(n) as usize];
        site.s += k.div_euclid(n) as f64 * self.length;
        site
    }

    /// Number of the first site with s not below the given one, counted past the join.
    fn rank(&self, s: f64) -> i64 {
        let n = self.sites.len() as i64;
        if !self.closed {
            return self.sites.partition_point(|t| t.s < s) as i64;
        }
        let rounds = (s / self.length).floor();
        rounds as i64 * n + self.sites.partition_point(|t| t.s < s - rounds * self.length) as i64
    }

    /// The point at distance `s`, on the chords.
    pub fn at(&self, s: f64) -> Vector2<f64> {
        let k = self.rank(s);
        let n = self.sites.len() as i64;
        if !self.closed && k <= 0 {
            return self.sites[0].at;
        }
        if !self.closed && k >= n {
            return self.sites[n as usize - 1].at;
        }
        let (a, b) = (self.unrolled(k - 1), self.unrolled(k));
        let t = if b.s > a.s { ((s - a.s) / (b.s - a.s)).clamp(0.0, 1.0) } else { 0.0 };
        a.at + (b.at - a.at) * t
    }

    /// Distance along the line of the place nearest to `p`, and how far off it is.
    pub fn nearest(&self, p: Mm) -> (f64, f64) {
        let p = p.vector();
        let n = self.sites.len();
        let chords = if self.closed { n } else { n - 1 };
        let mut best = (0.0, f64::INFINITY);
        for k in 0..chords {
            let (a, b) = (self.unrolled(k as i64), self.unrolled(k as i64 + 1));
            let d = b.at - a.at;
            let t = ((p - a.at).dot(&d) / d.norm_squared().max(1e-18)).clamp(0.0, 1.0);
            let off = (p - a.at - d * t).norm();
            if off < best.1 {
                best = (a.s + (b.s - a.s) * t, off);
            }
        }
        (if self.closed { best.0.rem_euclid(self.length) } else { best.0 }, best.1)
    }

    /// Distance from `a` forward to `b`.
    pub fn forward(&self, a: f64, b: f64) -> f64 {
        if self.closed { (b - a).rem_euclid(self.length) } else { b - a }
    }

    /// Distance along the line. Sites a millimetre apart are lengthened by noise of 0.1 mm by no more than a hundredth.
    fn measure(&mut self) {
        let n = self.sites.len();
        let mut s = 0.0;
        for k in 0..n {
            self.sites[k].s = s;
            s += (self.sites[(k + 1) % n].at - self.sites[k].at).norm().max(1e-6);
        }
        self.length = if self.closed { s } else { self.sites[n - 1].s };
    }
}

fn extent(points: &[&SeamPoint]) -> f64 {
    let span = |f: fn(&SeamPoint) -> f64| {
        let low = points.iter().map(|p| f(p)).fold(f64::INFINITY, f64::min);
        points.iter().map(|p| f(p)).fold(f64::NEG_INFINITY, f64::max) - low
    };
    span(|p| p.at.x).max(span(|p| p.at.y))
}

/// Turns the path so that cloth lies on its right as seen; without normals, so that it runs clockwise.
fn settle_turn(points: &mut [&SeamPoint]) {
    let n = points.len();
    let (mut left, mut right, mut area) = (0usize, 0usize, 0.0);
    for k in 0..n {
        let (a, b) = (points[k].at, points[(k + 1) % n].at);
        area += a.x * b.y - b.x * a.y;
        let d = points[(k + 1) % n].at - points[(k + n - 1) % n].at;
        let side = points[k].normal.x * d.y - points[k].normal.y * d.x;
        left += usize::from(side > 0.0);
        right += usize::from(side < 0.0);
    }
    // Normals speak only when nearly all agree; x right and y down, a positive area is clockwise.
    let backwards = if left.max(right) * 10 > n * 8 { right > left } else { area < 0.0 };
    if backwards {
        points.reverse();
    }
}

fn topmost(points: &[&SeamPoint]) -> usize {
    let mut best = 0;
    for (k, p) in points.iter().enumerate() {
        let b = points[best].at;
        if (p.at.y, p.at.x) < (b.y, b.x) {
            best = k;
        }
    }
    best
}

fn thin(points: &[&SeamPoint], closed: bool, correlation: f64) -> Vec<Site> {
    let total: f64 = points.windows(2).map(|w| w[0].at.distance(w[1].at)).sum();
    let reach = SITE.max(total / MOST_SITES as f64);
    let mut sites = Vec::new();
    let mut start = 0;
    while start < points.len() {
        let mut end = start + 1;
        // The ends of an open line stay as they are.
        let alone = |k: usize| !closed && (k == 0 || k + 1 == points.len());
        while end < points.len()
            && !alone(start)
            && !alone(end)
            && points[end].flags.cut == points[start].flags.cut
            && points[end].at.distance(points[start].at) < reach * 0.999
        {
            end += 1;
        }
        sites.push(join(&points[start..end], correlation));
        start = end;
    }
    sites
}

fn join(group: &[&SeamPoint], correlation: f64) -> Site {
    let mut at = Vector2::zeros();
    let (mut weight, mut variance) = (0.0, 0.0);
    for p in group {
        let e = if p.error.is_finite() && p.error > 0.0 { p.error.max(LEAST_ERROR) } else { UNKNOWN_ERROR };
        let e = if p.flags.unseen { e.max(UNKNOWN_ERROR * 10.0) } else { e };
        at += p.at.vector() / (e * e);
        weight += 1.0 / (e * e);
        variance += e * e;
    }
    let n = group.len() as f64;
    // Neighbours a fraction of a millimetre apart err alike, unless nothing says so.
    let independent = if correlation >= SITE / 2.0 { 1.0 } else { n };
    Site { at: at / weight, error: (variance / n / independent).sqrt(), s: 0.0, cut: group[0].flags.cut }
}
