//! A picture as if seen from straight above: every pixel a fixed length of the sheet.
//!
//! In: a picture, a view, a frame on the sheet.
//! Out: an upright sRGB picture, x right and y down as on the sheet. Each pixel of the result is looked up where the view
//! sees it, in linear light: between pixels (bilinear), or where the picture is finer as the mean of those that make one of the
//! result. The map is worked out at the corners of small tiles and interpolated in between; what leaves the picture is filled
//! with grey.

use crate::length::{Mm, Px};
use crate::shot::{LINEAR, Shot, encoded};
use crate::view::View;
use image::{Rgb, RgbImage};
use rayon::prelude::*;
use std::sync::LazyLock;

/// Side of the tiles between whose corners the map is interpolated, px of the result. Over so few pixels perspective and
/// lens bend the map by a hundredth of a pixel.
const TILE: usize = 16;

/// Side of the blocks that a mosaic is made of, px of the result.
const BLOCK: usize = 8;

/// Colour of what the picture does not show.
const OUTSIDE: [u8; 3] = [200; 3];

/// Steps of the table that encodes light: fine enough that no sRGB byte is skipped or off by more than one.
const STEPS: usize = 8192;

static ENCODED: LazyLock<Vec<u8>> = LazyLock::new(|| (0..=STEPS).map(|k| encoded(k as f64 / STEPS as f64)).collect());

/// Linear light of each encoded byte, of 65535.
static WHOLE_LIGHT: LazyLock<[u16; 256]> = LazyLock::new(|| LINEAR.map(|v| (v * 65535.0).round() as u16));

/// A rectangle of the sheet and the pixels it becomes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Sheet point at the centre of the first pixel.
    pub origin: Mm,
    /// Pixels per mm of the result.
    pub px_per_mm: f64,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

impl Frame {
    /// The frame around `points` with `margin` mm on every side, at `finest` pixels per mm or as many as keep the longer
    /// side within `longest` pixels. `None` when there is no finite point.
    pub fn around(points: impl IntoIterator<Item = Mm>, margin: f64, finest: f64, longest: usize) -> Option<Self> {
        let (mut low, mut high) = (Mm::new(f64::INFINITY, f64::INFINITY), Mm::new(f64::NEG_INFINITY, f64::NEG_INFINITY));
        for p in points.into_iter().filter(|p| p.is_finite()) {
            low = Mm::new(low.x.min(p.x), low.y.min(p.y));
            high = Mm::new(high.x.max(p.x), high.y.max(p.y));
        }
        let (w, h) = (high.x - low.x + 2.0 * margin, high.y - low.y + 2.0 * margin);
        if !(w.is_finite() && h.is_finite()) {
            return None;
        }
        let px_per_mm = finest.min((longest as f64 - 1.0) / w.max(h).max(1e-6));
        let count = |mm: f64| ((mm * px_per_mm).floor() as usize + 1).min(longest);
        Some(Self { origin: Mm::new(low.x - margin, low.y - margin), px_per_mm, width: count(w), height: count(h) })
    }

    /// The sheet point at a place of the result.
    pub fn to_mm(&self, x: f64, y: f64) -> Mm {
        Mm::new(self.origin.x + x / self.px_per_mm, self.origin.y + y / self.px_per_mm)
    }

    /// Where a sheet point comes to lie in the result.
    pub fn to_place(&self, at: Mm) -> (f64, f64) {
        ((at.x - self.origin.x) * self.px_per_mm, (at.y - self.origin.y) * self.px_per_mm)
    }

    /// By how much the picture should be reduced for this frame, so that one pixel becomes about one.
    pub fn factor(&self, view: &View) -> usize {
        let middle = self.to_mm(self.width as f64 / 2.0, self.height as f64 / 2.0);
        let ratio = view.px_per_mm(middle) / self.px_per_mm;
        if ratio.is_finite() { (ratio.round() as usize).clamp(1, 64) } else { 1 }
    }
}

/// The straightened picture of `frame`, of what lies `height` mm above the sheet.
pub fn straighten(shot: &Shot, view: &View, frame: &Frame, height: f64) -> RgbImage {
    let side = frame.factor(view);
    // Of many pixels that make one of the result nine are enough.
    let step = side.div_ceil(3);
    match side.div_ceil(step) {
        1 => draw(view, frame, height, |line, out| between(shot, line, out)),
        2 => draw(view, frame, height, |line, out| means::<2>(shot, step, line, out)),
        _ => draw(view, frame, height, |line, out| means::<3>(shot, step, line, out)),
    }
}

