//! Small symmetric equations of three channels side by side, factored once and asked several times: those of the edge model, one unknown a
//! strength. What the compiler is to take together lies together.

use std::array::from_fn;

/// How many unknowns.
pub(super) const TERMS: usize = 7;
/// A value for each, and one that stays zero: an even number is summed two at a time.
pub(super) type Terms = [f64; TERMS + 1];
/// Their products, lower half.
pub(super) type Normal = [[f64; TERMS]; TERMS];
/// One value a channel, and a fourth that means nothing.
pub(super) type Lanes = [f64; 4];
/// For each unknown one value a channel.
pub(super) type Forms = [Lanes; TERMS];

/// As many symmetric matrices as there are channels as L D Lᵀ (no pivoting; the ridge keeps them definite), without the first unknowns
/// where these are not asked for.
pub(super) struct Factor {
    l: [Forms; TERMS],
    /// Inverses of D.
    d: Forms,
}

#[inline(always)]
fn times(a: Lanes, b: Lanes) -> Lanes {
    from_fn(|c| a[c] * b[c])
}

#[inline(always)]
fn less(a: &mut Lanes, b: Lanes) {
    (0..4).for_each(|c| a[c] -= b[c]);
}

impl Factor {
    /// From the lower half of `a` and what is added to its diagonal; the unknowns from the `FIRST` on.
    #[inline(always)]
    pub fn of<const FIRST: usize>(a: &Normal, ridge: &Forms) -> Self {
        let (mut l, mut inverse) = ([[[0.0; 4]; TERMS]; TERMS], [[0.0; 4]; TERMS]);
        let mut d = inverse;
        for j in FIRST..TERMS {
            let mut row = [[0.0; 4]; TERMS];
            let mut own: Lanes = from_fn(|c| a[j][j] + ridge[j][c]);
            for k in FIRST..j {
                row[k] = times(l[j][k], d[k]);
                less(&mut own, times(l[j][k], row[k]));
            }
            d[j] = own.map(|v| v.max(1e-12));
            inverse[j] = d[j].map(|v| 1.0 / v);
            for i in j + 1..TERMS {
                let mut own = [a[i][j]; 4];
                (FIRST..j).for_each(|k| less(&mut own, times(l[i][k], row[k])));
                l[i][j] = times(own, inverse[j]);
            }
        }
        Self { l, d: inverse }
    }

    /// L⁻¹ x of an `x` that is zero before `first`.
    #[inline(always)]
    pub fn forward(&self, mut x: Forms, first: usize) -> Forms {
        for i in first + 1..TERMS {
            for k in first..i {
                let part = times(self.l[i][k], x[k]);
                less(&mut x[i], part);
            }
        }
        x
    }

    /// aᵀ A⁻¹ b of two such forms, one of which is zero before `first`.
    #[inline(always)]
    pub fn product(&self, a: &Forms, b: &Forms, first: usize) -> Lanes {
        let mut sum = [0.0; 4];
        for i in first..TERMS {
            let part = times(times(a[i], self.d[i]), b[i]);
            (0..4).for_each(|c| sum[c] += part[c]);
        }
        sum
    }

    /// The solution from such a form.
    pub fn backward(&self, mut x: Forms) -> Forms {
        (0..TERMS).for_each(|i| x[i] = times(x[i], self.d[i]));
        for i in (0..TERMS - 1).rev() {
            for k in i + 1..TERMS {
                let part = times(self.l[k][i], x[k]);
                less(&mut x[i], part);
            }
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{SMatrix, SVector};

    /// Against nalgebra's Cholesky factors, the matrices of all channels with ridges of their own.
    #[test]
    fn solves_what_cholesky_solves() {
        let root = SMatrix::<f64, TERMS, TERMS>::from_fn(|i, k| ((i * 5 + k * 3) % 7) as f64 - 2.5);
        let square = root * root.transpose();
        let ridge: Forms = from_fn(|k| from_fn(|c| 0.5 + k as f64 + 0.3 * c as f64));
        let normal: Normal = from_fn(|i| from_fn(|k| if k <= i { square[(i, k)] } else { f64::NAN }));
        let x: Forms = from_fn(|k| from_fn(|c| (k as f64 * 1.7 + c as f64).sin()));
        let y: Forms = from_fn(|k| if k < 4 { [0.0; 4] } else { [k as f64 - 3.0; 4] });
        let factor = Factor::of::<0>(&normal, &ridge);
        let (own, by) = (factor.forward(x, 0), factor.forward(y, 4));
        let (found, product) = (factor.backward(own), factor.product(&own, &by, 4));
        for c in 0..4 {
            let whole = square + SMatrix::from_diagonal(&SVector::from_fn(|k, _| ridge[k][c]));
            let cholesky = whole.cholesky().expect("definite");
            let [right, other] = [x, y].map(|v| SVector::<f64, TERMS>::from_fn(|k, _| v[k][c]));
            let solved = cholesky.solve(&right);
            assert!((0..TERMS).all(|k| (found[k][c] - solved[k]).abs() < 1e-9), "{found:?} {solved}");
            assert!((product[c] - other.dot(&solved)).abs() < 1e-9);
        }
    }
}
