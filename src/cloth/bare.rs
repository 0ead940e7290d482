//! The sheet as it lay before the garment was put on it: a picture of it bare, tissue and all, taken from about the same place.
//!
//! It tells what no estimate from around the garment can: the light under it, where tissue, stains and print lie. What the
//! ground looked like then is divided out, so that its edges are none; and wherever it had an edge or a mark, a pixel that still
//! looks as it did is bare sheet, and one that does not is covered.

use super::evidence::{Evidence, Noise, PLAIN, Tell, judge, ratio, shade};
use super::ground::Ground;
use super::light::{Sample, SheetLight};
use crate::shot::{Level, Shot, to_level, to_picture};
use crate::view::View;
use rayon::prelude::*;
use std::sync::Arc;

/// The bare sheet in a picture of its own.
#[derive(Clone, Debug)]
pub struct BareSheet {
    /// The picture.
    pub shot: Arc<Shot>,
    /// Its view, in the axes of the sheet as the garment's picture has them.
    pub view: View,
}

/// Distance of the places where both views are asked, level px; between them the answer is interpolated.
const STEP: usize = 16;
/// Distance of the places where the ground is sampled, level px.
const EVERY: usize = 14;
/// The two exposures may differ by so much (natural logarithm, one channel), and how many samples tell; more would follow the cloth.
const FEW: usize = 24;
/// Reach of the mean that stands in for the ground under a mark, and of the one that an edge stands out from, level px.
const AROUND: usize = 5;
/// How far the two pictures may be out against each other, level px: a mark's flank changes by its slope over that.
const OUT: f32 = 0.3;
/// An edge or mark stands out when it is so many times as strong as what two pictures of it differ by.
const CLEAR: f32 = 3.0;
/// What a pixel says that stood out and still looks the same.
const SAME: f32 = -2.0;
/// Of the places round seen nodes at least this share must look as before, or it is another sheet or another place.
const ALIKE: f64 = 0.4;
/// Limits of what is divided out: beyond them it is no ground.
const DIVIDED: [f32; 2] = [0.15, 6.0];

/// What the garment's picture would be without the garment.
pub(super) struct Expected {
    /// Light of each pixel of the level; not finite where the bare picture does not reach.
    rgb: Vec<[f32; 3]>,
    /// The same without marks.
    ground: Vec<[f32; 3]>,
    /// The garment's picture, before anything was divided out.
    seen: Vec<[f32; 3]>,
    /// The smooth part of the light.
    pub light: SheetLight,
    noise: Noise,
}

impl Expected {
    /// Lays the bare sheet into the level of the garment's picture, at the same exposure. `None` where the two do not fit: the
    /// sheet lies otherwise, or too little of it is in both.
    pub fn of(bare: &BareSheet, ground: &Ground, samples: &[Sample]) -> Option<Self> {
        let (width, height) = (ground.level.width, ground.level.height);
        let mut rgb = seen_from(bare, ground);
        let at = |rgb: &[[f32; 3]], s: &Sample| rgb[(s.y.round() as usize).min(height - 1) * width + (s.x.round() as usize).min(width - 1)];
        let known = |rgb: &[[f32; 3]], s: &&Sample| at(rgb, s)[0].is_finite();
        // How the exposures differ, over the picture.
        let gains = samples.iter().filter(|s| known(&rgb, s)).map(|s| {
            let was = at(&rgb, s);
            Sample { rgb: std::array::from_fn(|k| (s.rgb[k] + 0.002) / (was[k] + 0.002)), ..*s }
        });
        let gains: Vec<Sample> = gains.collect();
        if gains.len() < FEW {
            return None;
        }
        let gain = SheetLight::fit(&gains, ground.level.factor, width, height)?;
        rgb.par_chunks_mut(width).enumerate().for_each_init(Vec::new, |lights, (y, row)| {
            gain.row(y, width, lights);
            row.iter_mut().zip(lights.iter()).for_each(|(v, g)| *v = std::array::from_fn(|k| v[k] * g[k]));
        });
        let off = |s: &Sample| shade(ratio(s.rgb, at(&rgb, s))).abs();
        let noise = Noise::between(samples.iter().filter(|s| known(&rgb, s)).map(|s| ratio(s.rgb, at(&rgb, s))));
        let alike = samples.iter().filter(|s| known(&rgb, s)).filter(|s| off(s) < 3.0 * noise.shade + 0.1).count();
        if (alike as f64) < ALIKE * samples.len() as f64 || noise.shade > 0.1 {
            return None;
        }
        let plain = unmarked(&rgb, ground);
        let all = (0..height).step_by(EVERY).flat_map(|y| (0..width).step_by(EVERY).map(move |x| (x, y)));
        let all = all.filter(|&(x, y)| {
            let [a, b, ..] = ground.coords(x, y);
            ground.within(a, b, 1.0) && plain[y * width + x][0].is_finite()
        });
        let all: Vec<Sample> = all.map(|(x, y)| Sample { x: x as f64, y: y as f64, rgb: plain[y * width + x] }).collect();
        let light = SheetLight::fit(&all, ground.level.factor, width, height)?;
        Some(Self { rgb, ground: plain, seen: ground.level.rgb.clone(), light, noise })
    }

