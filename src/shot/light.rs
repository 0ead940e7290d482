//! Pixels as light: sRGB decoded to linear values, and samples between pixels.
//!
//! Averages of encoded values make dark cloth too small (its blurred edge sits too far in), so everything that averages or
//! interpolates goes through linear light. sRGB: IEC 61966-2-1, decode threshold 0.04045.

use super::Shot;
use super::levels::{Base, Level, to_level};
use crate::length::Px;
use rayon::prelude::*;
use std::sync::LazyLock;

/// Linear light of each encoded byte, 0 to 1.
pub static LINEAR: LazyLock<[f32; 256]> = LazyLock::new(|| {
    std::array::from_fn(|k| {
        let v = k as f64 / 255.0;
        (if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }) as f32
    })
});

/// The byte that codes linear light (IEC 61966-2-1).
pub fn encoded(light: f64) -> u8 {
    let e = if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (e * 255.0).round().clamp(0.0, 255.0) as u8
}

/// Luminance weights of linear sRGB (ITU-R BT.709).
pub const LUMA: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// What each encoded byte of each channel adds to luminance.
pub(super) static WEIGHTS: LazyLock<[[f32; 256]; 3]> =
    LazyLock::new(|| std::array::from_fn(|c| std::array::from_fn(|k| LINEAR[k] * LUMA[c])));

/// Two pixels side by side.
type Pair = [[u8; 3]; 2];

impl Shot {
    /// The picture with the light of each pixel multiplied by what `by` holds there (bilinear; its border's beyond it). Values above 1
    /// may run into full scale.
    pub fn times(&self, by: &Level) -> Self {
        let (right, bottom) = ((by.width as f32 - 1.001).max(0.0), (by.height as f32 - 1.001).max(0.0));
        let mut rgb = self.rgb.clone();
        rgb.par_chunks_mut(3 * self.width).enumerate().for_each(|(y, row)| {
            for (x, p) in row.as_chunks_mut::<3>().0.iter_mut().enumerate() {
                let (u, v) = to_level(by.factor, Px::new(x as f64, y as f64));
                let Some(share) = by.sample((u as f32).clamp(0.0, right), (v as f32).clamp(0.0, bottom)) else { continue };
                *p = std::array::from_fn(|k| encoded(f64::from(LINEAR[usize::from(p[k])] * share[k])));
            }
        });
        Self { rgb, base: Base::default(), ..self.clone() }
    }

    /// Linear light of one pixel.
    #[inline]
    pub fn linear(&self, x: usize, y: usize) -> [f32; 3] {
        self.rgb.as_chunks::<3>().0[y * self.width + x].map(|v| LINEAR[usize::from(v)])
    }

    /// Linear light at a point between pixels (bilinear); `None` outside the picture.
    #[inline]
    pub fn sample(&self, p: Px) -> Option<[f32; 3]> {
        let table = &*LINEAR;
        let ([[a, b], [c, d]], fx, fy) = self.about(p)?;
        let mut out = [0.0; 3];
        for (k, out) in out.iter_mut().enumerate() {
            let [a, b, c, d] = [a[k], b[k], c[k], d[k]].map(|v| table[usize::from(v)]);
            *out = between(a, b, c, d, fx, fy);
        }
        Some(out)
    }

    /// Luminance (linear) at a point between pixels (bilinear); `None` outside the picture.
    #[inline]
    pub fn luminance(&self, p: Px) -> Option<f32> {
        let weights = &*WEIGHTS;
        let ([[a, b], [c, d]], fx, fy) = self.about(p)?;
        let of = |p: &[u8; 3]| weights[0][usize::from(p[0])] + weights[1][usize::from(p[1])] + weights[2][usize::from(p[2])];
        Some(between(of(a), of(b), of(c), of(d), fx, fy))
    }

