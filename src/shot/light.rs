//! Pixels as light: sRGB decoded to linear values, single samples and reduced levels.
//!
//! Averages of encoded values make dark cloth too small (its blurred edge sits too far in), so everything that averages or
//! interpolates goes through linear light. sRGB: IEC 61966-2-1, decode threshold 0.04045.

use super::Shot;
use crate::length::Px;
use rayon::prelude::*;
use std::borrow::Cow;
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

/// Long side of the luminance that coarser ones are made from, px: what the search for the sheet looks at first.
const BASE_PX: f64 = 2100.0;
/// So many times as coarse is the level of all channels that coarser ones are made from: what the search for the cloth looks at.
const COLOUR_TIMES: usize = 2;

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

impl Level {
    /// Linear light at a point of the level (bilinear); `None` outside.
    #[inline]
    pub fn sample(&self, x: f32, y: f32) -> Option<[f32; 3]> {
        let (w, h) = (self.width, self.height);
        if !(x >= 0.0 && y >= 0.0 && x < (w - 1) as f32 && y < (h - 1) as f32) {
            return None;
        }
        let n = y as usize * w + x as usize;
        let (u, v) = (x.fract(), y.fract());
        let p = &self.rgb;
        let (a, b, c, d) = (p[n], p[n + 1], p[n + w], p[n + w + 1]);
        Some(std::array::from_fn(|k| {
            let top = a[k] + (b[k] - a[k]) * u;
            top + (c[k] + (d[k] - c[k]) * u - top) * v
        }))
    }
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

/// Two pixels side by side.
type Pair = [[u8; 3]; 2];

/// What coarser levels are made from, so that all pixels are gone through once.
#[derive(Clone, Debug)]
pub(super) struct Base {
    gray: Gray,
    /// [`COLOUR_TIMES`] as coarse.
    level: Level,
}

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
        Self { rgb, base: Default::default(), ..self.clone() }
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

