//! Fits a scanner's map: six numbers, the same everywhere.

use super::camera::Pair;
use super::{Model, solve::INLIER};
use crate::length::Px;
use crate::solve::{Normal, median};
use nalgebra::{DMatrix, DVector};

/// Six numbers, their covariance, and which nodes were used.
pub(super) struct ScanFit {
    pub matrix: [f64; 6],
    pub covariance: DMatrix<f64>,
    pub used: Vec<bool>,
}

/// Weighted linear least squares, reweighted with Cauchy's loss, then plain on what fits.
pub(super) fn fit(pairs: &[Pair]) -> Option<ScanFit> {
    let mut weights = vec![1.0; pairs.len()];
    let mut matrix = linear(pairs, &weights)?.0;
    let mut scale = 1.0;
    for _ in 0..15 {
        let u = misses(pairs, &matrix);
        scale = (median(&mut u.clone())? / 1.1774).max(1e-3);
        weights = u.iter().map(|u| 1.0 / (1.0 + (u / (2.5 * scale)).powi(2))).collect();
        matrix = linear(pairs, &weights)?.0;
    }
    let used: Vec<bool> = misses(pairs, &matrix).iter().map(|u| *u <= INLIER * scale).collect();
    weights = used.iter().map(|u| f64::from(u8::from(*u))).collect();
    let (matrix, covariance) = linear(pairs, &weights)?;
    let sum: f64 = misses(pairs, &matrix).iter().zip(&weights).map(|(u, w)| w * u * u).sum();
    let count = weights.iter().sum::<f64>();
    let scale = (sum / (2.0 * count - 6.0).max(1.0)).sqrt();
    let scale = if count < 20.0 { scale.max(1.0) } else { scale.max(0.2) };
    Some(ScanFit { matrix, covariance: covariance * scale * scale, used })
}

impl ScanFit {
    pub fn model(&self) -> Model {
        Model::Scan { matrix: self.matrix }
    }
}

/// Order of the unknowns: a b c d e f of px = [a b; c d] mm + [e, f].
fn linear(pairs: &[Pair], weights: &[f64]) -> Option<([f64; 6], DMatrix<f64>)> {
    let mut n = Normal::zero(6);
    for (p, w) in pairs.iter().zip(weights) {
        let w = w / (p.error * p.error);
        n.add_at(&[0, 1, 4], &[p.mm.x, p.mm.y, 1.0], -p.px.x, w);
        n.add_at(&[2, 3, 5], &[p.mm.x, p.mm.y, 1.0], -p.px.y, w);
    }
    let covariance = n.covariance()?;
    let x: DVector<f64> = -(&covariance * &n.gradient);
    Some((std::array::from_fn(|k| x[k]), covariance))
}

fn misses(pairs: &[Pair], m: &[f64; 6]) -> Vec<f64> {
    let seen = |p: &Pair| Px::new(m[0] * p.mm.x + m[1] * p.mm.y + m[4], m[2] * p.mm.x + m[3] * p.mm.y + m[5]);
    pairs.iter().map(|p| seen(p).distance(p.px) / p.error).collect()
}
