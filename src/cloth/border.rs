//! Shadow with a border across the sheet, as a window's frame or a wall throws it: light with steps in it, which no smooth field follows.
//!
//! In: the level with samples of its bare ground. Out: the samples brought to the light of the side that is lit, those that lay there, and the level with its
//! deepest shadow raised. Goes wrong: a field that is smoothed over a step is too dark beside it, and sheet that is brighter than the sheet passes for cloth;
//! shadow alone does not.
//!
//! A border is a straight line, sharp or soft, on one side of which logarithms of the light are lower by a constant a channel. It is sought among
//! all lines through the samples, each with the low polynomial that then fits best (least squares, large misses cut off), one border after
//! another, and believed where it explains most of what the polynomial alone leaves.

use super::SAMPLES;
use super::ground::Ground;
use super::light::Sample;
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;
use std::f64::consts::PI;

/// Samples the search looks at, and fewer tell nothing.
const LOOKED: usize = 360;
const FEW: usize = 60;
/// Directions and places of lines that are tried, and how far to either side they may be soft, as a share of half the picture's longer side.
const WAYS: usize = 24;
const PLACES: usize = 28;
const SOFT: [f64; 4] = [0.004, 0.03, 0.07, 0.13];
/// Logarithms are known to about this; misses count up to so many times as much, for cloth and print lie among the samples.
const SCATTER: f64 = 0.03;
const CUT_OFF: f64 = 3.0;
/// Without a border that is right, misses come to more than this, in squares of the scatter a sample; with it to this part of it at most.
const LEFT: f64 = 1.5;
const EXPLAINED: f64 = 0.55;
/// A shadow takes away more than this (natural logarithm), and leaves this part of the samples to both sides.
const LEAST: f64 = 0.1;
const PART: f64 = 0.06;
/// Most borders.
const MOST: usize = 4;
/// Unknowns: a polynomial of the second degree, and the step.
const TERMS: usize = 7;

/// Shadow that takes away more than this is raised to where it takes away that much: deeper, and sheet is no longer believed to be sheet.
const DEEP: f64 = 1.05;
const RAISED: f64 = 0.45;
/// Level px to both sides of its border, and of what is soft of that, where the border may be: there each pixel is raised to the light of the lit side as far as
/// shadow could have darkened it, for a strip of deep shadow left over is none that sheet may lie in, and a strip raised too much is brighter than sheet.
const STRIP: f64 = 6.0;

/// Samples of one sort.
pub(super) struct Samples {
    /// All of them, as if nothing shaded them.
    pub all: Vec<Sample>,
    /// Those that no shadow lies on.
    pub lit: Vec<Sample>,
}

/// Samples of the bare ground.
pub(super) struct Bared {
    /// Of the plain ground.
    pub plain: Samples,
    /// Of a checker's filled squares.
    pub dark: Samples,
    /// How many borders of shadow there are.
    pub borders: usize,
}

impl Bared {
    /// Takes them from a level, whose deepest shadow is raised; borders are sought where `shaded` says so.
    pub fn of(ground: &mut Ground, shaded: bool) -> Self {
        let none = Borders { found: Vec::new(), scale: 1.0, centre: [0.0; 2] };
        let (mut plain, mut dark) = ground.bare(SAMPLES);
        let of = |plain: &[Sample], ground: &Ground| Borders::of(plain, ground.level.width, ground.level.height);
        let mut borders = if shaded { of(&plain, ground) } else { none };
        if borders.raise(ground) {
            (plain, dark) = ground.bare(SAMPLES);
            borders = of(&plain, ground);
        }
        Self { plain: borders.part(plain), dark: borders.part(dark), borders: borders.found.len() }
    }
}

/// Borders of shadow across a level of the picture.
struct Borders {
    found: Vec<Border>,
    scale: f64,
    centre: [f64; 2],
}

impl Borders {
    /// Those that samples of bare ground show, of a level of `width` × `height` px.
    fn of(samples: &[Sample], width: usize, height: usize) -> Self {
        let scale = 2.0 / width.max(height) as f64;
        let mut out = Self { found: Vec::new(), scale, centre: [width as f64 / 2.0, height as f64 / 2.0] };
        while out.found.len() < MOST {
            let places: Vec<Place> = out.lifted(samples).iter().map(|s| Place::of(s, out.centre, scale)).collect();
            let Some(border) = found(&places) else { break };
            out.found.push(border);
        }
        out
    }

    /// Samples as if nothing shaded them, and those that nothing does.
    fn part(&self, samples: Vec<Sample>) -> Samples {
        let lit = samples.iter().filter(|s| self.gain(s.x, s.y).is_none()).copied().collect();
        Samples { all: self.lifted(&samples), lit }
    }

