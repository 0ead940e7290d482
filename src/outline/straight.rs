//! Whether an edge was drawn with a ruler.
//!
//! A line is held against a bow and an S on top of it, with standard errors that know neighbours err alike; a bow
//! too small to see counts as straight even where it could be proved.

use super::noise::Noise;
use super::smooth::Stretch;
use crate::solve::linear;

/// A bow must be this many standard errors to count.
const SURE: f64 = 3.0;

/// True when nothing but noise, or no more than `sag` mm, keeps the stretch from being a straight line.
pub(super) fn is_straight(stretch: &Stretch, noise: &Noise, sag: f64) -> bool {
    let ([Some((a, ea)), Some((b, eb))], false) = (&stretch.ends, stretch.round) else { return false };
    let Some(axis) = (b - a).try_normalize(1e-9) else { return false };
    let length = (b - a).norm();
    if stretch.length > length * 1.02 + 1.0 {
        return false;
    }
    let offs: Vec<f64> = stretch.sites.iter().map(|t| axis.perp(&(t.at - a))).collect();
    // The chord may itself be off by the corners' errors.
    let slack = SURE * ea.max(*eb).min(0.3);
    let largest = stretch.sites.iter().map(|t| t.error * noise.scale).fold(0.0, f64::max);
    if offs.iter().any(|v| v.abs() > sag + slack + 4.0 * largest) {
        return false;
    }
    let u: Vec<f64> = stretch.sites.iter().map(|t| (t.at - a).dot(&axis) / length).collect();
    let weights: Vec<f64> = stretch.sites.iter().map(|t| noise.weight(t.error)).collect();
    let rows: Vec<Vec<f64>> = u.iter().map(|&u| vec![1.0, u, 4.0 * u * (1.0 - u), 10.4 * u * (1.0 - u) * (1.0 - 2.0 * u)]).collect();
    let Some(f) = linear(&rows, &offs, &weights) else { return true };
    let small = |k: usize| {
        let error = (f.covariance[(k, k)] * noise.alike).sqrt();
        f.values[k].abs() <= sag.max(SURE * error)
    };
    small(2) && small(3)
}
