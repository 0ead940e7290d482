//! Small symmetric equations, factored once and asked several times: those of the edge model, one unknown a strength.

/// How many unknowns.
pub(super) const TERMS: usize = 7;
/// A value for each, and one that stays zero: an even number is summed two at a time.
pub(super) type Terms = [f64; TERMS + 1];
/// Their products, lower half.
pub(super) type Normal = [[f64; TERMS]; TERMS];

/// A symmetric matrix as L D Lᵀ (no pivoting; the ridge keeps it definite).
pub(super) struct Factor {
    l: Normal,
    /// Inverses of D.
    d: Terms,
}

impl Factor {
    /// From the lower half of `a` and what is added to its diagonal.
    pub fn of(a: &Normal, ridge: &Terms) -> Self {
        let (mut l, mut d, mut inverse) = ([[0.0; TERMS]; TERMS], [0.0; TERMS + 1], [0.0; TERMS + 1]);
        for j in 0..TERMS {
            let mut row = [0.0; TERMS];
            (0..j).for_each(|k| row[k] = l[j][k] * d[k]);
            let left = |line: &[f64; TERMS], mut v: f64| {
                (0..j).for_each(|k| v -= line[k] * row[k]);
                v
            };
            d[j] = left(&l[j], a[j][j] + ridge[j]).max(1e-12);
            inverse[j] = 1.0 / d[j];
            for i in j + 1..TERMS {
                l[i][j] = left(&l[i], a[i][j]) * inverse[j];
            }
        }
        Self { l, d: inverse }
    }

    /// L⁻¹ x of an `x` that is zero before `first`.
    pub fn forward(&self, mut x: Terms, first: usize) -> Terms {
        for i in first + 1..TERMS {
            for k in first..i {
                x[i] -= self.l[i][k] * x[k];
            }
        }
        x
    }

    /// aᵀ A⁻¹ b of two such forms, one of which is zero before `first`.
    pub fn product(&self, a: &Terms, b: &Terms, first: usize) -> f64 {
        (first..TERMS).map(|i| a[i] * self.d[i] * b[i]).sum()
    }

    /// The solution from such a form.
    pub fn backward(&self, mut x: Terms) -> Terms {
        (0..TERMS).for_each(|i| x[i] *= self.d[i]);
        for i in (0..TERMS - 1).rev() {
            for k in i + 1..TERMS {
                x[i] -= self.l[k][i] * x[k];
            }
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{SMatrix, SVector};

    /// Against nalgebra's Cholesky factors.
    #[test]
    fn solves_what_cholesky_solves() {
        let root = SMatrix::<f64, TERMS, TERMS>::from_fn(|i, k| ((i * 5 + k * 3) % 7) as f64 - 2.5);
        let square = root * root.transpose();
        let mut ridge = [0.0; TERMS + 1];
        (0..TERMS).for_each(|k| ridge[k] = 0.5 + k as f64);
        let normal: Normal = std::array::from_fn(|i| std::array::from_fn(|k| if k <= i { square[(i, k)] } else { f64::NAN }));
        let (mut x, mut y) = ([0.0; TERMS + 1], [0.0; TERMS + 1]);
        (0..TERMS).for_each(|k| x[k] = (k as f64 * 1.7).sin());
        (4..TERMS).for_each(|k| y[k] = k as f64 - 3.0);
        let whole = square + SMatrix::from_diagonal(&SVector::from_fn(|k, _| ridge[k]));
        let cholesky = whole.cholesky().expect("definite");
        let [right, other] = [x, y].map(|v| SVector::<f64, TERMS>::from_fn(|k, _| v[k]));
        let solved = cholesky.solve(&right);
        let factor = Factor::of(&normal, &ridge);
        let (own, by) = (factor.forward(x, 0), factor.forward(y, 4));
        let found = factor.backward(own);
        assert!((0..TERMS).all(|k| (found[k] - solved[k]).abs() < 1e-9), "{found:?} {solved}");
        assert!((factor.product(&own, &by, 4) - other.dot(&solved)).abs() < 1e-9);
    }
}
