//! Ridge points of a reduced level: where a thin line runs, to a fraction of a pixel, with its direction.
//!
//! Steger, "An unbiased detector of curvilinear structures" (1998): the second derivative across a line is extreme on it;
//! the line runs through the pixel when the first derivative vanishes within half a pixel of its centre.

use crate::shot::Gray;
use nalgebra::Vector2;
use rayon::prelude::*;

/// Which lines are sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// Dark lines on a lighter ground.
    Dark,
    /// Light lines on a darker ground.
    Light,
}

/// A smoothed level to take derivatives of: the square root of light (noise of camera and JPEG is about even there),
/// smoothed by the binomial 1 4 6 4 1 (standard deviation one pixel, right for lines of 1–3 px).
pub struct Relief {
    /// How many pixels of the picture go into one here.
    pub factor: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    data: Vec<f32>,
}

/// A point on a line, in pixels of the level.
#[derive(Clone, Copy, Debug)]
pub struct RidgePoint {
    /// Where the line runs.
    pub at: Vector2<f32>,
    /// Unit direction along it, up to sign.
    pub along: Vector2<f32>,
    /// Second derivative across it over the brightness here.
    pub strength: f32,
}

/// Ridge points sorted by row and column of the pixel they lie in.
pub struct Ridges {
    /// The points.
    pub points: Vec<RidgePoint>,
    index: Index,
    width: i32,
    height: i32,
    /// Strength below which a point is noise.
    pub floor: f32,
}

impl Polarity {
    fn sign(self) -> f32 {
        if self == Self::Dark { 1.0 } else { -1.0 }
    }
}

/// Rows smoothed together, so that what is between stays in the processor's cache.
const BAND: usize = 32;

/// A picture is looked at in so many parts along each side for its quietest, which must be so many times quieter than all of it.
const PARTS: usize = 12;
const CROWDED: f32 = 4.0;
/// Keeps black cloth, where relative noise is boundless, from making ridges.
const BLACK: f32 = 0.06;
/// No ruled line anybody can use is fainter: second derivative over brightness.
const FAINTEST: f32 = 0.006;
/// A picture whose steepest slopes over sixteen pixels are lower, in linear light, shows nothing: a fiftieth of white.
const EMPTY: f64 = 0.02;
/// A point is followed from this many noise deviations.
const FOLLOW: f32 = 3.0;
/// Half a pixel in theory; a little more closes gaps between pixels.
const WITHIN: f32 = 0.6;

impl Relief {
    /// Smooths a level.
    pub fn new(gray: &Gray) -> Self {
        let (w, h) = (gray.width, gray.height);
        let mut data = vec![0f32; w * h];
        data.par_chunks_mut((w * BAND).max(1)).enumerate().for_each(|(band, out)| {
            // The rows of the band and two on either side, smoothed along.
            let first = (band * BAND) as isize - 2;
            let count = out.len() / w + 4;
            let (mut root, mut rows) = (vec![0f32; w], vec![0f32; w * count]);
            for (k, smooth) in rows.chunks_exact_mut(w).enumerate() {
                let y = (first + k as isize).clamp(0, h as isize - 1) as usize;
                root.iter_mut().zip(&gray.data[y * w..]).for_each(|(r, v)| *r = v.max(0.0).sqrt());
                binomial(&root, smooth);
            }
            for (k, out) in out.chunks_exact_mut(w).enumerate() {
                let five: [&[f32]; 5] = std::array::from_fn(|d| &rows[(k + d) * w..][..w]);
                for (x, out) in out.iter_mut().enumerate() {
                    let [a, b, c, d, e] = five.map(|row| row[x]);
                    *out = (a + e + 4.0 * (b + d) + 6.0 * c) / 16.0;
                }
            }
        });
        Self { factor: gray.factor, width: w, height: h, data }
    }

    /// Second derivative of the wanted sign across the line, over the brightness; zero at the frame.
    fn strength(&self, x: usize, y: usize, sign: f32) -> f32 {
        let (xx, xy, yy) = self.second(x, y);
        bent(xx, xy, yy, sign) / (self.data[y * self.width + x] + BLACK)
    }

