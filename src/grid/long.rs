//! Strokes joined to long lines across what hides them in between.

use super::stroke::Stroke;
use crate::shot::to_picture;
use crate::solve::Line;
use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};

/// A line in the picture, gently bent by the lens, seen in one or several stretches.
#[derive(Clone, Debug)]
pub(super) struct Long {
    /// A point near its middle.
    middle: Vector2<f64>,
    /// Unit direction there.
    pub way: Vector2<f64>,
    /// Offset across at t (the place along `way` over `half`): a + b t + c t², px.
    bend: Vector3<f64>,
    /// Covariance of those.
    covariance: Matrix3<f64>,
    /// Half of its length from first to last point, px.
    half: f64,
    /// Length in view, px.
    pub length: f64,
    /// Where it was seen, px.
    pub points: Vec<Vector2<f64>>,
}

/// Most strokes looked at, longest first: cloth has thousands of short ones.
const MOST: usize = 400;
/// Shortest stretch of a line, in diagonals of the picture.
const STRETCH: f64 = 0.025;
/// Shortest line of use once its place is known.
const STUB: f64 = 0.05;
/// Spread of the points of one stroke about a smooth line, px of the level …
const ROUGH: f64 = 0.4;
/// … and how many of them in a row err alike.
const ALIKE: f64 = 6.0;
/// How far a lens bends a line between its middle and its end, as a share of half its length.
const BENT: f64 = 0.01;
/// Cosine of the angle within which a stroke may go on in another (4°).
const ON: f64 = 0.9976;
/// A stroke further off than this share of the picture's diagonal is none of the line's, however badly that is known.
const OFF: f64 = 0.012;

/// Points of one stroke, px of the picture.
pub(super) type Part = Vec<Vector2<f64>>;

/// The strokes that can be stretches of long lines, longest first.
pub(super) fn parts(strokes: &[Stroke], factor: usize, size: [usize; 2]) -> Vec<Part> {
    let diagonal = (size[0] as f64).hypot(size[1] as f64);
    let mut parts: Vec<Part> = strokes
        .iter()
        .map(|s| s.points.iter().map(|p| to_picture(factor, f64::from(p.x), f64::from(p.y)).vector()).collect::<Vec<_>>())
        .filter(|p| chord(p) > STRETCH * diagonal)
        .collect();
    parts.sort_by(|a, b| chord(b).total_cmp(&chord(a)));
    parts.truncate(MOST);
    parts
}

/// All lines of at least so many diagonals of the picture, those most in view first.
pub(super) fn longs(parts: &[Part], factor: usize, size: [usize; 2], shortest: f64) -> Vec<Long> {
    let diagonal = (size[0] as f64).hypot(size[1] as f64);
    let mut taken = vec![false; parts.len()];
    let mut all = Vec::new();
    for k in 0..parts.len() {
        if taken[k] {
            continue;
        }
        let Some(mut line) = Long::fit(parts[k].clone(), factor) else { continue };
        if !line.holds(&parts[k], factor, diagonal) {
            continue;
        }
        taken[k] = true;
        line.length = chord(&parts[k]);
        // Nearest stretches first: each makes the line better known for the next.
        while let Some(n) = (0..parts.len())
            .filter(|&n| !taken[n] && line.goes_on(&parts[n], factor, diagonal))
            .min_by(|&a, &b| line.away(&parts[a]).total_cmp(&line.away(&parts[b])).then(a.cmp(&b)))
        {
            let joined = line.points.iter().chain(&parts[n]).copied().collect();
            taken[n] = true;
            let in_view = line.length + chord(&parts[n]);
            if let Some(better) = Long::fit(joined, factor) {
                line = Long { length: in_view, ..better };
            }
        }
        if line.length > shortest * diagonal {
            all.push(line);
        }
    }
    all.sort_by(|a, b| b.length.total_cmp(&a.length));
    all
}

fn chord(points: &[Vector2<f64>]) -> f64 {
    (points[0] - points[points.len() - 1]).norm()
}

