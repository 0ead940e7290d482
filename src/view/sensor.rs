//! A lens with a scale for each axis and a skew, for solving it from many pictures and comparing with others' solutions.

use super::Lens;
use crate::length::{Mm, Px};
use nalgebra::{Matrix2, Matrix2x3, Matrix3, Rotation3, SMatrix, UnitQuaternion, Vector2, Vector3};

/// Numbers of a sensor: fx, fy, skew, centre x y, k1, k2, p1, p2.
pub const SENSOR: usize = 9;

/// Numbers of a pose: small turn x y z (applied after the rotation, radians), translation x y z.
pub(super) const POSE: usize = 6;

/// A lens whose pixels need not be square: u = fx x' + skew y' + cx, v = fy y' + cy (Zhang 2000), x', y' by Brown's
/// distortion as in [`Lens`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensor {
    /// Focal length along columns and rows, px.
    pub focal: [f64; 2],
    /// How far rows lean, px.
    pub skew: f64,
    /// Principal point.
    pub centre: Px,
    /// Radial terms of r² and r⁴.
    pub radial: [f64; 2],
    /// Tangential terms p1, p2.
    pub tangential: [f64; 2],
}

impl From<Lens> for Sensor {
    fn from(l: Lens) -> Self {
        Self { focal: [l.focal; 2], skew: 0.0, centre: l.centre, radial: [l.k1, l.k2], tangential: [l.p1, l.p2] }
    }
}

impl Sensor {
    /// The lens with square pixels nearest to it.
    pub fn lens(&self) -> Lens {
        let [k1, k2] = self.radial;
        let [p1, p2] = self.tangential;
        Lens { focal: (self.focal[0] * self.focal[1]).sqrt(), centre: self.centre, k1, k2, p1, p2 }
    }

    /// Its numbers in the order of [`SENSOR`].
    pub fn numbers(&self) -> [f64; SENSOR] {
        let ([fx, fy], [k1, k2], [p1, p2]) = (self.focal, self.radial, self.tangential);
        [fx, fy, self.skew, self.centre.x, self.centre.y, k1, k2, p1, p2]
    }

    pub(super) fn of_numbers([fx, fy, skew, cx, cy, k1, k2, p1, p2]: [f64; SENSOR]) -> Self {
        Self { focal: [fx, fy], skew, centre: Px::new(cx, cy), radial: [k1, k2], tangential: [p1, p2] }
    }

    fn matrix(&self) -> Matrix2<f64> {
        Matrix2::new(self.focal[0], self.skew, 0.0, self.focal[1])
    }

    /// Its distortion as that of a lens of focal length 1.
    fn bent(&self) -> Lens {
        let [k1, k2] = self.radial;
        let [p1, p2] = self.tangential;
        Lens { focal: 1.0, centre: Px::new(0.0, 0.0), k1, k2, p1, p2 }
    }
}

/// Where a camera stands: `rotation * X + translation`, in camera axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pose {
    pub rotation: Matrix3<f64>,
    pub translation: Vector3<f64>,
}

impl Pose {
    /// Where a point of the sheet is seen; not finite behind the camera.
    pub fn see(&self, sensor: &Sensor, at: Mm) -> Px {
        let c = self.rotation * Vector3::new(at.x, at.y, 0.0) + self.translation;
        if c.z <= 0.0 {
            return Px::new(f64::NAN, f64::NAN);
        }
        sensor.centre + sensor.matrix() * sensor.bent().distort(Vector2::new(c.x, c.y) / c.z)
    }

    /// Where a point is seen, with derivatives by the sensor's numbers and by the pose's.
    pub fn slopes(&self, sensor: &Sensor, at: Mm) -> (Px, SMatrix<f64, 2, SENSOR>, SMatrix<f64, 2, POSE>) {
        let turned = self.rotation * Vector3::new(at.x, at.y, 0.0);
        let c = turned + self.translation;
        let v = Vector2::new(c.x, c.y) / c.z;
        let (x, y, r2) = (v.x, v.y, v.norm_squared());
        let bent = sensor.bent();
        let (q, k) = (bent.distort(v), sensor.matrix());
        let flat = Matrix2x3::new(1.0, 0.0, -x, 0.0, 1.0, -y) / c.z;
        let by_point = k * bent.slope(v) * flat;
        // A small turn w after the rotation moves the point by w × turned.
        let by_turn = by_point * -turned.cross_matrix();
        let by_bend = k * Matrix2::from_columns(&[v * r2, v * r2 * r2]);
        let by_decentring =
            k * Matrix2::from_columns(&[Vector2::new(2.0 * x * y, r2 + 2.0 * y * y), Vector2::new(r2 + 2.0 * x * x, 2.0 * x * y)]);
        let mut lens = SMatrix::<f64, 2, SENSOR>::zeros();
        (lens[(0, 0)], lens[(1, 1)], lens[(0, 2)], lens[(0, 3)], lens[(1, 4)]) = (q.x, q.y, q.y, 1.0, 1.0);
        lens.fixed_view_mut::<2, 2>(0, 5).copy_from(&by_bend);
        lens.fixed_view_mut::<2, 2>(0, 7).copy_from(&by_decentring);
        let mut pose = SMatrix::<f64, 2, POSE>::zeros();
        pose.fixed_view_mut::<2, 3>(0, 0).copy_from(&by_turn);
        pose.fixed_view_mut::<2, 3>(0, 3).copy_from(&by_point);
        (sensor.centre + k * q, lens, pose)
    }

    /// The pose after a step.
    pub fn moved(&self, step: &[f64]) -> Self {
        let turn = Rotation3::new(Vector3::new(step[0], step[1], step[2]));
        // Renewed from the rotation's own parameters, so that rounding never bends it.
        let rotation = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(turn * self.rotation));
        let translation = self.translation + Vector3::new(step[3], step[4], step[5]);
        Self { rotation: rotation.to_rotation_matrix().into_inner(), translation }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn slopes_are_derivatives(x in -300.0..300.0f64, y in -300.0..300.0f64, tilt in -0.5..0.5f64, skew in -2.0..2.0f64) {
            let sensor = Sensor { focal: [3000.0, 3010.0], skew, centre: Px::new(2000.0, 1500.0), radial: [-0.1, 0.03], tangential: [1e-3, -5e-4] };
            let pose = Pose { rotation: Rotation3::new(Vector3::new(tilt, 0.2, 0.7)).into_inner(), translation: Vector3::new(10.0, 20.0, 900.0) };
            let at = Mm::new(x, y);
            let (px, lens, own) = pose.slopes(&sensor, at);
            prop_assert!(px.distance(pose.see(&sensor, at)) < 1e-9);
            for k in 0..SENSOR + POSE {
                let d = if (5..SENSOR + 3).contains(&k) { 1e-6 } else { 1e-3 };
                let seen = |d: f64| {
                    let (mut n, mut step) = (sensor.numbers(), [0.0; POSE]);
                    if k < SENSOR { n[k] += d } else { step[k - SENSOR] = d }
                    pose.moved(&step).see(&Sensor::of_numbers(n), at)
                };
                let want = (seen(d) - seen(-d)) / (2.0 * d);
                let got = if k < SENSOR { lens.column(k).into_owned() } else { own.column(k - SENSOR).into_owned() };
                prop_assert!((got - want).norm() < 1e-4 * (1.0 + want.norm()), "{k}: {got} {want}");
            }
        }
    }
}
