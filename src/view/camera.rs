//! Fits a camera to nodes: start by the direct linear transform, then least squares with analytic derivatives.

use super::prior::Prior;
use super::{Lens, Model};
use crate::length::{Mm, Px};
use crate::solve::{Loss, Minimum, Normal, Problem, homography, median, minimise};
use nalgebra::{DVector, Matrix2x3, Matrix3, Rotation3, Vector2, Vector3};

/// A node: where it is on the sheet, where it is seen, and how well (px).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pair {
    pub mm: Mm,
    pub px: Px,
    pub error: f64,
}

/// Lens and pose while they are sought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Camera {
    pub lens: Lens,
    pub rotation: Matrix3<f64>,
    pub translation: Vector3<f64>,
}

/// Numbers of a camera: focal length, centre, k1, k2, p1, p2, turn, translation.
pub(super) const CAMERA: usize = 13;

impl Camera {
    pub fn model(&self) -> Model {
        Model::Pinhole { lens: self.lens, rotation: self.rotation, translation: self.translation }
    }

    /// Where a sheet point is seen; not finite behind the camera.
    pub fn see(&self, at: Mm, height: f64) -> Px {
        let c = self.rotation * Vector3::new(at.x, at.y, -height) + self.translation;
        if c.z > 0.0 { self.lens.place(self.lens.distort(Vector2::new(c.x, c.y) / c.z)) } else { Px::new(f64::NAN, f64::NAN) }
    }

    /// Where a sheet point is seen, with the derivative of both coordinates by all parameters.
    pub fn slopes(&self, at: Mm, height: f64) -> (Px, [[f64; CAMERA]; 2]) {
        let turned = self.rotation * Vector3::new(at.x, at.y, -height);
        let c = turned + self.translation;
        let v = Vector2::new(c.x, c.y) / c.z;
        let (x, y, r2) = (v.x, v.y, v.norm_squared());
        let q = self.lens.distort(v);
        let f = self.lens.focal;
        let flat = Matrix2x3::new(1.0, 0.0, -v.x, 0.0, 1.0, -v.y) / c.z;
        let by_point = self.lens.slope(v) * flat * f;
        // A small turn w after the rotation moves the point by w × turned.
        let by_turn = by_point * -turned.cross_matrix();
        let row = |k: usize, own: Vector2<f64>, p1: f64, p2: f64| {
            let t = by_turn.row(k);
            let m = by_point.row(k);
            let u = v[k];
            [q[k], own.x, own.y, f * u * r2, f * u * r2 * r2, f * p1, f * p2, t[0], t[1], t[2], m[0], m[1], m[2]]
        };
        let rows = [row(0, Vector2::x(), 2.0 * x * y, r2 + 2.0 * x * x), row(1, Vector2::y(), r2 + 2.0 * y * y, 2.0 * x * y)];
        (self.lens.place(q), rows)
    }

    /// The camera after a step in all parameters.
    pub fn moved(&self, step: &[f64]) -> Self {
        let l = &self.lens;
        let lens = Lens {
            focal: l.focal + step[0],
            centre: Px::new(l.centre.x + step[1], l.centre.y + step[2]),
            k1: l.k1 + step[3],
            k2: l.k2 + step[4],
            p1: l.p1 + step[5],
            p2: l.p2 + step[6],
        };
        let turn = Rotation3::new(Vector3::new(step[7], step[8], step[9]));
        // Renewed from the rotation's own parameters, so that rounding never bends it.
        let rotation = Rotation3::from_matrix_unchecked(turn * self.rotation);
        let rotation = nalgebra::UnitQuaternion::from_rotation_matrix(&rotation).to_rotation_matrix().into_inner();
        Self { lens, rotation, translation: self.translation + Vector3::new(step[10], step[11], step[12]) }
    }

    /// The pose that a lens without distortion gives by the direct linear transform (Zhang 2000, section 3.1).
    pub fn start(pairs: &[Pair], lens: Lens) -> Option<Self> {
        let from: Vec<_> = pairs.iter().map(|p| p.mm.vector()).collect();
        let to: Vec<_> = pairs.iter().map(|p| lens.normalise(p.px)).collect();
        let h = homography(&from, &to)?;
        let (a, b, t) = (h.column(0).into_owned(), h.column(1).into_owned(), h.column(2).into_owned());
        let size = (a.norm() + b.norm()) / 2.0;
        // What is seen lies before the camera; the sheet's origin may lie behind it.
        let middle = from.iter().sum::<Vector2<f64>>() / from.len().max(1) as f64;
        let size = if a.z * middle.x + b.z * middle.y + t.z < 0.0 { -size } else { size };
        let (a, b, t) = (a / size, b / size, t / size);
        let svd = Matrix3::from_columns(&[a, b, a.cross(&b)]).svd(true, true);
        let rotation = svd.u? * svd.v_t?;
        (rotation.determinant() > 0.0).then_some(Self { lens, rotation, translation: t })
    }
}

/// A camera over one sheet.
pub(super) struct CameraProblem<'a> {
    pub pairs: &'a [Pair],
    pub prior: &'a Prior,
    pub loss: Loss,
    /// Every node's error is multiplied by this.
    pub scale: f64,
}

