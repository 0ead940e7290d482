//! Weighted least-squares polynomials of low degree, with the covariance of their coefficients.
//!
//! Sums of powers are kept, so that ever longer stretches and several degrees cost one pass over the points.

/// Highest degree.
pub const HIGHEST: usize = 5;
const TERMS: usize = HIGHEST + 1;

/// A polynomial in (u - centre) / scale, and how well it is known.
#[derive(Clone, Copy, Debug)]
pub struct Polynomial {
    centre: f64,
    scale: f64,
    terms: usize,
    coefficients: [f64; TERMS],
    covariance: [[f64; TERMS]; TERMS],
    /// Root of the weighted mean square of the residuals; 1 when weights are one over the variance and the model holds.
    pub misfit: f64,
    /// Weighted sum of squared residuals.
    pub square: f64,
}

/// Weighted sums of powers of points (u, v).
#[derive(Clone, Copy, Debug, Default)]
pub struct Moments {
    centre: f64,
    reach: f64,
    count: usize,
    powers: [f64; 2 * TERMS - 1],
    mixed: [f64; TERMS],
    square: f64,
}

impl Moments {
    /// No points yet; powers are taken of u - `centre`.
    pub fn around(centre: f64) -> Self {
        Self { centre, ..Self::default() }
    }

    /// Adds a point with a weight of one over its variance.
    pub fn add(&mut self, u: f64, v: f64, weight: f64) {
        let d = u - self.centre;
        let mut power = weight;
        for k in 0..2 * TERMS - 1 {
            self.powers[k] += power;
            if k < TERMS {
                self.mixed[k] += power * v;
            }
            power *= d;
        }
        self.square += weight * v * v;
        self.reach = self.reach.max(d.abs());
        self.count += 1;
    }

    /// The polynomial of least squares; `None` when there are too few points or they do not settle it.
    pub fn polynomial(&self, degree: usize) -> Option<Polynomial> {
        let terms = degree + 1;
        let scale = self.reach;
        if degree > HIGHEST || self.count < terms || !(scale > 0.0 && scale.is_finite()) {
            return None;
        }
        let mut normal = [[0.0; TERMS]; TERMS];
        let mut right = [0.0; TERMS];
        for i in 0..terms {
            right[i] = self.mixed[i] / scale.powi(i as i32);
            for (j, cell) in normal[i][..terms].iter_mut().enumerate() {
                *cell = self.powers[i + j] / scale.powi((i + j) as i32);
            }
        }
        let covariance = inverse(&normal, terms)?;
        let mut coefficients = [0.0; TERMS];
        for i in 0..terms {
            coefficients[i] = (0..terms).map(|j| covariance[i][j] * right[j]).sum();
        }
        let explained: f64 = (0..terms).map(|i| coefficients[i] * right[i]).sum();
        let free = (self.count - terms).max(1) as f64;
        let square = (self.square - explained).max(0.0);
        Some(Polynomial { centre: self.centre, scale, terms, coefficients, covariance, misfit: (square / free).sqrt(), square })
    }
}

/// Inverse of a symmetric positive matrix of `n` rows by Cholesky's factors.
fn inverse(a: &[[f64; TERMS]; TERMS], n: usize) -> Option<[[f64; TERMS]; TERMS]> {
    let mut l = [[0.0; TERMS]; TERMS];
    for i in 0..n {
        for j in 0..=i {
            let sum = a[i][j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j {
                // What is left of a diagonal after rounding is no pivot.
                let enough = sum > 1e-13 * a[i][i];
                if !enough {
                    return None;
                }
                l[i][i] = sum.sqrt();
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
    }
    let mut m = [[0.0; TERMS]; TERMS];
    for j in 0..n {
        m[j][j] = 1.0 / l[j][j];
        for i in j + 1..n {
            m[i][j] = -(j..i).map(|k| l[i][k] * m[k][j]).sum::<f64>() / l[i][i];
        }
    }
    let mut out = [[0.0; TERMS]; TERMS];
    for i in 0..n {
        for j in 0..n {
            out[i][j] = (i.max(j)..n).map(|k| m[k][i] * m[k][j]).sum();
        }
    }
    Some(out)
}

impl Polynomial {
    /// Fits `v(u)` to points `[u, v, weight]`; `None` when there are too few.
    pub fn fit(points: &[[f64; 3]], degree: usize) -> Option<Self> {
        let low = points.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max);
        let mut moments = Moments::around((low + high) / 2.0);
        for p in points {
            moments.add(p[0], p[1], p[2]);
        }
        moments.polynomial(degree)
    }

    /// The value at `u`.
    pub fn at(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        self.coefficients[..self.terms].iter().rev().fold(0.0, |sum, c| sum * t + c)
    }

    /// The slope at `u`.
    pub fn slope(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        let sum = (1..self.terms).rev().fold(0.0, |sum, k| sum * t + k as f64 * self.coefficients[k]);
        sum / self.scale
    }

    /// Standard error of the value at `u` for independent errors of the points.
    pub fn error_at(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        self.spread(|k| t.powi(k as i32))
    }

    /// Standard error of the slope at `u` for independent errors of the points.
    pub fn slope_error_at(&self, u: f64) -> f64 {
        let t = (u - self.centre) / self.scale;
        self.spread(|k| if k == 0 { 0.0 } else { k as f64 * t.powi(k as i32 - 1) }) / self.scale
    }

    fn spread(&self, row: impl Fn(usize) -> f64) -> f64 {
        let r: [f64; TERMS] = std::array::from_fn(row);
        let mut sum = 0.0;
        for i in 0..self.terms {
            for j in 0..self.terms {
                sum += r[i] * self.covariance[i][j] * r[j];
            }
        }
        sum.max(0.0).sqrt()
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
        assert!(p.misfit < 1e-6);
    }

    #[test]
    fn sums_from_one_end_do_as_well() {
        let f = |u: f64| 40.0 - 0.5 * u + 2e-3 * u * u - 1e-5 * u * u * u + 3e-8 * u.powi(4);
        let mut m = Moments::around(0.0);
        for k in 0..200 {
            m.add(k as f64, f(k as f64), 100.0);
        }
        let p = m.polynomial(5).expect("fits");
        assert!((p.at(-3.0) - f(-3.0)).abs() < 1e-6);
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
