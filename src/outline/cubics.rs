//! Few cubics through many points: Gauss-Newton on the curve itself, the points' feet found anew at each step.
//!
//! The distance that counts is that along the normal at the foot (Wang, Pottmann & Liu, "Fitting B-spline curves to
//! point clouds by curvature-based squared distance minimization", 2006: tangent distance), with the damping of
//! Levenberg and Marquardt. Neighbouring cubics share their tangent by construction, so no kink can appear, and the
//! places where they join are free.

use nalgebra::{DMatrix, DVector, Vector2};
use std::ops::Range;

/// A place where cubics join, or an end.
#[derive(Clone, Copy, Debug)]
pub(super) struct Knot {
    /// Where.
    pub at: Vector2<f64>,
    /// Direction of travel, radians.
    pub angle: f64,
    /// Logarithm of the handle's length towards the cubic before.
    pub back: f64,
    /// Logarithm of the handle's length into the cubic after.
    pub ahead: f64,
}

/// Smoothly joined cubics.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    /// Joins and, unless closed, the two ends.
    knots: Vec<Knot>,
    /// Whether the last cubic ends at the first knot.
    pub closed: bool,
    /// Control points of the cubics, kept because they are asked for at every foot.
    controls: Vec<[Vector2<f64>; 4]>,
}

/// A point the chain is to pass near.
#[derive(Clone, Copy, Debug)]
pub(super) struct Target {
    /// Where.
    pub at: Vector2<f64>,
    /// Weight, one over the variance of what it stands for.
    pub weight: f64,
    /// Rough parameter along the whole stretch, 0 to 1, to begin with.
    pub share: f64,
}

/// A foot of a target: number of the cubic and parameter on it.
pub(super) type Foot = (usize, f64);

/// Unknowns of a knot.
const PER: usize = 5;

/// Most steps; a fit settles in five to fifteen.
const STEPS: usize = 40;

/// A step that gains less than this share ends the search.
const SETTLED: f64 = 1e-5;

impl Chain {
    /// Joins cubics at knots; at least two of them.
    pub fn new(knots: Vec<Knot>, closed: bool) -> Self {
        let n = knots.len();
        let controls = (0..if closed { n } else { n - 1 })
            .map(|k| {
                let (a, b) = (&knots[k], &knots[(k + 1) % n]);
                [a.at, a.at + direction(a.angle) * a.ahead.exp(), b.at - direction(b.angle) * b.back.exp(), b.at]
            })
            .collect();
        Self { knots, closed, controls }
    }

    /// Number of cubics.
    pub fn len(&self) -> usize {
        self.controls.len()
    }

    fn end(&self, k: usize) -> usize {
        (k + 1) % self.knots.len()
    }

    /// Control points of cubic `k`.
    pub fn control(&self, k: usize) -> [Vector2<f64>; 4] {
        self.controls[k]
    }

    /// The point at a foot.
    pub fn point(&self, (k, t): Foot) -> Vector2<f64> {
        let (c, b) = (&self.controls[k], bernstein(t));
        (0..4).map(|j| c[j] * b[j]).sum()
    }

    /// First derivative at a foot.
    pub fn slope(&self, (k, t): Foot) -> Vector2<f64> {
        slopes(&self.controls[k], t).0
    }

    /// True when every number is finite and no handle is far longer than the chain.
    pub fn is_sound(&self) -> bool {
        (0..self.len()).all(|k| {
            let c = self.control(k);
            let chord = (c[3] - c[0]).norm();
            let reach = (c[1] - c[0]).norm() + (c[2] - c[3]).norm();
            c.iter().all(|p| p.x.is_finite() && p.y.is_finite()) && reach < 4.0 * chord.max(1e-9)
        })
    }

    /// How the point at a foot moves along its normal for each unknown, written into `row`.
    pub fn sensitivities(&self, (k, t): Foot, normal: Vector2<f64>, row: &mut [f64]) {
        row.fill(0.0);
        let b = bernstein(t);
        let e = self.end(k);
        let c = &self.controls[k];
        let (da, db) = (c[1] - c[0], c[3] - c[2]);
        let quarter = |v: Vector2<f64>| Vector2::new(-v.y, v.x);
        let lead = b[0] + b[1];
        row[PER * k] += normal.x * lead;
        row[PER * k + 1] += normal.y * lead;
        row[PER * k + 2] += normal.dot(&quarter(da)) * b[1];
        row[PER * k + 4] += normal.dot(&da) * b[1];
        let trail = b[2] + b[3];
        row[PER * e] += normal.x * trail;
        row[PER * e + 1] += normal.y * trail;
        row[PER * e + 2] -= normal.dot(&quarter(db)) * b[2];
        row[PER * e + 3] -= normal.dot(&db) * b[2];
    }

