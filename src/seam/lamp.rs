//! The shadow a lamp casts beside the cloth.
//!
//! In: the wide band, and the first answer in it. Out: by how far the lamp moves the cloth's outline on the sheet, and how much light is
//! left there. One vector moves the shadow of the whole edge, so that the strip of shade beside a place is as wide as the vector reaches
//! along the normal, and there is none on the lit side: two numbers, which every place on the shaded side confirms by a step of light where
//! they say. What can go wrong: soft shadow has no step, and is left to the contact shadow; a dark line along a hem is a step too, but not
//! at a distance that goes with the normal.

use super::band::Band;
use super::guide::Guide;
use super::tones::{Cover, Light, luma};
use crate::solve::median;
use nalgebra::Vector2;
use rayon::prelude::*;

/// A lamp stands no lower than throws a shadow this many times as long as its edge is high.
const LOW_LAMP: f64 = 4.0;
/// Narrower strips are like the contact shadow, mm.
const NARROWEST: f64 = 0.9;
/// Places asked lie this far apart, mm.
const APART: f64 = 3.0;
/// Steps of a strip's width, mm.
const STEP: f64 = 0.25;
/// The light on either side of a strip's end is taken from here to there, mm.
const BESIDE: (f64, f64) = (0.3, 0.9);
/// Directions tried.
const TURNS: usize = 72;
/// A place speaks for a shift by the step of light it sees, as a logarithm, less this; at most `MOST`, at least minus `MOST`.
const PRICE: f64 = 0.1;
const MOST: f64 = 0.3;
/// Steps that make up a shadow are so strong in the mean, and of the places asked so many show at least half as much.
const STRONG: f64 = 0.22;
const SHOWN: f64 = 0.65;
/// At least so many places must be asked.
const ASKED: usize = 12;
/// A shadow that leaves more of the light than this is none that a lamp casts: soft ones fade too slowly for a strip.
const FAINT: f32 = 0.75;
/// More of a ruled line than this would pass for a step.
const RULED: f32 = 0.04;

/// One lamp's shadow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lamp {
    /// From a point of the edge to its shadow on the sheet, mm.
    pub shift: Vector2<f64>,
    /// Light left there, of that on the lit sheet.
    pub left: Light,
    /// What all places say for it, in steps of light as logarithms.
    pub told: f64,
}

/// What one place sees beyond the edge.
struct Asked {
    normal: Vector2<f64>,
    /// Step of light at each width, from shade to light, as a logarithm; not a number where it can't be told.
    steps: Vec<f64>,
}

impl Asked {
    /// The step at a width, between those measured.
    fn at(&self, width: f64) -> Option<f64> {
        let x = (width - NARROWEST) / STEP;
        // Rounded down without asking for it, which is a call where the processor has no instruction for it.
        let k = if x >= 0.0 { x as u32 } else { return None };
        let [a, b] = self.steps.get(k as usize..)?.first_chunk()?;
        let v = a + (b - a) * (x - f64::from(k));
        v.is_finite().then_some(v)
    }
}

/// Of the shadows that two looks found, the one that more speaks for.
pub(super) fn surer(a: Option<Lamp>, b: Option<Lamp>) -> Option<Lamp> {
    a.into_iter().chain(b).max_by(|a, b| a.told.total_cmp(&b.told))
}

/// Looks for a lamp's shadow of an edge `height` mm high that lies `offsets` off the guide of a band.
pub(super) fn seek(band: &Band, guide: &Guide, offsets: &[f64], cover: &Cover<'_>, height: f64) -> Option<Lamp> {
    let farthest = LOW_LAMP * height;
    if farthest < NARROWEST + STEP {
        return None;
    }
    let stride = ((APART / guide.step) as usize).max(1);
    let columns: Vec<usize> = (0..guide.len()).step_by(stride).collect();
    let asked: Vec<Asked> = columns.par_iter().map(|k| ask(band, guide, *k, offsets[*k], cover)).collect();
    let (shift, told) = best(&asked, farthest)?;
    let left = left(band, guide, offsets, &columns, shift);
    (luma(left) < FAINT).then_some(Lamp { shift, left, told })
}