    /// Samples at the light of the side of every border that is lit.
    fn lifted(&self, samples: &[Sample]) -> Vec<Sample> {
        samples
            .iter()
            .map(|s| Sample { rgb: self.gain(s.x, s.y).map_or(s.rgb, |by| std::array::from_fn(|k| s.rgb[k] * by[k])), ..*s })
            .collect()
    }

    /// Raises deep shadow in the level to one that sheet may lie in; whether there is any.
    fn raise(&self, ground: &mut Ground) -> bool {
        let deep: Vec<&Border> = self.found.iter().filter(|b| b.step.into_iter().fold(0.0, f64::max) > DEEP).collect();
        if deep.is_empty() {
            return false;
        }
        let width = ground.level.width;
        ground.level.rgb.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            for (x, v) in row.iter_mut().enumerate() {
                let (u, w) = self.place(x as f64, y as f64);
                for border in &deep {
                    let raised = border.raised(*v, (u, w), STRIP * self.scale);
                    if raised > 0.0 {
                        *v = std::array::from_fn(|k| v[k] * (raised * border.step[k]).exp() as f32);
                    }
                }
            }
        });
        true
    }

    /// A place of the level in the picture's own coordinates.
    fn place(&self, x: f64, y: f64) -> (f64, f64) {
        ((x - self.centre[0]) * self.scale, (y - self.centre[1]) * self.scale)
    }

    /// What light is multiplied by at a place of the level for it to be lit; nothing where no shadow falls.
    fn gain(&self, x: f64, y: f64) -> Option<[f32; 3]> {
        let (u, v) = self.place(x, y);
        let mut sum = [0.0; 3];
        let mut any = false;
        for border in &self.found {
            let share = border.share(u, v);
            any |= share > 0.0;
            (0..3).for_each(|k| sum[k] += share * border.step[k]);
        }
        any.then(|| sum.map(|s| s.exp() as f32))
    }
}

/// A sample in the picture's own coordinates, with logarithms of its light.
struct Place {
    u: f64,
    v: f64,
    log: [f64; 3],
}

impl Place {
    fn of(s: &Sample, centre: [f64; 2], scale: f64) -> Self {
        Self { u: (s.x - centre[0]) * scale, v: (s.y - centre[1]) * scale, log: s.rgb.map(|v| f64::from(v.max(1e-4)).ln()) }
    }
}

fn row(u: f64, v: f64, share: f64) -> SVector<f64, TERMS> {
    SVector::from([1.0, u, v, u * u, u * v, v * v, share])
}

fn shade(log: [f64; 3]) -> f64 {
    0.3 * log[0] + 0.5 * log[1] + 0.2 * log[2]
}

/// A line; what lies further along `way` than `at` is in shadow.
#[derive(Clone, Copy, Debug)]
struct Border {
    way: [f64; 2],
    at: f64,
    soft: f64,
    /// What it takes away of each channel's logarithm.
    step: [f64; 3],
    /// Logarithm of the lit side's brightness, as a polynomial of the second degree.
    lit: [f64; TERMS],
}

impl Border {
    /// One of which no more is known.
    fn line(way: [f64; 2], at: f64, soft: f64) -> Self {
        Self { way, at, soft, step: [0.0; 3], lit: [0.0; TERMS] }
    }

    /// How much of the shadow falls on a place.
    fn share(&self, u: f64, v: f64) -> f64 {
        let t = (self.beyond(u, v) / (2.0 * self.soft) + 0.5).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    }

    /// How far a place lies beyond it.
    fn beyond(&self, u: f64, v: f64) -> f64 {
        self.way[0] * u + self.way[1] * v - self.at
    }

    /// By what share of the step light is raised at a place, the border known to within `strip`.
    fn raised(&self, light: [f32; 3], (u, v): (f64, f64), strip: f64) -> f64 {
        let (step, beyond) = (shade(self.step), self.beyond(u, v));
        if beyond.abs() > strip + self.soft {
            return if beyond > 0.0 { (1.0 - RAISED / step).max(0.0) } else { 0.0 };
        }
        let dark = SVector::from(self.lit).dot(&row(u, v, 0.0)) - shade(light.map(|v| f64::from(v.max(1e-4)).ln()));
        (dark / step).clamp(0.0, 1.0)
    }
}