    fn moved(&self, step: &DVector<f64>) -> Self {
        let mut knots = self.knots.clone();
        for (k, knot) in knots.iter_mut().enumerate() {
            let d = &step.as_slice()[PER * k..PER * k + PER];
            knot.at += Vector2::new(d[0], d[1]);
            knot.angle += d[2].clamp(-0.5, 0.5);
            knot.back += d[3].clamp(-0.7, 0.7);
            knot.ahead += d[4].clamp(-0.7, 0.7);
        }
        Self::new(knots, self.closed)
    }
}

/// A chain fitted to targets.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    /// The chain.
    pub chain: Chain,
    /// The targets' feet on it.
    pub feet: Vec<Foot>,
    /// Weighted sum of squared distances.
    pub square: f64,
}

/// Which unknowns may move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// First and last knot stay where they are.
    Tied,
    /// They move along their normal too.
    Free,
    /// Closed; the first knot keeps its direction.
    Round,
}

/// Fits a chain to targets in order, from the given start.
pub(super) fn fit(start: Chain, targets: &[Target], ends: Ends) -> Option<Fitted> {
    let n = start.len() as f64;
    let mut feet: Vec<Foot> = targets
        .iter()
        .map(|t| {
            let u = (t.share * n).clamp(0.0, n - 1e-9);
            (u as usize, u.fract())
        })
        .collect();
    refoot(&start, targets, &mut feet, 6);
    let mut now = Fitted { square: cost(&start, targets, &feet), chain: start, feet };
    let free = free_unknowns(now.chain.knots.len(), ends);
    let mut damping = 1e-3;
    for _ in 0..STEPS {
        let (normal, right) = equations(&now, targets);
        let Some(step) = damped_step(&normal, &right, &free, damping) else {
            damping *= 10.0;
            if damping > 1e8 {
                break;
            }
            continue;
        };
        let chain = now.chain.moved(&step);
        let mut feet = now.feet.clone();
        refoot(&chain, targets, &mut feet, 2);
        let square = cost(&chain, targets, &feet);
        if square.is_finite() && square < now.square {
            let gain = (now.square - square) / now.square.max(1e-300);
            now = Fitted { chain, feet, square };
            damping = (damping * 0.2).max(1e-9);
            if gain < SETTLED {
                break;
            }
        } else {
            damping *= 8.0;
            if damping > 1e8 {
                break;
            }
        }
    }
    now.chain.is_sound().then_some(now)
}

fn free_unknowns(knots: usize, ends: Ends) -> Vec<usize> {
    let inner = |k: usize| PER * k..PER * k + PER;
    let mut free: Vec<usize> = Vec::new();
    for k in 0..knots {
        let all: Range<usize> = inner(k);
        match (ends, k) {
            (Ends::Round, 0) => free.extend(all.filter(|u| u % PER != 2)),
            (Ends::Tied, 0) => free.extend([2, 4]),
            (Ends::Free, 0) => free.extend([0, 1, 2, 4]),
            (Ends::Tied, k) if k + 1 == knots => free.extend([PER * k + 2, PER * k + 3]),
            (Ends::Free, k) if k + 1 == knots => free.extend([PER * k, PER * k + 1, PER * k + 2, PER * k + 3]),
            _ => free.extend(all),
        }
    }
    free
}

/// Normal equations over all unknowns, with a faint pull of the handles towards a third of the chord.
pub(super) fn equations(now: &Fitted, targets: &[Target]) -> (DMatrix<f64>, DVector<f64>) {
    let chain = &now.chain;
    let m = PER * chain.knots.len();
    let mut normal = DMatrix::zeros(m, m);
    let mut right = DVector::zeros(m);
    let mut row = vec![0.0; m];
    for (t, foot) in targets.iter().zip(&now.feet) {
        let Some(unit) = normal_at(chain, *foot) else { continue };
        chain.sensitivities(*foot, unit, &mut row);
        let off = (t.at - chain.point(*foot)).dot(&unit);
        let used = [foot.0, chain.end(foot.0)];
        for ka in used {
            for a in PER * ka..PER * ka + PER {
                if row[a] == 0.0 {
                    continue;
                }
                right[a] += t.weight * row[a] * off;
                for kb in used {
                    for b in PER * kb..PER * kb + PER {
                        normal[(a, b)] += t.weight * row[a] * row[b];
                    }
                }
                if used[0] == used[1] {
                    break;
                }
            }
        }
    }
    for k in 0..chain.len() {
        let e = chain.end(k);
        let third = ((chain.knots[e].at - chain.knots[k].at).norm() / 3.0).max(1e-6).ln();
        for (index, value) in [(PER * k + 4, chain.knots[k].ahead), (PER * e + 3, chain.knots[e].back)] {
            normal[(index, index)] += HANDLE_PULL;
            right[index] += HANDLE_PULL * (third - value);
        }
    }
    (normal, right)
}