    /// Luminance reduced by a whole `factor` (1 keeps every pixel; what does not fill a block is left off).
    pub fn gray(&self, factor: usize) -> Cow<'_, Gray> {
        let (width, height) = (self.width / factor, self.height / factor);
        let (mut data, times) = (vec![0f32; width * height], factor / self.base_factor());
        match self.base().map(|base| &base.gray) {
            Some(base) if factor == base.factor => return Cow::Borrowed(base),
            Some(base) if factor.is_multiple_of(base.factor) => {
                reduce(&mut data, width, times, base.width, &base.data, |out, v: &f32| *out += v);
                share(&mut data, times);
            }
            _ => {
                let weights = &*WEIGHTS;
                reduce(&mut data, width, factor, self.width, self.rgb.as_chunks::<3>().0, |out, p: &[u8; 3]| {
                    *out += weights[0][p[0] as usize] + weights[1][p[1] as usize] + weights[2][p[2] as usize];
                });
                share(&mut data, factor);
            }
        }
        Cow::Owned(Gray { factor, width, height, data })
    }

    /// All three channels reduced by a whole `factor`.
    pub fn level(&self, factor: usize) -> Level {
        let (width, height) = (self.width / factor, self.height / factor);
        match self.base().map(|base| &base.level) {
            Some(base) if factor == base.factor => base.clone(),
            Some(base) if factor.is_multiple_of(base.factor) => {
                let times = factor / base.factor;
                let mut rgb = vec![[0f32; 3]; width * height];
                reduce(&mut rgb, width, times, base.width, &base.rgb, |out, p: &[f32; 3]| (0..3).for_each(|k| out[k] += p[k]));
                share(rgb.as_flattened_mut(), times);
                Level { factor, width, height, rgb }
            }
            _ => self.reduced(factor),
        }
    }

    /// A level straight from the pixels.
    fn reduced(&self, factor: usize) -> Level {
        let (width, height) = (self.width / factor, self.height / factor);
        let mut rgb = vec![[0f32; 3]; width * height];
        rgb.par_chunks_mut(width.max(1)).enumerate().for_each(|(v, row)| self.reduced_row(factor, v, row));
        Level { factor, width, height, rgb }
    }

    /// One row of it, into a row of zeros.
    fn reduced_row(&self, factor: usize, v: usize, out: &mut [[f32; 3]]) {
        let rows = &self.rgb.as_chunks::<3>().0[v * factor * self.width..][..factor * self.width];
        match factor {
            // What most pictures are reduced by: rows side by side, all in one go.
            2 => {
                let (table, (above, below)) = (&*LINEAR, rows.split_at(self.width));
                for (to, (above, below)) in out.iter_mut().zip(above.as_chunks::<2>().0.iter().zip(below.as_chunks::<2>().0)) {
                    let [[a, b], [c, d]] = [above, below];
                    for k in 0..3 {
                        let light = |p: &[u8; 3]| table[usize::from(p[k])];
                        to[k] = 0.25 * (light(a) + light(b) + light(c) + light(d));
                    }
                }
            }
            _ => {
                let table = &*LINEAR;
                for row in rows.chunks_exact(self.width) {
                    for (to, block) in out.iter_mut().zip(row.chunks_exact(factor)) {
                        block.iter().for_each(|p| (0..3).for_each(|k| to[k] += table[usize::from(p[k])]));
                    }
                }
                share(out.as_flattened_mut(), factor);
            }
        }
    }

    /// By how much the luminance that coarser ones are made from is reduced; 1 for small pictures, of which none is kept.
    pub fn base_factor(&self) -> usize {
        ((self.width.max(self.height) as f64 / BASE_PX).round() as usize).max(1)
    }

    fn base(&self) -> Option<&Base> {
        (self.base_factor() > 1).then(|| self.base.get_or_init(|| self.bases(self.base_factor())))
    }

    /// Luminance reduced by `factor` and the level [`COLOUR_TIMES`] as coarse, in one go through all pixels.
    fn bases(&self, factor: usize) -> Base {
        let (width, height, coarse) = (self.width / factor, self.height / factor, factor * COLOUR_TIMES);
        let (wide, high) = (self.width / coarse, self.height / coarse);
        let mut data = vec![0f32; width * height];
        // With a row to spare for the last rows of luminance where they are too few for one of the level.
        let mut rgb = vec![[0f32; 3]; wide * height.div_ceil(COLOUR_TIMES)];
        let grays = data.par_chunks_mut((width * COLOUR_TIMES).max(1));
        grays.zip(rgb.par_chunks_mut(wide.max(1))).enumerate().for_each(|(v, (grays, level))| {
            let mut row = vec![[0f32; 3]; width];
            for (k, gray) in grays.chunks_exact_mut(width).enumerate() {
                row.fill([0.0; 3]);
                self.reduced_row(factor, v * COLOUR_TIMES + k, &mut row);
                gray.iter_mut().zip(&row).for_each(|(out, p)| *out = p[0] * LUMA[0] + p[1] * LUMA[1] + p[2] * LUMA[2]);
                for (to, block) in level.iter_mut().zip(row.as_chunks::<COLOUR_TIMES>().0) {
                    block.iter().for_each(|p| (0..3).for_each(|k| to[k] += p[k]));
                }
            }
            share(level.as_flattened_mut(), COLOUR_TIMES);
        });
        rgb.truncate(wide * high);
        Base { gray: Gray { factor, width, height, data }, level: Level { factor: coarse, width: wide, height: high, rgb } }
    }
}

/// Between two values in each of two rows.
#[inline]
fn between(a: f32, b: f32, c: f32, d: f32, fx: f32, fy: f32) -> f32 {
    let top = a + (b - a) * fx;
    top + (c + (d - c) * fx - top) * fy
}

/// Makes means of sums over blocks of `by` × `by` pixels.
fn share(sums: &mut [f32], by: usize) {
    let share = 1.0 / (by * by) as f32;
    sums.iter_mut().for_each(|v| *v *= share);
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
        let (width, height) = (3302, 23);
        let rgb = (0..width * height * 3).map(|k| (k * 7919 % 251) as u8).collect();
        let shot = Shot::from_rgb(width, height, rgb);
        assert_eq!(shot.base_factor(), 2);
        for factor in [1, 2, 3, 4, 6, 8] {
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
        let mean = |x: f64| shot.mean::<2>(Px::new(x, 0.5), 1);
        assert_eq!((mean(1.5), mean(5.0)), (Some([0.5; 3]), None));
    }
}
