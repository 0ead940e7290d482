//! Least squares by the Levenberg–Marquardt method, on normal equations with Cholesky's factorisation.
//!
//! Levenberg (1944), Marquardt (1963); the damping follows Nielsen, "Damping parameter in Marquardt's method" (1999).
//! Robust losses by iteratively reweighted least squares: each round weighs a residual by the slope of its loss.

use nalgebra::{DMatrix, DVector};

/// Normal equations of a linearised problem: JᵀWJ (lower triangle), JᵀWr and the cost.
#[derive(Clone, Debug)]
pub struct Normal {
    /// JᵀWJ; only the lower triangle is filled until [`Normal::full`] is called.
    pub matrix: DMatrix<f64>,
    /// JᵀWr.
    pub gradient: DVector<f64>,
    /// Sum of the losses.
    pub cost: f64,
}

impl Normal {
    /// Of `n` unknowns, still empty.
    pub fn zero(n: usize) -> Self {
        Self { matrix: DMatrix::zeros(n, n), gradient: DVector::zeros(n), cost: 0.0 }
    }

    /// Adds one residual with its slope by every unknown (as many as there are); the cost is the caller's to add.
    #[inline]
    pub fn add(&mut self, slope: &[f64], residual: f64, weight: f64) {
        let n = slope.len();
        let columns = self.matrix.as_mut_slice().chunks_exact_mut(n);
        for ((k, column), g) in columns.enumerate().zip(self.gradient.as_mut_slice()) {
            let w = weight * slope[k];
            *g += w * residual;
            for (m, t) in column[k..].iter_mut().zip(&slope[k..]) {
                *m += w * t;
            }
        }
    }

    /// Adds a residual that depends only on the unknowns `at`.
    #[inline]
    pub fn add_at(&mut self, at: &[usize], slope: &[f64], residual: f64, weight: f64) {
        for (&k, s) in at.iter().zip(slope) {
            let w = weight * s;
            self.gradient[k] += w * residual;
            for (&row, t) in at.iter().zip(slope) {
                if row >= k {
                    self.matrix[(row, k)] += w * t;
                }
            }
        }
    }

    /// The full symmetric matrix.
    pub fn full(&self) -> DMatrix<f64> {
        let mut m = self.matrix.clone();
        m.fill_upper_triangle_with_lower_triangle();
        m
    }

    /// Inverse of the matrix: covariance of the unknowns when residuals were divided by their standard errors.
    /// `None` when the data leave some unknown free. Unknowns are scaled to unit diagonal first.
    pub fn covariance(&self) -> Option<DMatrix<f64>> {
        let scale = self.matrix.diagonal().map(|d| if d > 0.0 { 1.0 / d.sqrt() } else { 0.0 });
        let scaled = DMatrix::from_diagonal(&scale) * self.full() * DMatrix::from_diagonal(&scale);
        let inverse = scaled.cholesky()?.inverse();
        Some(DMatrix::from_diagonal(&scale) * inverse * DMatrix::from_diagonal(&scale))
    }

    fn step(&self, damping: f64) -> Option<DVector<f64>> {
        let n = self.gradient.len();
        let scale = self.matrix.diagonal().map(|d| 1.0 / d.max(1e-300).sqrt());
        let mut m = self.full();
        for c in 0..n {
            for r in 0..n {
                m[(r, c)] *= scale[r] * scale[c];
            }
            m[(c, c)] += damping;
        }
        let right = -self.gradient.component_mul(&scale);
        Some(m.cholesky()?.solve(&right).component_mul(&scale))
    }
}

/// What a residual costs: `u` is its square in units of its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Loss {
    /// The square itself: best when every residual is honest.
    Gauss,
    /// Cauchy's: c² ln(1 + u/c²). Far outliers hardly pull; c in standard errors.
    Cauchy(f64),
}

impl Loss {
    /// Cost and weight (the cost's slope by `u`).
    #[inline]
    pub fn at(self, u: f64) -> (f64, f64) {
        match self {
            Self::Gauss => (u, 1.0),
            Self::Cauchy(c) => {
                let t = u / (c * c);
                (c * c * t.ln_1p(), 1.0 / (1.0 + t))
            }
        }
    }
}

/// A problem that can be linearised.
pub trait Problem {
    /// The unknowns.
    type State: Clone;
    /// Normal equations at a state; the cost in it equals [`Problem::cost`].
    fn normal(&self, at: &Self::State) -> Normal;
    /// The cost alone.
    fn cost(&self, at: &Self::State) -> f64;
    /// The state a step away.
    fn moved(&self, from: &Self::State, step: &DVector<f64>) -> Self::State;
}

/// Where a minimisation ended.
#[derive(Clone, Debug)]
pub struct Minimum<S> {
    /// The unknowns.
    pub state: S,
    /// Normal equations there, without damping.
    pub normal: Normal,
    /// How many steps were taken.
    pub rounds: usize,
    /// Whether it came to rest (rather than ran out of rounds).
    pub settled: bool,
}

