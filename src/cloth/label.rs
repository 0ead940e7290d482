//! Cloth or sheet, pixel by pixel: evidence weighed against the length and the sharpness of the border between them.
//!
//! A cut of least cost on a level of half the resolution, then once more on the full level in a narrow band round the
//! first answer (multilevel banded cuts: Lombaert, Sun, Grady and Xu 2005).

use super::cut::{Cut, DIRECTIONS};
use super::evidence::{Evidence, Noise, Tell};
use rayon::prelude::*;

/// Whole units a border of one pixel costs.
const UNIT: f32 = 256.0;
/// Cost of a border where the picture shows a sharp edge between two pixels that both could be sheet.
const SHARP: f32 = 0.08;
/// The same where one of them is clearly cloth: dearer, or the white squares of a check would be cut out along their
/// three inner sides rather than along the rim.
const SHARP_CLEAR: f32 = 0.25;
/// Least cost of a border between two pixels that are open, under a mark, or clearly cloth; a table, for it is asked of every two. Under a mark the
/// picture jumps for reasons of its own.
const SHARPEST: [[f32; 3]; 3] = {
    let mut all = [[1.0; 3]; 3];
    let (open, mark, other) = (Tell::Open as usize, Tell::Mark as usize, Tell::Other as usize);
    all[open][open] = SHARP;
    (all[open][other], all[other][open], all[mark][other], all[other][mark]) = (SHARP_CLEAR, SHARP_CLEAR, SHARP_CLEAR, SHARP_CLEAR);
    all
};
/// Shares of the axes' and the diagonals' joins, so that a border of one pixel's length cuts joins worth one.
const AXIS: f32 = 0.414;
const DIAGONAL: f32 = 0.293;
/// Half-width of the band looked at again, in pixels of the full level.
const BAND: usize = 4;
/// Pixels of a row whose borders are weighed together.
const TOGETHER: usize = 32;
/// The forward half of the eight directions.
const FORWARD: [usize; 4] = [0, 2, 4, 6];

/// Leanings and joins of one grid.
pub(super) struct Grid {
    width: usize,
    height: usize,
    lean: Vec<i32>,
    /// Cost of the border towards each forward direction; even that of eight blocks of pixels is far from what 16 bits hold.
    join: [Vec<u16>; 4],
}

/// True for each pixel of the level taken for cloth (or anything else that is not bare sheet); and the grid it was found on.
pub(super) fn label(evidence: &Evidence, noise: Noise) -> (Vec<bool>, Grid) {
    let mut grid = Grid { width: evidence.width, height: evidence.height, lean: Vec::new(), join: Default::default() };
    grid.weigh(evidence, noise, None);
    let labels = grid.label();
    (labels, grid)
}

/// The same once more with other evidence where `open`; elsewhere the labels stay. `None` opens all.
pub(super) fn again(grid: &mut Grid, evidence: &Evidence, noise: Noise, labels: &[bool], open: Option<&[bool]>) -> Vec<bool> {
    grid.weigh(evidence, noise, open);
    let Some(open) = open else { return grid.label() };
    let fixed: Vec<i8> = labels.iter().zip(open).map(|(&l, &open)| if open { 0 } else { 2 * i8::from(l) - 1 }).collect();
    grid.solve(&fixed)
}

impl Grid {
    /// Coarsely, then finely.
    fn label(&self) -> Vec<bool> {
        let coarse = self.halved();
        let rough = coarse.solve(&vec![0; coarse.lean.len()]);
        self.solve(&self.band(&coarse, &rough))
    }