    #[inline]
    fn second(&self, x: usize, y: usize) -> (f32, f32, f32) {
        let (w, k) = (self.width, y * self.width + x);
        let d = &self.data;
        let two = 2.0 * d[k];
        let xy = 0.25 * (d[k + w + 1] - d[k + w - 1] - d[k - w + 1] + d[k - w - 1]);
        (d[k - 1] + d[k + 1] - two, xy, d[k - w] + d[k + w] - two)
    }

    /// Smoothed brightness (square root of light) at the pixel nearest a place.
    pub fn at(&self, p: Vector2<f32>) -> f32 {
        let x = (p.x.round().max(0.0) as usize).min(self.width - 1);
        let y = (p.y.round().max(0.0) as usize).min(self.height - 1);
        self.data[y * self.width + x]
    }

    /// Slope of the sharpest edges over four pixels against that over sixteen: near 1 in a sharp picture, 0.25 to 0.4 in one blurred over
    /// ten pixels and more; 1 in a picture with nothing in it that could be blurred.
    pub fn sharpness(&self) -> f64 {
        let steep = |reach: usize| {
            let mut all: Vec<f32> = Vec::new();
            for y in (0..self.height).step_by(3) {
                let row = &self.data[y * self.width..(y + 1) * self.width];
                all.extend(row.windows(2 * reach + 1).step_by(3).map(|w| (w[2 * reach] - w[0]).abs()));
            }
            // The steepest thousandth: edges of cloth and lines, not single hot pixels.
            let k = all.len().saturating_sub(1) * 999 / 1000;
            if all.is_empty() { 0.0 } else { f64::from(*all.select_nth_unstable_by(k, f32::total_cmp).1) }
        };
        let far = steep(8);
        if far < EMPTY { 1.0 } else { steep(2) / far }
    }

    /// All ridge points of one polarity.
    pub fn ridges(&self, polarity: Polarity) -> Ridges {
        let sign = polarity.sign();
        self.above((FOLLOW * self.noise(sign)).max(FAINTEST), sign)
    }

    /// All ridge points of one polarity of a picture that is ruled so densely that lines, not noise, are what most of it shows: by the
    /// noise of its quietest parts. `None` when they are no quieter than the rest.
    pub fn dense(&self, polarity: Polarity) -> Option<Ridges> {
        let sign = polarity.sign();
        let quiet = self.quiet(sign)?;
        (CROWDED * quiet < self.noise(sign)).then(|| self.above((FOLLOW * quiet).max(FAINTEST), sign))
    }

    /// Ridge points from this strength up.
    fn above(&self, floor: f32, sign: f32) -> Ridges {
        let per_row: Vec<Vec<(u16, RidgePoint)>> = (0..self.height)
            .into_par_iter()
            .map(|y| if y < 2 || y + 2 >= self.height { Vec::new() } else { self.row(y, sign, floor) })
            .collect();
        let mut points = Vec::with_capacity(per_row.iter().map(Vec::len).sum());
        let mut index = Index::new(self.width * self.height);
        for (y, row) in per_row.into_iter().enumerate() {
            for (x, p) in row {
                index.add(y * self.width + x as usize, points.len());
                points.push(p);
            }
        }
        Ridges { points, index, width: self.width as i32, height: self.height as i32, floor }
    }

    /// Spread of the response where there is no line: from the lower half of what a coarse sample shows.
    fn noise(&self, sign: f32) -> f32 {
        self.spread([2, self.width.saturating_sub(2)], [2, self.height.saturating_sub(2)], sign).unwrap_or(0.0)
    }

    /// The same of the quietest tenth of many parts of the picture: a plain garment, a margin.
    fn quiet(&self, sign: f32) -> Option<f32> {
        let cut = |long: usize, k: usize| [2 + k * (long - 4) / PARTS, 2 + (k + 1) * (long - 4) / PARTS];
        if self.width.min(self.height) < 4 + 8 * PARTS {
            return None;
        }
        let parts = (0..PARTS * PARTS).filter_map(|k| self.spread(cut(self.width, k % PARTS), cut(self.height, k / PARTS), sign));
        let mut all: Vec<f32> = parts.collect();
        let k = all.len() / 10;
        (!all.is_empty()).then(|| *all.select_nth_unstable_by(k, f32::total_cmp).1)
    }