/// The same from several pictures of one sheet: each place from the one in which it lies furthest from the frame.
pub fn mosaic(pictures: &[(&Shot, &View)], frame: &Frame, height: f64) -> RgbImage {
    let Some(((shot, view), rest)) = pictures.split_first() else {
        return RgbImage::from_pixel(frame.width as u32, frame.height as u32, Rgb(OUTSIDE));
    };
    let mut out = straighten(shot, view, frame, height);
    let inside = |(shot, view): (&Shot, &View), at: Mm| {
        let p = view.to_px(at, height);
        let far = p.x.min(p.y).min(shot.width as f64 - 1.0 - p.x).min(shot.height as f64 - 1.0 - p.y);
        if far.is_finite() { far / view.px_per_mm(at).max(1e-6) } else { f64::NEG_INFINITY }
    };
    // Which picture is best is asked for small blocks of the result.
    let columns = frame.width.div_ceil(BLOCK);
    let blocks = || (0..frame.height.div_ceil(BLOCK)).flat_map(|y| (0..columns).map(move |x| (x, y)));
    let middle = |(x, y): (usize, usize)| frame.to_mm((x * BLOCK + BLOCK / 2) as f64, (y * BLOCK + BLOCK / 2) as f64);
    let mut best: Vec<f64> = blocks().map(|b| inside((shot, view), middle(b))).collect();
    for &(shot, view) in rest {
        let other = straighten(shot, view, frame, height);
        for ((x, y), best) in blocks().zip(&mut best) {
            let own = inside((shot, view), middle((x, y)));
            if own <= *best {
                continue;
            }
            *best = own;
            for v in y * BLOCK..((y + 1) * BLOCK).min(frame.height) {
                for u in x * BLOCK..((x + 1) * BLOCK).min(frame.width) {
                    out.put_pixel(u as u32, v as u32, *other.get_pixel(u as u32, v as u32));
                }
            }
        }
    }
    out
}

/// Where the pixels of a piece of a row lie in the picture, evenly stepped.
#[derive(Clone, Copy)]
struct Line {
    from: (f64, f64),
    step: (f64, f64),
}

impl Line {
    fn at(&self, k: usize) -> Px {
        Px::new(self.from.0 + self.step.0 * k as f64, self.from.1 + self.step.1 * k as f64)
    }
}

/// Fills pixels with the light between those of the picture; what lies outside stays as it is.
fn between(shot: &Shot, line: Line, out: &mut [[u8; 3]]) {
    let table: &[u8] = &ENCODED;
    for (k, pixel) in out.iter_mut().enumerate() {
        if let Some(light) = shot.sample(line.at(k)) {
            *pixel = light.map(|v| encode(table, v));
        }
    }
}

/// Fills pixels with the mean light of `N` × `N` of the picture, `step` px apart: in whole numbers, for this is asked of every pixel of
/// the result. What lies outside stays as it is.
fn means<const N: usize>(shot: &Shot, step: usize, line: Line, out: &mut [[u8; 3]]) {
    const WHOLE: usize = 1 << 16;
    let (light, table, all) = (&*WHOLE_LIGHT, &ENCODED[..], shot.rgb.as_chunks::<3>().0);
    let (reach, most, down) = ((N - 1) * step, N * N * WHOLE / STEPS, step * shot.width);
    // From the pixel's middle to the first of those it is the mean of.
    let shift = 0.5 - reach as f64 / 2.0;
    let line = Line { from: (line.from.0 + shift, line.from.1 + shift), ..line };
    let (right, bottom) = (shot.width as f64 - reach as f64, shot.height as f64 - reach as f64);
    let inside = |p: Px| p.x >= 0.0 && p.y >= 0.0 && p.x < right && p.y < bottom;
    // What lies between two places inside lies inside.
    let whole = inside(line.at(0)) && inside(line.at(out.len().max(1) - 1));
    for (k, pixel) in out.iter_mut().enumerate() {
        let at = line.at(k);
        if !(whole || inside(at)) {
            continue;
        }
        let mut from = (at.y as u32 as usize) * shot.width + at.x as u32 as usize;
        // Sixteen bits and at most nine of them: no sum comes near what 32 bits hold.
        let mut sums = [0u32; 3];
        let mut add = |p: &[u8; 3]| (0..3).for_each(|c| sums[c] = sums[c].wrapping_add(u32::from(light[usize::from(p[c])])));
        for _ in 0..N {
            match all.get(from..).map(|row| (row, row.first_chunk::<N>())) {
                // Side by side, as nearly always.
                Some((_, Some(near))) if step == 1 => near.iter().for_each(&mut add),
                Some((row, _)) => row.iter().step_by(step).take(N).for_each(&mut add),
                None => {}
            }
            from += down;
        }
        *pixel = sums.map(|sum| table[(sum as usize + most / 2) / most]);
    }
}

