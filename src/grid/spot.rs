//! The one dark, separate spot nearest a predicted place: a dot, or a whole small cross.

use super::patch::{Ground, Patch};
use crate::length::Px;
use crate::shot::{LUMA, Shot};
use crate::solve::median;
use nalgebra::{Matrix2, Vector2};

/// Farthest a mark may lie from its prediction, in steps to the next node.
const SEARCH: f64 = 0.2;
/// No window reaches farther than this share of a step: the next node's mark is never seen.
const WINDOW: f64 = 0.48;
/// Half of the first window tried, px: room for a mark of some fifteen pixels.
const SMALL: f64 = 11.0;
/// Least contrast with the paper, relative to it.
const LEAST: f32 = 0.04;

/// A connected dark region in a window.
#[derive(Clone, Debug)]
pub(super) struct Spot {
    /// Centre of its darkness, in pixels of the window.
    pub u: f64,
    /// Centre of its darkness, in pixels of the window.
    pub v: f64,
    /// Second moments of its darkness about the centre, px².
    pub moments: Matrix2<f64>,
    /// Pixels darker than half-way.
    pub area: f64,
    /// Farthest of them from the centre, px.
    pub reach: f64,
}

impl Spot {
    /// The spot, in the smallest window that holds it with some paper around; `None` when there is none within
    /// a fifth of a step, or it runs out of the window (a line, cloth, the sheet's edge).
    pub fn find(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2]) -> Option<(Patch, Self)> {
        let step = frame[0].norm().min(frame[1].norm());
        let mut share = WINDOW.min(SMALL / step);
        let around = light_around(shot, predicted, frame);
        loop {
            let cell = Cell::about(shot, predicted, frame, share)?;
            match Self::in_cell(&cell, predicted, SEARCH * step, around) {
                Look::Found(spot) => return Some((cell.patch, spot)),
                _ if share >= WINDOW => return None,
                // Nothing dark here although most of the search was in the window.
                Look::Nothing if share > 2.0 * SEARCH => return None,
                _ => share = (share * 1.6).min(WINDOW),
            }
        }
    }

    fn in_cell(cell: &Cell, predicted: Px, search: f64, around: f64) -> Look {
        let Some(ground) = cell.ground() else { return Look::Nothing };
        // A window within a large dark disc sees only its grain.
        let (u, v) = cell.patch.inside(predicted);
        if 1.5 * ground.at(u, v) < around {
            return Look::Wider;
        }
        let Some((seed, darkest)) = darkest_near(cell, predicted, search, &ground) else { return Look::Nothing };
        if darkest < LEAST {
            return Look::Nothing;
        }
        // Blur makes the tips of a cross half as dark as its middle: a little below half keeps it whole.
        match region(cell, seed, &ground, 0.4 * darkest) {
            Some(pixels) => Self::of(cell, &pixels, &ground).map_or(Look::Nothing, Look::Found),
            None => Look::Wider,
        }
    }

    fn of(cell: &Cell, pixels: &[usize], ground: &Ground) -> Option<Self> {
        let width = cell.patch.width;
        let place = |k: usize| Vector2::new((k % width) as f64, (k / width) as f64);
        let (mut sum, mut c) = (0.0, Vector2::zeros());
        for &k in pixels {
            let dark = cell.dark(ground, k).max(0.0) as f64;
            sum += dark;
            c += place(k) * dark;
        }
        if sum <= 0.0 {
            return None;
        }
        c /= sum;
        let (mut moments, mut reach) = (Matrix2::zeros(), 0.0f64);
        for &k in pixels {
            let d = place(k) - c;
            moments += d * d.transpose() * (cell.dark(ground, k).max(0.0) as f64 / sum);
            reach = reach.max(d.norm());
        }
        // A pixel is itself a twelfth of a square pixel wide.
        moments += Matrix2::identity() / 12.0;
        Some(Self { u: c.x, v: c.y, moments, area: pixels.len() as f64, reach: reach + 0.5 })
    }

    /// Radius of the circle of the same area, px.
    pub fn radius(&self) -> f64 {
        (self.area / std::f64::consts::PI).sqrt()
    }

    /// How much of the ellipse of its moments it fills: 1 for a disc, about a half for a cross.
    pub fn fill(&self) -> f64 {
        self.area / (4.0 * std::f64::consts::PI * self.moments.determinant().sqrt())
    }

    /// Whether it can be the picture of a disc lying on the sheet, whose squares are seen as `frame`.
    pub fn round(&self, frame: [Vector2<f64>; 2]) -> bool {
        // A handful of pixels has no shape to speak of.
        if self.area < 9.0 {
            return self.reach < 4.0;
        }
        let Some(back) = Matrix2::from_columns(&frame).try_inverse() else { return false };
        let on_sheet = back * self.moments * back.transpose();
        let values = on_sheet.symmetric_eigenvalues();
        // Ratio of squared axes; blur that differs along and across takes small dots to 2.
        self.fill() > 0.75 && values.max() < 3.0 * values.min()
    }
}

/// What a window shows.
enum Look {
    Found(Spot),
    Nothing,
    Wider,
}