    fn spread(&self, xs: [usize; 2], ys: [usize; 2], sign: f32) -> Option<f32> {
        const STEP: usize = 7; // About 60 000 samples of a level; plenty, and never in step with a ruling.
        let mut seen: Vec<f32> = Vec::new();
        for y in (ys[0]..ys[1]).step_by(STEP) {
            for x in (xs[0] + y % STEP..xs[1]).step_by(STEP) {
                seen.push(self.strength(x, y, sign).abs());
            }
        }
        if seen.is_empty() {
            return None;
        }
        let k = seen.len() * 2 / 5;
        let (_, v, _) = seen.select_nth_unstable_by(k, f32::total_cmp);
        Some(*v / 0.524) // |normal| stays below 0.524 deviations in two fifths of cases.
    }

    fn row(&self, y: usize, sign: f32, floor: f32) -> Vec<(u16, RidgePoint)> {
        let (w, d) = (self.width, &self.data);
        let mut out = Vec::new();
        for (x, _) in (2..).zip(self.worth(y, sign, floor)).filter(|(_, worth)| *worth) {
            let (xx, xy, yy) = self.second(x, y);
            let bend = bent(xx, xy, yy, sign);
            let k = y * w + x;
            let strength = bend / (d[k] + BLACK);
            if strength < floor {
                continue;
            }
            let n = across(sign * xx, sign * xy, sign * yy, bend);
            let slope = sign * 0.5 * (n.x * (d[k + 1] - d[k - 1]) + n.y * (d[k + w] - d[k - w]));
            let off = -n * (slope / bend);
            if off.x.abs() <= WITHIN && off.y.abs() <= WITHIN {
                let at = Vector2::new(x as f32 + off.x, y as f32 + off.y);
                out.push((x as u16, RidgePoint { at, along: Vector2::new(-n.y, n.x), strength }));
            }
        }
        out
    }

    /// Which pixels of a row, from the third to the last but two, may be as strong as `floor`: most are not, and are told without a
    /// root or a division, many at once.
    fn worth(&self, y: usize, sign: f32, floor: f32) -> Vec<bool> {
        let (w, least) = (self.width, 0.999 * floor);
        if w < 5 {
            return Vec::new();
        }
        let n = w - 4;
        let at = |dx: isize, dy: isize| &self.data[((y * w + 2) as isize + dy * w as isize + dx) as usize..][..n];
        let (here, left, right, above, below) = (at(0, 0), at(-1, 0), at(1, 0), at(0, -1), at(0, 1));
        let (above_left, above_right, below_left, below_right) = (at(-1, -1), at(1, -1), at(-1, 1), at(1, 1));
        let mut worth = vec![false; n];
        for (k, worth) in worth.iter_mut().enumerate() {
            let two = 2.0 * here[k];
            let (xx, yy) = (left[k] + right[k] - two, above[k] + below[k] - two);
            let xy = 0.25 * (below_right[k] - below_left[k] - above_right[k] + above_left[k]);
            // As in `bent`, solved for the root.
            let rest = least * (here[k] + BLACK) - 0.5 * sign * (xx + yy);
            let half = 0.5 * (xx - yy);
            *worth = (rest <= 0.0) | (half * half + xy * xy >= 0.999 * rest * rest);
        }
        worth
    }
}

impl Ridges {
    /// Whether a ridge runs along `way` through a place of the level or beside it.
    pub fn runs(&self, at: Vector2<f32>, way: Vector2<f32>) -> bool {
        let (x, y) = (at.x.round() as i32, at.y.round() as i32);
        let beside = [(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1)];
        let along = |k: usize| self.points[k].along.dot(&way).abs() > 0.94 * way.norm();
        beside.iter().any(|d| self.at(x + d.0, y + d.1).is_some_and(along))
    }

