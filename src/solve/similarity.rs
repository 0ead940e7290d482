//! Laying one set of points on another: rigid motion or similarity, in complex form.
//!
//! The least-squares answer is closed (Procrustes; Umeyama 1991): with centred z and w as complex numbers,
//! a = Σ z̄ w / Σ |z|².

use nalgebra::Vector2;

/// A turn, one scale for both axes, and a shift: p → scale · turn(p) + shift. Never a mirror.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Similarity {
    /// Scale.
    pub scale: f64,
    /// Angle, radians, from x towards y.
    pub angle: f64,
    /// Shift applied last.
    pub shift: Vector2<f64>,
}

impl Similarity {
    /// The similarity that takes `from` nearest to `to`; `None` for fewer than two pairs or when all of `from` coincide.
    pub fn fit(from: &[Vector2<f64>], to: &[Vector2<f64>]) -> Option<Self> {
        Self::lay(from, to, false)
    }

    /// The same with scale held at 1.
    pub fn rigid(from: &[Vector2<f64>], to: &[Vector2<f64>]) -> Option<Self> {
        Self::lay(from, to, true)
    }

    fn lay(from: &[Vector2<f64>], to: &[Vector2<f64>], rigid: bool) -> Option<Self> {
        if from.len() < 2 || from.len() != to.len() {
            return None;
        }
        let n = from.len() as f64;
        let (a, b) = (from.iter().sum::<Vector2<f64>>() / n, to.iter().sum::<Vector2<f64>>() / n);
        let (mut dot, mut cross, mut size) = (0.0, 0.0, 0.0);
        for (p, q) in from.iter().zip(to) {
            let (p, q) = (p - a, q - b);
            dot += p.dot(&q);
            cross += p.perp(&q);
            size += p.norm_squared();
        }
        let length = dot.hypot(cross);
        if size <= 0.0 || length <= 0.0 {
            return None;
        }
        let scale = if rigid { 1.0 } else { length / size };
        let fit = Self { scale, angle: cross.atan2(dot), shift: Vector2::zeros() };
        Some(Self { shift: b - fit.apply(a), ..fit })
    }

    /// Where a point goes.
    pub fn apply(&self, p: Vector2<f64>) -> Vector2<f64> {
        let (s, c) = self.angle.sin_cos();
        Vector2::new(c * p.x - s * p.y, s * p.x + c * p.y) * self.scale + self.shift
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn v(x: f64, y: f64) -> Vector2<f64> {
        Vector2::new(x, y)
    }

    /// Scale 1.02, 3.5°, shift (12.5, -7.25), written out in complex numbers.
    #[test]
    fn four_points_turned_and_scaled() {
        let from = [v(0.0, 0.0), v(100.0, 0.0), v(100.0, 50.0), v(20.0, 80.0)];
        let to = [v(12.5, -7.25), v(114.309749, -1.023049), v(111.196274, 49.881826), v(27.880389, 75.443190)];
        let s = Similarity::fit(&from, &to).expect("distinct points");
        // The target is given to six places.
        assert!((s.scale - 1.02).abs() < 1e-7 && (s.angle.to_degrees() - 3.5).abs() < 1e-5, "{s:?}");
        assert!((s.shift - v(12.5, -7.25)).norm() < 2e-6);
        let r = Similarity::rigid(&from, &to).expect("distinct points");
        assert!(r.scale == 1.0 && (r.angle - s.angle).abs() < 1e-12);
    }

    #[test]
    fn one_place_fixes_nothing() {
        assert!(Similarity::fit(&[v(1.0, 1.0); 3], &[v(0.0, 0.0), v(1.0, 0.0), v(0.0, 1.0)]).is_none());
    }

    proptest! {
        #[test]
        fn comes_back(scale in 0.1..10.0f64, angle in -3.1..3.1f64, x in -100.0..100.0f64, y in -100.0..100.0f64) {
            let from = [v(0.0, 0.0), v(100.0, 3.0), v(40.0, 50.0), v(-20.0, 80.0)];
            let truth = Similarity { scale, angle, shift: v(x, y) };
            let to: Vec<_> = from.iter().map(|p| truth.apply(*p)).collect();
            let s = Similarity::fit(&from, &to).expect("distinct points");
            prop_assert!((s.scale / scale - 1.0).abs() < 1e-9 && (s.angle - angle).abs() < 1e-9 && (s.shift - truth.shift).norm() < 1e-7);
        }
    }
}
