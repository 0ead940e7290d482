//! One side of a corner, continued to where the corner should be.
//!
//! The side is taken as a curve whose bend wanders (its third derivative is white noise of some strength), the prior
//! behind smoothing splines (Wahba, "Improper priors, spline smoothing and the problem of guarding against model
//! errors in regression", 1978), and run through a Kalman filter from its far end to the corner (Kohn & Ansley,
//! 1987). How much the bend wanders is not known: straight, and several strengths, are weighed by how likely they
//! make the points, and averaged. That gives place and direction at the corner with honest errors, and no stretch
//! has to be chosen.

use super::noise::Noise;
use super::trail::{Site, Trail};
use nalgebra::{Matrix3, Vector2, Vector3};

/// Farthest point used, mm; beyond that nothing is learnt about the corner.
pub(super) const REACH: f64 = 150.0;

/// Strengths of the wandering bend, 1/mm² of bend squared per mm: from a bend that stays for a metre to one that
/// goes from straight to a radius of 50 mm within 20 mm.
const STRENGTHS: [f64; 6] = [0.0, 1e-9, 1e-8, 1e-7, 1e-6, 2e-5];

/// Spread of the bend before any point is seen, 1/mm: radii of 60 mm are nothing rare.
const BEND: f64 = 1.0 / 60.0;

/// Farther than this from the corner sites are taken three by three, mm.
const DETAIL: f64 = 25.0;

/// Slope against its chord up to which a side is still a function of the distance along it.
const STEEPEST: f64 = 1.3;

/// Length that sets the direction of the frame, mm.
const FRAME: f64 = 12.0;

/// One side of a corner: a parabola about `foot`, in a frame of its own.
#[derive(Clone, Copy, Debug)]
pub(super) struct Side {
    origin: Vector2<f64>,
    axis: Vector2<f64>,
    foot: f64,
    state: Vector3<f64>,
    /// Standard errors square to the side and of its direction (radians) at `foot`.
    pub errors: (f64, f64),
}

/// Sites one by one near the corner, three by three where detail no longer matters.
fn groups(sites: &[Site]) -> impl Iterator<Item = &[Site]> {
    let near = sites.iter().take_while(|t| (t.s - sites[0].s).abs() <= DETAIL).count();
    sites[..near].chunks(1).chain(sites[near..].chunks(3))
}

struct Run {
    likelihood: f64,
    mean: Vector3<f64>,
    covariance: Matrix3<f64>,
}

impl Side {
    /// Follows the sites from `reach` in to `skip` after (`way` 1) or before (`way` -1) distance `s`, and on to
    /// beside `target`.
    pub fn fit(trail: &Trail, noise: &Noise, s: f64, way: f64, (skip, reach): (f64, f64), target: Vector2<f64>) -> Option<Self> {
        let sites: Vec<Site> =
            if way > 0.0 { trail.between(s + skip, s + reach).collect() } else { trail.between(s - reach, s - skip).rev().collect() };
        let first = sites.first()?;
        let far = sites.iter().take_while(|t| (t.s - first.s).abs() <= FRAME).last()?;
        let axis = (far.at - first.at).try_normalize(1e-9)?;
        let mut points: Vec<[f64; 3]> = Vec::with_capacity(sites.len());
        for group in groups(&sites) {
            let n = group.len() as f64;
            let d = group.iter().map(|t| t.at - first.at).sum::<Vector2<f64>>() / n;
            let (u, v) = (d.dot(&axis), axis.perp(&d));
            let back = points.last().is_some_and(|p| u <= p[0] - 0.5);
            if back || v.abs() > STEEPEST * u.abs() + 0.5 {
                break;
            }
            let weight: f64 = group.iter().map(|t| noise.weight(t.error)).sum();
            points.push([u, v, noise.alike / weight]);
        }
        let foot = (target - first.at).dot(&axis);
        let mut runs: Vec<Run> = STRENGTHS.iter().filter_map(|&q| follow(&points, foot, q, BEND)).collect();
        runs.extend(follow(&points, foot, 0.0, 0.0));
        let (state, spread) = average(&runs)?;
        let lean = 1.0 + state.y * state.y;
        Some(Self { origin: first.at, axis, foot, state, errors: ((spread.x / lean).sqrt(), spread.y.sqrt() / lean) })
    }

    /// The point at distance `u` along the axis.
    pub fn point(&self, u: f64) -> Vector2<f64> {
        let d = u - self.foot;
        self.origin + self.axis * u + self.across() * (self.state.x + d * (self.state.y + d * self.state.z / 2.0))
    }