/// The mean light of a column between two distances from the edge, out of ruled lines.
fn mean(band: &Band, k: usize, offset: f64, (from, to): (f64, f64), bare: &dyn Fn(usize) -> bool) -> Option<Light> {
    let row = |d: f64| ((offset + d) / band.across + band.half as f64).max(0.0);
    let (from, to) = (row(from).ceil() as usize, row(to).floor() as usize);
    let (mut sum, mut n) = ([0.0f32; 3], 0.0f32);
    for r in from..=to.min(band.rows() - 1) {
        let v = band.column(k)[r];
        if v[0].is_finite() && bare(r) {
            (0..3).for_each(|c| sum[c] += v[c]);
            n += 1.0;
        }
    }
    (n >= 2.0 && to < band.rows()).then(|| sum.map(|s| s / n))
}

/// Either side of a strip of shade that ends at `width`: shade, light.
fn sides(band: &Band, k: usize, offset: f64, width: f64, bare: &dyn Fn(usize) -> bool) -> Option<(Light, Light)> {
    let inner = ((width - BESIDE.1).max(0.4), width - BESIDE.0);
    Some((mean(band, k, offset, inner, bare)?, mean(band, k, offset, (width + BESIDE.0, width + BESIDE.1), bare)?))
}

fn ask(band: &Band, guide: &Guide, k: usize, offset: f64, cover: &Cover<'_>) -> Asked {
    let bare: Vec<bool> = (0..band.rows()).map(|r| cover.at(guide.at[k] + guide.normal[k] * band.offset(r)) < RULED).collect();
    let reach = band.offset(band.rows() - 1) - offset - BESIDE.1;
    let count = ((reach - NARROWEST) / STEP).max(0.0) as usize;
    let step = |w: usize| {
        let both = sides(band, k, offset, NARROWEST + w as f64 * STEP, &|r| bare[r]);
        both.map_or(f64::NAN, |(shade, light)| f64::from((luma(light).max(1e-4) / luma(shade).max(1e-4)).ln()))
    };
    Asked { normal: guide.normal[k], steps: (0..count).map(step).collect() }
}

/// The shift that most places confirm, and by how much they do; `None` when too few do.
fn best(asked: &[Asked], farthest: f64) -> Option<(Vector2<f64>, f64)> {
    let gain = |shift: Vector2<f64>| -> f64 {
        asked.iter().filter_map(|a| a.at(shift.dot(&a.normal))).map(|step| (step - PRICE).clamp(-MOST, MOST)).sum()
    };
    let reaches = (farthest.min(12.0) / STEP) as usize;
    let tried = (0..TURNS).flat_map(|a| {
        let (y, x) = (a as f64 * std::f64::consts::TAU / TURNS as f64).sin_cos();
        (4..=reaches).map(move |r| Vector2::new(x, y) * (r as f64 * STEP))
    });
    let (mut shift, mut most) = tried.map(|s| (s, gain(s))).max_by(|a, b| a.1.total_cmp(&b.1))?;
    // Finer: by eighths of a step until nothing is gained.
    for _ in 0..40 {
        let near =
            (0..8).map(|k| (f64::from(k) * std::f64::consts::FRAC_PI_4).sin_cos()).map(|(y, x)| shift + Vector2::new(x, y) * 0.25 * STEP);
        match near.map(|s| (s, gain(s))).max_by(|a, b| a.1.total_cmp(&b.1)) {
            Some((s, g)) if g > most => (shift, most) = (s, g),
            _ => break,
        }
    }
    let steps: Vec<f64> = asked.iter().filter_map(|a| a.at(shift.dot(&a.normal))).collect();
    let count = steps.len() as f64;
    let shown = steps.iter().filter(|s| **s > 0.5 * STRONG).count() as f64;
    (steps.len() >= ASKED && steps.iter().sum::<f64>() > STRONG * count && shown > SHOWN * count).then_some((shift, most))
}

/// Light left in the shadow, of that beyond it: the middle one of all places that see both.
fn left(band: &Band, guide: &Guide, offsets: &[f64], columns: &[usize], shift: Vector2<f64>) -> Light {
    let seen: Vec<(Light, Light)> = columns
        .iter()
        .filter_map(|k| {
            let width = shift.dot(&guide.normal[*k]);
            (width >= NARROWEST).then(|| sides(band, *k, offsets[*k], width, &|_| true)).flatten()
        })
        .collect();
    std::array::from_fn(|c| {
        median(&mut seen.iter().map(|(s, l)| s[c] / l[c].max(1e-4)).collect::<Vec<_>>()).unwrap_or(1.0).clamp(0.05, 1.0)
    })
}

impl Lamp {
    /// Part of the light that the shadow takes.
    pub fn depth(&self) -> f64 {
        1.0 - f64::from(luma(self.left))
    }

