//! Reduced levels of a picture, in linear light: those asked for most are kept, and coarser ones made from them.

use super::Shot;
use super::light::{LINEAR, LUMA, WEIGHTS, between};
use crate::length::Px;
use rayon::prelude::*;
use std::borrow::Cow;
use std::sync::OnceLock;

/// Long side of the luminance that coarser ones are made from, px: what the search for the sheet looks at first.
const BASE_PX: f64 = 2100.0;
/// So many times as coarse is the level of all channels that coarser ones are made from: what the search for the cloth looks at.
const COLOUR_TIMES: usize = 2;

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
        // Rounded down without asking for it, which is a call where the processor has no instruction for it.
        let (column, row) = (x as u32, y as u32);
        let n = row as usize * w + column as usize;
        let (u, v) = (x - column as f32, y - row as f32);
        let [a, b] = self.rgb.get(n..)?.first_chunk()?;
        let [c, d] = self.rgb.get(n + w..)?.first_chunk()?;
        Some(std::array::from_fn(|k| between(a[k], b[k], c[k], d[k], u, v)))
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

/// What coarser levels are made from, so that all pixels are gone through once; each made when it is first asked for.
#[derive(Clone, Debug, Default)]
pub(super) struct Base {
    gray: OnceLock<Gray>,
    /// [`COLOUR_TIMES`] as coarse.
    level: OnceLock<Level>,
}

impl Shot {
    /// Luminance reduced by a whole `factor` (1 keeps every pixel; what does not fill a block is left off).
    pub fn gray(&self, factor: usize) -> Cow<'_, Gray> {
        let (width, height, base) = (self.width / factor, self.height / factor, self.base_factor());
        let mut data = vec![0f32; if base > 1 && factor == base { 0 } else { width * height }];
        match factor {
            _ if base > 1 && factor == base => return Cow::Borrowed(self.base_gray()),
            // Whoever asks for this first, it is made the same way.
            _ if base > 1 && factor.is_multiple_of(COLOUR_TIMES * base) => {
                let (from, times) = (self.base_level(), factor / COLOUR_TIMES / base);
                reduce(&mut data, width, times, from.width, &from.rgb, |out, p: &[f32; 3]| *out += luminance(p));
                share(&mut data, times);
            }
            _ if base > 1 && factor.is_multiple_of(base) => {
                let (from, times) = (self.base_gray(), factor / base);
                reduce(&mut data, width, times, from.width, &from.data, |out, v: &f32| *out += v);
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
        let (width, height, base) = (self.width / factor, self.height / factor, self.base_factor());
        if base == 1 || !factor.is_multiple_of(COLOUR_TIMES * base) {
            return self.reduced(factor);
        }
        let (from, times) = (self.base_level(), factor / COLOUR_TIMES / base);
        if times == 1 {
            return from.clone();
        }
        let mut rgb = vec![[0f32; 3]; width * height];
        reduce(&mut rgb, width, times, from.width, &from.rgb, |out, p: &[f32; 3]| (0..3).for_each(|k| out[k] += p[k]));
        share(rgb.as_flattened_mut(), times);
        Level { factor, width, height, rgb }
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

    /// Luminance that coarser ones are made from; the level with it, which costs little more then.
    fn base_gray(&self) -> &Gray {
        self.base.gray.get_or_init(|| {
            let (factor, (wide, high)) = (self.base_factor(), self.base_size());
            let (width, height) = (self.width / factor, self.height / factor);
            let mut data = vec![0f32; width * height];
            // With a row to spare for the last rows of luminance where they are too few for one of the level.
            let mut rgb = vec![[0f32; 3]; wide * height.div_ceil(COLOUR_TIMES)];
            let grays = data.par_chunks_mut((width * COLOUR_TIMES).max(1));
            grays.zip(rgb.par_chunks_mut(wide.max(1))).enumerate().for_each(|(v, (grays, level))| {
                let mut grays = grays.chunks_exact_mut(width);
                self.base_row(v, grays.len(), level, |row| {
                    let gray = grays.next().unwrap_or_default();
                    gray.iter_mut().zip(row).for_each(|(out, p)| *out = luminance(p));
                });
            });
            rgb.truncate(wide * high);
            self.base.level.get_or_init(|| Level { factor: factor * COLOUR_TIMES, width: wide, height: high, rgb });
            Gray { factor, width, height, data }
        })
    }

    /// The level of all channels that coarser ones are made from.
    fn base_level(&self) -> &Level {
        self.base.level.get_or_init(|| {
            let (wide, high) = self.base_size();
            let mut rgb = vec![[0f32; 3]; wide * high];
            rgb.par_chunks_mut(wide.max(1)).enumerate().for_each(|(v, level)| self.base_row(v, COLOUR_TIMES, level, |_| ()));
            Level { factor: self.base_factor() * COLOUR_TIMES, width: wide, height: high, rgb }
        })
    }

    /// Columns and rows of that level.
    fn base_size(&self) -> (usize, usize) {
        let coarse = self.base_factor() * COLOUR_TIMES;
        (self.width / coarse, self.height / coarse)
    }

    /// One row of that level, into a row of zeros, by way of so many (`rows`) of the pixels that its luminance is made from, each of which
    /// is shown to `see`.
    fn base_row(&self, v: usize, rows: usize, level: &mut [[f32; 3]], mut see: impl FnMut(&[[f32; 3]])) {
        let factor = self.base_factor();
        let mut row = vec![[0f32; 3]; self.width / factor];
        for k in 0..rows {
            row.fill([0.0; 3]);
            self.reduced_row(factor, v * COLOUR_TIMES + k, &mut row);
            see(&row);
            for (to, block) in level.iter_mut().zip(row.as_chunks::<COLOUR_TIMES>().0) {
                block.iter().for_each(|p| (0..3).for_each(|k| to[k] += p[k]));
            }
        }
        share(level.as_flattened_mut(), COLOUR_TIMES);
    }
}

/// Of linear light.
#[inline]
fn luminance(p: &[f32; 3]) -> f32 {
    p[0] * LUMA[0] + p[1] * LUMA[1] + p[2] * LUMA[2]
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

    /// To the last bit, for what rests on them must not depend on who asked before.
    #[test]
    fn levels_are_the_same_whichever_is_asked_for_first() {
        let (width, height) = (3301, 29);
        let shot = Shot::from_rgb(width, height, (0..width * height * 3).map(|k| (k * 7919 % 253) as u8).collect());
        let (level_first, gray_first) = (shot.clone(), shot);
        let (level, _) = (level_first.level(4), gray_first.gray(2));
        assert!(level == gray_first.level(4) && level_first.gray(2) == gray_first.gray(2) && level_first.gray(4) == gray_first.gray(4));
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
