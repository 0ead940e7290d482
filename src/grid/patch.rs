//! A small window of the picture in linear luminance, and the plane of light behind a mark.

use crate::length::Px;
use crate::shot::{LINEAR, LUMA, Shot};
use nalgebra::{Matrix3, Vector3};

/// A window of whole pixels, clipped to the picture.
#[derive(Clone, Debug)]
pub(super) struct Patch {
    /// Column of the picture its first column shows.
    pub x0: usize,
    /// Row of the picture its first row shows.
    pub y0: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Luminance, linear, 0 to 1, row by row.
    pub data: Vec<f32>,
}

impl Patch {
    /// The pixels up to `half` to each side of the one nearest `centre`; `None` when that lies outside the picture.
    pub fn around(shot: &Shot, centre: Px, half: usize) -> Option<Self> {
        let (x, y) = (centre.x.round(), centre.y.round());
        if !(x >= 0.0 && y >= 0.0 && x < shot.width as f64 && y < shot.height as f64) {
            return None;
        }
        let (x, y) = (x as usize, y as usize);
        let (x0, y0) = (x.saturating_sub(half), y.saturating_sub(half));
        let (x1, y1) = ((x + half + 1).min(shot.width), (y + half + 1).min(shot.height));
        let table = &*LINEAR;
        let mut data = Vec::with_capacity((x1 - x0) * (y1 - y0));
        for row in y0..y1 {
            let line = &shot.rgb[(row * shot.width + x0) * 3..(row * shot.width + x1) * 3];
            data.extend(
                line.chunks_exact(3)
                    .map(|p| LUMA[0] * table[p[0] as usize] + LUMA[1] * table[p[1] as usize] + LUMA[2] * table[p[2] as usize]),
            );
        }
        Some(Self { x0, y0, width: x1 - x0, height: y1 - y0, data })
    }

    /// Luminance of the pixel in column `u`, row `v` of the window.
    #[inline]
    pub fn at(&self, u: usize, v: usize) -> f32 {
        self.data[v * self.width + u]
    }

    /// A point of the picture in the window's own pixels.
    pub fn inside(&self, p: Px) -> (f64, f64) {
        (p.x - self.x0 as f64, p.y - self.y0 as f64)
    }

    /// The window's own pixel coordinates as a point of the picture.
    pub fn outside(&self, u: f64, v: f64) -> Px {
        Px::new(u + self.x0 as f64, v + self.y0 as f64)
    }

    /// Luminance between pixels (bilinear), in the window's own pixels; `None` beyond its outermost pixel centres.
    #[inline]
    pub fn sample(&self, u: f64, v: f64) -> Option<f32> {
        if !(u >= 0.0 && v >= 0.0 && u <= (self.width - 1) as f64 && v <= (self.height - 1) as f64) {
            return None;
        }
        let (x, y) = ((u as usize).min(self.width.saturating_sub(2)), (v as usize).min(self.height.saturating_sub(2)));
        let (fx, fy) = ((u - x as f64) as f32, (v - y as f64) as f32);
        let (x1, y1) = ((x + 1).min(self.width - 1), (y + 1).min(self.height - 1));
        let top = self.at(x, y) + (self.at(x1, y) - self.at(x, y)) * fx;
        let low = self.at(x, y1) + (self.at(x1, y1) - self.at(x, y1)) * fx;
        Some(top + (low - top) * fy)
    }

    /// Mean of the 3 × 3 pixels about column `u`, row `v`, weighted 1 2 1 both ways; pixels beyond the window repeat.
    pub fn smooth(&self, u: usize, v: usize) -> f32 {
        let (l, r) = (u.saturating_sub(1), (u + 1).min(self.width - 1));
        let (t, b) = (v.saturating_sub(1), (v + 1).min(self.height - 1));
        let row = |v: usize| self.at(l, v) + 2.0 * self.at(u, v) + self.at(r, v);
        (row(t) + 2.0 * row(v) + row(b)) / 16.0
    }
}

/// A plane of light z = a + b u + c v.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ground {
    plane: Vector3<f64>,
    /// Standard deviation of the pixels about it.
    pub noise: f64,
}

impl Ground {
    /// The plane through `points` (u, v, light) by least squares, fitted again without what lies more than 2.5
    /// standard deviations off (texture, a neighbour's shadow); `None` for fewer than six points.
    pub fn fit(points: &[(f64, f64, f64)]) -> Option<Self> {
        let first = Self::plain(points)?;
        let near: Vec<_> = points.iter().copied().filter(|&(u, v, z)| (z - first.at(u, v)).abs() <= 2.5 * first.noise).collect();
        Self::plain(&near).or(Some(first))
    }

    fn plain(points: &[(f64, f64, f64)]) -> Option<Self> {
        if points.len() < 6 {
            return None;
        }
        let (mut n, mut r) = (Matrix3::zeros(), Vector3::zeros());
        for &(u, v, z) in points {
            let row = Vector3::new(1.0, u, v);
            n += row * row.transpose();
            r += row * z;
        }
        let plane = n.cholesky()?.solve(&r);
        let mut ground = Self { plane, noise: 0.0 };
        let sum: f64 = points.iter().map(|&(u, v, z)| (z - ground.at(u, v)).powi(2)).sum();
        ground.noise = (sum / (points.len() - 3) as f64).sqrt();
        Some(ground)
    }

    /// Light of the ground at `u`, `v`.
    #[inline]
    pub fn at(&self, u: f64, v: f64) -> f64 {
        self.plane[0] + self.plane[1] * u + self.plane[2] * v
    }
}
