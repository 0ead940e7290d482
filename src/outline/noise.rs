//! How noisy the points are: what they claim, held against what low curves through short stretches leave.

use super::trail::Trail;
use crate::solve::Polynomial;

/// Lengths of the stretches looked at, mm. Over the longest a parabola still follows a neckline; shorter ones serve
/// where corners lie close together.
const STRETCHES: [f64; 3] = [25.0, 12.0, 7.0];

/// A stretch must hold this many independent errors, the parabola takes three of them.
const INDEPENDENT: f64 = 6.0;

/// The points' own claim is believed within these factors.
const BELIEF: (f64, f64) = (0.5, 4.0);

/// Noise of a trail.
#[derive(Clone, Copy, Debug)]
pub(super) struct Noise {
    /// Factor on the claimed standard errors.
    pub scale: f64,
    /// How many neighbouring sites err alike: variances of means are that much larger.
    pub alike: f64,
}

impl Noise {
    /// Measures the noise of a trail.
    pub fn of(trail: &Trail) -> Self {
        let alike = trail.alike();
        let least = |l: &f64| *l == STRETCHES[0] || l / (trail.step() * alike) >= INDEPENDENT;
        let scale = STRETCHES.iter().filter(|l| least(l)).filter_map(|&l| left_over(trail, l, alike)).fold(f64::INFINITY, f64::min);
        let scale = if scale.is_finite() { scale } else { 1.0 };
        Self { scale: scale.clamp(BELIEF.0, BELIEF.1), alike }
    }

    /// Weight of a point that claims the given standard error.
    pub fn weight(&self, error: f64) -> f64 {
        (error * self.scale).powi(-2)
    }

    /// Root mean square misfit, in standard errors, above which a model does not hold for `n` sites.
    pub fn allowed_misfit(&self, n: usize) -> f64 {
        let independent = (n as f64 / self.alike).max(1.0);
        (1.0 + 2.5 * (2.0 / independent).sqrt()).sqrt()
    }
}

/// Median of what parabolas over stretches leave, in claimed standard errors.
fn left_over(trail: &Trail, stretch: f64, alike: f64) -> Option<f64> {
    let mut left: Vec<f64> = Vec::new();
    let mut s = 0.0;
    while s + stretch <= trail.length {
        left.extend(misfit(trail, s, stretch));
        s += stretch / 2.0;
    }
    left.sort_by(f64::total_cmp);
    let held = stretch / (trail.step() * alike);
    let kept = (1.0 - 3.0 / held).clamp(0.2, 1.0).sqrt();
    left.get(left.len() / 2).map(|m| m / kept)
}

fn misfit(trail: &Trail, s: f64, stretch: f64) -> Option<f64> {
    let sites: Vec<_> = trail.between(s, s + stretch).collect();
    if sites.len() < 7 {
        return None;
    }
    let axis = (sites[sites.len() - 1].at - sites[0].at).try_normalize(1e-9)?;
    let local: Vec<[f64; 3]> = sites
        .iter()
        .map(|t| {
            let d = t.at - sites[0].at;
            [d.dot(&axis), axis.perp(&d), t.error.powi(-2)]
        })
        .collect();
    Some(Polynomial::fit(&local, 2)?.misfit)
}
