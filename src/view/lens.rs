//! The lens: Brown's radial and decentring distortion on normalised coordinates, and its inverse.
//!
//! D. C. Brown, "Decentering distortion of lenses" (1966), after A. E. Conrady (1919):
//! x' = x d + 2 p1 x y + p2 (r² + 2x²), y' = y d + p1 (r² + 2y²) + 2 p2 x y, d = 1 + k1 r² + k2 r⁴.

use crate::length::Px;
use nalgebra::{Matrix2, Vector2};

/// Radial growth below this share of the ideal lens counts as folded: the model says nothing true out there.
const FOLD: f64 = 0.1;

/// Focal length, centre and distortion of a camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    /// Focal length, px.
    pub focal: f64,
    /// Principal point.
    pub centre: Px,
    /// Radial term of r².
    pub k1: f64,
    /// Radial term of r⁴.
    pub k2: f64,
    /// Tangential term, vertical.
    pub p1: f64,
    /// Tangential term, horizontal.
    pub p2: f64,
}

impl Lens {
    /// A lens without distortion.
    pub const fn ideal(focal: f64, centre: Px) -> Self {
        Self { focal, centre, k1: 0.0, k2: 0.0, p1: 0.0, p2: 0.0 }
    }

    /// Where an ideal point `x`, `y` (at distance 1 in front) comes to lie, still normalised.
    #[inline]
    pub fn distort(&self, v: Vector2<f64>) -> Vector2<f64> {
        let (x, y) = (v.x, v.y);
        let r2 = x * x + y * y;
        let d = 1.0 + r2 * (self.k1 + r2 * self.k2);
        Vector2::new(
            x * d + 2.0 * self.p1 * x * y + self.p2 * (r2 + 2.0 * x * x),
            y * d + self.p1 * (r2 + 2.0 * y * y) + 2.0 * self.p2 * x * y,
        )
    }

    /// Derivative of [`Lens::distort`].
    #[inline]
    pub fn slope(&self, v: Vector2<f64>) -> Matrix2<f64> {
        let (x, y) = (v.x, v.y);
        let r2 = x * x + y * y;
        let d = 1.0 + r2 * (self.k1 + r2 * self.k2);
        let g = 2.0 * (self.k1 + 2.0 * self.k2 * r2);
        let across = g * x * y + 2.0 * (self.p1 * x + self.p2 * y);
        Matrix2::new(
            d + g * x * x + 2.0 * self.p1 * y + 6.0 * self.p2 * x,
            across,
            across,
            d + g * y * y + 6.0 * self.p1 * y + 2.0 * self.p2 * x,
        )
    }

    /// The ideal point that comes to lie at `seen` (Newton's iteration); `None` where the lens folds over.
    #[inline]
    pub fn undistort(&self, seen: Vector2<f64>) -> Option<Vector2<f64>> {
        let mut v = seen;
        // Quadratic convergence: phone lenses need three rounds, strong barrel five.
        for _ in 0..12 {
            let miss = self.distort(v) - seen;
            let m = self.slope(v);
            let det = m[(0, 0)] * m[(1, 1)] - m[(0, 1)] * m[(1, 0)];
            if det.is_nan() || det <= 0.0 {
                return None;
            }
            let step = Vector2::new(m[(1, 1)] * miss.x - m[(0, 1)] * miss.y, m[(0, 0)] * miss.y - m[(1, 0)] * miss.x) / det;
            v -= step;
            if step.norm_squared() < 1e-24 {
                return self.good(v).then_some(v);
            }
        }
        None
    }

    /// Whether the radial part still grows at `v`, so that picture and ray belong together one to one.
    #[inline]
    pub fn good(&self, v: Vector2<f64>) -> bool {
        let r2 = v.norm_squared();
        1.0 + r2 * (3.0 * self.k1 + 5.0 * self.k2 * r2) > FOLD
    }

    /// Normalised, distorted coordinates of a picture point.
    #[inline]
    pub fn normalise(&self, p: Px) -> Vector2<f64> {
        (p - self.centre) / self.focal
    }

    /// The picture point of normalised, distorted coordinates.
    #[inline]
    pub fn place(&self, v: Vector2<f64>) -> Px {
        self.centre + v * self.focal
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Brown–Conrady with k1 -0.12, k2 0.05, k3 -0.01, p1 0.001, p2 -0.002, recomputed from the published formula; the
    /// r⁶ term, which this lens does not have, is put on by hand.
    #[test]
    fn brown_conrady_vectors() {
        let lens = Lens { k1: -0.12, k2: 0.05, p1: 0.001, p2: -0.002, ..Lens::ideal(1.0, Px::new(0.0, 0.0)) };
        for (x, y, u, v) in [
            (0.3, -0.2, 0.294826909000, -0.196594606000),
            (0.5, 0.4, 0.477837895000, 0.383336316000),
            (-0.6, 0.45, -0.571029316406, 0.427990737305),
        ] {
            let p = Vector2::new(x, y);
            let got = lens.distort(p) - p * 0.01 * p.norm_squared().powi(3);
            assert!((got - Vector2::new(u, v)).norm() < 1e-11, "{got}");
        }
    }

    #[test]
    fn a_folded_lens_answers_nothing() {
        let lens = Lens { k1: -0.5, ..Lens::ideal(1.0, Px::new(0.0, 0.0)) };
        assert!(lens.undistort(Vector2::new(2.0, 0.0)).is_none());
        assert!(!lens.good(Vector2::new(1.0, 0.0)));
    }

    proptest! {
        #[test]
        fn undistort_undoes_distort(x in -0.8..0.8f64, y in -0.6..0.6f64, k1 in -0.2..0.1f64, k2 in 0.0..0.05f64, p in -0.002..0.002f64) {
            let lens = Lens { k1, k2, p1: p, p2: -p, ..Lens::ideal(1.0, Px::new(0.0, 0.0)) };
            let v = Vector2::new(x, y);
            let back = lens.undistort(lens.distort(v)).expect("a lens that does not fold here");
            prop_assert!((back - v).norm() < 1e-11);
        }

        #[test]
        fn slope_is_the_derivative(x in -0.8..0.8f64, y in -0.6..0.6f64, k1 in -0.2..0.1f64, k2 in 0.0..0.05f64, p in -0.002..0.002f64) {
            let lens = Lens { k1, k2, p1: p, p2: -2.0 * p, ..Lens::ideal(1.0, Px::new(0.0, 0.0)) };
            let (v, h) = (Vector2::new(x, y), 1e-6);
            for (k, e) in [Vector2::new(h, 0.0), Vector2::new(0.0, h)].into_iter().enumerate() {
                let want = (lens.distort(v + e) - lens.distort(v - e)) / (2.0 * h);
                prop_assert!((lens.slope(v).column(k) - want).norm() < 1e-8);
            }
        }
    }
}
