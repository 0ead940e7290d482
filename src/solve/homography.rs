//! Plane to plane: the normalised direct linear transform.
//!
//! Hartley, "In defence of the eight-point algorithm" (1997); Hartley & Zisserman, Multiple View Geometry:
//! centroid to the origin, mean distance √2, in both planes, then undone.

use nalgebra::{Matrix3, SMatrix, Vector2, Vector3};

/// The homography that best takes each `from` to its `to`, scaled so that its last element is 1.
///
/// Returns `None` for fewer than four pairs or when they fix no homography (three in line, say).
pub fn homography(from: &[Vector2<f64>], to: &[Vector2<f64>]) -> Option<Matrix3<f64>> {
    if from.len() < 4 || from.len() != to.len() {
        return None;
    }
    let (a, b) = (normaliser(from)?, normaliser(to)?);
    let mut normal = SMatrix::<f64, 9, 9>::zeros();
    for (p, q) in from.iter().zip(to) {
        let (p, q) = (project(&a, *p)?, project(&b, *q)?);
        for row in
            [[p.x, p.y, 1.0, 0.0, 0.0, 0.0, -q.x * p.x, -q.x * p.y, -q.x], [0.0, 0.0, 0.0, p.x, p.y, 1.0, -q.y * p.x, -q.y * p.y, -q.y]]
        {
            let r = SMatrix::<f64, 9, 1>::from_row_slice(&row);
            normal += r * r.transpose();
        }
    }
    let eigen = normal.symmetric_eigen();
    let mut order: Vec<usize> = (0..9).collect();
    order.sort_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]));
    // A second vanishing value means the points leave the map free.
    if eigen.eigenvalues[order[1]] < 1e-12 * eigen.eigenvalues[order[8]] {
        return None;
    }
    let h = eigen.eigenvectors.column(order[0]);
    let h = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8]);
    let h = b.try_inverse()? * h * a;
    (h[(2, 2)].abs() > 1e-14 * h.norm()).then(|| h / h[(2, 2)])
}

/// Maps a point by a homography; `None` when it goes to infinity or behind.
pub fn project(h: &Matrix3<f64>, p: Vector2<f64>) -> Option<Vector2<f64>> {
    let v = h * Vector3::new(p.x, p.y, 1.0);
    (v.z.abs() > f64::EPSILON).then(|| Vector2::new(v.x / v.z, v.y / v.z))
}

fn normaliser(points: &[Vector2<f64>]) -> Option<Matrix3<f64>> {
    let n = points.len() as f64;
    let centre = points.iter().sum::<Vector2<f64>>() / n;
    let mean = points.iter().map(|p| (p - centre).norm()).sum::<f64>() / n;
    let s = (mean > 0.0).then(|| std::f64::consts::SQRT_2 / mean)?;
    Some(Matrix3::new(s, 0.0, -s * centre.x, 0.0, s, -s * centre.y, 0.0, 0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four-point example solved in rational arithmetic; the image of the centre is also the crossing of the
    /// diagonals of the quadrilateral.
    #[test]
    fn four_points_exactly() {
        let v = |x: f64, y: f64| Vector2::new(x, y);
        let from = [v(0.0, 0.0), v(1.0, 0.0), v(1.0, 1.0), v(0.0, 1.0)];
        let to = [v(10.0, 20.0), v(220.0, 40.0), v(200.0, 260.0), v(30.0, 200.0)];
        let h = homography(&from, &to).expect("four points in general position");
        let want = [30410.0 / 193.0, 5060.0 / 193.0, 10.0, 2020.0 / 193.0, 42740.0 / 193.0, 20.0, -46.0 / 193.0, 40.0 / 193.0, 1.0];
        for (k, w) in want.iter().enumerate() {
            assert!((h[(k / 3, k % 3)] - w).abs() < 1e-9, "element {k}: {} {w}", h[(k / 3, k % 3)]);
        }
        let c = project(&h, v(0.5, 0.5)).expect("finite");
        assert!((c - v(103.5, 138.105263157895)).norm() < 1e-9);
    }

    #[test]
    fn three_in_line_fix_nothing() {
        let v = |x: f64, y: f64| Vector2::new(x, y);
        let from = [v(0.0, 0.0), v(1.0, 0.0), v(2.0, 0.0), v(3.0, 0.0)];
        assert!(homography(&from, &from).is_none());
    }
}