    /// The derivative there; it points away from the corner.
    pub fn slope(&self, u: f64) -> Vector2<f64> {
        self.axis + self.across() * (self.state.y + (u - self.foot) * self.state.z)
    }

    /// Distance of a point along the axis.
    pub fn along(&self, p: Vector2<f64>) -> f64 {
        (p - self.origin).dot(&self.axis)
    }

    fn across(&self) -> Vector2<f64> {
        Vector2::new(-self.axis.y, self.axis.x)
    }
}

/// Mean and variances over all runs, each weighed by its likelihood.
fn average(runs: &[Run]) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let top = runs.iter().map(|r| r.likelihood).fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() {
        return None;
    }
    let weights: Vec<f64> = runs.iter().map(|r| (r.likelihood - top).exp()).collect();
    let total: f64 = weights.iter().sum();
    let mean: Vector3<f64> = runs.iter().zip(&weights).map(|(r, w)| r.mean * (w / total)).sum();
    let spread: Vector3<f64> = runs
        .iter()
        .zip(&weights)
        .map(|(r, w)| {
            let d = r.mean - mean;
            (r.covariance.diagonal() + d.component_mul(&d)) * (w / total)
        })
        .sum();
    (mean.iter().chain(spread.iter()).all(|v| v.is_finite())).then_some((mean, spread))
}

/// One run of the filter over points `[u, v, variance]`, last to first, and on to `foot`.
fn follow(points: &[[f64; 3]], foot: f64, strength: f64, bend: f64) -> Option<Run> {
    let start = points.last().filter(|_| points.len() > 1)?;
    // The far end is known to its point's error; its direction to about a right angle.
    let mut mean = Vector3::new(start[1], 0.0, 0.0);
    let mut covariance = Matrix3::from_diagonal(&Vector3::new(start[2], 2.0, bend * bend));
    let mut likelihood = 0.0;
    let mut at = start[0];
    for p in points[..points.len() - 1].iter().rev() {
        advance(&mut mean, &mut covariance, p[0] - at, strength);
        at = p[0];
        let variance = covariance[(0, 0)] + p[2];
        let off = p[1] - mean.x;
        let gain = covariance.column(0) / variance;
        likelihood -= 0.5 * (off * off / variance + (variance / p[2]).ln());
        mean += gain * off;
        covariance -= gain * gain.transpose() * variance;
    }
    advance(&mut mean, &mut covariance, foot - at, strength);
    likelihood.is_finite().then_some(Run { likelihood, mean, covariance })
}

/// Carries state and covariance on by `d`.
fn advance(mean: &mut Vector3<f64>, covariance: &mut Matrix3<f64>, d: f64, strength: f64) {
    let step = Matrix3::new(1.0, d, d * d / 2.0, 0.0, 1.0, d, 0.0, 0.0, 1.0);
    *mean = step * *mean;
    *covariance = step * *covariance * step.transpose();
    if strength > 0.0 {
        let q = strength * d.abs();
        let (a, b, c) = (d.powi(4) / 20.0, d.powi(3) / 8.0, d * d / 6.0);
        *covariance += Matrix3::new(a, b, c, b, d * d / 3.0, d / 2.0, c, d / 2.0, 1.0) * q;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With no wandering and a free bend the filter is least squares by a parabola (Kalman 1960: the filter is the
    /// recursive form of least squares).
    #[test]
    fn without_wandering_it_is_a_parabola() {
        let points: Vec<[f64; 3]> = (0..40).map(|k| [k as f64, 0.3 * k as f64 + 0.01 * (k * k) as f64, 0.01]).collect();
        let run = follow(&points, -3.0, 0.0, 1.0).expect("runs");
        assert!((run.mean.x - (-0.9 + 0.09)).abs() < 1e-3, "{}", run.mean);
        assert!((run.mean.y - (0.3 - 0.06)).abs() < 1e-3);
    }

    #[test]
    fn wandering_widens_the_error() {
        let points: Vec<[f64; 3]> = (0..40).map(|k| [k as f64, 0.0, 0.01]).collect();
        let still = follow(&points, -3.0, 0.0, BEND).expect("runs");
        let wild = follow(&points, -3.0, 1e-5, BEND).expect("runs");
        assert!(wild.covariance[(0, 0)] > still.covariance[(0, 0)]);
    }
}
