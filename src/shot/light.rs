//! Pixels as light: sRGB decoded to linear values, single samples and reduced levels.
//!
//! Averages of encoded values make dark cloth too small (its blurred edge sits too far in), so everything that averages or
//! interpolates goes through linear light. sRGB: IEC 61966-2-1, decode threshold 0.04045.

use super::Shot;
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

/// Long side of the level that coarser ones are made from, px: what the search for the sheet looks at first.
const BASE_PX: f64 = 2100.0;

/// What each encoded byte of each channel adds to luminance.
static WEIGHTS: LazyLock<[[f32; 256]; 3]> = LazyLock::new(|| std::array::from_fn(|c| std::array::from_fn(|k| LINEAR[k] * LUMA[c])));

/// A picture made smaller by averaging `factor` × `factor` blocks, one channel, linear light.
#[derive(Clone, Debug, PartialEq)]
pub struct Gray {
    /// How many pixels of the picture go into one here, along each side.
    pub factor: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Luminance, 0 to 1, row by row.
    pub data: Vec<f32>,
}

/// The same with three channels.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// How many pixels of the picture go into one here, along each side.
    pub factor: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Linear red, green, blue, 0 to 1, row by row.
    pub rgb: Vec<[f32; 3]>,
}

/// Where the centre of the reduced pixel (`u`, `v`) lies in the picture.
pub fn to_picture(factor: usize, u: f64, v: f64) -> Px {
    let (f, half) = (factor as f64, (factor as f64 - 1.0) / 2.0);
    Px::new(f * u + half, f * v + half)
}

/// Where a point of the picture lies in a level reduced by `factor`.
pub fn to_level(factor: usize, p: Px) -> (f64, f64) {
    let (f, half) = (factor as f64, (factor as f64 - 1.0) / 2.0);
    ((p.x - half) / f, (p.y - half) / f)
}

impl Shot {
    /// Linear light of one pixel.
    #[inline]
    pub fn linear(&self, x: usize, y: usize) -> [f32; 3] {
        let k = (y * self.width + x) * 3;
        let t = &*LINEAR;
        [t[self.rgb[k] as usize], t[self.rgb[k + 1] as usize], t[self.rgb[k + 2] as usize]]
    }

    /// Linear light at a point between pixels (bilinear); `None` outside the picture.
    #[inline]
    pub fn sample(&self, p: Px) -> Option<[f32; 3]> {
        if !(p.x >= 0.0 && p.y >= 0.0 && p.x <= (self.width - 1) as f64 && p.y <= (self.height - 1) as f64) {
            return None;
        }
        let (x, y) = ((p.x as usize).min(self.width.saturating_sub(2)), (p.y as usize).min(self.height.saturating_sub(2)));
        let (fx, fy) = ((p.x - x as f64) as f32, (p.y - y as f64) as f32);
        let (x1, y1) = ((x + 1).min(self.width - 1), (y + 1).min(self.height - 1));
        let (a, b, c, d) = (self.linear(x, y), self.linear(x1, y), self.linear(x, y1), self.linear(x1, y1));
        Some(std::array::from_fn(|k| {
            let top = a[k] + (b[k] - a[k]) * fx;
            top + (c[k] + (d[k] - c[k]) * fx - top) * fy
        }))
    }

    /// Luminance (linear) at a point between pixels (bilinear); `None` outside the picture.
    #[inline]
    pub fn luminance(&self, p: Px) -> Option<f32> {
        if !(p.x >= 0.0 && p.y >= 0.0 && p.x <= (self.width - 1) as f64 && p.y <= (self.height - 1) as f64) {
            return None;
        }
        let (x, y) = ((p.x as usize).min(self.width.saturating_sub(2)), (p.y as usize).min(self.height.saturating_sub(2)));
        let (fx, fy) = ((p.x - x as f64) as f32, (p.y - y as f64) as f32);
        let (x1, y1) = ((x + 1).min(self.width - 1), (y + 1).min(self.height - 1));
        let weights = &*WEIGHTS;
        let at = |x: usize, y: usize| {
            let k = (y * self.width + x) * 3;
            let p = &self.rgb[k..k + 3];
            weights[0][p[0] as usize] + weights[1][p[1] as usize] + weights[2][p[2] as usize]
        };
        let (a, b, c, d) = (at(x, y), at(x1, y), at(x, y1), at(x1, y1));
        let top = a + (b - a) * fx;
        Some(top + (c + (d - c) * fx - top) * fy)
    }

    /// Luminance reduced by a whole `factor` (1 keeps every pixel; what does not fill a block is left off).
    pub fn gray(&self, factor: usize) -> Gray {
        let (width, height) = (self.width / factor, self.height / factor);
        let mut data = vec![0f32; width * height];
        match self.base().filter(|base| factor.is_multiple_of(base.factor)) {
            Some(base) => reduce(&mut data, width, factor / base.factor, base.width, &base.rgb, |out, p: &[f32; 3]| {
                *out += p[0] * LUMA[0] + p[1] * LUMA[1] + p[2] * LUMA[2];
            }),
            None => {
                let weights = &*WEIGHTS;
                reduce(&mut data, width, factor, self.width, self.rgb.as_chunks::<3>().0, |out, p: &[u8; 3]| {
                    *out += weights[0][p[0] as usize] + weights[1][p[1] as usize] + weights[2][p[2] as usize];
                });
            }
        }
        let scale = self.share(factor);
        data.iter_mut().for_each(|v| *v *= scale);
        Gray { factor, width, height, data }
    }

