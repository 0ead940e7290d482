//! Corners of squares filled in turn: saddles of light.
//!
//! Candidates: maxima of -det of the Hessian (Beaudet 1978; Lucchese & Mitra 2002) of the lightly smoothed level, around which a ring
//! shows exactly two dark and two light sectors, opposite ones alike. A node is measured on the full picture by fitting the
//! product of two blurred edges, all of it in linear light: a checker's corner is its own image under a half turn, so neither
//! blur nor sharpening moves it. Windows stay well short of the next corner (Geiger et al. 2012).

use super::Candidate;
use super::blobs::{DIRECTIONS, RING, halved, smoothed};
use super::damped::{Normal, add, least, mirror, step};
use super::patch::Patch;
use crate::length::Px;
use crate::shot::{Gray, Shot, to_picture};
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};
use rayon::prelude::*;
use std::borrow::Cow;

/// Sizes looked at, each half the last: the second is for blurred pictures.
const OCTAVES: usize = 2;
/// Least -det of the Hessian over the square of the local light: squares that differ by about a sixth.
const LEAST: f32 = 0.005;
/// Light is taken relative to the surroundings, but to no darker ones than this (linear): keeps the grain of black cloth down.
const DARKEST: f32 = 0.05;
/// Radius of the ring, px of the octave: beyond the blur, within the squares of a fine checker.
const RADIUS: f64 = 3.5;
/// No more corners than this are handed on.
const MOST: usize = 20_000;
/// Largest radius of the fitted window, px: more adds the sheet's unevenness and time, not accuracy.
const LARGEST: f64 = 9.0;
/// Smallest one: below it the two edges can't be told from the blur.
const SMALLEST: f64 = 3.0;
/// Share of the shorter step a window may reach.
const SHARE: f64 = 0.4;
/// Blur of an edge that a pixel's own width alone makes, px.
const SHARPEST: f64 = 0.4;
/// Error that no noise explains, px.
const FLOOR: f64 = 0.015;

/// Saddles on the level, strongest first, with the directions of the two edges and which pair of sectors is dark.
///
/// The first axis is the one nearer the direction most edges have (within 45 degrees of the picture's right), the second points down;
/// `state` is +1 when the sector between them is dark.
pub fn candidates(gray: &Gray) -> Vec<Candidate> {
    let mut found = Vec::new();
    let mut image = Cow::Borrowed(gray);
    for octave in 0..OCTAVES {
        if image.width < 24 || image.height < 24 {
            break;
        }
        saddles(&image, octave, &mut found);
        if octave + 1 < OCTAVES {
            image = Cow::Owned(halved(&image));
        }
    }
    let mut found = distinct(found, gray.factor as f64 * 3.0);
    alike(&mut found);
    found
}

/// Orders the axes of all corners alike: the first is the one nearer the direction most edges have (every quarter turn of it alike),
/// so that on a sheet lying at 45 degrees neighbouring corners still differ in state.
fn alike(found: &mut [Candidate]) {
    let mut sum = Vector2::zeros();
    for c in found.iter() {
        for a in c.axes.iter().flatten() {
            let angle = 4.0 * a.y.atan2(a.x);
            sum += Vector2::new(angle.cos(), angle.sin()) * f64::from(c.strength);
        }
    }
    let angle = 0.25 * sum.y.atan2(sum.x);
    let along = Vector2::new(angle.cos(), angle.sin());
    let across = Vector2::new(-along.y, along.x);
    for c in found {
        let Some([mut a, mut b]) = c.axes else { continue };
        if a.dot(&along).abs() < b.dot(&along).abs() {
            std::mem::swap(&mut a, &mut b);
        }
        // Turning one axis round takes the sector between them to the other pair.
        for (axis, way) in [(&mut a, along), (&mut b, across)] {
            if axis.dot(&way) < 0.0 {
                *axis = -*axis;
                c.state = -c.state;
            }
        }
        c.axes = Some([a, b]);
    }
}

