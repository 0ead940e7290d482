//! Small crosses at the nodes, their arms along the lattice.
//!
//! Candidates are spots (see `blobs`) around which a ring shows two opposite pairs of dark arms. A node is measured on the full
//! picture: the middle of the line is sought across each arm, a straight line is laid through both halves of an arm, and the
//! two lines cross at the node.

use super::Candidate;
use super::blobs::{Blob, DIRECTIONS, RING, blobs};
use super::patch::Patch;
use super::spot::Spot;
use crate::length::Px;
use crate::shot::{Gray, Shot};
use crate::solve::median;
use nalgebra::{Matrix2, Vector2};

/// Doublings of size looked at: lines up to about eight pixels of the level wide.
const OCTAVES: usize = 3;
/// Radii of the ring in pixels of the octave: clear of the middle's blur, and still on the arms of a stubby cross. The smallest is for a
/// thin cross whose arms are so short that it is darkest as one spot of a coarser octave.
const RADII: [f64; 3] = [2.2, 4.0, 7.0];
/// Smallest radius at which arms can be told apart, in pixels of the level.
const LEAST_RADIUS: f64 = 3.9;
/// Error that no noise explains, px (as for dots).
const FLOOR: f64 = 0.02;
/// Half the length of a profile across an arm, px, beyond half the line's width.
const ASIDE: f64 = 4.0;

/// Middles of crosses on the level, strongest first, with the directions of the arms.
pub fn candidates(gray: &Gray) -> Vec<Candidate> {
    let mut found: Vec<Candidate> = blobs(gray, OCTAVES).iter().filter_map(|blob| cross(gray, blob)).collect();
    found.sort_by(|a, b| b.strength.total_cmp(&a.strength).then(a.at.y.total_cmp(&b.at.y)).then(a.at.x.total_cmp(&b.at.x)));
    found
}

/// Looks round a spot for two pairs of arms, near and farther out (the line may be thinner or thicker than the filter).
fn cross(gray: &Gray, blob: &Blob) -> Option<Candidate> {
    let radii = RADII.iter().map(|r| r * blob.scale).filter(|r| *r >= LEAST_RADIUS);
    radii.filter_map(|r| ring(gray, blob, r)).max_by(|a, b| a.strength.total_cmp(&b.strength))
}

fn ring(gray: &Gray, blob: &Blob, radius: f64) -> Option<Candidate> {
    let mut light = [0f32; RING];
    for (light, (x, y)) in light.iter_mut().zip(DIRECTIONS.iter()) {
        *light = level_sample(gray, blob.u + radius * x, blob.v + radius * y)?;
    }
    let mut sorted = light;
    sorted.sort_by(f32::total_cmp);
    let ground = sorted[RING * 3 / 4].max(1e-4);
    let arm: Vec<f32> = (0..RING / 2).map(|k| 1.0 - light[k].max(light[k + RING / 2]) / ground).collect();
    let half = RING / 2;
    let best = |from: usize, to: usize| (from..=to).map(|k| k % half).max_by(|&a, &b| arm[a].total_cmp(&arm[b]));
    let first = best(0, half - 1)?;
    // The other arm lies at least 45 degrees away.
    let second = best(first + half / 4, first + half - half / 4)?;
    let rest = median(&mut arm.clone()).unwrap_or_default();
    let weak = arm[first].min(arm[second]);
    if weak < 0.5 * blob.contrast.max(0.04) || rest > 0.4 * weak {
        return None;
    }
    let way = |k: usize| {
        let (a, b, c) = (arm[(k + half - 1) % half], arm[k], arm[(k + 1) % half]);
        let bend = a + c - 2.0 * b;
        let shift = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let angle = std::f64::consts::TAU * (k as f64 + shift as f64) / RING as f64;
        Vector2::new(angle.cos(), angle.sin())
    };
    Some(Candidate { at: blob.at(gray.factor), strength: weak, axes: Some([way(first), way(second)]), state: 0 })
}

