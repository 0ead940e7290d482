//! Picture px ↔ sheet mm through a solved view.

use super::{Model, View};
use crate::length::{Mm, Px};
use nalgebra::{Matrix2, Matrix2x3, Vector2, Vector3};

/// The picture near a sheet point: where the point is seen and how that moves with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Local {
    /// The sheet point.
    pub at: Mm,
    /// Where it is seen.
    pub px: Px,
    /// Derivative of px by mm.
    pub px_by_mm: Matrix2<f64>,
}

impl Local {
    /// Derivative of mm by px; `None` where the picture looks along the sheet.
    pub fn mm_by_px(&self) -> Option<Matrix2<f64>> {
        self.px_by_mm.try_inverse()
    }

    /// Pixels per mm: the fewest and the most over all directions.
    pub fn px_per_mm(&self) -> [f64; 2] {
        let s = self.px_by_mm.singular_values();
        [s[0].min(s[1]), s[0].max(s[1])]
    }
}

impl View {
    /// Where the sheet point `at`, `height` mm above the sheet, is seen. Not finite for what lies behind the camera or
    /// so far outside that the lens model folds over.
    #[inline]
    pub fn to_px(&self, at: Mm, height: f64) -> Px {
        self.flat_to_px(self.buckle.as_ref().map_or(at, |b| b.looks_like(at)), height)
    }

    /// The same of a sheet that lies flat.
    #[inline]
    fn flat_to_px(&self, at: Mm, height: f64) -> Px {
        match &self.model {
            Model::Pinhole { lens, rotation, translation } => {
                let c = rotation * Vector3::new(at.x, at.y, -height) + translation;
                let v = Vector2::new(c.x / c.z, c.y / c.z);
                if c.z > 0.0 && lens.good(v) { lens.place(lens.distort(v)) } else { Px::new(f64::NAN, f64::NAN) }
            }
            Model::Scan { matrix: [a, b, c, d, e, f] } => Px::new(a * at.x + b * at.y + e, c * at.x + d * at.y + f),
        }
    }

    /// The point `height` mm above the sheet that is seen at `p`; `None` when the ray misses that plane or the lens
    /// model folds over there.
    #[inline]
    pub fn to_mm(&self, p: Px, height: f64) -> Option<Mm> {
        let flat = self.flat_to_mm(p, height)?;
        Some(self.buckle.as_ref().map_or(flat, |b| b.lies(flat)))
    }

    /// The same of a sheet that lies flat.
    #[inline]
    fn flat_to_mm(&self, p: Px, height: f64) -> Option<Mm> {
        match &self.model {
            Model::Pinhole { lens, rotation, translation } => {
                let v = lens.undistort(lens.normalise(p))?;
                let ray = rotation.tr_mul(&Vector3::new(v.x, v.y, 1.0));
                let camera = -rotation.tr_mul(translation);
                let s = (-height - camera.z) / ray.z;
                (s > 0.0 && s.is_finite()).then(|| Mm::new(camera.x + s * ray.x, camera.y + s * ray.y))
            }
            Model::Scan { matrix: [a, b, c, d, e, f] } => {
                let (det, u, v) = (a * d - b * c, p.x - e, p.y - f);
                let at = Mm::new((d * u - b * v) / det, (a * v - c * u) / det);
                at.is_finite().then_some(at)
            }
        }
    }

    /// The picture near `at` at `height` mm: place and derivative. Not finite where [`View::to_px`] is not.
    #[inline]
    pub fn local(&self, at: Mm, height: f64) -> Local {
        let Some(buckle) = &self.buckle else { return self.flat_local(at, height) };
        let flat = self.flat_local(buckle.looks_like(at), height);
        Local { at, px_by_mm: flat.px_by_mm * buckle.slope(at), ..flat }
    }

    /// The same of a sheet that lies flat.
    #[inline]
    pub(super) fn flat_local(&self, at: Mm, height: f64) -> Local {
        let (px, m) = match &self.model {
            Model::Pinhole { lens, rotation, translation } => {
                let c = rotation * Vector3::new(at.x, at.y, -height) + translation;
                let v = Vector2::new(c.x / c.z, c.y / c.z);
                let flat = Matrix2x3::new(1.0, 0.0, -v.x, 0.0, 1.0, -v.y) / c.z;
                let by_sheet = flat * rotation.fixed_columns::<2>(0);
                (self.flat_to_px(at, height), lens.slope(v) * by_sheet * lens.focal)
            }
            Model::Scan { matrix: [a, b, c, d, ..] } => (self.flat_to_px(at, height), Matrix2::new(*a, *b, *c, *d)),
        };
        Local { at, px, px_by_mm: if px.is_finite() { m } else { Matrix2::repeat(f64::NAN) } }
    }

    /// Pixels per mm at a sheet point: the geometric mean over directions.
    pub fn px_per_mm(&self, at: Mm) -> f64 {
        self.local(at, 0.0).px_by_mm.determinant().abs().sqrt()
    }

