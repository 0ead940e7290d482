//! The light that falls on the sheet: a smooth field a channel, fitted to what its bare ground sends back.
//!
//! Logarithms of the ground's light are fitted by a low polynomial over the picture with Tukey's biweight (Beaton and
//! Tukey 1974), so that samples on cloth, in shadow or on print fall out; what the polynomial leaves is added back as a
//! local mean of the samples that stayed.

use crate::length::Px;
use crate::shot::to_level;
use crate::solve::median;
use nalgebra::{DMatrix, DVector};

/// Node distance of the stored field in pixels of the level it was fitted on; light is smooth over far more.
const SPACING: f64 = 24.0;
/// Weight of "no local correction" against the samples around, in samples.
const REST: f64 = 1.5;
/// Reach of the local correction, level px.
const REACH: f64 = 48.0;
/// Tukey's constant: full breakdown with 95 % efficiency on Gaussian residuals (Huber and Ronchetti 2009).
const TUKEY: f64 = 4.685;

/// Light sent back by the sheet's plain ground, linear, as if nothing lay on it and nothing shaded it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SheetLight {
    factor: usize,
    cols: usize,
    rows: usize,
    rgb: Vec<[f32; 3]>,
}

/// One sample of bare ground: place in level px, linear light.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub x: f64,
    pub y: f64,
    pub rgb: [f32; 3],
}

impl SheetLight {
    /// The ground's linear red, green, blue at a point of the picture.
    #[inline]
    pub fn at(&self, p: Px) -> [f32; 3] {
        let (x, y) = to_level(self.factor, p);
        self.at_level(x as f32, y as f32)
    }

    /// The same at a point of the level the field was fitted on.
    #[inline]
    pub(super) fn at_level(&self, x: f32, y: f32) -> [f32; 3] {
        let (u, v) = (x / SPACING as f32, y / SPACING as f32);
        let u = u.clamp(0.0, (self.cols - 1) as f32);
        let v = v.clamp(0.0, (self.rows - 1) as f32);
        let (i, j) = ((u as usize).min(self.cols.saturating_sub(2)), (v as usize).min(self.rows.saturating_sub(2)));
        let (fu, fv) = (u - i as f32, v - j as f32);
        let (i1, j1) = ((i + 1).min(self.cols - 1), (j + 1).min(self.rows - 1));
        let at = |i: usize, j: usize| self.rgb[j * self.cols + i];
        let (a, b, c, d) = (at(i, j), at(i1, j), at(i, j1), at(i1, j1));
        std::array::from_fn(|k| {
            let top = a[k] + (b[k] - a[k]) * fu;
            top + (c[k] + (d[k] - c[k]) * fu - top) * fv
        })
    }

    /// [`SheetLight::at_level`] of a row of `width` pixels.
    pub(super) fn row(&self, y: usize, width: usize, out: &mut Vec<[f32; 3]>) {
        out.clear();
        let step = SPACING as usize;
        let mut left = self.at_level(0.0, y as f32);
        for i in 0..width.div_ceil(step) {
            let right = self.at_level(((i + 1) * step) as f32, y as f32);
            let slope: [f32; 3] = std::array::from_fn(|k| (right[k] - left[k]) / SPACING as f32);
            for x in 0..step.min(width - i * step) {
                out.push(std::array::from_fn(|k| left[k] + slope[k] * x as f32));
            }
            left = right;
        }
    }

