//! Round dark dots at the nodes, from two pixels across to large discs.
//!
//! Candidates are spots (see `blobs`). A node is measured on the full picture: a dot only a few pixels across by
//! fitting a blurred disc to its darkness; a larger one by an ellipse through the points where its edge is half as dark. A disc seen in perspective is an ellipse
//! whose centre is not the picture of the disc's centre (Heikkilä 2000): `off_centre` says by how much.

use super::Candidate;
use super::blobs::blobs;
use super::patch::{Ground, Patch};
use super::spot::Spot;
use crate::length::Px;
use crate::shot::{Gray, Shot};
use nalgebra::{Matrix2, Matrix3, SMatrix, SVector, Vector2, Vector3};

/// Doublings of size looked at: discs up to some forty pixels of the level across.
const OCTAVES: usize = 5;
/// Radius, px, from which the edge of a dot is measured rather than its darkness: from there the middle only adds
/// texture and glare.
const LARGE: f64 = 6.0;
/// Error that no noise explains, px: print, paper and sharpening leave about this much on rendered and real sheets.
const FLOOR: f64 = 0.02;

/// Dark spots of the level, strongest first.
pub fn candidates(gray: &Gray) -> Vec<Candidate> {
    blobs(gray, OCTAVES).into_iter().map(|b| Candidate { at: b.at(gray.factor), strength: b.contrast, axes: None, state: 0 }).collect()
}

/// A dot measured in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// Centre of its outline (or darkness).
    pub at: Px,
    /// Standard error of each coordinate, px.
    pub error: f64,
    /// Radius of the circle of the same area, px.
    pub radius: f64,
}