/// Weight of the pull, in squared standard errors for a handle e times too long: it only decides what data leave open.
const HANDLE_PULL: f64 = 0.3;

fn damped_step(normal: &DMatrix<f64>, right: &DVector<f64>, free: &[usize], damping: f64) -> Option<DVector<f64>> {
    let n = free.len();
    let mut m = DMatrix::from_fn(n, n, |i, j| normal[(free[i], free[j])]);
    let mean = (0..n).map(|i| m[(i, i)]).sum::<f64>() / n as f64;
    for i in 0..n {
        m[(i, i)] += damping * (m[(i, i)] + 1e-6 * mean) + 1e-12 * mean;
    }
    let r = DVector::from_fn(n, |i, _| right[free[i]]);
    let x = m.cholesky()?.solve(&r);
    let mut step = DVector::zeros(normal.nrows());
    for (i, &f) in free.iter().enumerate() {
        step[f] = x[i];
    }
    step.iter().all(|v| v.is_finite()).then_some(step)
}

/// Unit normal of the chain at a foot.
pub(super) fn normal_at(chain: &Chain, foot: Foot) -> Option<Vector2<f64>> {
    let d = chain.slope(foot).try_normalize(1e-12)?;
    Some(Vector2::new(-d.y, d.x))
}

fn cost(chain: &Chain, targets: &[Target], feet: &[Foot]) -> f64 {
    let mut sum: f64 = targets.iter().zip(feet).map(|(t, f)| t.weight * (t.at - chain.point(*f)).norm_squared()).sum();
    for k in 0..chain.len() {
        let e = chain.end(k);
        let third = ((chain.knots[e].at - chain.knots[k].at).norm() / 3.0).max(1e-6).ln();
        sum += HANDLE_PULL * ((third - chain.knots[k].ahead).powi(2) + (third - chain.knots[e].back).powi(2));
    }
    sum
}

/// Moves each foot to the nearest place by Newton's steps, over to the next cubic where needed.
fn refoot(chain: &Chain, targets: &[Target], feet: &mut [Foot], rounds: usize) {
    for (t, foot) in targets.iter().zip(feet.iter_mut()) {
        for _ in 0..rounds {
            let (d1, d2) = slopes(&chain.controls[foot.0], foot.1);
            let off = chain.point(*foot) - t.at;
            let bend = (d1.norm_squared() + off.dot(&d2)).max(0.2 * d1.norm_squared()).max(1e-12);
            let next = foot.1 - (off.dot(&d1) / bend).clamp(-0.4, 0.4);
            *foot = hop(chain, foot.0, next);
        }
    }
}

fn hop(chain: &Chain, k: usize, t: f64) -> Foot {
    let n = chain.len();
    if t < 0.0 && (chain.closed || k > 0) {
        ((k + n - 1) % n, 1.0 + t.max(-0.5))
    } else if t > 1.0 && (chain.closed || k + 1 < n) {
        ((k + 1) % n, (t - 1.0).min(0.5))
    } else {
        (k, t.clamp(0.0, 1.0))
    }
}

fn direction(angle: f64) -> Vector2<f64> {
    Vector2::new(angle.cos(), angle.sin())
}

fn bernstein(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t]
}

/// First and second derivative of a cubic.
pub(super) fn slopes(c: &[Vector2<f64>; 4], t: f64) -> (Vector2<f64>, Vector2<f64>) {
    let s = 1.0 - t;
    let (a, b, d) = (c[1] - c[0], c[2] - c[1], c[3] - c[2]);
    ((a * (s * s) + b * (2.0 * s * t) + d * (t * t)) * 3.0, ((b - a) * s + (d - b) * t) * 6.0)
}
