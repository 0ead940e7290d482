//! Weighted least-squares polynomials of low degree, with the covariance of their coefficients.

use nalgebra::{DMatrix, DVector};

/// A polynomial in (u - centre) / scale, and how well it is known.
#[derive(Clone, Debug)]
pub struct Polynomial {
    centre: f64,
    scale: f64,
    coefficients: DVector<f64>,
    covariance: DMatrix<f64>,
    /// Root of the weighted mean square of the residuals; 1 when weights are one over the variance and the model holds.
    pub misfit: f64,
}

impl Polynomial {
    /// Fits `v(u)` of the given degree; weights are one over the variance. `None` when there are too few points.
    pub fn fit(points: &[[f64; 3]], degree: usize) -> Option<Self> {
        let m = degree + 1;
        if points.len() < m {
            return None;
        }
        let low = points.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max);
        let (centre, scale) = ((low + high) / 2.0, (high - low) / 2.0);
        if !(scale > 0.0 && scale.is_finite()) {
            return None;
        }
        let mut normal = DMatrix::zeros(m, m);
        let mut right = DVector::zeros(m);
        let row = |u: f64| DVector::from_fn(m, |k, _| ((u - centre) / scale).powi(k as i32));
        for p in points {
            let r = row(p[0]);
            normal.ger(p[2], &r, &r, 1.0);
            right.axpy(p[2] * p[1], &r, 1.0);
        }
        let solved = normal.cholesky()?;
        let coefficients = solved.solve(&right);
        let square: f64 = points.iter().map(|p| p[2] * (p[1] - coefficients.dot(&row(p[0]))).powi(2)).sum();
        let free = (points.len() - m).max(1) as f64;
        Some(Self { centre, scale, coefficients, covariance: solved.inverse(), misfit: (square / free).sqrt() })
    }

    /// The value at `u`.
    pub fn at(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        self.coefficients.iter().rev().fold(0.0, |sum, c| sum * t + c)
    }

    /// The slope at `u`.
    pub fn slope(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        self.coefficients.iter().enumerate().skip(1).map(|(k, c)| k as f64 * c * t.powi(k as i32 - 1)).sum::<f64>() / self.scale
    }

    /// Standard error of the value at `u` for independent errors of the points.
    pub fn error_at(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        let r = DVector::from_fn(self.coefficients.len(), |k, _| t.powi(k as i32));
        (&self.covariance * &r).dot(&r).max(0.0).sqrt()
    }

    /// Standard error of the slope at `u` for independent errors of the points.
    pub fn slope_error_at(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        let r = DVector::from_fn(self.coefficients.len(), |k, _| if k == 0 { 0.0 } else { k as f64 * t.powi(k as i32 - 1) });
        (&self.covariance * &r).dot(&r).max(0.0).sqrt() / self.scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_cubic() {
        let f = |u: f64| 2.0 - 0.5 * u + 0.25 * u * u - 0.01 * u * u * u;
        let points: Vec<[f64; 3]> = (0..12).map(|k| [k as f64, f(k as f64), 4.0]).collect();
        let p = Polynomial::fit(&points, 3).expect("fits");
        assert!((p.at(-3.0) - f(-3.0)).abs() < 1e-9);
        assert!((p.slope(2.0) - (-0.5 + 1.0 - 0.12)).abs() < 1e-9);
        assert!(p.misfit < 1e-9);
    }

    /// Variance of a straight line's prediction, σ²(1/n + (u-ū)²/Σ(uᵢ-ū)²): any textbook on regression
    /// (Draper & Smith, Applied Regression Analysis); formula from memory.
    #[test]
    fn error_of_a_straight_line() {
        let points: Vec<[f64; 3]> = (0..9).map(|k| [k as f64, 0.0, 1.0 / 0.04]).collect();
        let p = Polynomial::fit(&points, 1).expect("fits");
        let want = (0.04 * (1.0 / 9.0 + 49.0 / 60.0_f64)).sqrt();
        assert!((p.error_at(-3.0) - want).abs() < 1e-9);
    }

    #[test]
    fn too_few() {
        assert!(Polynomial::fit(&[[0.0, 1.0, 1.0]], 1).is_none());
        assert!(Polynomial::fit(&[[1.0, 1.0, 1.0], [1.0, 2.0, 1.0], [1.0, 3.0, 1.0]], 1).is_none());
    }
}