    /// Takes leanings and joins from the evidence, of all pixels or only of those that are `open`.
    fn weigh(&mut self, evidence: &Evidence, noise: Noise, open: Option<&[bool]>) {
        let (width, height) = (self.width, self.height);
        let per_beta = 1.0 / (2.5 * noise.shade).max(0.02);
        for (k, join) in self.join.iter_mut().enumerate() {
            let (dx, dy) = DIRECTIONS[FORWARD[k]];
            let length = UNIT * if k < 2 { AXIS } else { DIAGONAL };
            join.resize(width * height, 0);
            join.par_chunks_mut(width).enumerate().take(height - dy as usize).for_each(|(y, row)| {
                let (from, to) = (usize::from(dx < 0), width - usize::from(dx > 0));
                let open = open.map(|open| &open[y * width..(y + 1) * width]);
                if open.is_some_and(|open| !open.contains(&true)) {
                    return row.fill(0);
                }
                // This row and the neighbours' from its first pixel that has one.
                let (n, m) = (y * width + from, ((y + dy as usize) * width + from).wrapping_add_signed(dx));
                let count = to - from;
                let (shades, tells) = (&evidence.shade, &evidence.tell);
                // Some at a time, so that they are taken side by side, and those of which none is open are gone over.
                for first in (0..count).step_by(TOGETHER) {
                    let some = first..(first + TOGETHER).min(count);
                    let out = &mut row[from + first..from + some.end];
                    let open = open.map(|open| &open[from + first..from + some.end]);
                    if open.is_some_and(|open| !open.contains(&true)) {
                        out.fill(0);
                        continue;
                    }
                    let [here, there] = [n, m].map(|n| n + some.start..n + some.end);
                    let mut least = [0f32; TOGETHER];
                    let sorts = tells[here.clone()].iter().zip(&tells[there.clone()]);
                    least.iter_mut().zip(sorts).for_each(|(least, (p, q))| *least = SHARPEST[*p as usize][*q as usize]);
                    let pairs = shades[here].iter().zip(&shades[there]);
                    for ((out, (a, b)), least) in out.iter_mut().zip(pairs).zip(&least) {
                        let jump = (a - b) * per_beta;
                        *out = (length * (least + (1.0 - least) / (1.0 + jump * jump))) as i32 as u16;
                    }
                    open.iter().for_each(|open| out.iter_mut().zip(*open).for_each(|(out, open)| *out = if *open { *out } else { 0 }));
                }
            });
        }
        self.lean.resize(width * height, 0);
        self.lean.iter_mut().zip(&evidence.lean).for_each(|(out, l)| *out = (l * UNIT) as i32);
    }

    /// A grid whose borders all cost the same by their length.
    pub fn plain(width: usize, height: usize, lean: &[f32]) -> Self {
        let join = std::array::from_fn(|k| {
            let length = UNIT * if k < 2 { AXIS } else { DIAGONAL };
            let inside = |n: usize| step(n % width, n / width, width, height, FORWARD[k]).is_some();
            (0..width * height).map(|n| if inside(n) { length as u16 } else { 0 }).collect()
        });
        Self { width, height, lean: lean.iter().map(|l| (l * UNIT) as i32).collect(), join }
    }