/// Adds the corners of one octave.
fn saddles(image: &Gray, octave: usize, found: &mut Vec<Candidate>) {
    let (w, h) = (image.width, image.height);
    let light = smoothed(&image.data, w, h, 1);
    let mut saddle = vec![0f32; w * h];
    saddle.par_chunks_mut(w).enumerate().skip(2).take(h.saturating_sub(4)).for_each(|(v, out)| {
        let row = |k: usize| &light[(v + k - 2) * w..][..w];
        let (top, here, low) = (row(0), row(2), row(4));
        for u in 2..w - 2 {
            let c = here[u];
            let xx = here[u - 2] + here[u + 2] - 2.0 * c;
            let yy = top[u] + low[u] - 2.0 * c;
            let xy = 0.25 * (top[u - 2] + low[u + 2] - top[u + 2] - low[u - 2]);
            let ground = c.max(DARKEST);
            out[u] = (xy * xy - xx * yy) / (ground * ground);
        }
    });
    let rows: Vec<Vec<Candidate>> = (6..h.saturating_sub(6))
        .into_par_iter()
        .map(|v| {
            let mut row = Vec::new();
            for u in 6..w - 6 {
                let k = v * w + u;
                if saddle[k] > LEAST && is_peak(&saddle, w, k) {
                    row.extend(corner(image, &light, &saddle, (u, v)));
                }
            }
            row
        })
        .collect();
    // A corner seen at both sizes counts at the finer one.
    let weight = 1.0 / (1 + octave) as f32;
    found.extend(rows.into_iter().flatten().map(|c| Candidate { strength: c.strength * weight, ..c }));
}

/// Whether k is the largest of the 5 × 5 about it (of equal ones the first).
fn is_peak(r: &[f32], w: usize, k: usize) -> bool {
    let c = r[k];
    (0..5).all(|dv| {
        (0..5).all(|du| {
            let n = k + dv * w + du - 2 * w - 2;
            if n < k { r[n] < c } else { r[n] <= c }
        })
    })
}

/// Looks round a saddle for two dark and two light sectors.
fn corner(image: &Gray, light: &[f32], saddle: &[f32], (u, v): (usize, usize)) -> Option<Candidate> {
    let w = image.width;
    let shift = |before: f32, here: f32, after: f32| {
        let bend = before + after - 2.0 * here;
        if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) as f64 } else { 0.0 }
    };
    let k = v * w + u;
    let (x, y) = (u as f64 + shift(saddle[k - 1], saddle[k], saddle[k + 1]), v as f64 + shift(saddle[k - w], saddle[k], saddle[k + w]));
    let sample = |x: f64, y: f64| {
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let row = |j: usize| light[j * w + i] + (light[j * w + i + 1] - light[j * w + i]) * fx;
        Some(row(j) + (row(j + 1) - row(j)) * fy)
    };
    let (axes, state, contrast) = sectors(|dx, dy| sample(x + dx, y + dy), RADIUS)?;
    Some(Candidate { at: to_picture(image.factor, x, y), strength: contrast, axes: Some(axes), state })
}

/// The two edges through a corner from a ring of light about it: their directions (the first nearer the picture's right, the second
/// pointing down), +1 when the sector between them is dark, and the contrast over the sum of dark and light.
fn sectors(sample: impl Fn(f64, f64) -> Option<f32>, radius: f64) -> Option<([Vector2<f64>; 2], i8, f32)> {
    let mut light = [0f32; RING];
    for (light, (x, y)) in light.iter_mut().zip(DIRECTIONS.iter()) {
        *light = sample(radius * x, radius * y)?;
    }
    let (low, high) = light.iter().fold((f32::MAX, f32::MIN), |(a, b), &l| (a.min(l), b.max(l)));
    let (middle, contrast) = (0.5 * (low + high), (high - low) / (high + low).max(1e-4));
    if contrast < 0.08 {
        return None;
    }
    let mut cross = [0f64; 4];
    let mut n = 0;
    for k in 0..RING {
        let (a, b) = (light[k] - middle, light[(k + 1) % RING] - middle);
        if (a < 0.0) != (b < 0.0) {
            *cross.get_mut(n)? = k as f64 + (a / (a - b)) as f64;
            n += 1;
        }
    }
    let turn = RING as f64;
    let widths = [cross[1] - cross[0], cross[2] - cross[1], cross[3] - cross[2], cross[0] + turn - cross[3]];
    // Opposite sectors alike within a ninth of a turn; none narrower than 30 degrees.
    if n != 4 || (widths[0] - widths[2]).abs() > turn / 9.0 || (widths[1] - widths[3]).abs() > turn / 9.0 {
        return None;
    }
    if widths.iter().any(|&w| w < turn / 12.0) {
        return None;
    }
    let way = |k: usize| {
        let angle = std::f64::consts::TAU * 0.5 * (cross[k] + cross[k + 2] - 0.5 * turn) / turn;
        Vector2::new(angle.cos(), angle.sin())
    };
    let (mut a, mut b) = (way(0), way(1));
    if a.x.abs() < b.x.abs() {
        std::mem::swap(&mut a, &mut b);
    }
    a *= if a.x < 0.0 { -1.0 } else { 1.0 };
    b *= if b.y < 0.0 { -1.0 } else { 1.0 };
    let between = (a + b).normalize() * radius;
    let state = if sample(between.x, between.y)? < middle { 1 } else { -1 };
    Some(([a, b], state, contrast))
}