/// Median light on the outline of a node's square, half-way to its neighbours.
fn light_around(shot: &Shot, predicted: Px, [a, b]: [Vector2<f64>; 2]) -> f64 {
    let sides = (-3..4).flat_map(|k| {
        let t = WINDOW * f64::from(k) / 3.0;
        [a * t + b * WINDOW, a * t - b * WINDOW, a * WINDOW + b * t, a * -WINDOW + b * t]
    });
    let light = |d| shot.sample(predicted + d).map(|c| LUMA[0] * c[0] + LUMA[1] * c[1] + LUMA[2] * c[2]);
    f64::from(median(&mut sides.filter_map(light).collect::<Vec<_>>()).unwrap_or_default())
}

/// The part of a node's square that is looked at: all points nearer than a share of a step along both steps.
struct Cell {
    patch: Patch,
    /// Larger of the two distances from the prediction, in steps over the share: inside the cell below 1.
    out: Vec<f32>,
}

impl Cell {
    fn about(shot: &Shot, predicted: Px, frame: [Vector2<f64>; 2], share: f64) -> Option<Self> {
        let [a, b] = frame;
        let half = share * (a.x.abs() + b.x.abs()).max(a.y.abs() + b.y.abs());
        let patch = Patch::around(shot, predicted, half.ceil() as usize + 1)?;
        let back = Matrix2::from_columns(&frame).try_inverse()? / share;
        let (u0, v0) = patch.inside(predicted);
        let mut out = Vec::with_capacity(patch.data.len());
        for v in 0..patch.height {
            let left = back * Vector2::new(-u0, v as f64 - v0);
            out.extend((0..patch.width).map(|u| {
                let x = u as f64;
                (left.x + x * back.m11).abs().max((left.y + x * back.m21).abs()) as f32
            }));
        }
        Some(Self { patch, out })
    }

    /// Light near the cell's outline as a plane: the paper around a mark that does not reach it. What differs from
    /// the median by more than a quarter (cloth, a neighbour) is left out.
    fn ground(&self) -> Option<Ground> {
        let rim = || (0..self.out.len()).filter(|&k| (0.8..1.0).contains(&self.out[k]));
        let middle = median(&mut rim().map(|k| self.patch.data[k]).collect::<Vec<_>>()).unwrap_or_default();
        let place = |k: usize| ((k % self.patch.width) as f64, (k / self.patch.width) as f64);
        let near = rim().filter(|&k| (self.patch.data[k] - middle).abs() <= 0.25 * middle);
        Ground::fit(&near.map(|k| (place(k).0, place(k).1, self.patch.data[k] as f64)).collect::<Vec<_>>())
    }

    /// How much darker than the ground pixel `k` is, relative to it.
    fn dark(&self, ground: &Ground, k: usize) -> f32 {
        let g = ground.at((k % self.patch.width) as f64, (k / self.patch.width) as f64);
        1.0 - self.patch.data[k] / (g as f32).max(1e-4)
    }
}

/// The darkest pixel (smoothed, relative to the ground) within `search` of a place, nearer ones preferred, and how dark it is;
/// `None` outside the window.
fn darkest_near(cell: &Cell, predicted: Px, search: f64, ground: &Ground) -> Option<(usize, f32)> {
    let search = search.max(2.0);
    let patch = &cell.patch;
    let near = patch.inside(predicted);
    let mut best: Option<(f32, usize, f32)> = None;
    let span = |x: f64, most: usize| ((x - search).ceil().max(0.0) as usize, ((x + search).floor() as usize).min(most - 1));
    let ((u0, u1), (v0, v1)) = (span(near.0, patch.width), span(near.1, patch.height));
    for v in v0..=v1 {
        for u in u0..=u1 {
            let d = ((u as f64 - near.0).powi(2) + (v as f64 - near.1).powi(2)).sqrt();
            if d <= search && cell.out[v * patch.width + u] < 0.9 {
                let dark = 1.0 - patch.smooth(u, v) / (ground.at(u as f64, v as f64) as f32).max(1e-4);
                // A speck at the end of the search has to be twice as dark as one where the mark should be.
                let score = dark * (1.0 - 0.5 * (d / search) as f32);
                if best.is_none_or(|(s, ..)| score > s) {
                    best = Some((score, v * patch.width + u, dark));
                }
            }
        }
    }
    best.map(|(_, k, dark)| (k, dark))
}

/// Pixels darker than `least` connected with `seed`; `None` when they reach the cell's outline or the picture's.
fn region(cell: &Cell, seed: usize, ground: &Ground, least: f32) -> Option<Vec<usize>> {
    let patch = &cell.patch;
    let (w, h) = (patch.width, patch.height);
    let mut seen = vec![false; w * h];
    let mut pixels = vec![seed];
    seen[seed] = true;
    let mut next = 0;
    while next < pixels.len() {
        let k = pixels[next];
        next += 1;
        let (u, v) = (k % w, k / w);
        if u == 0 || v == 0 || u + 1 == w || v + 1 == h || cell.out[k] >= 1.0 {
            return None;
        }
        for n in [k - 1, k + 1, k - w, k + w, k - w - 1, k - w + 1, k + w - 1, k + w + 1] {
            if !seen[n] && cell.dark(ground, n) > least {
                seen[n] = true;
                pixels.push(n);
            }
        }
    }
    Some(pixels)
}