    /// The same at half the resolution; the border between two blocks costs what its cheapest course would.
    fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let n = width * height;
        let w = self.width;
        let mut lean = vec![0; n];
        let mut join: [Vec<u16>; 4] = std::array::from_fn(|_| vec![0; n]);
        let least = |k: usize, at: usize, by: usize| self.join[k][at].min(self.join[k][at + by]).min(self.join[k][at + 2 * by]);
        for y in 0..height {
            for x in 0..width {
                let (n, at) = (y * width + x, 2 * y * w + 2 * x);
                lean[n] = self.lean[at] + self.lean[at + 1] + self.lean[at + w] + self.lean[at + w + 1];
                if x + 1 < width {
                    join[0][n] = least(0, at, 1) + least(0, at + w, 1);
                }
                if y + 1 < height {
                    join[1][n] = least(1, at, w) + least(1, at + 1, w);
                }
                if x + 1 < width && y + 1 < height {
                    join[2][n] = 2 * self.join[2][at + w + 1];
                }
                if x > 0 && y + 1 < height {
                    join[3][n] = 2 * self.join[3][at + w];
                }
            }
        }
        Self { width, height, lean, join }
    }

    /// What is settled already on this grid by the answer on the halved one: 1 cloth, -1 sheet, 0 within the band.
    fn band(&self, coarse: &Self, rough: &[bool]) -> Vec<i8> {
        let mut fixed = vec![-1i8; self.lean.len()];
        for (y, row) in fixed.chunks_exact_mut(self.width).enumerate() {
            let from = &rough[(y / 2).min(coarse.height - 1) * coarse.width..][..coarse.width];
            for (x, out) in row.iter_mut().enumerate() {
                if from[(x / 2).min(coarse.width - 1)] {
                    *out = 1;
                }
            }
        }
        let reach = BAND / 2;
        for y in 0..coarse.height {
            for x in 0..coarse.width {
                let n = y * coarse.width + x;
                let border =
                    (x + 1 < coarse.width && rough[n] != rough[n + 1]) || (y + 1 < coarse.height && rough[n] != rough[n + coarse.width]);
                if !border {
                    continue;
                }
                for v in 2 * y.saturating_sub(reach)..(2 * (y + reach + 2)).min(self.height) {
                    let from = v * self.width + 2 * x.saturating_sub(reach);
                    let to = v * self.width + (2 * (x + reach + 2)).min(self.width);
                    fixed[from..to].fill(0);
                }
            }
        }
        fixed
    }

    /// The cheapest labelling; `fixed` settles pixels beforehand (1 first kind, -1 second, 0 open).
    pub fn solve(&self, fixed: &[i8]) -> Vec<bool> {
        let mut settled = fixed.to_vec();
        // A pixel whose own evidence outweighs all its borders is settled whatever its neighbours are.
        let most = self.join.iter().map(|j| 2 * i32::from(j.iter().copied().max().unwrap_or(0))).sum::<i32>();
        settled.par_chunks_mut(self.width).enumerate().for_each(|(y, row)| {
            for (x, settled) in row.iter_mut().enumerate().filter(|(_, fixed)| **fixed == 0) {
                let n = y * self.width + x;
                let lean = self.lean[n];
                if lean.abs() >= most || lean.abs() >= self.around(x, y) {
                    *settled = if lean > 0 { 1 } else { -1 };
                }
            }
        });
        let open: Vec<usize> = (0..settled.len()).filter(|&n| settled[n] == 0).collect();
        let mut cut = Cut::new(&open, settled.len(), self.width);
        for (k, &n) in open.iter().enumerate() {
            let (mut lean, at) = (self.lean[n], (n % self.width, n / self.width));
            for d in 0..8 {
                let Some((m, cost)) = self.border(at, d) else { continue };
                if settled[m] != 0 {
                    lean += i32::from(settled[m]) * i32::from(cost);
                } else if d.is_multiple_of(2) {
                    cut.join(k + 1, d, cost);
                }
            }
            cut.lean(k + 1, lean);
        }
        cut.run();
        (0..settled.len()).map(|n| if settled[n] == 0 { cut.first(n) } else { settled[n] > 0 }).collect()
    }

    /// What the borders to all neighbours cost.
    #[inline]
    fn around(&self, x: usize, y: usize) -> i32 {
        let (n, w) = (y * self.width + x, self.width);
        if x == 0 || y == 0 || x + 1 == w || y + 1 == self.height {
            return (0..8).filter_map(|d| self.border((x, y), d)).map(|(_, cost)| i32::from(cost)).sum();
        }
        let [right, down, slant, other] = &self.join;
        let all = right[n] + right[n - 1] + down[n] + down[n - w] + slant[n] + slant[n - w - 1] + other[n] + other[n - w + 1];
        i32::from(all)
    }

    /// The neighbour in direction `d` and what the border to it costs; `None` outside.
    #[inline]
    fn border(&self, (x, y): (usize, usize), d: usize) -> Option<(usize, u16)> {
        let m = step(x, y, self.width, self.height, d)?;
        Some((m, self.join[d / 2][if d.is_multiple_of(2) { y * self.width + x } else { m }]))
    }
}

/// The neighbour's number in direction `d`; `None` outside.
#[inline]
fn step(x: usize, y: usize, width: usize, height: usize, d: usize) -> Option<usize> {
    let (u, v) = (x.wrapping_add_signed(DIRECTIONS[d].0), y.wrapping_add_signed(DIRECTIONS[d].1));
    (u < width && v < height).then(|| v * width + u)
}
