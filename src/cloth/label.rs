//! Cloth or sheet, pixel by pixel: evidence weighed against the length and the sharpness of the border between them.
//!
//! A cut of least cost on a level of half the resolution, then once more on the full level in a narrow band round the
//! first answer (multilevel banded cuts: Lombaert, Sun, Grady and Xu 2005).

use super::cut::{Cut, DIRECTIONS};
use super::evidence::{Evidence, Noise, Tell};

/// Whole units a border of one pixel costs.
const UNIT: f32 = 256.0;
/// Cost of a border where the picture shows a sharp edge between two pixels that both could be sheet.
const SHARP: f32 = 0.08;
/// The same where one of them is clearly cloth: dearer, or the white squares of a check would be cut out along their
/// three inner sides rather than along the rim.
const SHARP_CLEAR: f32 = 0.25;
/// Shares of the axes' and the diagonals' joins, so that a border of one pixel's length cuts joins worth one.
const AXIS: f32 = 0.414;
const DIAGONAL: f32 = 0.293;
/// Half-width of the band looked at again, in pixels of the full level.
const BAND: usize = 4;
/// The forward half of the eight directions.
const FORWARD: [usize; 4] = [0, 2, 4, 6];

/// Leanings and joins of one grid.
struct Grid {
    width: usize,
    height: usize,
    lean: Vec<i32>,
    /// Cost of the border towards each forward direction.
    join: Vec<[i32; 4]>,
}

/// True for each pixel of the level taken for cloth (or anything else that is not bare sheet).
pub(super) fn label(evidence: &Evidence, noise: Noise) -> Vec<bool> {
    let fine = Grid::fine(evidence, noise);
    let coarse = fine.halved();
    let rough = coarse.solve(&vec![0; coarse.lean.len()]);
    let fixed = fine.band(&coarse, &rough);
    fine.solve(&fixed)
}

impl Grid {
    fn fine(evidence: &Evidence, noise: Noise) -> Self {
        let (width, height) = (evidence.width, evidence.height);
        let beta = (2.5 * noise.shade).max(0.02);
        let mut join = vec![[0; 4]; width * height];
        for y in 0..height {
            for x in 0..width {
                let n = y * width + x;
                for (k, &d) in FORWARD.iter().enumerate() {
                    let Some(m) = step(x, y, width, height, d) else { continue };
                    let length = if k < 2 { AXIS } else { DIAGONAL };
                    let jump = (evidence.shade[n] - evidence.shade[m]) / beta;
                    let least = sharp(evidence.tell[n], evidence.tell[m]);
                    let cost = least + (1.0 - least) / (1.0 + jump * jump);
                    join[n][k] = (UNIT * length * cost) as i32;
                }
            }
        }
        let lean = evidence.lean.iter().map(|l| (l * UNIT) as i32).collect();
        Self { width, height, lean, join }
    }

    /// The same at half the resolution; the border between two blocks costs what its cheapest course would.
    fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let mut out = Self { width, height, lean: vec![0; width * height], join: vec![[0; 4]; width * height] };
        for y in 0..height {
            for x in 0..width {
                let at = |u: usize, v: usize| (2 * y + v).min(self.height - 1) * self.width + (2 * x + u).min(self.width - 1);
                let n = y * width + x;
                out.lean[n] = self.lean[at(0, 0)] + self.lean[at(1, 0)] + self.lean[at(0, 1)] + self.lean[at(1, 1)];
                if x + 1 < width {
                    out.join[n][0] = (0..2).map(|v| (0..3).map(|u| self.join[at(u, v)][0]).min().unwrap_or(0)).sum();
                }
                if y + 1 < height {
                    out.join[n][1] = (0..2).map(|u| (0..3).map(|v| self.join[at(u, v)][1]).min().unwrap_or(0)).sum();
                }
                if x + 1 < width && y + 1 < height {
                    out.join[n][2] = 2 * self.join[at(1, 1)][2];
                }
                if x > 0 && y + 1 < height {
                    out.join[n][3] = 2 * self.join[at(0, 1)][3];
                }
            }
        }
        out
    }

    /// What is settled already on this grid by the answer on the halved one: 1 cloth, -1 sheet, 0 within the band.
    fn band(&self, coarse: &Self, rough: &[bool]) -> Vec<i8> {
        let pick = |x: usize, y: usize| rough[(y / 2).min(coarse.height - 1) * coarse.width + (x / 2).min(coarse.width - 1)];
        let mut fixed: Vec<i8> = (0..self.lean.len()).map(|n| if pick(n % self.width, n / self.width) { 1 } else { -1 }).collect();
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

    fn solve(&self, fixed: &[i8]) -> Vec<bool> {
        let mut settled = fixed.to_vec();
        let mut around = vec![0i32; self.lean.len()];
        self.each(|n, m, cost| {
            around[n] += cost;
            around[m] += cost;
        });
        // A pixel whose own evidence outweighs all its borders is settled whatever its neighbours are.
        for n in 0..settled.len() {
            if settled[n] == 0 && self.lean[n].abs() >= around[n] {
                settled[n] = if self.lean[n] > 0 { 1 } else { -1 };
            }
        }
        let mut cut = Cut::new(self.width, self.height);
        let mut lean = self.lean.clone();
        self.each_way(|n, m, x, y, d, cost| match (settled[n], settled[m]) {
            (0, 0) => cut.join(x, y, d, cost),
            (0, s) => lean[n] += i32::from(s) * cost,
            (s, 0) => lean[m] += i32::from(s) * cost,
            _ => {}
        });
        for n in (0..lean.len()).filter(|&n| settled[n] == 0) {
            cut.lean(n % self.width, n / self.width, lean[n]);
        }
        cut.run();
        (0..lean.len()).map(|n| if settled[n] == 0 { cut.first(n % self.width, n / self.width) } else { settled[n] > 0 }).collect()
    }

    fn each(&self, mut visit: impl FnMut(usize, usize, i32)) {
        self.each_way(|n, m, _, _, _, cost| visit(n, m, cost));
    }

    fn each_way(&self, mut visit: impl FnMut(usize, usize, usize, usize, usize, i32)) {
        for y in 0..self.height {
            for x in 0..self.width {
                let n = y * self.width + x;
                for (k, &d) in FORWARD.iter().enumerate() {
                    if let Some(m) = step(x, y, self.width, self.height, d) {
                        visit(n, m, x, y, d, self.join[n][k]);
                    }
                }
            }
        }
    }
}

/// Least cost of a border between two pixels.
#[inline]
fn sharp(a: Tell, b: Tell) -> f32 {
    match (a, b) {
        (Tell::Open, Tell::Open) => SHARP,
        (Tell::Other, Tell::Other) => 1.0,
        (_, Tell::Other) | (Tell::Other, _) => SHARP_CLEAR,
        // Under a mark the picture jumps for reasons of its own.
        _ => 1.0,
    }
}

/// The neighbour's number in direction `d`; `None` outside.
#[inline]
fn step(x: usize, y: usize, width: usize, height: usize, d: usize) -> Option<usize> {
    let (u, v) = (x.wrapping_add_signed(DIRECTIONS[d].0), y.wrapping_add_signed(DIRECTIONS[d].1));
    (u < width && v < height).then(|| v * width + u)
}