    /// All three channels reduced by a whole `factor`.
    pub fn level(&self, factor: usize) -> Level {
        match self.base() {
            Some(base) if factor == base.factor => base.clone(),
            Some(base) if factor.is_multiple_of(base.factor) => {
                let (width, height) = (self.width / factor, self.height / factor);
                let mut rgb = vec![[0f32; 3]; width * height];
                reduce(&mut rgb, width, factor / base.factor, base.width, &base.rgb, |out, p: &[f32; 3]| {
                    (0..3).for_each(|k| out[k] += p[k]);
                });
                let scale = self.share(factor);
                rgb.iter_mut().for_each(|p| p.iter_mut().for_each(|v| *v *= scale));
                Level { factor, width, height, rgb }
            }
            _ => self.reduced(factor),
        }
    }

    /// A level straight from the pixels.
    fn reduced(&self, factor: usize) -> Level {
        let (width, height) = (self.width / factor, self.height / factor);
        let table = &*LINEAR;
        let mut rgb = vec![[0f32; 3]; width * height];
        reduce(&mut rgb, width, factor, self.width, self.rgb.as_chunks::<3>().0, |out, p: &[u8; 3]| {
            (0..3).for_each(|k| out[k] += table[p[k] as usize]);
        });
        let scale = 1.0 / (factor * factor) as f32;
        rgb.iter_mut().for_each(|p| p.iter_mut().for_each(|v| *v *= scale));
        Level { factor, width, height, rgb }
    }

    /// The level that coarser ones are made from, so that all pixels are gone through once; none for small pictures.
    pub fn base(&self) -> Option<&Level> {
        let factor = (self.width.max(self.height) as f64 / BASE_PX).round() as usize;
        (factor > 1).then(|| self.base.get_or_init(|| self.reduced(factor)))
    }

    /// What one summed pixel of [`Shot::gray`] or [`Shot::level`] counts for.
    fn share(&self, factor: usize) -> f32 {
        let from = self.base().map_or(1, |b| b.factor);
        let count = if factor.is_multiple_of(from) { factor / from } else { factor };
        1.0 / (count * count) as f32
    }
}

/// Adds blocks of `by` × `by` pixels of `from` (rows of `columns`) into the pixels of `out` (rows of `width`), row by row.
fn reduce<P: Sync, T: Send>(out: &mut [T], width: usize, by: usize, columns: usize, from: &[P], add: impl Fn(&mut T, &P) + Sync) {
    out.par_chunks_mut(width.max(1)).enumerate().for_each(|(v, row)| {
        for y in v * by..(v + 1) * by {
            for (to, block) in row.iter_mut().zip(from[y * columns..][..width * by].chunks_exact(by)) {
                block.iter().for_each(|p| add(to, p));
            }
        }
    });
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

    /// Coarser levels come to the same by way of the level kept as straight from the pixels.
    #[test]
    fn levels_made_from_a_level_are_those_made_from_pixels() {
        let (width, height) = (3300, 21);
        let rgb = (0..width * height * 3).map(|k| (k * 7919 % 251) as u8).collect();
        let shot = Shot::from_rgb(width, height, rgb);
        assert_eq!(shot.base().map(|b| b.factor), Some(2));
        for factor in [1, 2, 3, 4, 6] {
            let (kept, straight) = (shot.level(factor), shot.reduced(factor));
            assert_eq!((kept.width, kept.height), (straight.width, straight.height));
            let gray = shot.gray(factor);
            for ((a, b), g) in kept.rgb.iter().zip(&straight.rgb).zip(&gray.data) {
                let luminance: f32 = (0..3).map(|k| b[k] * LUMA[k]).sum();
                assert!((0..3).all(|k| (a[k] - b[k]).abs() < 1e-5) && (g - luminance).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn reduced_levels_average_light_and_keep_places() {
        let rgb = (0..6 * 4).flat_map(|k| if k % 6 < 2 { [255; 3] } else { [0; 3] }).collect();
        let shot = Shot::from_rgb(6, 4, rgb);
        let gray = shot.gray(2);
        assert_eq!((gray.width, gray.height), (3, 2));
        assert!((gray.data[0] - 1.0).abs() < 1e-6 && gray.data[1].abs() < 1e-6);
        assert_eq!(to_picture(2, 0.0, 1.0), Px::new(0.5, 2.5));
        assert_eq!(to_level(2, Px::new(0.5, 2.5)), (0.0, 1.0));
        assert_eq!(shot.sample(Px::new(1.5, 0.0)), Some([0.5; 3]));
        assert_eq!(shot.sample(Px::new(5.1, 0.0)), None);
    }
}
