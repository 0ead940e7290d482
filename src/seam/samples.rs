//! What the places of an edge are averaged from: the rows of a band beside it, in the channels of the fit.

use super::Settings;
use super::band::Band;
use super::cast;
use super::edge::{ANY_ROLL, ANY_SHADOW, Profile};
use super::fine::{Alike, Place, SCALE_STEP, TRY_MOST, sharpest};
use super::guide::Guide;
use super::learn::Rows;
use super::strengths::Prior;
use super::tones::{Cover, Tones};
use rayon::prelude::*;

/// What the places are averaged from: rows of every column, column by column.
pub(super) struct Samples<'a> {
    /// The channels of the fit and the share of ink; nothing where nothing was seen.
    light: Vec<[f32; 4]>,
    /// Whether something was: 1 or 0.
    seen: Vec<f32>,
    rows: &'a Rows,
}

impl<'a> Samples<'a> {
    /// Of the `kept` rows of a band, which are `rows`.
    pub fn of(band: &Band, guide: &Guide, cover: &Cover<'_>, kept: &[usize], rows: &'a Rows) -> Self {
        let (light, seen) = seen(band, guide, cover, kept);
        Self { light, seen, rows }
    }

    /// The places along a guide; `pixel` is the size of one at a column, mm.
    pub fn places(&self, guide: &Guide, pixel: &(dyn Fn(usize) -> f64 + Sync), tones: &Tones, settings: &Settings) -> Vec<Place> {
        let n = guide.len();
        let count = ((n as f64 * guide.step / settings.step_mm).round() as usize).max(1);
        let reach = (0.75 * settings.window_mm / guide.step) as isize;
        let middle = self.rows.offset.iter().position(|o| *o >= 0.0).unwrap_or(0);
        (0..count)
            .into_par_iter()
            .map(|p| {
                let column = p * n / count;
                let (profile, seen) = self.profile(guide, column, reach);
                let (paper, strip) = beside(tones, guide, column);
                let prior = self.expect(&profile, paper, tones.ink);
                Place {
                    column,
                    profile,
                    prior,
                    bend: guide.bend[column],
                    sharpest: sharpest(guide, column),
                    alike: Alike { scale: (pixel(column).ln() / SCALE_STEP).round() as i32, cast: strip },
                    seen,
                    cut: self.seen[column * self.rows.offset.len() + middle] == 0.0,
                }
            })
            .collect()
    }

    /// The rows about `column`, averaged over `reach` columns either way (triangle), and whether enough was seen to fit.
    fn profile(&self, guide: &Guide, column: usize, reach: isize) -> (Profile, bool) {
        let (n, rows) = (guide.len() as isize, self.rows.offset.len());
        let (mut sums, mut counts) = (vec![[0f32; 4]; rows], vec![0f32; rows]);
        let mut full = 0.0;
        for d in -reach..=reach {
            let k = column as isize + d;
            if !guide.closed && (k < 0 || k >= n) {
                continue;
            }
            let k = k.rem_euclid(n) as usize * rows;
            let w = 1.0 - d.unsigned_abs() as f32 / (reach + 1) as f32;
            full += w;
            for (sum, light) in sums.iter_mut().zip(&self.light[k..k + rows]) {
                (0..4).for_each(|c| sum[c] += w * light[c]);
            }
            counts.iter_mut().zip(&self.seen[k..k + rows]).for_each(|(count, seen)| *count += w * seen);
        }
        // A row seen by under a third of the columns says nothing of this place.
        let share = |count: f32| if count > 0.3 * full { f64::from(count / full) } else { 0.0 };
        let shares: Vec<f64> = counts.iter().map(|count| share(*count)).collect();
        let means = sums.iter().zip(&counts).zip(&shares);
        let means = means.map(|((sum, count), share)| if *share > 0.0 { sum.map(|s| f64::from(s / count)) } else { [0.0; 4] });
        let (light, cover) = means.map(|[a, b, c, ink]| ([a, b, c], ink)).unzip();
        let weight = shares.iter().zip(&self.rows.trust).map(|(s, t)| s * t).collect();
        let near = self.rows.offset.iter().zip(&shares).filter(|(o, _)| o.abs() < 1.2);
        let (all, some) = near.fold((0.0, 0.0), |(a, b), (_, s)| (a + 1.0, b + s));
        (Profile::new(light, cover, weight, shares.iter().all(|s| *s > 0.999)), some > 0.75 * all)
    }

    /// What a place expects: the cloth from the profile's own inner end, the paper from beside it.
    fn expect(&self, profile: &Profile, paper: [f32; 3], ink: [f32; 3]) -> Prior {
        let inked = tones_of(std::array::from_fn(|c| paper[c] * ink[c])).map(f64::from);
        let paper = tones_of(paper).map(f64::from);
        let ink: [f64; 3] = std::array::from_fn(|c| inked[c] / paper[c].max(1e-3));
        let cloth = profile.middle(|i| self.rows.offset[i] < -1.2).unwrap_or([0.3; 3]);
        // Grain grows with light; these start values are replaced by what the fits leave over.
        let noise = std::array::from_fn(|c| (0.004 + 0.01 * f64::max(cloth[c], paper[c])).powi(2));
        Prior { cloth, paper, ink, noise, roll: ANY_ROLL, shadow: ANY_SHADOW }
    }
}

/// Light of the sheet beyond the edge at a column, and the width of a lamp's strip of shade there, in steps. Where that is wider than can be
/// seen, all of the sheet lies in shade.
fn beside(tones: &Tones, guide: &Guide, column: usize) -> ([f32; 3], i32) {
    let n = guide.len();
    let Some(lamp) = &tones.lamp else { return (tones.paper_at(column, n), 0) };
    let (lit, width) = (tones.lit_at(column, n), lamp.width(guide, column, cast::WIDEST + cast::STEP));
    if width > cast::WIDEST { (std::array::from_fn(|c| lit[c] * lamp.left[c]), 0) } else { (lit, cast::steps(width)) }
}

/// The channels of the fit and the share of ink at the given rows of every column, and whether they were seen. Inside the cloth, where no
/// sheet can be seen, there is no ink.
fn seen(band: &Band, guide: &Guide, cover: &Cover<'_>, rows: &[usize]) -> (Vec<[f32; 4]>, Vec<f32>) {
    let (mut light, mut seen) = (vec![[0f32; 4]; band.columns() * rows.len()], vec![0f32; band.columns() * rows.len()]);
    light.par_chunks_mut(rows.len()).zip(seen.par_chunks_mut(rows.len())).enumerate().for_each(|(k, (light, seen))| {
        let column = band.column(k);
        for ((row, light), seen) in rows.iter().zip(light).zip(seen).filter(|((row, _), _)| column[**row][0].is_finite()) {
            let ([a, b, c], offset) = (tones_of(column[*row]), band.offset(*row));
            let ink = if offset > -TRY_MOST - 0.6 { cover.at(guide.at[k] + guide.normal[k] * offset) } else { 0.0 };
            (*light, *seen) = ([a, b, c, ink], 1.0);
        }
    });
    (light, seen)
}

/// Red, brightness and blue: what the fit sees as channels.
///
/// Cameras and JPEG keep colour at half the resolution and brightness in full, so brightness is rebuilt as it was coded
/// (JFIF's weights on encoded values, for which a square root stands here) and leads; red and blue help.
fn tones_of(v: [f32; 3]) -> [f32; 3] {
    let luma = 0.299 * v[0].max(0.0).sqrt() + 0.587 * v[1].max(0.0).sqrt() + 0.114 * v[2].max(0.0).sqrt();
    [v[0], luma * luma, v[2]]
}
