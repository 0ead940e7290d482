//! Creases and drag lines that run into the rim: shading that is bright on one flank and dark on the other, or a ridge.
//!
//! A strip inside the rim is unrolled and averaged along several slants, the way a crease may run. What is left must be strong, smooth,
//! alike over the strip's whole depth and in all colours (shade takes the same part of each), and alone: stripes, checks and ribs
//! repeat, print has sharp borders or colours of its own, the seam of two cloths is a step.

use super::lines::Lines;
use super::places::{places, stepped};
use super::tracing::Tracing;
use super::whereabouts;
use super::why::Look;
use crate::length::Mm;
use crate::path::SeamPath;
use crate::proof::Doubt;
use crate::solve::median;
use kurbo::{BezPath, Shape as _};
use rayon::prelude::*;

/// Depths of the strip, mm inside the rim, and the distance of its rows.
const DEPTH: (f64, f64) = (4.0, 34.0);
const ROW: f64 = 1.5;
/// Distance of its columns, mm.
const COLUMN: f64 = 1.0;
/// Ways a crease runs against the rim's normal, as its slope.
const SLANTS: [f64; 7] = [-1.0, -0.58, -0.27, 0.0, 0.27, 0.58, 1.0];
/// A crease lies within this of its middle, columns; beyond it, up to the second, are its flanks.
const CORE: usize = 8;
const FLANK: usize = 14;
/// From bright to dark so much of the light (natural logarithm) at least: soft folds in the lie of cloth, which take up less than half a
/// millimetre, have less.
const STRONG: f64 = 0.55;
/// And so many times what is usual along the same rim.
const ABOVE: f64 = 3.5;
/// The flanks may vary by this part of it, and differ by it.
const QUIET: f64 = 0.4;
/// The steepest millimetre may take up this part of it.
const SHARP: f64 = 0.45;
/// The channels' parts may differ by this part of their mean.
const TINT: f64 = 0.3;
/// Each third of the depth must be like the whole (correlation).
const LIKE: f64 = 0.75;
/// Corners are no place to tell, mm.
const CORNER: f64 = 14.0;
/// Creases nearer to each other than this are one, mm.
const ONE: f64 = 25.0;
/// How many are told.
const TOLD: usize = 3;

/// One crease where it meets the rim.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Crease {
    at: Mm,
    /// Cloth that it takes up across it, mm.
    cost: f64,
}

/// Logarithms of light: rows of the depth of every column along the rim.
struct Strip {
    at: Vec<Mm>,
    rows: usize,
    /// NaN where the strip leaves the cloth.
    light: Vec<[f64; 3]>,
}

/// The strongest creases that run into a rim; `inside` is the same line in few curves.
fn find(look: &Look, rim: &SeamPath, inside: &BezPath, corners: &[Mm]) -> Vec<Crease> {
    let strip = Strip::unroll(look, rim, inside, corners);
    let n = strip.at.len();
    if n < 4 * FLANK {
        return Vec::new();
    }
    let along = |slant: f64| {
        let mut seen: Vec<(usize, f64, bool)> = Vec::new();
        let profile: Vec<[f64; 3]> = (0..n as i64).map(|k| strip.mean(slant, (0, strip.rows), k)).collect();
        for k in 0..n {
            if let Some(contrast) = contrast(&profile, k) {
                // Most show next to nothing: the rest is asked of few.
                let form = Some(k).filter(|_| contrast >= STRONG).and_then(|k| Form::at(&profile, k));
                let good = form.is_some_and(|form| form.quiet() && form.tintless() && strip.holds(slant, k, &form));
                seen.push((k, contrast, good));
            }
        }
        seen
    };
    let seen: Vec<(usize, f64, bool)> = SLANTS.into_par_iter().flat_map_iter(along).collect();
    let mut usual: Vec<f64> = seen.iter().map(|s| s.1).collect();
    let usual = median(&mut usual).unwrap_or(0.0);
    let mut good: Vec<(usize, f64)> = seen.iter().filter(|s| s.2 && s.1 > ABOVE * usual).map(|s| (s.0, s.1)).collect();
    good.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut told: Vec<Crease> = Vec::new();
    for (k, contrast) in good {
        let at = strip.at[k];
        if told.len() < TOLD && told.iter().all(|t| t.at.distance(at) > ONE) {
            told.push(Crease { at, cost: cost(contrast) });
        }
    }
    told
}

/// The doubts about the creases that run into all outlines.
pub(super) fn doubts(tracing: &Tracing, lines: &Lines, look: &Look) -> Vec<Doubt> {
    let mut out = Vec::new();
    for (piece, found) in tracing.pieces.iter().zip(&lines.pieces) {
        let corners: Vec<Mm> = piece.outline.corners.iter().map(|c| c.at).collect();
        let places = places(&piece.outline);
        for crease in find(look, &found.outer, &piece.outline.path, &corners) {
            let place = whereabouts::near(piece, tracing.pieces.len() > 1, &places, crease.at);
            out.extend(place.map(|place| Doubt::Crease { place, cost: crease.cost, at: crease.at }));
        }
    }
    out
}

/// Cloth taken up by a crease, mm. Light from the side changes by about the slope of the cloth (Lambert 1760), half of the contrast on
/// either flank; a slope of φ over a width w takes up w φ²/2.
fn cost(contrast: f64) -> f64 {
    let width = 2.0 * CORE as f64 * COLUMN;
    width * (0.5 * contrast).powi(2) / 2.0
}

