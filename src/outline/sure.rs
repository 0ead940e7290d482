//! How far a drawn edge may be out, from the errors of its points.
//!
//! What a point may be out has two parts. One differs from place to place, alike over some millimetres: it is propagated
//! through the fit, with neighbours that err alike counted once, and many points make it small. The other is alike all
//! along an edge, because light falls on it from one side, the cloth rolls down to the sheet in one way, the camera
//! sharpens as it does: no number of points makes it smaller.

use super::cubics::{Fitted, Target, equations, normal_at};
use super::noise::Noise;
use super::smooth::Stretch;
use super::trail::Site;
use crate::solve::linear;
use nalgebra::Vector2;

/// Distance between the places told, mm; at most 5 is asked for.
const APART: f64 = 4.0;

/// Part of a point's standard error that is alike all along its edge.
///
/// The one figure that is not propagated but measured, on scenes drawn by lot: the mean error of 30 mm of rim is half a
/// standard error of its points (68 % of them), whatever the size of the points' own errors.
const ALIKE_ALL_ALONG: f64 = 0.5;

/// The points on either side whose errors tell that of a place, mm.
const BESIDE: f64 = 8.0;

/// Standard error taken for an end that no corner holds, mm: as free as the fit leaves it.
const FREE_END: f64 = 5.0;

/// Distance along and standard error of the drawn chain square to itself, both mm, at most 5 mm apart.
pub(super) fn along_chain(fitted: &Fitted, targets: &[Target], stretch: &Stretch, noise: &Noise) -> Vec<[f64; 2]> {
    let (mut information, _) = equations(fitted, targets);
    information /= noise.alike;
    let m = information.nrows();
    if !fitted.chain.closed {
        for (end, base) in stretch.ends.iter().zip([0, m - 5]) {
            let error = end.map_or(FREE_END, |e| e.1.max(1e-3) / std::f64::consts::SQRT_2);
            for k in [base, base + 1] {
                information[(k, k)] += error.powi(-2);
            }
        }
    }
    // Unknowns that slide along the curve change nothing; a little keeps the matrix whole.
    let mean = information.trace() / m as f64;
    for k in 0..m {
        information[(k, k)] += 1e-9 * mean;
    }
    let Some(covariance) = information.cholesky().map(|c| c.inverse()) else { return along_spline(stretch, noise) };
    let left = leftovers(fitted, targets);
    let mut row = vec![0.0; m];
    let mut told = Vec::new();
    let mut s = 0.0;
    for k in 0..fitted.chain.len() {
        let c = fitted.chain.control(k);
        let length = kurbo_length(&c);
        let pieces = (length / APART).ceil().max(1.0);
        for j in 0..=pieces as usize {
            if j == 0 && k > 0 {
                continue;
            }
            let t = j as f64 / pieces;
            let foot = (k, t);
            let Some(unit) = normal_at(&fitted.chain, foot) else { continue };
            fitted.chain.sensitivities(foot, unit, &mut row);
            let r = nalgebra::DVector::from_column_slice(&row);
            let spread = (&covariance * &r).dot(&r).max(0.0);
            let here = k as f64 + t;
            let near = left.partition_point(|l| l.0 < here).min(left.len() - 1);
            told.push([s + length * t, spread + left[near].1]);
        }
        s += length;
    }
    let shared = Shared::of(stretch);
    told.into_iter().map(|[along, square]| [along, (square + shared.at(along * stretch.length / s.max(1e-9)).powi(2)).sqrt()]).collect()
}