/// Fills the frame line by line of each tile by what `fill` finds at these places of the picture.
fn draw(view: &View, frame: &Frame, height: f64, fill: impl Fn(Line, &mut [[u8; 3]]) + Sync) -> RgbImage {
    let Frame { width, height: rows, .. } = *frame;
    let mut out = RgbImage::from_pixel(width as u32, rows as u32, Rgb(OUTSIDE));
    let look = |x: usize, y: usize| {
        let p = view.to_px(frame.to_mm(x as f64, y as f64), height);
        if p.is_finite() { (p.x, p.y) } else { (f64::NAN, f64::NAN) }
    };
    out.as_chunks_mut::<3>().0.par_chunks_mut(width * TILE).enumerate().for_each(|(band, pixels)| {
        let y0 = band * TILE;
        let mut left = (look(0, y0), look(0, y0 + TILE));
        for x0 in (0..width).step_by(TILE) {
            let right = (look(x0 + TILE, y0), look(x0 + TILE, y0 + TILE));
            for (v, row) in pixels.chunks_exact_mut(width).enumerate() {
                let t = v as f64 / TILE as f64;
                let (a, b) = (mix(left.0, left.1, t), mix(right.0, right.1, t));
                let step = ((b.0 - a.0) / TILE as f64, (b.1 - a.1) / TILE as f64);
                fill(Line { from: a, step }, &mut row[x0..(x0 + TILE).min(width)]);
            }
            left = right;
        }
    });
    out
}

fn mix(a: (f64, f64), b: (f64, f64), t: f64) -> (f64, f64) {
    (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t)
}

#[inline]
fn encode(table: &[u8], light: f32) -> u8 {
    table[(light.clamp(0.0, 1.0) * STEPS as f32 + 0.5) as usize]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::{Lens, Model};
    use nalgebra::{Rotation3, Vector3};

    fn view() -> View {
        let lens = Lens { k1: -0.05, ..Lens::ideal(600.0, Px::new(400.0, 300.0)) };
        let rotation = Rotation3::new(Vector3::new(0.2, -0.1, 0.3)).into_inner();
        View::known(Model::Pinhole { lens, rotation, translation: Vector3::new(5.0, -8.0, 700.0) }, 800, 600)
    }

    /// A white disc of 60 mm about the sheet's origin, drawn through the view, comes out round, in place and of its size.
    #[test]
    fn a_disc_on_the_sheet_comes_out_round() {
        let view = view();
        let mut rgb = vec![0; 800 * 600 * 3];
        for (k, p) in rgb.chunks_exact_mut(3).enumerate() {
            let at = view.to_mm(Px::new((k % 800) as f64, (k / 800) as f64), 0.0).expect("on the sheet");
            if at.distance(Mm::default()) < 60.0 {
                p.fill(255);
            }
        }
        let shot = Shot::from_rgb(800, 600, rgb);
        for finest in [0.3, 0.9, 2.0] {
            let frame = Frame::around([Mm::new(-80.0, -90.0), Mm::new(100.0, 70.0)], 10.0, finest, 1600).expect("finite");
            let flat = straighten(&shot, &view, &frame, 0.0);
            let (mut n, mut x, mut y) = (0.0, 0.0, 0.0);
            for (u, v, p) in flat.enumerate_pixels() {
                if p.0[0] > 187 && p.0 != OUTSIDE {
                    let at = frame.to_mm(f64::from(u), f64::from(v));
                    (n, x, y) = (n + 1.0, x + at.x, y + at.y);
                    assert!(at.distance(Mm::default()) < 60.0 + 1.5 / finest.min(0.85));
                }
            }
            assert!((x / n).hypot(y / n) < 0.3, "{} {}", x / n, y / n);
            let radius = (n / frame.px_per_mm.powi(2) / std::f64::consts::PI).sqrt();
            assert!((radius - 60.0).abs() < 0.6, "{finest}: {radius}");
        }
    }

    /// One pixel of the result stands for so many of the picture that fewer are there.
    #[test]
    fn a_picture_smaller_than_what_is_averaged_shows_nothing() {
        let frame = Frame { origin: Mm::new(-400.0, -300.0), px_per_mm: 0.01, width: 9, height: 7 };
        assert_eq!(frame.factor(&view()), 64);
        let flat = straighten(&Shot::from_rgb(20, 15, vec![9; 900]), &view(), &frame, 0.0);
        assert!(flat.pixels().all(|p| p.0 == OUTSIDE));
    }

    #[test]
    fn frames_keep_the_longer_side_within_bounds() {
        let frame = Frame::around([Mm::new(0.0, 0.0), Mm::new(1000.0, 400.0)], 20.0, 10.0, 1600).expect("finite");
        assert!(frame.width == 1600 && frame.height < 800, "{frame:?}");
        let (x, y) = frame.to_place(Mm::new(123.0, 45.0));
        assert!(frame.to_mm(x, y).distance(Mm::new(123.0, 45.0)) < 1e-9);
        assert!(Frame::around([], 1.0, 1.0, 100).is_none());
    }

    #[test]
    fn encoding_undoes_decoding() {
        for byte in 0..=255u8 {
            assert_eq!(encode(&ENCODED, crate::shot::LINEAR[byte as usize]), byte);
        }
    }
}