/// The border that explains most.
fn found(places: &[Place]) -> Option<Border> {
    if places.len() < FEW {
        return None;
    }
    let some: Vec<&Place> = places.iter().step_by(places.len().div_ceil(LOOKED)).collect();
    let shades: Vec<f64> = some.iter().map(|p| shade(p.log)).collect();
    let (plain, _) = fitted(&some, &shades, |_| 0.0)?;
    if plain < LEFT {
        return None;
    }
    let tried = |border: Border| fitted(&some, &shades, |p| border.share(p.u, p.v)).map(|(left, terms)| (left, terms, border));
    let lines = (0..WAYS).flat_map(|k| {
        let way = (PI * k as f64 / WAYS as f64).sin_cos();
        let way = [way.1, way.0];
        let mut along: Vec<f64> = some.iter().map(|p| way[0] * p.u + way[1] * p.v).collect();
        along.sort_by(f64::total_cmp);
        let at = |share: f64| along[((along.len() - 1) as f64 * share) as usize];
        (0..PLACES).map(|i| Border::line(way, at(PART + (1.0 - 2.0 * PART) * i as f64 / (PLACES - 1) as f64), SOFT[1])).collect::<Vec<_>>()
    });
    let mut best = lines.filter_map(tried).min_by(|a, b| a.0.total_cmp(&b.0))?;
    // Nearer, ever finer, and as soft as fits best.
    let (mut turn, mut move_by) = (0.5 * PI / WAYS as f64, 1.0 / PLACES as f64);
    for _ in 0..6 {
        let own = best.2;
        let angle = own.way[1].atan2(own.way[0]);
        let near = [-1.0, 0.0, 1.0].into_iter().flat_map(|a| [-1.0, 0.0, 1.0].map(|b| (angle + a * turn, own.at + b * move_by)));
        let near = near.flat_map(|(angle, at)| SOFT.map(|soft| Border::line([angle.cos(), angle.sin()], at, soft)));
        best = near.filter_map(tried).fold(best, |best, next| if next.0 < best.0 { next } else { best });
        (turn, move_by) = (turn * 0.6, move_by * 0.6);
    }
    let (left, terms, border) = best;
    let step = terms[TERMS - 1];
    let lit = |share: f64| {
        let mut lit: [f64; TERMS] = terms.into();
        (lit[0], lit[TERMS - 1]) = (terms[0] + share * step, 0.0);
        lit
    };
    let border = match step > 0.0 {
        true => Border { way: border.way.map(|w| -w), at: -border.at, lit: lit(1.0), ..border },
        false => Border { lit: lit(0.0), ..border },
    };
    let beyond = some.iter().filter(|p| border.share(p.u, p.v) > 0.5).count() as f64 / some.len() as f64;
    if left > EXPLAINED * plain || step.abs() < LEAST || !(PART..=1.0 - PART).contains(&beyond) {
        return None;
    }
    // Each channel on its own.
    let channel = |k: usize| {
        let logs: Vec<f64> = some.iter().map(|p| p.log[k]).collect();
        fitted(&some, &logs, |p| border.share(p.u, p.v)).map(|f| -f.1[TERMS - 1])
    };
    let steps = [channel(0)?, channel(1)?, channel(2)?];
    steps.iter().all(|s| *s > 0.5 * LEAST).then_some(Border { step: steps, ..border })
}

/// Fits a polynomial with a step to values, far misses cut off: what is left a sample, in squares of the scatter, and its terms, the step last.
fn fitted(places: &[&Place], values: &[f64], share: impl Fn(&Place) -> f64) -> Option<(f64, SVector<f64, TERMS>)> {
    let rows: Vec<SVector<f64, TERMS>> = places.iter().map(|p| row(p.u, p.v, share(p))).collect();
    let mut weights = vec![1.0; rows.len()];
    let mut left = 0.0;
    let mut terms = SVector::<f64, TERMS>::zeros();
    for _ in 0..5 {
        let (mut normal, mut right) = (SMatrix::<f64, TERMS, TERMS>::identity() * 1e-6, SVector::<f64, TERMS>::zeros());
        for ((row, value), w) in rows.iter().zip(values).zip(&weights).filter(|(_, w)| **w > 0.0) {
            normal += row * row.transpose() * *w;
            right += row * (value * w);
        }
        terms = normal.cholesky()?.solve(&right);
        left = 0.0;
        for ((row, value), w) in rows.iter().zip(values).zip(&mut weights) {
            let off = (value - row.dot(&terms)) / SCATTER;
            left += (off * off).min(CUT_OFF * CUT_OFF);
            // Geman and McClure's weights: far misses hardly pull.
            *w = (CUT_OFF * CUT_OFF / (CUT_OFF * CUT_OFF + off * off)).powi(2);
        }
    }
    Some((left / rows.len() as f64, terms))
}