    /// Fits the field to samples of bare ground on a level of `width` × `height` px reduced by `factor`. `None` with
    /// fewer than six samples.
    pub(super) fn fit(samples: &[Sample], factor: usize, width: usize, height: usize) -> Option<Self> {
        let (poly, weights) = Polynomial::fit(samples, width, height)?;
        let cols = (width as f64 / SPACING).ceil() as usize + 1;
        let rows = (height as f64 / SPACING).ceil() as usize + 1;
        let mut sum = vec![[0f64; 4]; cols * rows];
        let reach = (REACH / SPACING * 2.5).ceil() as i64;
        for (s, &w) in samples.iter().zip(&weights) {
            if w <= 0.0 {
                continue;
            }
            let fit = poly.at(s.x, s.y);
            let (ci, cj) = ((s.x / SPACING).round() as i64, (s.y / SPACING).round() as i64);
            for j in (cj - reach).max(0)..=(cj + reach).min(rows as i64 - 1) {
                for i in (ci - reach).max(0)..=(ci + reach).min(cols as i64 - 1) {
                    let (dx, dy) = (i as f64 * SPACING - s.x, j as f64 * SPACING - s.y);
                    let g = w * (-(dx * dx + dy * dy) / (2.0 * REACH * REACH)).exp();
                    let cell = &mut sum[j as usize * cols + i as usize];
                    for k in 0..3 {
                        cell[k] += g * (f64::from(s.rgb[k].max(1e-4)).ln() - fit[k]);
                    }
                    cell[3] += g;
                }
            }
        }
        let rgb = (0..cols * rows)
            .map(|n| {
                let fit = poly.at((n % cols) as f64 * SPACING, (n / cols) as f64 * SPACING);
                std::array::from_fn(|k| (fit[k] + sum[n][k] / (sum[n][3] + REST)).exp() as f32)
            })
            .collect();
        Some(Self { factor, cols, rows, rgb })
    }

    /// The stored values and where they hold.
    #[cfg(test)]
    fn nodes(&self) -> impl Iterator<Item = (Px, [f32; 3])> + '_ {
        self.rgb
            .iter()
            .enumerate()
            .map(|(n, &v)| (crate::shot::to_picture(self.factor, (n % self.cols) as f64 * SPACING, (n / self.cols) as f64 * SPACING), v))
    }
}

/// Terms of a polynomial of the third degree.
const TERMS: usize = 10;

/// A polynomial in the picture's coordinates for each channel's logarithm.
struct Polynomial {
    degree: usize,
    scale: f64,
    centre: [f64; 2],
    terms: [DVector<f64>; 3],
}

impl Polynomial {
    fn fit(samples: &[Sample], width: usize, height: usize) -> Option<(Self, Vec<f64>)> {
        if samples.len() < 6 {
            return None;
        }
        // More terms than the samples bear would swing under the garment, where there are none.
        let degree = match samples.len() {
            0..30 => 1,
            30..160 => 2,
            _ => 3,
        };
        let scale = 2.0 / width.max(height) as f64;
        let centre = [width as f64 / 2.0, height as f64 / 2.0];
        let mut poly = Self { degree, scale, centre, terms: std::array::from_fn(|_| DVector::zeros(0)) };
        let rows: Vec<Vec<f64>> = samples.iter().map(|s| poly.basis(s.x, s.y)).collect();
        let logs: Vec<[f64; 3]> = samples.iter().map(|s| s.rgb.map(|v| f64::from(v.max(1e-4)).ln())).collect();
        let mut weights = start(&logs);
        for _ in 0..12 {
            poly.solve(&rows, &logs, &weights)?;
            let left: Vec<[f64; 3]> = rows.iter().zip(&logs).map(|(r, l)| poly.residual(r, l)).collect();
            weights = reweigh(&left);
        }
        Some((poly, weights))
    }

    fn basis(&self, x: f64, y: f64) -> Vec<f64> {
        let (u, v) = ((x - self.centre[0]) * self.scale, (y - self.centre[1]) * self.scale);
        (0..=self.degree).flat_map(|d| (0..=d).map(move |q| u.powi((d - q) as i32) * v.powi(q as i32))).collect()
    }

    fn solve(&mut self, rows: &[Vec<f64>], logs: &[[f64; 3]], weights: &[f64]) -> Option<()> {
        let n = rows[0].len();
        // Each row padded to the most there can be, with the logarithms after it: all products in loops of one length.
        let mut sums = [[0f64; TERMS + 3]; TERMS];
        for ((row, log), &w) in rows.iter().zip(logs).zip(weights).filter(|(_, w)| **w > 0.0) {
            let mut all = [0f64; TERMS + 3];
            all[..n].copy_from_slice(row);
            all[TERMS..].copy_from_slice(log);
            for (a, sums) in row.iter().zip(&mut sums) {
                let a = w * a;
                sums.iter_mut().zip(&all).for_each(|(sum, b)| *sum += a * b);
            }
        }
        let mut normal = DMatrix::<f64>::from_fn(n, n, |p, q| sums[p][q]);
        let right = DMatrix::<f64>::from_fn(n, 3, |p, k| sums[p][TERMS + k]);
        // A touch of ridge on all but the constant keeps the field calm where nothing is seen.
        let ridge = 1e-3 * normal[(0, 0)].max(1e-9);
        (0..n).for_each(|p| normal[(p, p)] += if p == 0 { 1e-9 } else { ridge });
        let solved = normal.cholesky()?.solve(&right);
        self.terms = std::array::from_fn(|k| solved.column(k).into_owned());
        Some(())
    }

