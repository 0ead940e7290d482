//! A smooth map from lattice addresses to the picture: a homography bent by a radial lens about the picture's centre.
//!
//! It only says where nodes should be (lens model after Brown 1966, two radial terms); the view is solved elsewhere with
//! everything that is known of the camera. Fitted by iteratively reweighted least squares with Tukey's biweight.

use crate::length::Px;
use crate::solve::{homography, median};
use nalgebra::{Matrix3, SMatrix, SVector, Vector2, Vector3};

/// Addresses to pixels.
#[derive(Clone, Copy, Debug)]
pub struct SheetMap {
    /// Address (i, j, 1) to picture coordinates where the centre is (0, 0) and half the diagonal is 1.
    h: Matrix3<f64>,
    lens: [f64; 2],
    centre: Vector2<f64>,
    scale: f64,
    /// Robust spread of what the fit left, px a coordinate.
    pub rms: f64,
}

/// A node or candidate with its address.
pub type Placed = ([f64; 2], Px);

/// Spread expected of the radial terms, in units of half the diagonal: strong phone barrel is about 0.08.
const LENS_PRIOR: [f64; 2] = [0.10, 0.04];
/// Rounds of reweighting; the fit settles in four or five.
const ROUNDS: usize = 8;

type Params = SVector<f64, 10>;

impl SheetMap {
    /// Fits the map to at least four nodes not in line; `size` is the picture's width and height, `noise` the
    /// least spread to expect, px.
    pub fn fit(nodes: &[Placed], size: [usize; 2], noise: f64) -> Option<Self> {
        // Where the origin is none of the lattice seen (on a coded sheet), it may lie behind the camera, and what is scaled by it turns over.
        let away = [0, 1].map(|k| {
            let (low, high) = nodes.iter().fold((f64::MAX, f64::MIN), |r, n| (r.0.min(n.0[k]), r.1.max(n.0[k])));
            if low > 0.0 || high < 0.0 { (0.5 * (low + high)).round() } else { 0.0 }
        });
        if away == [0.0; 2] || !away.iter().all(|v| v.is_finite()) {
            return Self::fit_near(nodes, size, noise);
        }
        let near: Vec<Placed> = nodes.iter().map(|n| ([n.0[0] - away[0], n.0[1] - away[1]], n.1)).collect();
        Some(Self::fit_near(&near, size, noise)?.readdressed([[1.0, 0.0], [0.0, 1.0]], away.map(|v| -v)))
    }

    /// The same where the origin lies among the nodes.
    fn fit_near(nodes: &[Placed], size: [usize; 2], noise: f64) -> Option<Self> {
        let centre = Vector2::new((size[0] as f64 - 1.0) / 2.0, (size[1] as f64 - 1.0) / 2.0);
        let scale = centre.norm().max(1.0);
        let from: Vec<_> = nodes.iter().map(|n| Vector2::from(n.0)).collect();
        let to: Vec<_> = nodes.iter().map(|n| (n.1.vector() - centre) / scale).collect();
        let h = homography(&from, &to)?;
        let mut map = Self { h, lens: [0.0; 2], centre, scale, rms: noise };
        // Few nodes say nothing about a lens.
        let free = if nodes.len() < 14 {
            8
        } else if nodes.len() < 40 {
            9
        } else {
            10
        };
        let mut spread = map.spread(nodes).max(noise);
        for _ in 0..ROUNDS {
            map.step(nodes, spread, free, noise)?;
            spread = map.spread(nodes).max(noise);
        }
        map.rms = map.spread(nodes);
        Some(map)
    }

    /// Where an address is seen; `None` beyond the horizon.
    pub fn at(&self, i: f64, j: f64) -> Option<Px> {
        let v = self.h * Vector3::new(i, j, 1.0);
        if v.z < 1e-3 {
            return None;
        }
        let q = Vector2::new(v.x, v.y) / v.z;
        Some(Px::from(self.centre + q * (self.scale * self.bend(q.norm_squared()))))
    }

    /// Steps to the next node along i and j, px.
    pub fn frame(&self, i: f64, j: f64) -> Option<[Vector2<f64>; 2]> {
        let step = |di: f64, dj: f64| Some(self.at(i + di, j + dj)? - self.at(i - di, j - dj)?);
        Some([step(0.5, 0.0)?, step(0.0, 0.5)?])
    }

    /// The same map for addresses (i', j') with (i, j) = turn (i', j') + shift.
    pub fn readdressed(&self, turn: [[f64; 2]; 2], shift: [f64; 2]) -> Self {
        let m = Matrix3::new(turn[0][0], turn[0][1], shift[0], turn[1][0], turn[1][1], shift[1], 0.0, 0.0, 1.0);
        let h = self.h * m;
        Self { h, ..*self }
    }

    /// Address (fractional) of a place in the picture, by Newton's method.
    pub fn address(&self, p: Px) -> Option<[f64; 2]> {
        let q0 = (p.vector() - self.centre) / self.scale;
        let mut q = q0;
        for _ in 0..20 {
            q = q0 / self.bend(q.norm_squared());
        }
        let v = self.h.try_inverse()? * Vector3::new(q.x, q.y, 1.0);
        let a = Vector2::new(v.x, v.y) / v.z;
        (a.x.is_finite() && a.y.is_finite()).then_some([a.x, a.y])
    }

    fn bend(&self, r2: f64) -> f64 {
        1.0 + r2 * (self.lens[0] + r2 * self.lens[1])
    }