/// Strongest first, none nearer than `reach` px to a stronger one, at most [`MOST`].
fn distinct(mut found: Vec<Candidate>, reach: f64) -> Vec<Candidate> {
    found.sort_by(|a, b| b.strength.total_cmp(&a.strength).then(a.at.y.total_cmp(&b.at.y)).then(a.at.x.total_cmp(&b.at.x)));
    let cell = |p: Px| ((p.x / reach).floor() as i64, (p.y / reach).floor() as i64);
    let mut taken: std::collections::BTreeMap<(i64, i64), Vec<Px>> = std::collections::BTreeMap::new();
    let mut kept = Vec::new();
    for c in found {
        let (x, y) = cell(c.at);
        let near = (y - 1..=y + 1)
            .flat_map(|j| (x - 1..=x + 1).map(move |i| (i, j)))
            .any(|key| taken.get(&key).is_some_and(|ps| ps.iter().any(|p| p.distance(c.at) < reach)));
        if !near {
            taken.entry((x, y)).or_default().push(c.at);
            kept.push(c);
            if kept.len() == MOST {
                break;
            }
        }
    }
    kept
}

/// Measures the corner near `predicted`; `frame` holds the steps to the next corner along i and j, px.
///
/// `None` when no corner of four squares lies there whole within the smallest window.
pub fn refine(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<(Px, f64)> {
    let step = frame[0].norm().min(frame[1].norm());
    let most = (SHARE * step).min(LARGEST);
    if most < SMALLEST {
        return None;
    }
    // Predictions are off by up to a fifth of a step; the fit itself needs to start within its window.
    let search = (0.2 * step).clamp(2.0, 12.0);
    let patch = Patch::around(shot, predicted, (most + search + 3.0).ceil() as usize)?;
    let start = settle(&patch, predicted, most, search)?;
    let mut radius = most;
    loop {
        if let Some((c, error)) = Corner::fit(&patch, start, radius) {
            return Some((patch.outside(c.x, c.y), error.hypot(FLOOR)));
        }
        // Cloth may cover part of the larger window.
        radius *= 0.6;
        if radius < SMALLEST {
            return None;
        }
    }
}

/// Moves to the point to which the gradients around are most nearly at right angles (Förstner & Gülch 1987).
fn settle(patch: &Patch, predicted: Px, radius: f64, search: f64) -> Option<Vector2<f64>> {
    let (u, v) = patch.inside(predicted);
    let begin = Vector2::new(u, v);
    let mut c = begin;
    for _ in 0..10 {
        let (mut n, mut r) = (Matrix2::zeros(), Vector2::zeros());
        let span = |x: f64, most: usize| (((x - radius).ceil().max(1.0)) as usize, ((x + radius).floor().max(0.0) as usize).min(most - 2));
        let ((u0, u1), (v0, v1)) = (span(c.x, patch.width), span(c.y, patch.height));
        for v in v0..=v1 {
            for u in u0..=u1 {
                let d = Vector2::new(u as f64, v as f64) - c;
                let w = (-2.0 * d.norm_squared() / (radius * radius)).exp();
                let g = Vector2::new((patch.at(u + 1, v) - patch.at(u - 1, v)) as f64, (patch.at(u, v + 1) - patch.at(u, v - 1)) as f64);
                let gg = g * g.transpose() * w;
                n += gg;
                r += gg * d;
            }
        }
        let move_by = n.try_inverse()? * r;
        let limit = 0.5 * radius;
        c += if move_by.norm() > limit { move_by * (limit / move_by.norm()) } else { move_by };
        if (c - begin).norm() > search {
            return None;
        }
        if move_by.norm() < 0.05 {
            break;
        }
    }
    Some(c)
}

/// Light about a corner: (1 + shade · d) (mean + half · T(n₁·d / blur) T(n₂·d / blur)), T the hyperbolic tangent standing for the
/// blurred edge, d from the centre, n₁ and n₂ across the edges.
type Model = SVector<f64, 9>;
struct Corner;

impl Corner {
    /// Centre and standard error ; `None` when it settles nowhere, or the light is not like a corner's.
    fn fit(patch: &Patch, start: Vector2<f64>, radius: f64) -> Option<(Vector2<f64>, f64)> {
        let pixels = pixels_about(patch, start, radius)?;
        let rest =
            least(Self::begin(patch, start, radius)?, |m| m[8] = m[8].clamp(SHARPEST, 0.5 * radius), |m| Some(Self::normal(&pixels, m)))?;
        let m = rest.at;
        let c = Vector2::new(m[0], m[1]);
        let rms = (rest.cost / (pixels.len() as f64 - 9.0).max(1.0)).sqrt();
        if (c - start).norm() > 1.5 || rms > 0.2 * m[5].abs() || m[5].abs() < 0.08 * m[4] {
            return None;
        }
        let inverse = rest.normal.cholesky()?.inverse();
        // Residuals of neighbouring pixels go together (demosaicing, JPEG): twice the white-noise error.
        let error = 2.0 * rms * (0.5 * (inverse[(0, 0)] + inverse[(1, 1)])).sqrt();
        (error < 0.5).then_some((c, error))
    }

    /// First guess from a ring: the edges' directions, dark and light.
    fn begin(patch: &Patch, start: Vector2<f64>, radius: f64) -> Option<Model> {
        let ring = (0.6 * radius).max(2.5);
        let sample = |dx: f64, dy: f64| patch.sample(start.x + dx, start.y + dy);
        let ([a, b], ..) = sectors(sample, ring)?;
        let between = (a + b).normalize() * ring;
        let beside = (a - b).normalize() * ring;
        let pair = |d: Vector2<f64>| Some(0.5 * (sample(d.x, d.y)? + sample(-d.x, -d.y)?) as f64);
        let (p, q) = (pair(between)?, pair(beside)?);
        let angle = |v: Vector2<f64>| v.y.atan2(v.x);
        Some(Model::from_column_slice(&[start.x, start.y, angle(a), angle(b), 0.5 * (p + q), 0.5 * (p - q), 0.0, 0.0, 1.0]))
    }

    /// Normal equations over the pixels.
    fn normal(pixels: &[(f64, f64, f64)], m: &Model) -> Normal<9> {
        let (mut n, mut r, mut cost) = (SMatrix::<f64, 9, 9>::zeros(), Model::zeros(), 0.0);
        let ((sa, ca), (sb, cb)) = (m[2].sin_cos(), m[3].sin_cos());
        // Normals turned so that both products are positive between the axes a and b.
        let turn = if ca * sb - sa * cb > 0.0 { 1.0 } else { -1.0 };
        let across = [Vector2::new(-sa, ca) * turn, Vector2::new(sb, -cb) * turn];
        let inverse = 1.0 / m[8];
        for &(u, v, light) in pixels {
            let d = Vector2::new(u - m[0], v - m[1]);
            let (x, y) = (across[0].dot(&d), across[1].dot(&d));
            let (tx, ty) = (step(x * inverse), step(y * inverse));
            let shade = 1.0 + m[6] * d.x + m[7] * d.y;
            let flat = m[4] + m[5] * tx * ty;
            // Derivatives of the light by x and y (distance across each edge).
            let (gx, gy) = (shade * m[5] * (1.0 - tx * tx) * ty * inverse, shade * m[5] * tx * (1.0 - ty * ty) * inverse);
            let by_place = -(across[0] * gx + across[1] * gy) - Vector2::new(m[6], m[7]) * flat;
            // Turning edge a by dα moves its normal by -turn * along; edge b's by +turn * along.
            let row = Model::from_column_slice(&[
                by_place.x,
                by_place.y,
                -turn * gx * (ca * d.x + sa * d.y),
                turn * gy * (cb * d.x + sb * d.y),
                shade,
                shade * tx * ty,
                d.x * flat,
                d.y * flat,
                -(gx * x + gy * y) * inverse,
            ]);
            let miss = light - shade * flat;
            add(&mut n, &mut r, &row, miss);
            cost += miss * miss;
        }
        mirror(&mut n);
        (n, r, cost)
    }
}

/// The pixels within `radius` of a place; `None` when the window cuts off more than a fifth of them.
fn pixels_about(patch: &Patch, c: Vector2<f64>, radius: f64) -> Option<Vec<(f64, f64, f64)>> {
    let mut pixels = Vec::new();
    let span = |x: f64, most: usize| ((x - radius).ceil().max(0.0) as usize, ((x + radius).floor().max(0.0) as usize).min(most - 1));
    let ((u0, u1), (v0, v1)) = (span(c.x, patch.width), span(c.y, patch.height));
    for v in v0..=v1 {
        for u in u0..=u1 {
            let (x, y) = (u as f64, v as f64);
            if (x - c.x).powi(2) + (y - c.y).powi(2) <= radius * radius {
                pixels.push((x, y, patch.at(u, v) as f64));
            }
        }
    }
    (pixels.len() as f64 > 0.8 * std::f64::consts::PI * radius * radius).then_some(pixels)
}