    /// Width of the strip of shade at a column of a guide along the edge, mm: along the normal to where the moved edge is crossed on the way
    /// out. 0 where the light reaches the edge; no more than `most`, which stands for all that is wider.
    pub fn width(&self, guide: &Guide, k: usize, most: f64) -> f64 {
        let (at, normal) = (guide.at[k], guide.normal[k]);
        let n = guide.len() as isize;
        // The moved edge is looked at by legs of about a millimetre, as far along as may matter.
        let leg = ((1.0 / guide.step) as isize).max(1);
        let far = ((1.5 * self.shift.norm() + 2.0 * most) / guide.step) as isize / leg;
        let place = |j: isize| {
            let j = k as isize + j * leg;
            let j = if guide.closed { j.rem_euclid(n) } else { j.clamp(0, n - 1) };
            guide.at[j as usize] + self.shift - at
        };
        // The nearest crossing on the way out, and whether it leaves the shadow there; the nearest leg, and whether the place lies beyond it.
        let mut nearest: Option<(f64, bool)> = None;
        let mut beside = (f64::INFINITY, false);
        for j in -far..far {
            let (a, b) = (place(j), place(j + 1));
            let along = b - a;
            let outward = Vector2::new(along.y, -along.x);
            let foot = a + along * (-a.dot(&along) / along.norm_squared().max(1e-12)).clamp(0.0, 1.0);
            if foot.norm() < beside.0 {
                beside = (foot.norm(), foot.dot(&outward) < 0.0);
            }
            let (sa, sb) = (normal.perp(&a), normal.perp(&b));
            if (sa <= 0.0) == (sb <= 0.0) {
                continue;
            }
            let t = sa / (sa - sb);
            let out = (a + along * t).dot(&normal);
            let leaves = outward.dot(&normal) > 0.0;
            if out > 0.0 && nearest.is_none_or(|(w, _)| out < w) {
                nearest = Some((out, leaves));
            }
        }
        match nearest {
            Some((w, true)) => w.min(most),
            Some((_, false)) => 0.0,
            // No end of the shadow that way: all of it is, or nothing.
            None if self.shift.dot(&normal) > 0.0 && !beside.1 => most,
            None => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Mm;

    fn square() -> Guide {
        let corner = [[-60.0, -60.0], [60.0, -60.0], [60.0, 60.0], [-60.0, 60.0]];
        Guide::new(&corner.map(|[x, y]| Mm::new(x, y)), true, 0.25, 0.3).expect("a path")
    }

    /// Places round a circle that see a step where one shift says, and those that see none.
    #[test]
    fn one_shift_explains_all_steps() {
        let shift = Vector2::new(2.4, 1.8);
        let places = |depth: f64| -> Vec<Asked> {
            (0..120)
                .map(|k| {
                    let (y, x) = (f64::from(k) * 0.05236).sin_cos();
                    let normal = Vector2::new(x, y);
                    let end = shift.dot(&normal);
                    let steps = (0..18).map(|w| depth * (1.0 - (NARROWEST + f64::from(w) * STEP - end).abs() / 0.6).max(0.0)).collect();
                    Asked { normal, steps }
                })
                .collect()
        };
        let (found, _) = best(&places(0.4), 10.0).expect("a shadow");
        assert!((found - shift).norm() < 0.2, "{found}");
        assert_eq!(best(&places(0.05), 10.0), None);
        // An edge 0.2 mm high throws no shadow of 3 mm.
        assert_eq!(best(&places(0.4), 0.8), None);
    }

    #[test]
    fn strips_of_a_square_are_as_wide_as_the_shift_and_begin_behind_its_corners() {
        let guide = square();
        let lamp = Lamp { shift: Vector2::new(2.0, -1.0), left: [0.5; 3], told: 1.0 };
        let at = |x: f64, y: f64| {
            let k = (0..guide.len()).min_by(|a, b| guide.at[*a].distance(Mm::new(x, y)).total_cmp(&guide.at[*b].distance(Mm::new(x, y))));
            lamp.width(&guide, k.expect("points"), 3.0)
        };
        let out = guide.normal[guide.len() / 8];
        assert!(guide.at[guide.len() / 8].vector().dot(&out) > 0.0, "normals point out");
        assert!((at(60.0, 0.0) - 2.0).abs() < 0.05 && (at(0.0, -60.0) - 1.0).abs() < 0.05);
        assert!(at(-60.0, 0.0) == 0.0 && at(0.0, 60.0) == 0.0);
        // The shadow of the upper edge begins as far from its left corner as the shift goes to the right.
        assert!(at(-57.0, -60.0) > 0.9 && at(-58.9, -60.0) == 0.0);
    }
}