impl Strip {
    fn unroll(look: &Look, rim: &SeamPath, inside: &BezPath, corners: &[Mm]) -> Self {
        let rows = ((DEPTH.1 - DEPTH.0) / ROW) as usize + 1;
        let points = stepped(rim, COLUMN);
        let mut light = vec![[f64::NAN; 3]; points.len() * rows];
        light.par_chunks_mut(rows).zip(&points).for_each(|(light, (at, normal))| {
            let held = |d: f64| inside.contains((at.x - normal.x * d, at.y - normal.y * d).into());
            let open = held(DEPTH.0) && held(0.5 * (DEPTH.0 + DEPTH.1)) && held(DEPTH.1 + DEPTH.0);
            let open = open && corners.iter().all(|c| c.distance(*at) > CORNER);
            for (r, light) in light.iter_mut().enumerate().filter(|_| open) {
                *light = look.logarithms(*at - *normal * (DEPTH.0 + ROW * r as f64));
            }
        });
        Self { at: points.iter().map(|p| p.0).collect(), rows, light }
    }

    /// The mean over some of the rows at a column, each moved along by the slant: what runs that way stays sharp.
    fn mean(&self, slant: f64, (from, to): (usize, usize), k: i64) -> [f64; 3] {
        let n = self.at.len() as i64;
        let mut sum = [0.0; 3];
        for r in from..to {
            let moved = (slant * (DEPTH.0 + ROW * r as f64) / COLUMN).round() as i64;
            let v = self.light[(k + moved).rem_euclid(n) as usize * self.rows + r];
            (0..3).for_each(|c| sum[c] += v[c]);
        }
        sum.map(|s| s / (to - from) as f64)
    }

    /// The form about column `k` of some of the rows.
    fn form(&self, slant: f64, rows: (usize, usize), k: usize) -> Option<Form> {
        let (k, reach) = (k as i64, FLANK as i64);
        let near: Vec<[f64; 3]> = (k - reach..=k + reach).map(|c| self.mean(slant, rows, c)).collect();
        Form::at(&near, FLANK)
    }

    /// Whether a form runs through the whole depth, and is smooth.
    fn holds(&self, slant: f64, k: usize, whole: &Form) -> bool {
        let third = self.rows / 3;
        let parts = [(0, third), (third, 2 * third), (2 * third, self.rows)];
        let like = parts.iter().all(|(from, to)| {
            self.form(slant, (*from, *to), k).is_some_and(|p| p.like(whole) > LIKE && p.contrast[1] > 0.5 * whole.contrast[1])
        });
        let mut steepest: Vec<f64> = (0..self.rows - 1)
            .step_by(2)
            .filter_map(|r| self.form(slant, (r, r + 2), k))
            .map(|f| f.core.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f64::max))
            .collect();
        like && median(&mut steepest).is_some_and(|s| s < SHARP * whole.contrast[1])
    }
}

/// Columns of a form, and of its core.
const WHOLE: usize = 2 * FLANK + 1;
const MIDDLE: usize = 2 * CORE + 1;

/// One channel about column `k`; `None` where some of it was not seen.
fn about(profile: &[[f64; 3]], k: usize, channel: usize) -> Option<[f64; WHOLE]> {
    let n = profile.len();
    let near: [f64; WHOLE] = std::array::from_fn(|i| profile[(k + n + i - FLANK) % n][channel]);
    near.iter().all(|v| v.is_finite()).then_some(near)
}

/// The core of a channel without the slope from flank to flank, and how far these are apart.
fn core(near: &[f64; WHOLE]) -> ([f64; MIDDLE], f64) {
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    let (left, right) = (mean(&near[..FLANK - CORE]), mean(&near[FLANK + CORE + 1..]));
    let slope = (right - left) / (FLANK + CORE + 1) as f64;
    let level = |i: usize| 0.5 * (left + right) + slope * (i as f64 - CORE as f64);
    (std::array::from_fn(|i| near[FLANK - CORE + i] - level(i)), right - left)
}

/// From the least to the greatest.
fn span(values: &[f64]) -> f64 {
    let (low, high) =
        values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (if *v < l { *v } else { l }, if *v > h { *v } else { h }));
    high - low
}

/// How strong the form about column `k` is, in the green; `None` where some of it was not seen.
fn contrast(profile: &[[f64; 3]], k: usize) -> Option<f64> {
    Some(span(&core(&about(profile, k, 1)?).0))
}

/// The light about one column, without the slope from flank to flank.
struct Form {
    /// Of the green, which is seen best.
    core: [f64; MIDDLE],
    /// From bright to dark, of each channel.
    contrast: [f64; 3],
    /// The flanks' own variation, and how far apart they are.
    flanks: [f64; 2],
}

impl Form {
    fn at(profile: &[[f64; 3]], k: usize) -> Option<Self> {
        let near = [about(profile, k, 0)?, about(profile, k, 1)?, about(profile, k, 2)?];
        let all = near.each_ref().map(core);
        let green = &near[1];
        Some(Self {
            contrast: all.map(|(core, _)| span(&core)),
            flanks: [span(&green[..FLANK - CORE]).max(span(&green[FLANK + CORE + 1..])), all[1].1.abs()],
            core: all[1].0,
        })
    }

    fn quiet(&self) -> bool {
        self.flanks.iter().all(|f| *f < QUIET * self.contrast[1])
    }

    fn tintless(&self) -> bool {
        let mean = self.contrast.iter().sum::<f64>() / 3.0;
        self.contrast.iter().all(|c| (c - mean).abs() < TINT * mean)
    }

    /// Correlation with another form of the same columns.
    fn like(&self, other: &Self) -> f64 {
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        dot(&self.core, &other.core) / (dot(&self.core, &self.core) * dot(&other.core, &other.core)).sqrt().max(1e-12)
    }
}