/// Damping of the first step, in units of a diagonal scaled to 1: next to none, because lens and pose are tied so closely
/// that 1e-4 already makes a crawl of it; a step that fails raises it fast.
const FIRST_DAMPING: f64 = 1e-9;

/// Walks downhill from `start` for at most `rounds` steps, or until a step promises less than the share `settled` of the
/// cost (1e-10 is as good as exact; 1e-3 will do for a first look). `None` when the cost at the start is not finite.
pub fn minimise<P: Problem>(problem: &P, start: P::State, rounds: usize, settled: f64) -> Option<Minimum<P::State>> {
    let mut state = start;
    let mut normal = problem.normal(&state);
    if !normal.cost.is_finite() {
        return None;
    }
    let (mut damping, mut growth) = (FIRST_DAMPING, 2.0);
    for round in 0..rounds {
        let done = |state, normal| Some(Minimum { state, normal, rounds: round, settled: true });
        let Some(step) = normal.step(damping) else {
            damping *= growth;
            growth *= 4.0;
            if damping > 1e12 {
                return done(state, normal);
            }
            continue;
        };
        // Decrease the undamped model promises: -2 gᵀs - sᵀAs.
        let promised = -2.0 * normal.gradient.dot(&step) - (normal.full() * &step).dot(&step);
        if promised <= settled * normal.cost.max(1e-12) {
            return done(state, normal);
        }
        let next = problem.moved(&state, &step);
        let cost = problem.cost(&next);
        let gain = (normal.cost - cost) / promised;
        if cost.is_finite() && gain > 0.0 {
            state = next;
            normal = problem.normal(&state);
            damping = (damping * (1.0 - (2.0 * gain - 1.0).powi(3)).max(1.0 / 3.0)).max(1e-12);
            growth = 2.0;
        } else {
            damping *= growth;
            growth *= 4.0;
            if damping > 1e12 {
                return done(state, normal);
            }
        }
    }
    Some(Minimum { state, normal, rounds, settled: false })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y = a exp(b x), a residual a point.
    struct Growth {
        points: Vec<(f64, f64)>,
        loss: Loss,
    }

    impl Problem for Growth {
        type State = (f64, f64);
        fn normal(&self, &(a, b): &Self::State) -> Normal {
            let mut n = Normal::zero(2);
            for &(x, y) in &self.points {
                let e = (b * x).exp();
                let r = a * e - y;
                let (cost, w) = self.loss.at(r * r / 0.01);
                n.add(&[e / 0.1, a * x * e / 0.1], r / 0.1, w);
                n.cost += cost;
            }
            n
        }
        fn cost(&self, &(a, b): &Self::State) -> f64 {
            self.points.iter().map(|&(x, y)| self.loss.at((a * (b * x).exp() - y).powi(2) / 0.01).0).sum()
        }
        fn moved(&self, &(a, b): &Self::State, step: &DVector<f64>) -> Self::State {
            (a + step[0], b + step[1])
        }
    }

    fn points() -> Vec<(f64, f64)> {
        (0..20).map(|k| (f64::from(k) * 0.1, 2.0 * (0.7 * f64::from(k) * 0.1).exp())).collect()
    }

    #[test]
    fn finds_the_growth() {
        let fit = minimise(&Growth { points: points(), loss: Loss::Gauss }, (1.0, 0.0), 50, 1e-10).expect("finite start");
        assert!((fit.state.0 - 2.0).abs() < 1e-6 && (fit.state.1 - 0.7).abs() < 1e-6, "{:?}", fit.state);
        assert!(fit.settled);
    }

    #[test]
    fn a_wild_point_pulls_only_without_robust_loss() {
        let mut points = points();
        points[13].1 += 5.0;
        let plain = minimise(&Growth { points: points.clone(), loss: Loss::Gauss }, (1.0, 0.0), 50, 1e-10).expect("finite start");
        let robust = minimise(&Growth { points, loss: Loss::Cauchy(2.0) }, plain.state, 50, 1e-10).expect("finite start");
        assert!((plain.state.0 - 2.0).abs() > 0.02);
        assert!((robust.state.0 - 2.0).abs() < 0.01, "{:?}", robust.state);
    }

    /// The covariance of a mean of n readings is s²/n.
    #[test]
    fn covariance_of_a_mean() {
        let mut n = Normal::zero(1);
        (0..16).for_each(|_| n.add(&[1.0 / 0.2], 0.0, 1.0));
        let c = n.covariance().expect("well fixed");
        assert!((c[(0, 0)] - 0.04 / 16.0).abs() < 1e-12);
        assert!(Normal::zero(2).covariance().is_none());
    }
}