/// The same for a ruler line between the ends: how well the points hold it, and how far they lie off it.
pub(super) fn along_line(ends: [Vector2<f64>; 2], stretch: &Stretch, noise: &Noise) -> Vec<[f64; 2]> {
    let length = (ends[1] - ends[0]).norm();
    let shared = Shared::of(stretch);
    let Some(axis) = (ends[1] - ends[0]).try_normalize(1e-9) else { return vec![[0.0, shared.at(0.0)]] };
    // From -1 to 1 along the line, so that mean and lean hardly depend on each other.
    let at = |s: f64| 2.0 * s / length - 1.0;
    let from = |t: &Site| t.at - ends[0];
    let rows: Vec<Vec<f64>> = stretch.sites.iter().map(|t| vec![1.0, at(from(t).dot(&axis))]).collect();
    let offs: Vec<f64> = stretch.sites.iter().map(|t| axis.perp(&from(t))).collect();
    let weights: Vec<f64> = stretch.sites.iter().map(|t| noise.weight(t.error)).collect();
    let fitted = linear(&rows, &offs, &weights);
    let pieces = (length / APART).ceil().max(1.0);
    (0..=pieces as usize)
        .map(|k| {
            let s = length * k as f64 / pieces;
            let own = fitted.as_ref().map_or(0.0, |f| {
                let (u, c) = (at(s), &f.covariance);
                let spread = (c[(0, 0)] + 2.0 * u * c[(0, 1)] + u * u * c[(1, 1)]) * noise.alike;
                spread + (f.values[0] + u * f.values[1]).powi(2)
            });
            [s, (own + shared.at(s).powi(2)).sqrt()]
        })
        .collect()
}

/// The same for the smooth curve itself, drawn where no cubics would do: as good as its points.
pub(super) fn along_spline(stretch: &Stretch, noise: &Noise) -> Vec<[f64; 2]> {
    let mean = stretch.sites.iter().map(|t| t.error).sum::<f64>() / stretch.sites.len().max(1) as f64 * noise.scale;
    let shared = Shared::of(stretch);
    let pieces = (stretch.length / APART).ceil().max(1.0);
    let at = |k: usize| stretch.length * k as f64 / pieces;
    (0..=pieces as usize).map(|k| [at(k), mean.hypot(shared.at(at(k)))]).collect()
}

/// Standard errors that are alike all along an edge.
struct Shared {
    /// Distance along and sum of squared errors up to there.
    sums: Vec<(f64, f64)>,
}

impl Shared {
    fn of(stretch: &Stretch) -> Self {
        let mut sum = 0.0;
        let step = |t: &Site| {
            sum += t.error * t.error;
            (t.s, sum)
        };
        Self { sums: stretch.sites.iter().map(step).collect() }
    }

    /// The standard error at a distance along: that of the points beside it.
    fn at(&self, s: f64) -> f64 {
        let n = self.sums.len();
        if n == 0 {
            return 0.0;
        }
        let low = self.sums.partition_point(|t| t.0 < s - BESIDE).min(n - 1);
        let high = self.sums.partition_point(|t| t.0 <= s + BESIDE).max(low + 1);
        let before = if low == 0 { 0.0 } else { self.sums[low - 1].1 };
        ALIKE_ALL_ALONG * ((self.sums[high - 1].1 - before) / (high - low) as f64).sqrt()
    }
}

/// Position on the chain (number of the cubic and share of it) and mean square of what the cubics leave of the smooth
/// curve around there, mm²: the curve may be right where they differ.
fn leftovers(fitted: &Fitted, targets: &[Target]) -> Vec<(f64, f64)> {
    let off: Vec<(f64, f64)> =
        targets.iter().zip(&fitted.feet).map(|(t, f)| (f.0 as f64 + f.1, (t.at - fitted.chain.point(*f)).norm_squared())).collect();
    let mut out: Vec<(f64, f64)> = (0..off.len())
        .map(|k| {
            let part = &off[k.saturating_sub(2)..(k + 3).min(off.len())];
            (off[k].0, part.iter().map(|p| p.1).sum::<f64>() / part.len() as f64)
        })
        .collect();
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out
}

fn kurbo_length(c: &[Vector2<f64>; 4]) -> f64 {
    use kurbo::ParamCurveArclen;
    let p = |k: usize| kurbo::Point::new(c[k].x, c[k].y);
    kurbo::CubicBez::new(p(0), p(1), p(2), p(3)).arclen(1e-4)
}
