//! Round dark dots at the nodes, from two pixels across to large discs; separate dark squares too.
//!
//! Candidates are spots (see `blobs`). A node is measured on the full picture by fitting a blurred disc, seen as an ellipse, to its
//! darkness. The centre of that ellipse is not the picture of the disc's centre (Heikkilä 2000): `off_centre` says by how much.

use super::Candidate;
use super::blobs::blobs;
use super::damped::{Normal, add, least, mirror, step};
use super::map::SheetMap;
use super::patch::{Ground, Patch};
use super::seek::Seen;
use super::spot::Spot;
use super::square::Square;
use crate::length::Px;
use crate::shot::{Gray, Shot};
use crate::solve::{homography, median};
use nalgebra::{Matrix2, Matrix3, SMatrix, SVector, Vector2, Vector3};

/// Doublings of size looked at: discs up to some forty pixels of the level across.
const OCTAVES: usize = 5;
/// Radius, px, from which a dot may be lighter on one side (glare on ink) and is too large for a fleck in cloth.
const LARGE: f64 = 6.0;
/// Blur of an edge, px: what a pixel's own width alone makes, and beyond use.
const SHARPEST: f64 = 0.4;
const BLUNTEST: f64 = 4.0;
/// How far within the outline pixels still count, px: deeper ones only add texture and glare.
const INSIDE: f64 = 5.0;
/// Least darkness of a dot in standard deviations of the paper beside it: less is a fleck in cloth.
const CLEAR: f64 = 5.0;
/// Darkness beside a dot, as a share of its own, that paper does not reach.
const ALONE: f64 = 0.4;
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
    /// Radius of the circle of the same area, or half the side of a square, px.
    pub radius: f64,
    /// Whether it is a square, whose centre is that of its diagonals and needs no correction for perspective.
    pub square: bool,
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
    if let Some(s) = Square::fit(&patch, &spot, frame).filter(|s| s.error < 0.5) {
        return Some(Dot { at: patch.outside(s.u, s.v), error: s.error.hypot(FLOOR), radius: s.half, square: true });
    }
    let ring = ring(&patch, &spot, Matrix2::from_columns(&frame).try_inverse()?);
    let ground = Ground::fit(&ring)?;
    let (dot, depth) = fit(&patch, &spot, &ground)?;
    // In cloth a fleck has others like it beside it; next to a small dot there is paper.
    let dark = ring.iter().filter(|(u, v, light)| 1.0 - light / ground.at(*u, *v).max(1e-4) > ALONE * depth).count();
    (dot.radius > LARGE || dark * 50 <= ring.len()).then_some(dot)
}

/// The pixels of the paper in a ring about the spot, as far as its own square goes; `back` takes px to steps.
fn ring(patch: &Patch, spot: &Spot, back: Matrix2<f64>) -> Vec<Pixel> {
    let mut ring = Vec::new();
    // Two pixels of blur lie around the dot; four more are enough for a plane.
    let (from, to) = (spot.reach + 2.0, spot.reach + 6.0);
    for v in 0..patch.height {
        for u in 0..patch.width {
            let d = Vector2::new(u as f64 - spot.u, v as f64 - spot.v);
            let r = d.norm_squared();
            if r >= from * from && r <= to * to && (back * d).amax() < 0.5 {
                ring.push((u as f64, v as f64, patch.at(u, v) as f64));
            }
        }
    }
    ring
}

/// Darkness of a blurred disc: (depth + slope · d) / 2 (1 - T((ρ - 1) R / blur)), ρ² = d · M d with d from the centre, R the radius, T
/// the hyperbolic tangent standing for the blurred edge. Fields: centre x, y, depth, M xx, xy, yy, blur, slope x, y.
type Disc = SVector<f64, 9>;
/// Light at a place.
type Pixel = (f64, f64, f64);

/// Fits a blurred disc to the darkness about the spot; gives it and its depth.
fn fit(patch: &Patch, spot: &Spot, ground: &Ground) -> Option<(Dot, f64)> {
    let pixels = darkness(patch, spot, ground)?;
    let shape = spot.moments.try_inverse()? * 0.25;
    let deepest = pixels.iter().map(|p| p.2).fold(0.0, f64::max);
    let start = [spot.u, spot.v, deepest, shape[(0, 0)], shape[(0, 1)], shape[(1, 1)], 1.0, 0.0, 0.0];
    let sloped = spot.radius() > LARGE;
    let rest = least(Disc::from_column_slice(&start), |m| m[6] = m[6].clamp(SHARPEST, BLUNTEST), |m| normal(&pixels, m, sloped))?;
    let m = rest.at;
    let rms = (rest.cost / (pixels.len() as f64 - 9.0).max(1.0)).sqrt();
    let noise = ground.noise / ground.at(spot.u, spot.v).max(1e-4);
    if (m[0] - spot.u).hypot(m[1] - spot.v) > 0.5 + 0.3 * spot.reach || rms > 0.2 * m[2] || m[2] < CLEAR * noise {
        return None;
    }
    // Residuals of neighbouring pixels go together (demosaicing, JPEG, ink): twice the white-noise error.
    let inverse = rest.normal.cholesky()?.inverse();
    let error = 2.0 * rms * (0.5 * (inverse[(0, 0)] + inverse[(1, 1)])).sqrt();
    let radius = (m[3] * m[5] - m[4] * m[4]).powf(-0.25);
    (error < 0.5).then(|| (Dot { at: patch.outside(m[0], m[1]), error: error.hypot(FLOOR), radius, square: false }, m[2]))
}

