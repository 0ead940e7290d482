//! Dark spots on a lighter ground at several sizes: where dots, and the middles of small crosses, may be.
//!
//! In: a reduced level. Out: maxima of the difference of two smoothings (Marr & Hildreth 1980; Lowe 2004), over
//! octaves, relative to the local ground, so that a mark in shadow counts as much as one in the light.

use crate::length::Px;
use crate::shot::{Gray, to_picture};
use crate::solve::median;
use rayon::prelude::*;
use std::borrow::Cow;
use std::sync::LazyLock;

/// A dark spot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Blob {
    /// Where, in pixels of the level.
    pub u: f64,
    /// Where, in pixels of the level.
    pub v: f64,
    /// Half its width lies between one and three times this, in pixels of the level.
    pub scale: f64,
    /// How much darker than its surroundings, as seen by the filter.
    dark: f32,
    /// The same relative to them.
    pub contrast: f32,
}

impl Blob {
    /// Its place in the full picture.
    pub fn at(&self, factor: usize) -> Px {
        to_picture(factor, self.u, self.v)
    }
}

/// Smallest relative contrast of interest: paper texture and sensor noise reach about 1 % after smoothing.
const LEAST_CONTRAST: f32 = 0.015;
/// Spots of this contrast are kept however busy the picture is: large discs may fill most of it.
const SURE_CONTRAST: f32 = 0.06;
/// Contrast is relative to the ground, but to no ground darker than this share of the picture's brightest parts:
/// otherwise the grain of black cloth outshines every mark.
const DARKEST_GROUND: f32 = 0.15;
/// Ratio of the two curvatures of the response beyond which it is a ridge or an edge and not a spot (Lowe takes 10; a
/// disc seen at 45 degrees reaches 2 to 3).
const ROUNDNESS: f32 = 6.0;
/// No more spots than this are handed on, the strongest first: a large sheet has a few thousand marks.
const MOST: usize = 20_000;

/// Dark spots of the level, strongest first, over `octaves` doublings of size.
pub(super) fn blobs(gray: &Gray, octaves: usize) -> Vec<Blob> {
    let floor = DARKEST_GROUND * bright(gray);
    let mut found = Vec::new();
    let mut image = Cow::Borrowed(gray);
    for octave in 0..octaves {
        if image.width < 16 || image.height < 16 {
            break;
        }
        let (w, h) = (image.width, image.height);
        let (pixel, fine) = ((1usize << octave) as f64, smoothed(&image.data, w, h, 1));
        // Variances 1 and 5 px²; and, where pixels are few, 2 and 10, so that sizes follow one another by a factor of 1.4.
        let wide = smoothed(&fine, w, h, 2);
        if octave > 0 {
            let fine = smoothed(&fine, w, h, 1);
            let wide = smoothed(&smoothed(&fine, w, h, 2), w, h, 2);
            found.extend(maxima([fine, wide], w, floor, [pixel, pixel * std::f64::consts::SQRT_2]));
        }
        found.extend(maxima([fine, wide], w, floor, [pixel, pixel]));
        image = Cow::Owned(halved(&image));
    }
    strongest(found, gray)
}

/// Luminance below which 95 % of the level lies (from a sparse sample).
fn bright(gray: &Gray) -> f32 {
    let mut some: Vec<f32> = gray.data.iter().step_by((gray.data.len() / 20_000).max(1)).copied().collect();
    if some.is_empty() {
        return 0.0;
    }
    let k = (some.len() * 95 / 100).min(some.len() - 1);
    *some.select_nth_unstable_by(k, f32::total_cmp).1
}

/// The level at half its size.
pub(super) fn halved(from: &Gray) -> Gray {
    let (width, height) = (from.width / 2, from.height / 2);
    let mut data = vec![0f32; width * height];
    data.par_chunks_mut(width.max(1)).enumerate().for_each(|(v, row)| {
        let a = &from.data[2 * v * from.width..][..2 * width];
        let b = &from.data[(2 * v + 1) * from.width..][..2 * width];
        for ((out, a), b) in row.iter_mut().zip(a.chunks_exact(2)).zip(b.chunks_exact(2)) {
            *out = 0.25 * (a[0] + a[1] + b[0] + b[1]);
        }
    });
    Gray { factor: from.factor * 2, width, height, data }
}