    /// Robust spread of a coordinate: median distance over that of a plane normal law (1.177).
    fn spread(&self, nodes: &[Placed]) -> f64 {
        let mut d: Vec<f64> = nodes.iter().map(|n| self.off(n).map_or(f64::INFINITY, |d| d.norm())).collect();
        median(&mut d).unwrap_or(f64::INFINITY) / 1.177
    }

    /// Seen minus mapped, px.
    pub fn off(&self, node: &Placed) -> Option<Vector2<f64>> {
        Some(node.1 - self.at(node.0[0], node.0[1])?)
    }

    fn step(&mut self, nodes: &[Placed], spread: f64, free: usize, noise: f64) -> Option<()> {
        let mut normal = SMatrix::<f64, 10, 10>::zeros();
        let mut right = Params::zeros();
        for node in nodes {
            let Some((d, jx, jy)) = self.row(node) else { continue };
            let t = d.norm() / (6.0 * spread);
            if t >= 1.0 {
                continue;
            }
            let w = (1.0 - t * t).powi(2);
            normal += (jx * jx.transpose() + jy * jy.transpose()) * w;
            right += (jx * d.x + jy * d.y) * w;
        }
        for k in 0..2 {
            let w = (noise / LENS_PRIOR[k]).powi(2);
            normal[(8 + k, 8 + k)] += w;
            right[8 + k] -= w * self.lens[k];
        }
        for k in free..10 {
            normal.row_mut(k).fill(0.0);
            normal.column_mut(k).fill(0.0);
            normal[(k, k)] = 1.0;
            right[k] = 0.0;
        }
        let step = normal.cholesky()?.solve(&right);
        for k in 0..8 {
            self.h[(k / 3, k % 3)] += step[k];
        }
        self.lens[0] += step[8];
        self.lens[1] += step[9];
        step.iter().all(|v| v.is_finite()).then_some(())
    }

    /// What is left at a node, px, and the derivatives of the mapped place.
    fn row(&self, node: &Placed) -> Option<(Vector2<f64>, Params, Params)> {
        let [i, j] = node.0;
        let v = self.h * Vector3::new(i, j, 1.0);
        if v.z < 1e-3 {
            return None;
        }
        let q = Vector2::new(v.x, v.y) / v.z;
        let r2 = q.norm_squared();
        let bend = self.bend(r2);
        let slope = 2.0 * (self.lens[0] + 2.0 * r2 * self.lens[1]);
        let d = node.1.vector() - self.centre - q * (self.scale * bend);
        // d(q bend)/dq = bend I + slope q qᵀ
        let (a, b, c) = (bend + slope * q.x * q.x, slope * q.x * q.y, bend + slope * q.y * q.y);
        let s = self.scale / v.z;
        let row = |gx: f64, gy: f64, q: f64| {
            let third = -(gx * self.qx(v) + gy * self.qy(v));
            let l = self.scale * q * r2;
            Params::from([s * gx * i, s * gx * j, s * gx, s * gy * i, s * gy * j, s * gy, s * third * i, s * third * j, l, l * r2])
        };
        Some((d, row(a, b, q.x), row(b, c, q.y)))
    }

    fn qx(&self, v: Vector3<f64>) -> f64 {
        v.x / v.z
    }

    fn qy(&self, v: Vector3<f64>) -> f64 {
        v.y / v.z
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An origin behind the camera is no hindrance: the map is that of the same nodes counted from among them.
    #[test]
    fn the_origin_may_lie_behind_the_camera() {
        let size = [400usize, 300];
        let at = |i: f64, j: f64| {
            let z = 1.0 + 0.05 * i;
            Px::new(199.5 + 60.0 * i / z, 149.5 + 60.0 * j / z)
        };
        let all = || (-3..=6).flat_map(|i| (-3..=3).map(move |j| (f64::from(i), f64::from(j))));
        // Thirty squares to the left the plane has passed the camera.
        let nodes: Vec<Placed> = all().map(|(i, j)| ([i + 30.0, j + 4.0], at(i, j))).collect();
        let map = SheetMap::fit(&nodes, size, 0.05).expect("a map");
        for (i, j) in all() {
            assert!(map.at(i + 30.0, j + 4.0).expect("in view").distance(at(i, j)) < 1e-6);
        }
    }

    /// Nodes made by a tilted pinhole with barrel are met to a hundredth of a pixel, wild ones notwithstanding, and the inverse
    /// returns.
    #[test]
    fn meets_a_bent_perspective_view() {
        let size = [400usize, 300];
        let mut nodes: Vec<Placed> = Vec::new();
        for j in -5..=5 {
            for i in -7..=7 {
                let z = 1.0 + 0.01 * f64::from(i) - 0.02 * f64::from(j);
                let p = Vector2::new(f64::from(i) * 25.0 / z, f64::from(j) * 25.0 / z);
                let r2 = p.norm_squared() / 250.0f64.powi(2);
                let p = p * (1.0 - 0.08 * r2) + Vector2::new(199.5, 149.5);
                nodes.push(([f64::from(i), f64::from(j)], Px::from(p)));
            }
        }
        let clean = nodes.clone();
        for k in (0..nodes.len()).step_by(9) {
            nodes[k].1.x += 9.0;
        }
        let map = SheetMap::fit(&nodes, size, 0.05).expect("a good lattice");
        for n in &clean {
            assert!(map.off(n).expect("in view").norm() < 0.02, "{n:?} {:?}", map.off(n));
        }
        let a = map.address(clean[3].1).expect("in view");
        assert!((a[0] - clean[3].0[0]).abs() < 1e-3 && (a[1] - clean[3].0[1]).abs() < 1e-3);
    }
}