    fn residual(&self, row: &[f64], log: &[f64; 3]) -> [f64; 3] {
        std::array::from_fn(|k| log[k] - row.iter().zip(self.terms[k].iter()).map(|(a, t)| a * t).sum::<f64>())
    }

    fn at(&self, x: f64, y: f64) -> [f64; 3] {
        let row = self.basis(x, y);
        std::array::from_fn(|k| row.iter().zip(self.terms[k].iter()).map(|(a, t)| a * t).sum())
    }
}

/// First weights: how near a sample's colour (not its brightness) is to the commonest colour.
fn start(logs: &[[f64; 3]]) -> Vec<f64> {
    let colour = |l: &[f64; 3]| [l[0] - l[1], l[2] - l[1]];
    let mid: [f64; 2] = std::array::from_fn(|k| median(&mut logs.iter().map(|l| colour(l)[k]).collect::<Vec<_>>()).unwrap_or_default());
    let off = |l: &[f64; 3]| (colour(l)[0] - mid[0]).hypot(colour(l)[1] - mid[1]);
    let spread = median(&mut logs.iter().map(off).collect::<Vec<_>>()).unwrap_or_default().max(0.02);
    logs.iter().map(|l| biweight(off(l) / (3.0 * TUKEY / 2.0 * spread))).collect()
}

/// Weights from residuals: brightness and colour judged each on its own scale.
fn reweigh(left: &[[f64; 3]]) -> Vec<f64> {
    let bright = |r: &[f64; 3]| (r[0] + r[1] + r[2]) / 3.0;
    let colour = |r: &[f64; 3]| (r[0] - r[1]).hypot(r[2] - r[1]);
    // Floors: a field true to half a percent needs no finer sieve, and a perfect drawing must not sieve itself away.
    let b = 1.4826 * median(&mut left.iter().map(|r| bright(r).abs()).collect::<Vec<_>>()).unwrap_or_default().max(0.005);
    let c = 1.4826 * median(&mut left.iter().map(colour).collect::<Vec<_>>()).unwrap_or_default().max(0.005);
    left.iter().map(|r| biweight(bright(r) / (TUKEY * b)) * biweight(colour(r) / (TUKEY * c))).collect()
}

fn biweight(t: f64) -> f64 {
    if t.abs() < 1.0 { (1.0 - t * t).powi(2) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_of_light_is_found_under_a_third_of_wrong_samples() {
        let truth = |x: f64, y: f64| [0.8, 0.75, 0.6].map(|v: f64| (v * (1.0 - 0.4 * x / 800.0) * (1.0 - 0.2 * y / 600.0)) as f32);
        let mut samples = Vec::new();
        for n in 0..600 {
            let (x, y) = ((n * 37 % 800) as f64, (n * 91 % 600) as f64);
            let rgb = if n % 3 == 0 { [0.1, 0.05, 0.12] } else { truth(x, y) };
            samples.push(Sample { x, y, rgb });
        }
        let light = SheetLight::fit(&samples, 4, 800, 600).expect("enough samples");
        for (p, got) in light.nodes() {
            let (x, y) = to_level(4, p);
            if x <= 800.0 && y <= 600.0 {
                let want = truth(x, y);
                (0..3).for_each(|k| assert!((got[k] / want[k] - 1.0).abs() < 0.02, "{x} {y}: {got:?} for {want:?}"));
            }
        }
        assert!(SheetLight::fit(&samples[..5], 4, 800, 600).is_none());
    }
}
