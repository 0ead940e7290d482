//! Strong colours that are rare in a picture: what neither cloth nor sheet is made of.
//!
//! A pixel's colour is its two ratios of light, as logarithms, so that shadow does not change it; pixels are counted over a
//! table of them. What covers much of the picture is cloth, sheet or table; a mark's colour lies far from all of that.

use crate::shot::{LINEAR, Shot};
use rayon::prelude::*;
use std::sync::LazyLock;

/// Cells of the table along each side, their width (natural logarithm of a ratio of light), and the ratio at its middle is 1.
const SIDE: usize = 80;
const CELL: f32 = 0.1;
/// Light added to each channel, so that the colour of near black comes out as none.
const FLOOR: f32 = 0.02;
/// Cells to either side that count as one colour.
const ABOUT: usize = 2;
/// A colour that covers less than this is rare, mm²: forty stickers of 10 mm; and limits of that as a share of the picture.
const RARE_MM2: f64 = 4000.0;
const RARE_SHARE: [f64; 2] = [0.004, 0.1];
/// Distance from every common colour from which on a rare one is strong: a red that is twice as pure.
const STRONG: f32 = 0.7;
/// Two colours nearer than this are one; those farther apart than `STEP` are looked for each by itself.
const ONE: f32 = 0.9;
const STEP: f32 = 0.4;
/// How far a pixel's colour may lie from its mark's, at most and of the way to the nearest common colour.
const REACH: f32 = 0.6;
const REACH_SHARE: f32 = 0.5;

/// Natural logarithm of the light of each encoded byte, with the floor.
static LOG: LazyLock<[f32; 256]> = LazyLock::new(|| std::array::from_fn(|k| (LINEAR[k] + FLOOR).ln()));

/// The colour of every pixel of a picture reduced by `factor`, as a cell of the table.
pub(super) struct Chroma {
    pub factor: usize,
    pub width: usize,
    pub height: usize,
    cells: Vec<u16>,
}

/// No mark's colour.
pub(super) const NONE: u8 = u8::MAX;

#[inline]
fn cell(r: f32, g: f32, b: f32) -> u16 {
    let of = |v: f32| ((v / CELL + SIDE as f32 / 2.0).max(0.0) as usize).min(SIDE - 1);
    (of(r - g) * SIDE + of(b - g)) as u16
}

/// Distance of two cells.
fn apart(a: usize, b: usize) -> f32 {
    let (x, y) = ((a / SIDE) as f32 - (b / SIDE) as f32, (a % SIDE) as f32 - (b % SIDE) as f32);
    CELL * x.hypot(y)
}

impl Chroma {
    /// Of the picture reduced by `factor`.
    pub fn of(shot: &Shot, factor: usize) -> Self {
        if factor > 1 {
            let level = shot.level(factor);
            let log = |v: f32| (v + FLOOR).ln();
            let cells = level.rgb.par_iter().map(|p| cell(log(p[0]), log(p[1]), log(p[2]))).collect();
            return Self { factor, width: level.width, height: level.height, cells };
        }
        let log = &*LOG;
        let of = |p: &[u8; 3]| cell(log[p[0] as usize], log[p[1] as usize], log[p[2] as usize]);
        Self { factor, width: shot.width, height: shot.height, cells: shot.rgb.as_chunks::<3>().0.par_iter().map(of).collect() }
    }

    /// For every pixel the number of the rare strong colour it has, or [`NONE`]. `per_mm` are pixels (of the reduced picture) per mm,
    /// `least` the fewest pixels that make a mark.
    pub fn rare(&self, per_mm: f64, least: u32) -> Vec<u8> {
        let mut count = vec![0u32; SIDE * SIDE];
        self.cells.iter().for_each(|c| count[usize::from(*c)] += 1);
        let about = about(&count);
        let all = self.cells.len() as f64;
        let most = (RARE_MM2 * per_mm * per_mm / all).clamp(RARE_SHARE[0], RARE_SHARE[1]) * all;
        let common: Vec<usize> = (0..about.len()).filter(|c| f64::from(about[*c]) > most && count[*c] > 0).collect();
        let beyond = |c: usize| common.iter().map(|m| apart(c, *m)).fold(f32::INFINITY, f32::min);
        let mut strong: Vec<(usize, f32)> =
            (0..about.len()).filter(|c| about[*c] >= least).map(|c| (c, beyond(c))).filter(|(_, far)| *far >= STRONG).collect();
        strong.sort_by(|a, b| about[b.0].cmp(&about[a.0]).then(a.0.cmp(&b.0)));
        // Each with how far it reaches, and the number it shares with those near it: light turns a colour a little.
        let mut taken: Vec<(usize, f32, u8)> = Vec::new();
        let mut numbers = 0;
        for (c, far) in strong {
            let near = taken.iter().map(|t| (apart(t.0, c), t.2)).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f32::INFINITY, 0));
            if near.0 > STEP && (near.0 <= ONE || numbers < NONE) {
                let number = if near.0 <= ONE { near.1 } else { numbers };
                numbers += u8::from(near.0 > ONE);
                taken.push((c, (REACH_SHARE * far).min(REACH), number));
            }
        }
        let number: Vec<u8> = (0..about.len())
            .map(|c| {
                let near = taken.iter().map(|t| (apart(t.0, c), t.1, t.2)).filter(|t| t.0 <= t.1);
                near.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(NONE, |t| t.2)
            })
            .collect();
        self.cells.par_iter().map(|c| number[usize::from(*c)]).collect()
    }
}

/// Counts added up over neighbouring cells.
fn about(count: &[u32]) -> Vec<u32> {
    let span = |k: usize| k.saturating_sub(ABOUT)..(k + ABOUT + 1).min(SIDE);
    (0..SIDE * SIDE).map(|c| span(c / SIDE).map(|u| span(c % SIDE).map(|v| count[u * SIDE + v]).sum::<u32>()).sum()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Red on white and navy is a rare strong colour, also in half the light; a thousandth of grey is not.
    #[test]
    fn a_rare_strong_colour_is_told_from_common_ones() {
        let (w, h) = (300, 200);
        let rgb: Vec<u8> = (0..w * h)
            .flat_map(|k| match (k % w, k / w) {
                (10..20, 10..20) => [200, 30, 40],
                (40..50, 10..20) => [146, 20, 28],
                (60..70, 10..20) => [120, 120, 118],
                (x, _) if x < 150 => [240, 238, 230],
                _ => [28, 36, 66],
            })
            .collect();
        let rare = Chroma::of(&Shot::from_rgb(w, h, rgb), 1).rare(4.0, 20);
        let at = |x: usize, y: usize| rare[y * w + x];
        assert!(at(15, 15) != NONE && at(15, 15) == at(45, 15));
        assert!([at(65, 15), at(5, 5), at(200, 100)].iter().all(|v| *v == NONE));
    }
}
