//! The circle nearest to given points in the sense of orthogonal distance.
//!
//! Gander, Golub & Strebel, "Least-squares fitting of circles and ellipses" (1994): Gauss-Newton on centre and
//! radius, from the circle of least algebraic distance.

use nalgebra::{Matrix3, Vector2, Vector3};

/// A circle and the root of the sum of squared distances of the points it was fitted to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Its centre.
    pub centre: Vector2<f64>,
    /// Its radius.
    pub radius: f64,
    /// Root of the sum of squared distances.
    pub residual: f64,
}

/// Steps of Gauss-Newton; it settles in under ten from the algebraic start.
const STEPS: usize = 60;

/// The circle of least orthogonal distance; `None` for fewer than three points or points in a line.
pub fn circle(points: &[Vector2<f64>]) -> Option<Circle> {
    if points.len() < 3 {
        return None;
    }
    let mean = points.iter().sum::<Vector2<f64>>() / points.len() as f64;
    let mut now = algebraic(points, mean)?;
    for _ in 0..STEPS {
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        for p in points {
            let d = p - mean - now.xy();
            let r = d.norm();
            if r > 0.0 {
                let row = Vector3::new(-d.x / r, -d.y / r, -1.0);
                normal += row * row.transpose();
                right -= row * (r - now.z);
            }
        }
        let step = normal.cholesky()?.solve(&right);
        now += step;
        if step.norm() < 1e-13 * now.z.abs() {
            break;
        }
    }
    let residual = points.iter().map(|p| ((p - mean - now.xy()).norm() - now.z).powi(2)).sum::<f64>().sqrt();
    (now.iter().all(|v| v.is_finite()) && now.z > 0.0).then(|| Circle { centre: now.xy() + mean, radius: now.z, residual })
}

fn algebraic(points: &[Vector2<f64>], mean: Vector2<f64>) -> Option<Vector3<f64>> {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for p in points {
        let d = p - mean;
        let row = Vector3::new(d.x, d.y, 1.0);
        normal += row * row.transpose();
        right += row * d.norm_squared();
    }
    let v = normal.cholesky()?.solve(&right);
    let centre = v.xy() / 2.0;
    let square = v.z + centre.norm_squared();
    (square > 0.0).then(|| Vector3::new(centre.x, centre.y, square.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The six points of Gander, Golub & Strebel (1994), and their best geometric circle.
    #[test]
    fn six_published_points() {
        let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0]].map(Vector2::from);
        let c = circle(&points).expect("a circle");
        assert!((c.centre - Vector2::new(4.73978242, 2.98353273)).norm() < 1e-6, "{c:?}");
        assert!((c.radius - 4.71422601).abs() < 1e-6);
        assert!((c.residual - 1.107970702764).abs() < 1e-8);
    }

    #[test]
    fn points_in_a_line_have_none() {
        assert!(circle(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]].map(Vector2::from)).is_none());
    }
}
