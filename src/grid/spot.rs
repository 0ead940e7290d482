//! The one dark, separate spot nearest a predicted place: a dot, or a whole small cross.

use super::patch::Patch;
use crate::length::Px;
use crate::shot::Shot;
use nalgebra::{Matrix2, Vector2};

/// Farthest a mark may lie from its prediction, in steps to the next node.
const SEARCH: f64 = 0.2;
/// No window reaches farther than this share of a step: the next node's mark is never seen.
const WINDOW: f64 = 0.48;
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
        let most = (WINDOW * step).floor() as usize;
        let mut half = 14.min(most);
        loop {
            let patch = Patch::around(shot, predicted, half)?;
            match Self::in_patch(&patch, predicted, SEARCH * step) {
                Look::Found(spot) => return Some((patch, spot)),
                Look::Nothing if half * 2 > most => return None,
                Look::Wider if half == most => return None,
                _ => half = (half * 2).min(most),
            }
        }
    }

    fn in_patch(patch: &Patch, predicted: Px, search: f64) -> Look {
        let ground = patch.border_median();
        let (pu, pv) = patch.inside(predicted);
        let Some((seed, darkest)) = darkest_near(patch, (pu, pv), search, ground) else { return Look::Nothing };
        if ground - darkest < LEAST * ground {
            return Look::Wider;
        }
        // Blur makes the tips of a cross half as dark as its middle: a little below half keeps it whole.
        let level = ground - 0.4 * (ground - darkest);
        match region(patch, seed, level) {
            Some(pixels) => Self::of(patch, &pixels, ground).map_or(Look::Nothing, Look::Found),
            None => Look::Wider,
        }
    }

    fn of(patch: &Patch, pixels: &[usize], ground: f32) -> Option<Self> {
        let place = |k: usize| Vector2::new((k % patch.width) as f64, (k / patch.width) as f64);
        let (mut sum, mut c) = (0.0, Vector2::zeros());
        for &k in pixels {
            let dark = (ground - patch.data[k]).max(0.0) as f64;
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
            moments += d * d.transpose() * ((ground - patch.data[k]).max(0.0) as f64 / sum);
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

/// The darkest pixel (smoothed) within `search` of a place, nearer ones preferred; `None` outside the window.
fn darkest_near(patch: &Patch, near: (f64, f64), search: f64, ground: f32) -> Option<(usize, f32)> {
    let search = search.max(2.0);
    let mut best: Option<(f32, usize, f32)> = None;
    for v in 0..patch.height {
        for u in 0..patch.width {
            let d = (u as f64 - near.0).hypot(v as f64 - near.1);
            if d <= search {
                let light = patch.smooth(u, v);
                // A speck at the end of the search has to be twice as dark as one where the mark should be.
                let score = (ground - light) * (1.0 - 0.5 * (d / search) as f32);
                if best.is_none_or(|(s, ..)| score > s) {
                    best = Some((score, v * patch.width + u, light));
                }
            }
        }
    }
    best.map(|(_, k, light)| (k, light))
}

/// Pixels darker than `level` connected with `seed`; `None` when they reach the window's outermost pixels.
fn region(patch: &Patch, seed: usize, level: f32) -> Option<Vec<usize>> {
    let (w, h) = (patch.width, patch.height);
    let mut seen = vec![false; w * h];
    let mut pixels = vec![seed];
    seen[seed] = true;
    let mut next = 0;
    while next < pixels.len() {
        let k = pixels[next];
        next += 1;
        let (u, v) = (k % w, k / w);
        if u == 0 || v == 0 || u + 1 == w || v + 1 == h {
            return None;
        }
        for n in [k - 1, k + 1, k - w, k + w, k - w - 1, k - w + 1, k + w - 1, k + w + 1] {
            if !seen[n] && patch.data[n] < level {
                seen[n] = true;
                pixels.push(n);
            }
        }
    }
    Some(pixels)
}