    /// Index of the point in pixel (`x`, `y`), when there is one.
    #[inline]
    pub fn at(&self, x: i32, y: i32) -> Option<usize> {
        if x < 0 || y < 0 || x >= self.width || y >= self.height {
            return None;
        }
        self.index.of((y * self.width + x) as usize)
    }
}

/// Which pixels have a point, and its number: a bit a pixel, and what was counted before each 32 of them. Small enough to stay in the
/// processor's cache, for strokes ask all over it.
struct Index(Vec<(u32, u32)>);

impl Index {
    fn new(pixels: usize) -> Self {
        Self(vec![(0, 0); pixels.div_ceil(32)])
    }

    /// The `number`-th point lies in a pixel; pixels are told in their order.
    fn add(&mut self, pixel: usize, number: usize) {
        let (bits, before) = &mut self.0[pixel / 32];
        if *bits == 0 {
            *before = number as u32;
        }
        *bits |= 1 << (pixel % 32);
    }

    fn of(&self, pixel: usize) -> Option<usize> {
        let (bits, before) = self.0[pixel / 32];
        let below = bits & ((1 << (pixel % 32)) - 1);
        (bits >> (pixel % 32) & 1 == 1).then(|| (before + below.count_ones()) as usize)
    }
}

/// The larger second derivative in any direction, of the wanted sign.
#[inline]
fn bent(xx: f32, xy: f32, yy: f32, sign: f32) -> f32 {
    let half = 0.5 * (xx - yy);
    0.5 * sign * (xx + yy) + (half * half + xy * xy).sqrt()
}

/// Unit direction of that second derivative.
fn across(xx: f32, xy: f32, yy: f32, bend: f32) -> Vector2<f32> {
    let a = Vector2::new(xy, bend - xx);
    let b = Vector2::new(bend - yy, xy);
    let v = if a.norm_squared() > b.norm_squared() { a } else { b };
    if v.norm_squared() > 0.0 { v.normalize() } else { Vector2::x() }
}

fn binomial(line: &[f32], out: &mut [f32]) {
    let n = line.len();
    let at = |k: isize| line[k.clamp(0, n as isize - 1) as usize];
    let edge = |x: isize| (at(x - 2) + at(x + 2) + 4.0 * (at(x - 1) + at(x + 1)) + 6.0 * at(x)) / 16.0;
    if n < 5 {
        return out.iter_mut().enumerate().for_each(|(x, o)| *o = edge(x as isize));
    }
    // Slices of one length, so that many places are taken at once.
    let inner = n - 4;
    let (a, b, c, d, e) = (&line[..inner], &line[1..][..inner], &line[2..][..inner], &line[3..][..inner], &line[4..][..inner]);
    for (k, o) in out[2..][..inner].iter_mut().enumerate() {
        *o = (a[k] + e[k] + 4.0 * (b[k] + d[k]) + 6.0 * c[k]) / 16.0;
    }
    for x in [0, 1, n - 2, n - 1] {
        out[x] = edge(x as isize);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A slanting Gaussian line: its points lie on it to a twentieth of a pixel.
    #[test]
    fn points_lie_on_a_slanting_line() {
        let (w, h) = (60usize, 60usize);
        let (c, s) = (0.3f32.cos(), 0.3f32.sin());
        let away = |x: f32, y: f32| (x - 30.2) * -s + (y - 29.7) * c;
        let data = (0..w * h).map(|k| 0.8 - 0.3 * (-away((k % w) as f32, (k / w) as f32).powi(2) / 2.0).exp()).collect();
        let relief = Relief::new(&Gray { factor: 1, width: w, height: h, data });
        let found = relief.ridges(Polarity::Dark);
        assert!(found.points.len() > 50);
        for p in &found.points {
            assert!(away(p.at.x, p.at.y).abs() < 0.05, "{:?}", p);
            assert!((p.along.x * c + p.along.y * s).abs() > 0.995);
        }
    }
}