    /// What [`Expected::even_out`] multiplies the light of each pixel by, against the most anywhere, so that nothing gets brighter.
    pub fn evening(&self, factor: usize, width: usize) -> Level {
        let mut rgb = vec![[1.0; 3]; self.ground.len()];
        self.even(&mut rgb, width);
        let most = rgb.iter().flatten().copied().fold(1.0, f32::max);
        rgb.iter_mut().flatten().for_each(|v| *v /= most);
        Level { factor, width, height: rgb.len() / width.max(1), rgb }
    }

    /// Divides out of the level what the ground had of its own beside smooth light: tissue, stains, print, shadow of the room.
    pub fn even_out(&self, ground: &mut Ground) {
        let width = ground.level.width;
        self.even(&mut ground.level.rgb, width);
    }

    fn even(&self, rgb: &mut [[f32; 3]], width: usize) {
        rgb.par_chunks_mut(width).enumerate().for_each_init(Vec::new, |lights, (y, row)| {
            self.light.row(y, width, lights);
            for (x, v) in row.iter_mut().enumerate() {
                let was = self.ground[y * width + x];
                if was[0].is_finite() {
                    *v = std::array::from_fn(|k| v[k] * (lights[x][k] / was[k].max(1e-4)).clamp(DIVIDED[0], DIVIDED[1]));
                }
            }
        });
    }

    /// What the comparison says: where the bare sheet had a mark or an edge, that it is still there, or gone.
    pub fn settle(&self, evidence: &mut Evidence) {
        let (width, height) = (evidence.width, evidence.height);
        let rows = evidence.lean.par_chunks_mut(width).zip(evidence.tell.par_chunks_mut(width)).zip(evidence.present.par_chunks_mut(width));
        rows.enumerate().filter(|(y, _)| (1..height - 1).contains(y)).for_each(|(y, ((lean, tell), present))| {
            for x in 1..width - 1 {
                let n = y * width + x;
                let Some((r, slope)) = self.change(n, width) else { continue };
                let noise = Noise { shade: self.noise.shade + slope, colour: self.noise.colour + slope };
                let apart = shade(ratio(self.rgb[n], self.ground[n])).abs();
                let still = CLEAR * noise.shade + 0.02;
                let said = judge(r, noise);
                if said > 0.0 {
                    lean[x] = lean[x].max(said);
                    if said >= PLAIN {
                        tell[x] = Tell::Other;
                    }
                } else if apart > still && shade(r).abs() < 0.4 * apart {
                    (lean[x], tell[x], present[x]) = (lean[x].min(SAME), Tell::Open, true);
                } else if tell[x] != Tell::Other && self.rgb[n] != self.ground[n] && apart < still {
                    // No mark was to be seen here before either.
                    lean[x] = lean[x].min(0.0);
                }
            }
        });
    }

