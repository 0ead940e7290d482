//! How far a drawn edge may be out, from the errors of its points: propagated through the fit, with neighbours that
//! err alike counted once.

use super::cubics::{Fitted, Target, equations, normal_at};
use super::noise::Noise;
use super::smooth::Stretch;

/// Distance between the places told, mm; at most 5 is asked for.
const APART: f64 = 4.0;

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
    let Some(covariance) = information.cholesky().map(|c| c.inverse()) else { return flat(stretch, noise) };
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
            told.push([s + length * t, (spread + left[near].1).sqrt()]);
        }
        s += length;
    }
    told
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

fn kurbo_length(c: &[nalgebra::Vector2<f64>; 4]) -> f64 {
    use kurbo::ParamCurveArclen;
    let p = |k: usize| kurbo::Point::new(c[k].x, c[k].y);
    kurbo::CubicBez::new(p(0), p(1), p(2), p(3)).arclen(1e-4)
}

fn flat(stretch: &Stretch, noise: &Noise) -> Vec<[f64; 2]> {
    let mean = stretch.sites.iter().map(|t| t.error).sum::<f64>() / stretch.sites.len().max(1) as f64 * noise.scale;
    let pieces = (stretch.length / APART).ceil().max(1.0);
    (0..=pieces as usize).map(|k| [stretch.length * k as f64 / pieces, mean]).collect()
}