/// Smooths by 1 4 6 4 1 both ways with `step` pixels between the weights (standard deviation = `step`); the outermost
/// pixels repeat.
pub(super) fn smoothed(from: &[f32], width: usize, height: usize, step: usize) -> Vec<f32> {
    const W: [f32; 3] = [6.0 / 16.0, 4.0 / 16.0, 1.0 / 16.0];
    let mut out = vec![0f32; from.len()];
    if from.is_empty() {
        return out;
    }
    out.par_chunks_mut(width).enumerate().for_each_init(
        || vec![0f32; width],
        |down, (v, out)| {
            let row = |k: isize| &from[(v as isize + k * step as isize).clamp(0, height as isize - 1) as usize * width..][..width];
            for ((((o, c), (b, d)), a), e) in down.iter_mut().zip(row(0)).zip(row(-1).iter().zip(row(1))).zip(row(-2)).zip(row(2)) {
                *o = W[0] * c + W[1] * (b + d) + W[2] * (a + e);
            }
            along(down, out, step, W);
        },
    );
    out
}

/// One row smoothed along itself.
fn along(row: &[f32], out: &mut [f32], step: usize, w: [f32; 3]) {
    let (width, edge) = (row.len(), 2 * step);
    let at = |u: usize, k: isize| row[(u as isize + k * step as isize).clamp(0, width as isize - 1) as usize];
    let clamped = |u: usize| w[0] * row[u] + w[1] * (at(u, -1) + at(u, 1)) + w[2] * (at(u, -2) + at(u, 2));
    if width <= 2 * edge {
        (0..width).for_each(|u| out[u] = clamped(u));
        return;
    }
    (0..edge).chain(width - edge..width).for_each(|u| out[u] = clamped(u));
    let n = width - 2 * edge;
    let (a, b, c, d, e) = (&row[..n], &row[step..][..n], &row[edge..][..n], &row[3 * step..][..n], &row[4 * step..][..n]);
    for ((((o, c), (b, d)), a), e) in out[edge..][..n].iter_mut().zip(c).zip(b.iter().zip(d)).zip(a).zip(e) {
        *o = w[0] * c + w[1] * (b + d) + w[2] * (a + e);
    }
}

/// Samples round a ring.
pub(super) const RING: usize = 32;
/// Directions of the samples, a full turn from the picture's right through down.
pub(super) static DIRECTIONS: LazyLock<[(f64, f64); RING]> = LazyLock::new(|| {
    std::array::from_fn(|k| {
        let (sin, cos) = (std::f64::consts::TAU * k as f64 / RING as f64).sin_cos();
        (cos, sin)
    })
});

/// The round maxima of the difference of two smoothings of one octave; `pixel` is the octave's pixel, `scale` the size sought, in
/// pixels of the level.
fn maxima([fine, wide]: [Vec<f32>; 2], w: usize, floor: f32, [pixel, scale]: [f64; 2]) -> Vec<Blob> {
    let h = fine.len() / w;
    let mut response = fine;
    response.par_chunks_mut(w).zip(wide.par_chunks(w)).for_each(|(r, b)| {
        r.iter_mut().zip(b).for_each(|(r, b)| *r = *b - *r);
    });
    let floor = floor.max(1e-6);
    let least = (5.0 * spread(&response, &wide, floor)).clamp(LEAST_CONTRAST, SURE_CONTRAST);
    let rows: Vec<Vec<Blob>> = (2..h - 2)
        .into_par_iter()
        .map(|v| {
            let mut row = Vec::new();
            let here = &response[v * w..(v + 1) * w];
            let ground = &wide[v * w..(v + 1) * w];
            for u in 2..w - 2 {
                if here[u] > least * ground[u].max(floor)
                    && let Some((du, dv)) = peak(&response, w, u, v)
                {
                    let place = |x: f64| (x + 0.5) * pixel - 0.5;
                    row.push(Blob {
                        u: place(u as f64 + du),
                        v: place(v as f64 + dv),
                        scale,
                        dark: here[u],
                        contrast: here[u] / ground[u].max(floor),
                    });
                }
            }
            row
        })
        .collect();
    rows.into_iter().flatten().collect()
}