/// Darkness relative to the ground (a shadow's slope across the dot then cancels) of the pixels that tell of a spot's place.
fn darkness(patch: &Patch, spot: &Spot, ground: &Ground) -> Option<Vec<Pixel>> {
    let reach = spot.reach + 2.5;
    let inverse = spot.moments.try_inverse()?;
    // Half-width of the outline at ρ = 1; what lies deeper than `INSIDE` px within it tells nothing of the place.
    let deepest = (1.0 - INSIDE / spot.radius()).max(0.0);
    let span = |x: f64, most: usize| ((x - reach).ceil().max(0.0) as usize, ((x + reach).floor().max(0.0) as usize).min(most - 1));
    let ((u0, u1), (v0, v1)) = (span(spot.u, patch.width), span(spot.v, patch.height));
    let mut pixels = Vec::with_capacity((u1 - u0 + 1) * (v1 - v0 + 1));
    for v in v0..=v1 {
        for u in u0..=u1 {
            let (x, y) = (u as f64, v as f64);
            let d = Vector2::new(x - spot.u, y - spot.v);
            if d.norm_squared() <= reach * reach && 0.25 * d.dot(&(inverse * d)) >= deepest * deepest {
                pixels.push((x, y, 1.0 - patch.at(u, v) as f64 / ground.at(x, y).max(1e-4)));
            }
        }
    }
    Some(pixels)
}

/// Normal equations of a disc over the pixels; without `sloped` it is equally dark all over (a small dot's slope and
/// shift look alike).
fn normal(pixels: &[Pixel], m: &Disc, sloped: bool) -> Option<Normal<9>> {
    let det = m[3] * m[5] - m[4] * m[4];
    if det <= 0.0 || m[3] <= 0.0 {
        return None;
    }
    let (mut n, mut g, mut cost) = (SMatrix::<f64, 9, 9>::zeros(), Disc::zeros(), 0.0);
    let radius = det.powf(-0.25);
    let steep = radius / m[6];
    let tilt = f64::from(u8::from(sloped));
    for &(u, v, dark) in pixels {
        let (x, y) = (u - m[0], v - m[1]);
        let (mx, my) = (m[3] * x + m[4] * y, m[4] * x + m[5] * y);
        let rho = (mx * x + my * y).sqrt().max(1e-6);
        let t = step((rho - 1.0) * steep);
        let (inside, depth) = (0.5 * (1.0 - t), m[2] + m[7] * x + m[8] * y);
        // Derivative by ρ; the radius within `steep` is held as a constant of the step.
        let edge = 0.5 * depth * (1.0 - t * t) * steep;
        let by_shape = -0.5 * edge / rho;
        let row = Disc::from_column_slice(&[
            edge * mx / rho - m[7] * inside,
            edge * my / rho - m[8] * inside,
            inside,
            by_shape * x * x,
            2.0 * by_shape * x * y,
            by_shape * y * y,
            edge * (rho - 1.0) / m[6],
            tilt * x * inside,
            tilt * y * inside,
        ]);
        let miss = dark - depth * inside;
        add(&mut n, &mut g, &row, miss);
        cost += miss * miss;
    }
    mirror(&mut n);
    if !sloped {
        (n[(7, 7)], n[(8, 8)]) = (1.0, 1.0);
    }
    Some((n, g, cost))
}

/// Nodes measured again to learn how large the dots are; all dots of a sheet are alike.
const PILOTS: usize = 25;
/// Offsets below this, px, are left alone: a 1.6 mm dot in a phone's picture has a hundredth of it.
const SEEN: f64 = 0.002;

/// Moves measured dots from the centres of their outlines to where the discs' own centres are seen; `map` takes addresses to px.
pub(super) fn centre(shot: &Shot, nodes: &mut [Seen], map: &SheetMap) {
    let radius = |n: &Seen| {
        let frame = map.frame(f64::from(n.0.0), f64::from(n.0.1))?;
        let dot = measure(shot, n.1, frame).filter(|d| !d.square)?;
        Some((dot.radius / Matrix2::from_columns(&frame).determinant().abs().sqrt()) as f32)
    };
    let step = nodes.len().div_ceil(PILOTS).max(1);
    let radius = f64::from(median(&mut nodes.iter().step_by(step).filter_map(radius).collect::<Vec<_>>()).unwrap_or_default());
    let offset = |n: &Seen| {
        let at = Vector2::new(f64::from(n.0.0), f64::from(n.0.1));
        let corners = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|c| at + Vector2::from(c) * radius);
        let seen = corners.iter().map(|c| map.at(c.x, c.y).map(Px::vector)).collect::<Option<Vec<_>>>()?;
        off_centre(&homography(&corners, &seen)?, at, radius)
    };
    if radius > 0.0 && nodes.iter().step_by(step).filter_map(offset).any(|d| d.norm() > SEEN) {
        for n in nodes.iter_mut() {
            n.1 = offset(n).map_or(n.1, |d| n.1 - d);
        }
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
