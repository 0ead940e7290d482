//! How far a mapped point may be out: the covariance of the view's parameters carried to the sheet.
//!
//! Errors of a view are shared by all points of a picture. What counts for a shape is what is left of them after the
//! outline has been laid on the true one as well as a rigid motion can.

use super::camera::{CAMERA, Camera};
use super::{Model, View};
use crate::length::Mm;
use crate::solve::TWO_SIDED;
use nalgebra::{DMatrix, Matrix2, Matrix2xX, Vector2};
use rayon::prelude::*;

/// Errors of a shape's points after the best rigid laying-on, from what all points share.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeErrors {
    /// Covariance of each point from lens, pose and a sheet out of flat, mm².
    pub view: Vec<Matrix2<f64>>,
    /// How each point moves when the height is `height_error` greater, mm.
    pub height: Vec<Vector2<f64>>,
}

impl View {
    /// Derivative of the sheet point seen where `at` is seen by every parameter: 2 × [`Model::parameters`], mm by unit.
    /// `None` where the view does not map.
    pub fn slopes(&self, at: Mm, height: f64) -> Option<Matrix2xX<f64>> {
        let Some(buckle) = &self.buckle else { return self.flat_slopes(at, height) };
        // A sheet that is followed node by node maps right whatever the camera: what the camera does to a height is left.
        let flat = buckle.looks_like(at);
        Some(self.flat_slopes(flat, height)? - self.flat_slopes(flat, 0.0)?)
    }

    /// The same of a sheet that lies flat.
    fn flat_slopes(&self, at: Mm, height: f64) -> Option<Matrix2xX<f64>> {
        let back = self.flat_local(at, height).mm_by_px()?;
        let by_parameter = match self.model {
            Model::Pinhole { lens, rotation, translation } => {
                let rows = Camera { lens, rotation, translation }.slopes(at, height).1;
                DMatrix::from_fn(2, CAMERA, |r, c| rows[r][c])
            }
            Model::Scan { .. } => DMatrix::from_row_slice(2, 6, &[at.x, at.y, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, at.x, at.y, 0.0, 1.0]),
        };
        // The picture point stays: what the parameters move, the sheet point must take back.
        Some(-(back * by_parameter))
    }

    /// Covariance of the sheet point seen where `at` is seen, from lens, pose and a sheet out of flat, mm². `None` where the view does
    /// not map.
    pub fn error_at(&self, at: Mm, height: f64) -> Option<Matrix2<f64>> {
        let g = self.slopes(at, height)?;
        let c = &g * &self.covariance * g.transpose();
        Some(Matrix2::new(c[(0, 0)], c[(0, 1)], c[(1, 0)], c[(1, 1)]) + self.unflat(at))
    }

    /// What the sheet is out of flat by is no noise: 95 % of places lie within it, so it is two standard errors.
    fn unflat(&self, at: Mm) -> Matrix2<f64> {
        Matrix2::identity() * (self.bend.at(at) / TWO_SIDED).powi(2)
    }

    /// How the sheet point of a ray moves with the assumed height, mm by mm: towards the foot of the camera for a higher
    /// plane. Zero for a scan.
    pub fn lean(&self, at: Mm, height: f64) -> Vector2<f64> {
        match self.camera() {
            Some(c) => (Vector2::new(c.x, c.y) - at.vector()) / (-height - c.z),
            None => Vector2::zeros(),
        }
    }

    /// Errors of the points of a shape after the best rigid laying-on: what lens and pose, and a height that is
    /// `height_error` mm wrong, do to the shape itself. `None` where the view does not map.
    pub fn shape_errors(&self, points: &[Mm], height: f64, height_error: f64) -> Option<ShapeErrors> {
        let n = points.len();
        let width = self.model.parameters();
        // One column a parameter, one more for the height; rigid motions are taken out of each.
        let mut moves = DMatrix::zeros(2 * n, width + 1);
        for (k, p) in points.iter().enumerate() {
            moves.view_mut((2 * k, 0), (2, width)).copy_from(&self.slopes(*p, height)?);
            moves.view_mut((2 * k, width), (2, 1)).copy_from(&(self.lean(*p, height) * height_error));
        }
        remove_rigid(points, &mut moves);
        let view = (0..n)
            .into_par_iter()
            .map(|k| {
                let g = moves.view((2 * k, 0), (2, width));
                let c = g * &self.covariance * g.transpose();
                Matrix2::new(c[(0, 0)], c[(0, 1)], c[(1, 0)], c[(1, 1)]) + self.unflat(points[k])
            })
            .collect();
        let height = (0..n).map(|k| Vector2::new(moves[(2 * k, width)], moves[(2 * k + 1, width)])).collect();
        Some(ShapeErrors { view, height })
    }
}

/// Takes shift and turn out of every column of displacements.
fn remove_rigid(points: &[Mm], moves: &mut DMatrix<f64>) {
    let n = points.len() as f64;
    let middle = points.iter().map(|p| p.vector()).sum::<Vector2<f64>>() / n;
    let arms: Vec<_> = points.iter().map(|p| p.vector() - middle).collect();
    let size: f64 = arms.iter().map(|a| a.norm_squared()).sum();
    for mut column in moves.column_iter_mut() {
        let at = |k: usize, c: &nalgebra::DVectorViewMut<f64>| Vector2::new(c[2 * k], c[2 * k + 1]);
        let mean = (0..arms.len()).map(|k| at(k, &column)).sum::<Vector2<f64>>() / n;
        let turn = arms.iter().enumerate().map(|(k, a)| a.perp(&at(k, &column))).sum::<f64>() / size.max(1e-12);
        for (k, a) in arms.iter().enumerate() {
            column[2 * k] -= mean.x - turn * a.y;
            column[2 * k + 1] -= mean.y + turn * a.x;
        }
    }
}
