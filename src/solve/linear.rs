//! Weighted linear least squares for a handful of unknowns.

use nalgebra::{DMatrix, DVector};

/// What a linear model found.
#[derive(Clone, Debug)]
pub struct Linear {
    /// The unknowns.
    pub values: DVector<f64>,
    /// Their covariance when weights are one over the variance and errors are independent.
    pub covariance: DMatrix<f64>,
    /// Weighted sum of squared residuals.
    pub square: f64,
}

/// Solves `rows · x = right` with one weight a row; every row has the same length. `None` when singular.
pub fn linear(rows: &[Vec<f64>], right: &[f64], weights: &[f64]) -> Option<Linear> {
    let m = rows.first()?.len();
    if rows.len() < m || rows.len() != right.len() || rows.len() != weights.len() {
        return None;
    }
    let mut normal = DMatrix::zeros(m, m);
    let mut side = DVector::zeros(m);
    for ((row, r), w) in rows.iter().zip(right).zip(weights) {
        let row = DVector::from_column_slice(row);
        normal.ger(*w, &row, &row, 1.0);
        side.axpy(w * r, &row, 1.0);
    }
    let solved = normal.cholesky()?;
    let values = solved.solve(&side);
    let model = |row: &Vec<f64>| row.iter().zip(values.iter()).map(|(a, b)| a * b).sum::<f64>();
    let square = rows.iter().zip(right).zip(weights).map(|((row, r), w)| w * (r - model(row)).powi(2)).sum();
    Some(Linear { covariance: solved.inverse(), values, square })
}