/// Standard deviation of the relative response where nothing is marked, from the median of its size on a sparse sample.
fn spread(response: &[f32], ground: &[f32], floor: f32) -> f32 {
    let step = (response.len() / 20_000).max(1);
    let mut some: Vec<f32> = response.iter().zip(ground).step_by(step).map(|(r, g)| r.abs() / g.max(floor)).collect();
    1.4826 * median(&mut some).unwrap_or_default()
}

/// Whether pixel (u, v) is a round maximum, and where between the pixels it lies.
fn peak(r: &[f32], w: usize, u: usize, v: usize) -> Option<(f64, f64)> {
    let k = v * w + u;
    let c = r[k];
    let before = [r[k - w - 1], r[k - w], r[k - w + 1], r[k - 1]];
    let after = [r[k + 1], r[k + w - 1], r[k + w], r[k + w + 1]];
    // One side strictly, the other not, so that of two equal neighbours exactly one is taken.
    if before.iter().any(|&n| n >= c) || after.iter().any(|&n| n > c) {
        return None;
    }
    let (xx, yy) = (r[k - 1] + r[k + 1] - 2.0 * c, r[k - w] + r[k + w] - 2.0 * c);
    let xy = 0.25 * (r[k - w - 1] + r[k + w + 1] - r[k - w + 1] - r[k + w - 1]);
    let (trace, det) = (xx + yy, xx * yy - xy * xy);
    if det <= 0.0 || trace * trace * ROUNDNESS > det * (ROUNDNESS + 1.0).powi(2) {
        return None;
    }
    let (gx, gy) = (0.5 * (r[k + 1] - r[k - 1]), 0.5 * (r[k + w] - r[k - w]));
    let (du, dv) = ((xy * gy - yy * gx) / det, (xy * gx - xx * gy) / det);
    Some((du.clamp(-0.7, 0.7) as f64, dv.clamp(-0.7, 0.7) as f64))
}

/// Of spots seen at several sizes only the darkest stays (a large disc's rim has strong relative contrast, its middle is darkest);
/// strongest first.
fn strongest(mut found: Vec<Blob>, gray: &Gray) -> Vec<Blob> {
    found.sort_by(|a, b| b.dark.total_cmp(&a.dark).then(a.v.total_cmp(&b.v)).then(a.u.total_cmp(&b.u)));
    // What lies within a larger, darker spot is the grain or the rim of its ink.
    const WITHIN: f64 = 2.5;
    const CELL: f64 = 16.0;
    let largest = found.iter().map(|b| b.scale).fold(1.0, f64::max);
    let reach = WITHIN * largest;
    let (columns, rows) = ((gray.width as f64 / CELL) as usize + 1, (gray.height as f64 / CELL) as usize + 1);
    let mut cells: Vec<Vec<u32>> = vec![Vec::new(); columns * rows];
    let cell = |x: f64, most: usize| ((x / CELL).max(0.0) as usize).min(most - 1);
    let mut kept: Vec<Blob> = Vec::new();
    for blob in found {
        let near = (cell(blob.v - reach, rows)..=cell(blob.v + reach, rows))
            .flat_map(|y| (cell(blob.u - reach, columns)..=cell(blob.u + reach, columns)).map(move |x| y * columns + x))
            .flat_map(|c| &cells[c])
            .any(|&k| {
                let other = &kept[k as usize];
                let near = (2.0 * blob.scale).max(if other.scale > blob.scale { WITHIN * other.scale } else { 0.0 });
                (other.u - blob.u).powi(2) + (other.v - blob.v).powi(2) < near * near
            });
        if !near {
            cells[cell(blob.v, rows) * columns + cell(blob.u, columns)].push(kept.len() as u32);
            kept.push(blob);
        }
    }
    kept.sort_by(|a, b| b.contrast.total_cmp(&a.contrast).then(a.v.total_cmp(&b.v)).then(a.u.total_cmp(&b.u)));
    kept.truncate(MOST);
    kept
}