impl Problem for CameraProblem<'_> {
    type State = Camera;

    fn normal(&self, at: &Camera) -> Normal {
        let mut n = Normal::zero(CAMERA);
        for pair in self.pairs {
            let (px, rows) = at.slopes(pair.mm, 0.0);
            let sharp = 1.0 / (pair.error * self.scale).powi(2);
            let miss = px - pair.px;
            let (cost, weight) = self.loss.at(miss.norm_squared() * sharp);
            n.cost += cost;
            n.add(&rows[0], miss.x, weight * sharp);
            n.add(&rows[1], miss.y, weight * sharp);
        }
        self.prior.add_to(&mut n, &at.lens);
        n
    }

    fn cost(&self, at: &Camera) -> f64 {
        let seen = |p: &Pair| self.loss.at((at.see(p.mm, 0.0) - p.px).norm_squared() / (p.error * self.scale).powi(2)).0;
        self.pairs.iter().map(seen).sum::<f64>() + self.prior.pulls(&at.lens).iter().map(|p| p.size * p.size).sum::<f64>()
    }

    fn moved(&self, from: &Camera, step: &DVector<f64>) -> Camera {
        from.moved(step.as_slice())
    }
}

/// Where the last fit stops: at this share of the cost no parameter moves by a thousandth of its error.
const EXACT: f64 = 1e-9;

/// Fewer nodes than this cannot tell their own errors.
pub(super) const FEW: usize = 30;

/// A camera fitted.
pub(super) struct CameraFit {
    /// Camera and normal equations.
    pub best: Minimum<Camera>,
    /// The factor by which the nodes' errors had to grow.
    pub scale: f64,
    /// Which nodes were used.
    pub used: Vec<bool>,
}

/// A robust fit, then a Gaussian one on what fits. Starts at `start` when a camera near the answer is known.
pub(super) fn fit(pairs: &[Pair], prior: &Prior, start: Option<Camera>) -> Option<CameraFit> {
    let mut camera = start.or_else(|| Camera::start(pairs, prior.lens))?;
    // A dozen parameters take up most of what a few nodes say: then their own errors are believed, never less.
    let least = if pairs.len() < FEW { 1.0 } else { 0.2 };
    let mut scale = spread(pairs, &camera, None).max(1.0);
    // The first scale is that of the undistorted start; each round takes it nearer to the nodes' own.
    for _ in 0..4 {
        let problem = CameraProblem { pairs, prior, loss: Loss::Cauchy(2.5), scale };
        camera = minimise(&problem, camera, 30, 1e-3)?.state;
        let now = spread(pairs, &camera, None).max(least);
        let settled = now > 0.8 * scale;
        scale = now;
        if settled {
            break;
        }
    }
    let used: Vec<bool> = pairs.iter().map(|p| (camera.see(p.mm, 0.0) - p.px).norm() <= super::solve::INLIER * scale * p.error).collect();
    let inliers: Vec<Pair> = pairs.iter().zip(&used).filter(|p| *p.1).map(|p| *p.0).collect();
    let factor = |camera: &Camera| spread(&inliers, camera, Some(CAMERA)).max(least);
    let mut scale = factor(&camera);
    let mut best = minimise(&CameraProblem { pairs: &inliers, prior, loss: Loss::Gauss, scale }, camera, 30, EXACT)?;
    let after = factor(&best.state);
    if (after / scale - 1.0).abs() > 0.02 {
        scale = after;
        best = minimise(&CameraProblem { pairs: &inliers, prior, loss: Loss::Gauss, scale }, best.state, 30, EXACT)?;
    }
    Some(CameraFit { best, scale, used })
}

/// Size of the residuals in units of the nodes' errors, per coordinate: by the median, or by the mean square with so many
/// parameters taken off.
pub(super) fn spread(pairs: &[Pair], camera: &Camera, parameters: Option<usize>) -> f64 {
    let mut u: Vec<f64> = pairs.iter().map(|p| (camera.see(p.mm, 0.0) - p.px).norm() / p.error).collect();
    match parameters {
        Some(n) => {
            let free = (2 * u.len()).saturating_sub(n).max(1);
            (u.iter().map(|u| u * u).sum::<f64>() / free as f64).sqrt()
        }
        // The median length of a two-dimensional normal deviate is 1.1774 standard deviations.
        None => median(&mut u).map_or(f64::NAN, |m| m / 1.1774),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn slopes_are_derivatives(x in -300.0..300.0f64, y in -300.0..300.0f64, tilt in -0.5..0.5f64, h in 0.0..5.0f64) {
            let lens = Lens { focal: 3000.0, centre: Px::new(2000.0, 1500.0), k1: -0.1, k2: 0.03, p1: 1e-3, p2: -5e-4 };
            let camera = Camera { lens, rotation: Rotation3::new(Vector3::new(tilt, 0.2, 0.7)).into_inner(), translation: Vector3::new(10.0, 20.0, 900.0) };
            let at = Mm::new(x, y);
            let (px, rows) = camera.slopes(at, h);
            prop_assert!(px.distance(camera.see(at, h)) < 1e-9);
            for k in 0..CAMERA {
                let d = if !(3..=9).contains(&k) { 1e-3 } else { 1e-6 };
                let mut step = [0.0; CAMERA];
                step[k] = d;
                let up = camera.moved(&step).see(at, h);
                step[k] = -d;
                let want = (up - camera.moved(&step).see(at, h)) / (2.0 * d);
                let got = Vector2::new(rows[0][k], rows[1][k]);
                prop_assert!((got - want).norm() < 1e-4 * (1.0 + want.norm()), "{k}: {got} {want}");
            }
        }
    }
}