fn level_sample(gray: &Gray, u: f64, v: f64) -> Option<f32> {
    if !(u >= 0.0 && v >= 0.0) || u >= (gray.width - 1) as f64 || v >= (gray.height - 1) as f64 {
        return None;
    }
    let (x, y) = (u as usize, v as usize);
    let (fx, fy) = ((u - x as f64) as f32, (v - y as f64) as f32);
    let row = |y: usize| {
        let (a, b) = (gray.data[y * gray.width + x], gray.data[y * gray.width + x + 1]);
        a + (b - a) * fx
    };
    Some(row(y) + (row(y + 1) - row(y)) * fy)
}

/// Measures the cross near `predicted`; `frame` holds the steps to the next node along i and j, px.
///
/// `None` when there is no separate dark cross within a fifth of a step, or half an arm of it is hidden.
pub fn refine(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<(Px, f64)> {
    let (patch, spot) = Spot::find(shot, predicted, frame)?;
    // Blur rounds a small cross off until it fills its ellipse as a dot does; its arms still stand out.
    if spot.area < 9.0 || spot.fill() > 0.75 && !armed(&patch, &spot, frame) {
        return None;
    }
    // Area of two bars of length 2 reach: their width.
    let width = (spot.area / (4.0 * spot.reach)).max(1.0);
    if spot.reach < 1.5 * width {
        return None;
    }
    let mut lines = [None; 2];
    for (line, step) in lines.iter_mut().zip(frame) {
        *line = Some(Arm::fit(&patch, &spot, step.normalize(), width)?);
    }
    let [Some(a), Some(b)] = lines else { return None };
    // n · p = d for both lines.
    let normals = Matrix2::from_rows(&[a.normal.transpose(), b.normal.transpose()]);
    let at = normals.try_inverse()? * Vector2::new(a.normal.dot(&a.through), b.normal.dot(&b.through));
    if (at - Vector2::new(spot.u, spot.v)).norm() > 0.35 * spot.reach + 1.0 {
        return None;
    }
    // Arms that meet at a slant share their errors less well: divide by the sine between them.
    let error = a.error.max(b.error) / normals.determinant().abs().max(0.2);
    (error < 0.5).then(|| (patch.outside(at.x, at.y), error.hypot(FLOOR)))
}

/// Half the width of a cross's arms and how far they reach from its middle, px.
pub fn size(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<[f64; 2]> {
    let (_, spot) = Spot::find(shot, predicted, frame)?;
    // Two bars of length 2 reach that share their middle: area = w (4 reach - w).
    let two = 2.0 * spot.reach;
    let width = two - (two * two - spot.area).max(0.0).sqrt();
    (width < spot.reach).then_some([0.5 * width, spot.reach])
}

/// Times as dark that a cross is along its arms than between them; a dot is equally dark all round.
const ARMED: f64 = 1.4;

/// Whether the spot is clearly darker along the lattice's directions than half-way between them.
fn armed(patch: &Patch, spot: &Spot, frame: [Vector2<f64>; 2]) -> bool {
    let [a, b] = frame.map(|step| step.normalize());
    let light = |ways: [Vector2<f64>; 2], share: f64| {
        let at = |w: Vector2<f64>| patch.sample(spot.u + share * spot.reach * w.x, spot.v + share * spot.reach * w.y).map(f64::from);
        let [v, w] = ways;
        Some(0.25 * (at(v)? + at(-v)? + at(w)? + at(-w)?))
    };
    let between = [(a + b).normalize(), (a - b).normalize()];
    let (Some(arms), Some(gaps), Some(ground)) = (light([a, b], 0.7), light(between, 0.7), light(between, 1.5)) else { return false };
    ground - arms > ARMED * (ground - gaps).max(0.0)
}

/// The straight line through the middle of one arm (both halves).
#[derive(Clone, Copy, Debug)]
struct Arm {
    through: Vector2<f64>,
    normal: Vector2<f64>,
    /// Standard error of its place across, at the node.
    error: f64,
}

impl Arm {
    fn fit(patch: &Patch, spot: &Spot, along: Vector2<f64>, width: f64) -> Option<Self> {
        let mut arm = Self { through: Vector2::new(spot.u, spot.v), normal: Vector2::new(-along.y, along.x), error: 0.0 };
        // The second round looks along the line found in the first.
        for _ in 0..2 {
            arm = arm.again(patch, spot.reach, width)?;
        }
        Some(arm)
    }

    fn again(&self, patch: &Patch, reach: f64, width: f64) -> Option<Self> {
        let along = Vector2::new(self.normal.y, -self.normal.x);
        // Not in the other arm's dark, nor at the tips where blur rounds the line off.
        let (from, to) = ((0.5 * width + 1.5).max(0.2 * reach), (0.85 * reach).max(0.5 * width + 2.5));
        let count = ((to - from).ceil() as usize).max(2);
        let mut points = Vec::with_capacity(2 * count);
        for side in [-1.0, 1.0] {
            let before = points.len();
            for k in 0..count {
                let t = side * (from + (to - from) * k as f64 / (count - 1) as f64);
                if let Some((s, weight)) = middle(patch, self.through + along * t, self.normal, width) {
                    points.push((t, s, weight));
                }
            }
            if (points.len() - before) * 10 < count * 6 {
                return None;
            }
        }
        let ((offset, slope), scatter, n) = straight(&points)?;
        let error = 2.0 * scatter / (n as f64).sqrt();
        Some(Self { through: self.through + self.normal * offset, normal: (self.normal - along * slope).normalize(), error })
    }
}

/// Where the middle of the dark line lies across, px from `at` along `normal`, and how dark it is there.
fn middle(patch: &Patch, at: Vector2<f64>, normal: Vector2<f64>, width: f64) -> Option<(f64, f64)> {
    const STEP: f64 = 0.5;
    let half = 0.5 * width + ASIDE;
    let count = (2.0 * half / STEP) as usize + 1;
    let place = |k: usize| (k as f64 - 0.5 * (count - 1) as f64) * STEP;
    let mut light = Vec::with_capacity(count);
    for k in 0..count {
        let p = at + normal * place(k);
        light.push(patch.sample(p.x, p.y)? as f64);
    }
    let ends = ((light[0] + light[1] + light[2]) / 3.0, (light[count - 1] + light[count - 2] + light[count - 3]) / 3.0);
    let ground = |s: f64| 0.5 * (ends.0 + ends.1) + (ends.1 - ends.0) * s / (2.0 * half - 2.0 * STEP);
    let spread = 0.3 * width + 0.8;
    let (mut s, mut dark) = (0.0, 0.0);
    for _ in 0..4 {
        let (mut sum, mut first, mut weight) = (0.0, 0.0, 0.0);
        for (k, l) in light.iter().enumerate() {
            let d = place(k) - s;
            let w = (-0.5 * (d / spread).powi(2)).exp();
            let relative = w * (1.0 - l / ground(place(k)).max(1e-4));
            sum += relative;
            first += relative * d;
            weight += w;
        }
        if sum <= 0.02 * weight {
            return None;
        }
        let shift = 2.0 * first / sum;
        s += shift;
        dark = sum / weight;
        if s.abs() > half - 2.0 {
            return None;
        }
        if shift.abs() < 0.01 {
            break;
        }
    }
    Some((s, dark))
}

/// The line s = offset + slope t through weighted points, again without what lies more than 2.5 scatters off; gives
/// the scatter and the number used.
fn straight(points: &[(f64, f64, f64)]) -> Option<((f64, f64), f64, usize)> {
    let solve = |points: &[(f64, f64, f64)]| {
        let (mut n, mut r) = (Matrix2::zeros(), Vector2::zeros());
        for &(t, s, w) in points {
            let row = Vector2::new(1.0, t);
            n += row * row.transpose() * w;
            r += row * (s * w);
        }
        let x = n.try_inverse()? * r;
        let sum: f64 = points.iter().map(|&(t, s, _)| (s - x[0] - x[1] * t).powi(2)).sum();
        (points.len() > 3).then(|| ((x[0], x[1]), (sum / (points.len() - 2) as f64).sqrt(), points.len()))
    };
    let (line, scatter, _) = solve(points)?;
    let near: Vec<_> = points.iter().copied().filter(|&(t, s, _)| (s - line.0 - line.1 * t).abs() <= 2.5 * scatter.max(0.05)).collect();
    solve(&near)
}
