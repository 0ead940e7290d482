//! How noisy the points are: what they claim, held against what low curves through short stretches leave.

use super::trail::Trail;
use crate::solve::Polynomial;

/// Length of the stretches looked at, mm; short enough for a parabola to follow a neckline.
const STRETCH: f64 = 25.0;

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
        let mut left: Vec<f64> = Vec::new();
        let mut s = 0.0;
        while s + STRETCH <= trail.length {
            if let Some(m) = misfit(trail, s) {
                left.push(m);
            }
            s += STRETCH / 2.0;
        }
        left.sort_by(f64::total_cmp);
        // A parabola takes three independent errors out of a stretch that holds only so many.
        let held = STRETCH / (trail.step() * alike);
        let kept = (1.0 - 3.0 / held).clamp(0.2, 1.0).sqrt();
        let scale = left.get(left.len() / 2).map_or(1.0, |m| m / kept);
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

fn misfit(trail: &Trail, s: f64) -> Option<f64> {
    let sites: Vec<_> = trail.between(s, s + STRETCH).collect();
    if sites.len() < 8 {
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