    /// How a pixel changed, as the logarithm of its light against what was expected, and by how much that may be out for the slope
    /// of the picture there.
    fn change(&self, n: usize, width: usize) -> Option<([f32; 3], f32)> {
        let was = self.rgb[n];
        let beside = [n - 1, n + 1, n - width, n + width].map(|m| self.rgb[m]);
        if !was[0].is_finite() || beside.iter().any(|b| !b[0].is_finite()) {
            return None;
        }
        let slope = beside.iter().map(|b| shade(ratio(*b, was)).abs()).fold(0.0, f32::max);
        Some((ratio(self.seen[n], was), OUT * slope))
    }
}

/// The bare picture as seen from where the garment's was taken, on that one's level.
fn seen_from(bare: &BareSheet, ground: &Ground) -> Vec<[f32; 3]> {
    let (width, height) = (ground.level.width, ground.level.height);
    // A level about as coarse.
    let scale = bare.shot.width.max(bare.shot.height) as f64 / (width.max(height) as f64);
    let level = bare.shot.level((scale.round() as usize).max(1));
    let (cols, rows) = (width / STEP + 2, height / STEP + 2);
    let place = |n: usize| -> [f64; 2] {
        let p = to_picture(ground.level.factor, (n % cols * STEP) as f64, (n / cols * STEP) as f64);
        ground.view().to_mm(p, 0.0).map_or([f64::NAN; 2], |at| to_level(level.factor, bare.view.to_px(at, 0.0)).into())
    };
    let places: Vec<[f64; 2]> = (0..cols * rows).map(place).collect();
    let mut out = vec![[f32::NAN; 3]; width * height];
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let v = (y % STEP) as f64 / STEP as f64;
        for (x, out) in row.iter_mut().enumerate() {
            let u = (x % STEP) as f64 / STEP as f64;
            let n = y / STEP * cols + x / STEP;
            let [a, b, c, d] = [places[n], places[n + 1], places[n + cols], places[n + cols + 1]];
            let at: [f64; 2] = std::array::from_fn(|k| (a[k] * (1.0 - u) + b[k] * u) * (1.0 - v) + (c[k] * (1.0 - u) + d[k] * u) * v);
            if let Some(light) = level.sample(at[0] as f32, at[1] as f32) {
                *out = light;
            }
        }
    });
    out
}

/// A level without the sheet's marks: where one may be, the mean of the ground round it.
fn unmarked(rgb: &[[f32; 3]], ground: &Ground) -> Vec<[f32; 3]> {
    let (width, height) = (ground.level.width, ground.level.height);
    let mut free = vec![false; width * height];
    free.par_chunks_mut(width).enumerate().for_each_init(Vec::new, |coords, (y, row)| {
        ground.row(y, coords);
        row.iter_mut().enumerate().for_each(|(x, free)| *free = rgb[y * width + x][0].is_finite() && !ground.on_mark(coords[x]));
    });
    let mut out = vec![[f32::NAN; 3]; width * height];
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, out) in row.iter_mut().enumerate() {
            let n = y * width + x;
            if free[n] || !rgb[n][0].is_finite() {
                *out = rgb[n];
                continue;
            }
            let (mut sum, mut count) = ([0.0; 3], 0.0);
            for v in y.saturating_sub(AROUND)..(y + AROUND + 1).min(height) {
                for u in x.saturating_sub(AROUND)..(x + AROUND + 1).min(width) {
                    let m = v * width + u;
                    if free[m] {
                        (0..3).for_each(|k| sum[k] += rgb[m][k]);
                        count += 1.0;
                    }
                }
            }
            if count > 0.0 {
                *out = sum.map(|s| s / count);
            }
        }
    });
    out
}