    /// How far the camera's axis leans from the sheet's normal, degrees; 0 for a scan.
    pub fn tilt_deg(&self) -> f64 {
        match &self.model {
            Model::Pinhole { rotation, .. } => rotation[(2, 2)].clamp(-1.0, 1.0).acos().to_degrees(),
            Model::Scan { .. } => 0.0,
        }
    }

    /// Where the camera stands in sheet axes, mm (z negative: above); `None` for a scan.
    pub fn camera(&self) -> Option<Vector3<f64>> {
        match &self.model {
            Model::Pinhole { rotation, translation, .. } => Some(-rotation.tr_mul(translation)),
            Model::Scan { .. } => None,
        }
    }

    /// Where the point stands that is seen at the picture's centre; `None` when the camera looks past the sheet.
    pub fn middle(&self) -> Option<Mm> {
        self.to_mm(Px::new((self.width as f64 - 1.0) / 2.0, (self.height as f64 - 1.0) / 2.0), 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Lens;
    use super::*;
    use nalgebra::Rotation3;
    use proptest::prelude::*;

    fn camera(tilt: f64, roll: f64, up: f64, k1: f64) -> View {
        let lens = Lens { k1, k2: 0.01, p1: 3e-4, p2: -2e-4, ..Lens::ideal(3030.0, Px::new(2020.0, 1508.0)) };
        let rotation =
            (Rotation3::from_axis_angle(&Vector3::z_axis(), roll) * Rotation3::from_axis_angle(&Vector3::x_axis(), tilt)).into_inner();
        let model = Model::Pinhole { lens, rotation, translation: Vector3::new(20.0, -30.0, up) };
        View::known(model, 4032, 3024)
    }

    #[test]
    fn heights_move_points_away_from_the_foot_of_the_camera() {
        let view = camera(0.0, 0.0, 1000.0, 0.0);
        let foot = view.camera().expect("a camera");
        assert!((foot - Vector3::new(-20.0, 30.0, -1000.0)).norm() < 1e-9);
        // h/(H-h) of its distance from the foot: 2 mm up, seen 300 mm out.
        let p = view.to_px(Mm::new(280.0, 30.0), 2.0);
        let flat = view.to_mm(p, 0.0).expect("on the sheet");
        assert!((flat.x - 280.0 - 300.0 * 2.0 / 998.0).abs() < 1e-9);
        assert!(view.tilt_deg() < 1e-9);
    }

    #[test]
    fn what_lies_behind_is_not_seen() {
        let view = camera(1.2, 0.0, 800.0, 0.0);
        assert!(!view.to_px(Mm::new(0.0, -1e6), 0.0).is_finite() || !view.to_px(Mm::new(0.0, 1e6), 0.0).is_finite());
        assert!(!view.local(Mm::new(1e9, -1e9), 0.0).px_by_mm[(0, 0)].is_finite());
    }

    #[test]
    fn a_scan_is_plain() {
        let view = View::known(Model::Scan { matrix: [11.8, 0.2, -0.2, 11.9, 100.0, 50.0] }, 2480, 3508);
        let at = view.to_mm(view.to_px(Mm::new(31.0, 77.0), 0.0), 3.0).expect("invertible");
        assert!(at.distance(Mm::new(31.0, 77.0)) < 1e-9);
        let flat = View::known(Model::Scan { matrix: [1.0, 1.0, 1.0, 1.0, 0.0, 0.0] }, 10, 10);
        assert!(flat.to_mm(Px::new(1.0, 2.0), 0.0).is_none());
    }

    proptest! {
        #[test]
        fn px_to_mm_to_px(x in 0.0..4031.0f64, y in 0.0..3023.0f64, tilt in -0.6..0.6f64, roll in -3.0..3.0f64, up in 400.0..1500.0f64, k1 in -0.12..0.05f64, h in 0.0..20.0f64) {
            let view = camera(tilt, roll, up, k1);
            let p = Px::new(x, y);
            let at = view.to_mm(p, h).expect("the picture shows the sheet");
            prop_assert!(view.to_px(at, h).distance(p) < 1e-7);
        }

        #[test]
        fn local_is_the_derivative(x in 0.0..4031.0f64, y in 0.0..3023.0f64, tilt in -0.6..0.6f64, roll in -3.0..3.0f64, h in 0.0..20.0f64) {
            let view = camera(tilt, roll, 900.0, -0.08);
            let at = view.to_mm(Px::new(x, y), h).expect("the picture shows the sheet");
            let local = view.local(at, h);
            let d = 1e-3;
            for (k, e) in [Vector2::new(d, 0.0), Vector2::new(0.0, d)].into_iter().enumerate() {
                let want = (view.to_px(at + e, h) - view.to_px(at - e, h)) / (2.0 * d);
                prop_assert!((local.px_by_mm.column(k) - want).norm() < 1e-5);
            }
        }
    }
}