/// Measures the dot near `predicted`; `frame` holds the steps to the next node along i and j, px.
///
/// `None` when there is no dark, round, separate spot within a fifth of a step.
pub fn refine(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<(Px, f64)> {
    measure(shot, predicted, frame).map(|dot| (dot.at, dot.error))
}

/// The same with the dot's size.
pub fn measure(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<Dot> {
    let (patch, spot) = Spot::find(shot, predicted, frame)?;
    if !spot.round(frame) {
        return None;
    }
    let ground = ground_about(&patch, &spot)?;
    if spot.radius() < LARGE { by_darkness(&patch, &spot, &ground) } else { by_edge(&patch, &spot) }
}

/// The light of the paper in a ring about the spot.
fn ground_about(patch: &Patch, spot: &Spot) -> Option<Ground> {
    let mut ring = Vec::new();
    // Two pixels of blur lie around the dot; four more are enough for a plane.
    let (from, to) = (spot.reach + 2.0, spot.reach + 6.0);
    for v in 0..patch.height {
        for u in 0..patch.width {
            let d = (u as f64 - spot.u).hypot(v as f64 - spot.v);
            if d >= from && d <= to {
                ring.push((u as f64, v as f64, patch.at(u, v) as f64));
            }
        }
    }
    Ground::fit(&ring)
}

/// Darkness of a blurred disc: depth / 2 (1 - T((ρ - 1) R / blur)), ρ² = d · M d with d from the centre, R the radius, T the
/// hyperbolic tangent standing for the blurred edge. Fields: centre x, y, depth, M xx, xy, yy, blur.
type Disc = SVector<f64, 7>;

/// Fits a blurred disc to the darkness about the spot by damped least squares (Marquardt 1963).
fn by_darkness(patch: &Patch, spot: &Spot, ground: &Ground) -> Option<Dot> {
    let pixels = darkness(patch, spot, ground);
    let shape = spot.moments.try_inverse()? * 0.25;
    let deepest = pixels.iter().map(|p| p.2).fold(0.0, f64::max);
    let mut m = Disc::from_column_slice(&[spot.u, spot.v, deepest, shape[(0, 0)], shape[(0, 1)], shape[(1, 1)], 1.0]);
    let (mut n, mut r, mut cost) = normal(&pixels, &m);
    let mut damping = 1e-2;
    for _ in 0..15 {
        let mut damped = n;
        (0..7).for_each(|k| damped[(k, k)] *= 1.0 + damping);
        let step = damped.cholesky()?.solve(&r);
        let mut next = m + step;
        next[6] = next[6].clamp(0.5, 3.0);
        let trial = if next[3] * next[5] > next[4] * next[4] && next[3] > 0.0 { normal(&pixels, &next) } else { (n, r, f64::MAX) };
        if trial.2 <= cost {
            let done = step.fixed_rows::<2>(0).norm() < 1e-3;
            m = next;
            (n, r, cost) = trial;
            damping *= 0.2;
            if done {
                break;
            }
        } else {
            damping *= 10.0;
            if damping > 1e5 {
                break;
            }
        }
    }
    let (du, dv) = (m[0] - spot.u, m[1] - spot.v);
    let rms = (cost / (pixels.len() as f64 - 7.0).max(1.0)).sqrt();
    if du.hypot(dv) > 0.5 + 0.3 * spot.reach || rms > 0.2 * m[2] {
        return None;
    }
    // The place hardly depends on shape and depth (a disc is even, its shift odd), so its own two rows tell the error.
    // Residuals of neighbouring pixels go together (demosaicing, JPEG, ink): twice the white-noise error.
    let place = n.fixed_view::<2, 2>(0, 0).try_inverse()?;
    let error = 2.0 * rms * (0.5 * place.trace()).sqrt();
    let radius = (m[3] * m[5] - m[4] * m[4]).powf(-0.25);
    (error < 0.5).then(|| Dot { at: patch.outside(m[0], m[1]), error: error.hypot(FLOOR), radius })
}

/// Darkness relative to the ground (a shadow's slope across the dot then cancels) of the pixels about a spot.
fn darkness(patch: &Patch, spot: &Spot, ground: &Ground) -> Vec<(f64, f64, f64)> {
    let reach = spot.reach + 2.5;
    let span = |x: f64, most: usize| ((x - reach).ceil().max(0.0) as usize, ((x + reach).floor().max(0.0) as usize).min(most - 1));
    let ((u0, u1), (v0, v1)) = (span(spot.u, patch.width), span(spot.v, patch.height));
    let mut pixels = Vec::with_capacity((u1 - u0 + 1) * (v1 - v0 + 1));
    for v in v0..=v1 {
        for u in u0..=u1 {
            let (x, y) = (u as f64, v as f64);
            if (x - spot.u).hypot(y - spot.v) <= reach {
                pixels.push((x, y, 1.0 - patch.at(u, v) as f64 / ground.at(x, y).max(1e-4)));
            }
        }
    }
    pixels
}

/// Normal equations and sum of squares of a disc over the pixels.
fn normal(pixels: &[(f64, f64, f64)], m: &Disc) -> (SMatrix<f64, 7, 7>, Disc, f64) {
    let (mut n, mut g, mut cost) = (SMatrix::<f64, 7, 7>::zeros(), Disc::zeros(), 0.0);
    let radius = (m[3] * m[5] - m[4] * m[4]).max(1e-12).powf(-0.25);
    let steep = radius / m[6];
    for &(u, v, dark) in pixels {
        let (x, y) = (u - m[0], v - m[1]);
        let (mx, my) = (m[3] * x + m[4] * y, m[4] * x + m[5] * y);
        let rho = (mx * x + my * y).sqrt().max(1e-6);
        let t = ((rho - 1.0) * steep).tanh();
        // Derivative by ρ; the radius within `steep` is held as a constant of the step.
        let by_rho = -0.5 * m[2] * (1.0 - t * t) * steep;
        let half = 0.5 * by_rho / rho;
        let row = Disc::from_column_slice(&[
            -by_rho * mx / rho,
            -by_rho * my / rho,
            0.5 * (1.0 - t),
            half * x * x,
            2.0 * half * x * y,
            half * y * y,
            0.5 * m[2] * (1.0 - t * t) * (rho - 1.0) * steep / m[6],
        ]);
        let miss = dark - 0.5 * m[2] * (1.0 - t);
        n.ger(1.0, &row, &row, 1.0);
        g += row * miss;
        cost += miss * miss;
    }
    (n, g, cost)
}

/// Centre of the ellipse through the half-dark points of the edge, along rays from the middle.
fn by_edge(patch: &Patch, spot: &Spot) -> Option<Dot> {
    const RAYS: usize = 48;
    let points: Vec<Vector2<f64>> =
        (0..RAYS).filter_map(|k| edge_point(patch, spot, std::f64::consts::TAU * k as f64 / RAYS as f64)).collect();
    // A hidden part would pull the centre: nearly all of the outline has to be there.
    if points.len() * 10 < RAYS * 8 {
        return None;
    }
    let first = Ellipse::fit(&points, spot.reach)?;
    let near: Vec<_> = points.iter().copied().filter(|p| first.distance(*p).abs() <= (2.5 * first.rms).max(0.15)).collect();
    if near.len() * 10 < RAYS * 7 {
        return None;
    }
    let ellipse = Ellipse::fit(&near, spot.reach)?;
    if ellipse.rms > 0.06 * spot.radius() + 0.2 {
        return None;
    }
    // Two unknowns of each coordinate's kind share the points; print and sharpening move neighbouring points together,
    // hence twice.
    let error = 2.0 * ellipse.rms * (2.0 / near.len() as f64).sqrt();
    Some(Dot { at: patch.outside(ellipse.centre.x, ellipse.centre.y), error: error.hypot(FLOOR), radius: ellipse.radius })
}

/// Where the light along a ray crosses the middle between the dot and the paper beside it.
fn edge_point(patch: &Patch, spot: &Spot, angle: f64) -> Option<Vector2<f64>> {
    const STEP: f64 = 0.5;
    let way = Vector2::new(angle.cos(), angle.sin());
    // Half the width of the spot's own ellipse along the ray.
    let half = 2.0 / way.dot(&(spot.moments.try_inverse()? * way)).sqrt();
    let light = |r: f64| patch.sample(spot.u + way.x * r, spot.v + way.y * r).map(|l| l as f64);
    let inner = 0.5 * (light(0.6 * half)? + light(0.7 * half)?);
    let outer = 0.5 * (light(half + 3.0)? + light(half + 4.0)?);
    if outer <= inner {
        return None;
    }
    let middle = 0.5 * (inner + outer);
    let mut r = 0.7 * half;
    let mut before = light(r)?;
    while r < half + 3.0 {
        let after = light(r + STEP)?;
        if before < middle && after >= middle {
            let r = r + STEP * (middle - before) / (after - before);
            return Some(Vector2::new(spot.u, spot.v) + way * r);
        }
        before = after;
        r += STEP;
    }
    None
}

/// An ellipse through points of an outline.
struct Ellipse {
    centre: Vector2<f64>,
    shape: Matrix2<f64>,
    radius: f64,
    rms: f64,
}

impl Ellipse {
    /// The conic a x² + b xy + c y² + d x + e y = 1 by least squares, in coordinates about the points' mean and of size
    /// about 1 (where the algebraic distance is near the geometric one); `None` when it is no ellipse.
    fn fit(points: &[Vector2<f64>], size: f64) -> Option<Self> {
        let mean = points.iter().sum::<Vector2<f64>>() / points.len().max(1) as f64;
        let (mut n, mut r) = (SMatrix::<f64, 5, 5>::zeros(), SVector::<f64, 5>::zeros());
        for p in points {
            let q = (p - mean) / size;
            let row = SVector::<f64, 5>::new(q.x * q.x, q.x * q.y, q.y * q.y, q.x, q.y);
            n += row * row.transpose();
            r += row;
        }
        let s = n.cholesky()?.solve(&r);
        let m = Matrix2::new(s[0], 0.5 * s[1], 0.5 * s[1], s[2]);
        let centre = -0.5 * m.try_inverse()? * Vector2::new(s[3], s[4]);
        let scale = 1.0 + centre.dot(&(m * centre));
        let shape = m / (scale * size * size);
        if shape.determinant() <= 0.0 || shape.trace() <= 0.0 {
            return None;
        }
        let radius = shape.determinant().powf(-0.25);
        let mut ellipse = Self { centre: mean + centre * size, shape, radius, rms: 0.0 };
        let sum: f64 = points.iter().map(|p| ellipse.distance(*p).powi(2)).sum();
        ellipse.rms = (sum / (points.len() as f64 - 5.0).max(1.0)).sqrt();
        Some(ellipse)
    }

    /// Distance from the outline along the ray from the centre, px, outside positive.
    fn distance(&self, p: Vector2<f64>) -> f64 {
        let d = p - self.centre;
        d.norm() * (1.0 - 1.0 / d.dot(&(self.shape * d)).sqrt().max(1e-9))
    }
}

/// How far the centre of the seen ellipse lies from the seen centre of a disc, px: what to take off a measured place.
///
/// `h` takes the sheet (any unit) to px; the disc lies at `at` with radius `radius` in that unit. The circle's dual conic
/// is carried over by `h` and its centre compared with the carried-over centre (Heikkilä 2000; Hartley & Zisserman 2004, 8.3).
pub fn off_centre(h: &Matrix3<f64>, at: Vector2<f64>, radius: f64) -> Option<Vector2<f64>> {
    let c = Vector3::new(at.x, at.y, 1.0);
    // Dual conic of the circle: centre outer product less radius² in the plane.
    let mut dual = c * c.transpose();
    dual[(0, 0)] -= radius * radius;
    dual[(1, 1)] -= radius * radius;
    let seen = h * dual * h.transpose();
    let middle = crate::solve::project(h, at)?;
    (seen[(2, 2)].abs() > f64::EPSILON).then(|| Vector2::new(seen[(0, 2)], seen[(1, 2)]) / seen[(2, 2)] - middle)
}