impl Long {
    /// One line through several stretches of it; `None` when too little of it is in view. Stretches run on a little into what hides
    /// the line, so points that lie off are left out.
    pub fn joined<'a>(parts: impl Iterator<Item = &'a Part>, factor: usize, size: [usize; 2]) -> Option<Self> {
        let (mut points, mut length) = (Part::new(), 0.0);
        for part in parts {
            length += chord(part);
            points.extend(part);
        }
        if length < STUB * (size[0] as f64).hypot(size[1] as f64) {
            return None;
        }
        let mut line = Self::fit(points, factor)?;
        for share in [3.0, 2.5] {
            let off = |p: &&Vector2<f64>| {
                let (t, y) = line.inside(**p);
                (y - line.across(t).0).abs() < share * ROUGH * factor as f64
            };
            let near: Part = line.points.iter().filter(off).copied().collect();
            line = Self::fit(near, factor)?;
        }
        Some(Self { length, ..line })
    }

    fn fit(points: Vec<Vector2<f64>>, factor: usize) -> Option<Self> {
        if points.len() < 6 {
            return None;
        }
        let n = points.len() as f64;
        let mean = points.iter().sum::<Vector2<f64>>() / n;
        let spread: Matrix2<f64> = points.iter().map(|p| (p - mean) * (p - mean).transpose()).sum();
        let eigen = spread.symmetric_eigen();
        let way: Vector2<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into();
        let along = |p: &Vector2<f64>| (p - mean).dot(&way);
        let (from, to) = points.iter().fold((f64::MAX, f64::MIN), |r, p| (r.0.min(along(p)), r.1.max(along(p))));
        let half = 0.5 * (to - from);
        let middle = mean + way * (0.5 * (from + to));
        if half < 2.0 {
            return None;
        }
        let weight = 1.0 / (ALIKE * (ROUGH * factor as f64).powi(2));
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for p in &points {
            let (t, y) = ((p - middle).dot(&way) / half, way.perp(&(p - middle)));
            let row = Vector3::new(1.0, t, t * t);
            normal += row * row.transpose() * weight;
            right += row * (y * weight);
        }
        normal[(2, 2)] += 1.0 / (BENT * half).powi(2);
        let covariance = normal.try_inverse()?;
        Some(Self { middle, way, bend: covariance * right, covariance, half, length: 0.0, points })
    }

    /// Place along over `half`, offset across.
    fn inside(&self, p: Vector2<f64>) -> (f64, f64) {
        ((p - self.middle).dot(&self.way) / self.half, self.way.perp(&(p - self.middle)))
    }

    /// Offset of the line at t, and its standard error.
    fn across(&self, t: f64) -> (f64, f64) {
        let row = Vector3::new(1.0, t, t * t);
        (row.dot(&self.bend), row.dot(&(self.covariance * row)).max(0.0).sqrt())
    }

    /// Whether points lie on the line as far as it is known.
    fn holds(&self, points: &[Vector2<f64>], factor: usize, diagonal: f64) -> bool {
        let [a, m, b] = [0, points.len() / 2, points.len() - 1].map(|k| points[k]);
        [a, m, b].iter().all(|p| {
            let (t, y) = self.inside(*p);
            let (want, error) = self.across(t);
            (y - want).abs() < (1.5 * factor as f64 + 3.0 * error).min(OFF * diagonal)
        })
    }

    fn goes_on(&self, points: &[Vector2<f64>], factor: usize, diagonal: f64) -> bool {
        let way = (points[points.len() - 1] - points[0]).normalize();
        way.dot(&self.way).abs() > ON && self.holds(points, factor, diagonal)
    }

    /// How far beyond the line's own ends points begin, px.
    fn away(&self, points: &[Vector2<f64>]) -> f64 {
        let t = [points[0], points[points.len() - 1]].map(|p| self.inside(p).0.abs());
        (t[0].min(t[1]) - 1.0) * self.half
    }

    fn at(&self, t: f64) -> Vector2<f64> {
        self.middle + self.way * (t * self.half) + Vector2::new(-self.way.y, self.way.x) * self.across(t).0
    }

    /// First and last point.
    pub fn ends(&self) -> [Vector2<f64>; 2] {
        [self.at(-1.0), self.at(1.0)]
    }

    /// Where its chord crosses another's.
    pub fn cross(&self, other: &Self) -> Option<Vector2<f64>> {
        let ([a, b], [c, d]) = (self.ends(), other.ends());
        let (own, across) = (Line::through(a, b)?, Line::through(c, d)?);
        // Nearly along one another they cross nowhere in particular.
        if own.along.perp(&across.along).abs() > 0.2 { own.cross(&across) } else { None }
    }

    /// Where it crosses another, bends and all, and the standard error of that, px.
    pub fn crossing(&self, other: &Self) -> Option<(crate::length::Px, f64)> {
        let mut p = self.cross(other)?;
        let normals = [self, other].map(|l| Vector2::new(-l.way.y, l.way.x));
        let back = Matrix2::from_rows(&normals.map(|n| n.transpose())).try_inverse()?;
        for _ in 0..6 {
            let off = [self, other].map(|l| {
                let (t, y) = l.inside(p);
                l.across(t).0 - y
            });
            p += back * Vector2::from(off);
        }
        let errors = [self, other].map(|l| l.across(l.inside(p).0).1);
        let error = (0.5 * (back.column(0).norm_squared() * errors[0].powi(2) + back.column(1).norm_squared() * errors[1].powi(2))).sqrt();
        Some((crate::length::Px::from(p), error))
    }
}