    /// Luminance (linear) at points one `step` after another (bilinear); none where the first or the last lies outside the picture.
    #[inline]
    pub fn luminances(&self, from: Px, step: [f64; 2], count: usize) -> Option<impl Iterator<Item = f32>> {
        let weights = &*WEIGHTS;
        let of = |p: &[u8; 3]| weights[0][usize::from(p[0])] + weights[1][usize::from(p[1])] + weights[2][usize::from(p[2])];
        let last = Px::new(from.x + step[0] * (count.max(1) - 1) as f64, from.y + step[1] * (count.max(1) - 1) as f64);
        // What lies between two points of the picture lies in it.
        self.about(from).and(self.about(last))?;
        let (w, all) = (self.width, self.rgb.as_chunks::<3>().0);
        let (right, bottom) = (w as u32 - 2, self.height as u32 - 2);
        Some((0..count).map(move |k| {
            let (x, y) = (from.x + step[0] * k as f64, from.y + step[1] * k as f64);
            let (column, row) = ((x as u32).min(right), (y as u32).min(bottom));
            let n = row as usize * w + column as usize;
            let ([a, b], [c, d]) = (&all[n..n + 2], &all[n + w..n + w + 2]) else { return 0.0 };
            between(of(a), of(b), of(c), of(d), (x - f64::from(column)) as f32, (y - f64::from(row)) as f32)
        }))
    }

    /// The four pixels about a point, two of each row, and how far it lies from the first of them to the last; `None` outside. This is
    /// asked millions of times: rows are cut out whole, so that their bounds are looked at once.
    #[inline(always)]
    fn about(&self, p: Px) -> Option<([&Pair; 2], f32, f32)> {
        let (w, h) = (self.width, self.height);
        if !(p.x >= 0.0 && p.y >= 0.0 && p.x <= (w - 1) as f64 && p.y <= (h - 1) as f64) {
            return None;
        }
        let (x, y) = ((p.x as u32).min((w as u32).checked_sub(2)?), (p.y as u32).min((h as u32).checked_sub(2)?));
        let (all, k) = (self.rgb.as_chunks::<3>().0, y as usize * w + x as usize);
        let rows = [all.get(k..)?.first_chunk()?, all.get(k + w..)?.first_chunk()?];
        Some((rows, (p.x - f64::from(x)) as f32, (p.y - f64::from(y)) as f32))
    }

    /// Mean linear light of `N` × `N` pixels about a point, `step` px apart; `None` where some lie outside the picture.
    #[inline]
    pub fn mean<const N: usize>(&self, p: Px, step: usize) -> Option<[f32; 3]> {
        let (table, reach) = (&*LINEAR, (N - 1) * step);
        let first = |v: f64| v - reach as f64 / 2.0 + 0.5;
        let (x, y) = (first(p.x), first(p.y));
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        let (x, y) = (x as u32 as usize, y as u32 as usize);
        if x + reach >= self.width || y + reach >= self.height {
            return None;
        }
        let mut sum = [0f32; 3];
        for v in 0..N {
            let row = &self.rgb.as_chunks::<3>().0[(y + v * step) * self.width + x..][..=reach];
            for u in 0..N {
                (0..3).for_each(|k| sum[k] += table[usize::from(row[u * step][k])]);
            }
        }
        Some(sum.map(|v| v / (N * N) as f32))
    }
}

/// Between two values in each of two rows.
#[inline]
pub(super) fn between(a: f32, b: f32, c: f32, d: f32, fx: f32, fy: f32) -> f32 {
    let top = a + (b - a) * fx;
    top + (c + (d - c) * fx - top) * fy
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Linear values of sRGB bytes, recomputed from the standard's formula.
    #[test]
    fn srgb_bytes_to_light() {
        for (byte, light) in [(128, 0.215860500), (10, 0.003035270), (119, 0.184474995)] {
            assert!((LINEAR[byte] - light as f32).abs() < 1e-7);
        }
    }

    #[test]
    fn a_row_of_samples_is_as_many_lone_ones() {
        let shot = Shot::from_rgb(9, 7, (0..9 * 7 * 3).map(|k| (k * 37 % 256) as u8).collect());
        let (from, step) = (Px::new(8.0, 0.25), [-0.5, 0.375]);
        let row: Vec<f32> = shot.luminances(from, step, 16).expect("inside").collect();
        for (k, v) in row.iter().enumerate() {
            let at = Px::new(from.x + step[0] * k as f64, from.y + step[1] * k as f64);
            assert!((v - shot.luminance(at).expect("inside")).abs() < 1e-6);
        }
        assert!(shot.luminances(from, step, 18).is_none() && shot.luminances(Px::new(-0.1, 3.0), [0.5, 0.0], 4).is_none());
    }
}
