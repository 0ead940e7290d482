//! The second, precise answer: the edge model fitted every millimetre along a band that follows the first answer.

use super::Settings;
use super::band::Band;
use super::edge::{ANY_ROLL, ANY_SHADOW, Fit, Prior, Profile, Shape, Table};
use super::guide::Guide;
use super::search::{Moves, best_path};
use super::tones::{Cover, Tones};
use crate::view::View;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Neighbouring errors are alike over about the window of a fit, mm.
pub(super) const CORRELATION: f64 = 3.0;

/// The line at one place.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Found {
    /// Column of the band.
    pub column: usize,
    /// Offset along the guide's normal, mm.
    pub offset: f64,
    /// Standard error of the offset, mm.
    pub error: f64,
    pub rival: bool,
    pub unseen: bool,
    pub cut: bool,
}

/// Offsets tried at first, mm: from minus to plus this, in steps well under the blur.
const TRY_MOST: f64 = 0.9;
const TRY_STEP: f64 = 0.15;
const TRIES: usize = 13;
/// Rows taken either side of the guide, mm.
const INNER: f64 = 3.2;
const OUTER: f64 = 3.2;
/// Neighbouring rows share light (interpolation, blur, texture): a row counts as this part of one.
const ROW_WORTH: f64 = 0.3;
/// The curved-edge correction holds while the bend is wide against the blur, 1/mm.
const MOST_BEND: f64 = 0.2;
/// Within this distance of a corner its columns see both of its edges, mm; what that costs, mm for each 1/mm of bend
/// beyond that of a round neckline.
const CORNER_REACH: f64 = 2.5;
const CORNER_ERROR: f64 = 1.0;
const PLAIN_BEND: f64 = 0.06;
/// No edge of cloth is known better than this, mm: threads stand out by some hundredths.
const ERROR_FLOOR: f64 = 0.02;

/// How much less than its noise says a channel is trusted.
const COARSE: [f64; 3] = [20.0, 1.0, 20.0];

/// One place where the edge is fitted.
struct Place {
    column: usize,
    profile: Profile,
    prior: Prior,
    /// Curvature of the guide here, and the sharpest within a window, 1/mm.
    bend: f64,
    sharpest: f64,
    /// Millimetres a pixel across the edge, as a step of `SCALE_STEP`.
    scale: i32,
    seen: bool,
    cut: bool,
}

/// Tables are shared by places whose pixels differ by less than this, relative.
const SCALE_STEP: f64 = 0.05;

/// Fits the edge about every `settings.step_mm` along the guide.
pub(super) fn find(
    band: &Band,
    guide: &Guide,
    view: &View,
    height: f64,
    tones: &Tones,
    cover: &Cover<'_>,
    settings: &Settings,
) -> Vec<Found> {
    let mut places = places(band, guide, &|k| pixel_mm(view, guide, k, height), tones, cover, settings);
    let (shape, noise) = measure_shape(&places);
    let tables = tables(&places, shape);
    places.iter_mut().for_each(|p| p.prior.noise = noise);
    light_rims(&mut places, guide, &tables);
    let tries: Vec<[f64; TRIES]> = places.par_iter().map(|p| if p.seen { p.tries(&tables[&p.scale]) } else { [0.0; TRIES] }).collect();
    let path = settle(&tries, guide.closed);
    places.par_iter().zip(&tries).zip(&path).map(|((p, t), row)| p.settle(&tables[&p.scale], t, *row)).collect()
}

/// Millimetres a pixel across the edge at column `k`.
fn pixel_mm(view: &View, guide: &Guide, k: usize, height: f64) -> f64 {
    let across = (view.local(guide.at[k], height).px_by_mm * guide.normal[k]).norm();
    if across > 1e-3 { 1.0 / across } else { 1.0 }
}

fn places(
    band: &Band,
    guide: &Guide,
    pixel: &(dyn Fn(usize) -> f64 + Sync),
    tones: &Tones,
    cover: &Cover<'_>,
    settings: &Settings,
) -> Vec<Place> {
    let n = guide.len();
    let count = ((n as f64 * guide.step / settings.step_mm).round() as usize).max(1);
    let rows: Vec<usize> = (0..band.rows()).filter(|r| (-INNER..=OUTER).contains(&band.offset(*r))).collect();
    let inked = inked(band, guide, cover, &rows);
    let reach = (0.75 * settings.window_mm / guide.step) as isize;
    (0..count)
        .into_par_iter()
        .map(|p| {
            let column = p * n / count;
            let mut sums = vec![[0.0f64; 5]; rows.len()];
            let mut full = 0.0;
            for d in -reach..=reach {
                let k = column as isize + d;
                if !guide.closed && (k < 0 || k >= n as isize) {
                    continue;
                }
                let k = k.rem_euclid(n as isize) as usize;
                let w = 1.0 - d.abs() as f64 / (reach + 1) as f64;
                full += w;
                let light = band.column(k);
                for (i, (r, s)) in rows.iter().zip(sums.iter_mut()).enumerate() {
                    let v = tones_of(light[*r]);
                    if v[0].is_finite() {
                        (0..3).for_each(|c| s[c] += w * f64::from(v[c]));
                        s[3] += w * f64::from(inked[k * rows.len() + i]);
                        s[4] += w;
                    }
                }
            }
            let mut profile = Profile::default();
            for (r, s) in rows.iter().zip(&sums).filter(|(_, s)| s[4] > 0.3 * full) {
                profile.offset.push(band.offset(*r));
                profile.light.push([s[0] / s[4], s[1] / s[4], s[2] / s[4]]);
                profile.cover.push(s[3] / s[4]);
                profile.weight.push(s[4] / full * trust(band.offset(*r)));
            }
            let middle = profile.offset.iter().filter(|o| o.abs() < 1.2).count();
            let seen = middle as f64 > 1.8 / band.across && profile.offset.len() > 16;
            let cut = !band.column(column)[band.half][0].is_finite();
            let prior = expect(&profile, tones.paper_at(column, n), tones.ink);
            Place {
                column,
                profile,
                prior,
                bend: guide.bend[column],
                sharpest: sharpest(guide, column),
                scale: (pixel(column).ln() / SCALE_STEP).round() as i32,
                seen,
                cut,
            }
        })
        .collect()
}

/// The sharpest bend within the length a fit looks at.
fn sharpest(guide: &Guide, column: usize) -> f64 {
    let (n, reach) = (guide.len() as isize, (CORNER_REACH / guide.step) as isize);
    let near = (-reach..=reach).map(|d| column as isize + d).filter(|k| guide.closed || (*k >= 0 && *k < n));
    near.map(|k| guide.bend[k.rem_euclid(n) as usize].abs()).fold(0.0, f64::max)
}

/// Share of ink at the given rows of every column; inside the cloth, where no sheet can be seen, nothing.
fn inked(band: &Band, guide: &Guide, cover: &Cover<'_>, rows: &[usize]) -> Vec<f32> {
    let mut out = vec![0f32; guide.len() * rows.len()];
    out.par_chunks_mut(rows.len()).enumerate().for_each(|(k, out)| {
        for (r, o) in rows.iter().zip(out).filter(|(r, _)| band.offset(**r) > -TRY_MOST - 0.6) {
            *o = cover.at(guide.at[k] + guide.normal[k] * band.offset(*r));
        }
    });
    out
}

/// Red, brightness and blue: what the fit sees as channels.
///
/// Cameras and JPEG keep colour at half the resolution and brightness in full, so brightness is rebuilt as it was coded
/// (JFIF's weights on encoded values, for which a square root stands here) and leads; red and blue help.
fn tones_of(v: [f32; 3]) -> [f32; 3] {
    let luma = 0.299 * v[0].max(0.0).sqrt() + 0.587 * v[1].max(0.0).sqrt() + 0.114 * v[2].max(0.0).sqrt();
    [v[0], luma * luma, v[2]]
}

/// Cloth far inside says little about the rim: stripes, stitches.
fn trust(offset: f64) -> f64 {
    (1.0 + 0.32 * (offset + 1.0).min(0.0)).max(0.3)
}

/// What a place expects: the cloth from the profile's own inner end, the paper from beside it.
fn expect(profile: &Profile, paper: [f32; 3], ink: [f32; 3]) -> Prior {
    let inked = tones_of(std::array::from_fn(|c| paper[c] * ink[c])).map(f64::from);
    let paper = tones_of(paper).map(f64::from);
    let ink: [f64; 3] = std::array::from_fn(|c| inked[c] / paper[c].max(1e-3));
    let inside: Vec<&[f64; 3]> = profile.offset.iter().zip(&profile.light).filter(|(o, _)| **o < -1.2).map(|(_, v)| v).collect();
    let cloth = std::array::from_fn(|c| {
        let mut v: Vec<f64> = inside.iter().map(|l| l[c]).collect();
        let mid = v.len() / 2;
        if v.is_empty() { 0.3 } else { *v.select_nth_unstable_by(mid, f64::total_cmp).1 }
    });
    // Grain grows with light; these start values are replaced by what the fits leave over.
    let noise = std::array::from_fn(|c| (0.004 + 0.01 * f64::max(cloth[c], paper[c])).powi(2));
    Prior { cloth, paper, ink, noise, roll: ANY_ROLL, shadow: ANY_SHADOW }
}

/// The shared tables, one a scale that occurs.
fn tables(places: &[Place], shape: Shape) -> BTreeMap<i32, Table> {
    let scales: BTreeSet<i32> = places.iter().map(|p| p.scale).collect();
    let scales: Vec<i32> = scales.into_iter().collect();
    let made: Vec<Table> =
        scales.par_iter().map(|s| Table::new(Shape { sigma: shape.sigma * (f64::from(*s) * SCALE_STEP).exp(), ..shape })).collect();
    scales.into_iter().zip(made).collect()
}

/// Measures what all places share, on some of them: blur (in pixels), roll, sharpening, and the noise per channel.
fn measure_shape(places: &[Place]) -> (Shape, [f64; 3]) {
    const PROBES: usize = 48;
    let seen: Vec<&Place> = places.iter().filter(|p| p.seen && !p.cut).collect();
    let probes: Vec<&Place> = seen.iter().copied().step_by(seen.len().div_ceil(PROBES).max(1)).collect();
    let mut best = Shape { sigma: 0.7, roll: 1.2, sharpen: 0.15 };
    let judge = |shape: Shape| -> f64 {
        let scales: BTreeSet<i32> = probes.iter().map(|p| p.scale).collect();
        let tables: BTreeMap<i32, Table> = scales
            .into_iter()
            .map(|s| (s, Table::new(Shape { sigma: shape.sigma * (f64::from(s) * SCALE_STEP).exp(), ..shape })))
            .collect();
        let fits: Vec<f64> =
            probes.par_iter().map(|p| (p.tries(&tables[&p.scale]).iter().fold(f64::INFINITY, |a, b| a.min(*b)) + 1e-6).ln()).collect();
        fits.iter().sum()
    };
    if !probes.is_empty() {
        // One at a time, twice: they hardly depend on each other.
        for round in 0..2 {
            let step = if round == 0 { 1.3 } else { 1.12 };
            best = least([1.0 / step / step, 1.0 / step, 1.0, step, step * step].map(|f| Shape { sigma: best.sigma * f, ..best }), &judge);
            if round == 0 {
                best = least([0.8, 1.2, 1.7, 2.4].map(|roll| Shape { roll, ..best }), &judge);
                best = least([0.0, 0.15, 0.3, 0.45].map(|sharpen| Shape { sharpen, ..best }), &judge);
            }
        }
    }
    let tables = tables(&probes.iter().map(|p| (*p).bare()).collect::<Vec<_>>(), best);
    let left: Vec<[f64; 3]> = probes.par_iter().map(|p| p.left_over(&tables[&p.scale])).collect();
    let noise = std::array::from_fn(|c| {
        let mut v: Vec<f64> = left.iter().map(|l| l[c]).collect();
        if v.is_empty() {
            return 1e-4;
        }
        let mid = v.len() / 2;
        COARSE[c] * v.select_nth_unstable_by(mid, f64::total_cmp).1.max(1e-7)
    });
    (best, noise)
}

/// Learns from every few places how light falls on the rolled rim and how deep the contact shadow is, and tells all.
///
/// A rim rolls towards its normal, so by Lambert's law its light is a constant and a part that goes with the normal's
/// direction; the shadow, cast by the cloth's thickness, likewise. Where cloth and sheet are alike this is what tells a
/// dark rim from a shadowed sheet.
fn light_rims(places: &mut [Place], guide: &Guide, tables: &BTreeMap<i32, Table>) {
    const EVERY: usize = 4;
    let probes: Vec<&Place> = places.iter().step_by(EVERY).filter(|p| p.seen && !p.cut).collect();
    let fits: Vec<(Vector3<f64>, Fit)> = probes
        .par_iter()
        .map(|p| {
            let n = guide.normal[p.column];
            (Vector3::new(1.0, n.x, n.y), p.best(&tables[&p.scale]).1)
        })
        .collect();
    let roll = harmonic(&fits.iter().map(|(n, f)| (*n, f.roll)).collect::<Vec<_>>());
    let shadow = harmonic(&fits.iter().map(|(n, f)| (*n, f.shadow)).collect::<Vec<_>>());
    for p in places {
        let n = guide.normal[p.column];
        let n = Vector3::new(1.0, n.x, n.y);
        p.prior.roll = roll.map_or(ANY_ROLL, |(k, sd)| (k.dot(&n), sd.min(ANY_ROLL.1)));
        p.prior.shadow = shadow.map_or(ANY_SHADOW, |(k, sd)| (k.dot(&n), sd.min(ANY_SHADOW.1)));
    }
}

/// Robust linear fit of values on (1, nx, ny), and the spread about it; `None` from too few.
fn harmonic(values: &[(Vector3<f64>, f64)]) -> Option<(Vector3<f64>, f64)> {
    if values.len() < 24 {
        return None;
    }
    let mut weights = vec![1.0; values.len()];
    let mut found = (Vector3::zeros(), 1.0);
    for _ in 0..6 {
        // A little ridge: all normals may point the same way.
        let mut a = Matrix3::from_diagonal(&Vector3::new(1e-6, 0.5, 0.5));
        let mut b = Vector3::zeros();
        for ((n, v), w) in values.iter().zip(&weights) {
            a += n * n.transpose() * *w;
            b += n * (*v * w);
        }
        let k = a.try_inverse()? * b;
        let mut away: Vec<f64> = values.iter().map(|(n, v)| (v - k.dot(n)).abs()).collect();
        weights = away.clone();
        let mid = away.len() / 2;
        // Median deviation to standard deviation of a normal law.
        let sd = (1.4826 * *away.select_nth_unstable_by(mid, f64::total_cmp).1).max(0.04);
        weights.iter_mut().for_each(|w| *w = 1.0 / (1.0 + (*w / (1.5 * sd)).powi(2)));
        found = (k, sd);
    }
    Some(found)
}

fn least<const N: usize>(shapes: [Shape; N], judge: &dyn Fn(Shape) -> f64) -> Shape {
    let mut best = (f64::INFINITY, shapes[0]);
    for s in shapes {
        let j = judge(s);
        if j < best.0 {
            best = (j, s);
        }
    }
    best.1
}

/// One offset tried for each place, by the best path through the tries: an outlier must pay for leaving its neighbours.
fn settle(tries: &[[f64; TRIES]], closed: bool) -> Vec<usize> {
    let cost: Vec<f32> = tries
        .iter()
        .flat_map(|t| {
            let low = t.iter().fold(f64::INFINITY, |a, b| a.min(*b));
            t.iter().map(move |v| ((v - low) * 0.5 * ROW_WORTH).min(12.0) as f32).collect::<Vec<_>>()
        })
        .collect();
    best_path(&cost, TRIES, closed, Moves { most: 3, price: 0.8 })
}

impl Place {
    fn tries(&self, table: &Table) -> [f64; TRIES] {
        std::array::from_fn(|i| self.profile.fit(table, &self.prior, i as f64 * TRY_STEP - TRY_MOST).misfit)
    }

    /// The place without its profile, for its scale.
    fn bare(&self) -> Place {
        Place { profile: Profile::default(), ..*self }
    }

    /// Mean square of what the best fit leaves, per channel.
    fn left_over(&self, table: &Table) -> [f64; 3] {
        let (d, fit) = self.best(table);
        self.profile.left_over(table, &fit, d)
    }

    /// The offset of least misfit among all tried, and the fit there.
    fn best(&self, table: &Table) -> (f64, Fit) {
        let tries = self.tries(table);
        let row = (0..TRIES).min_by(|a, b| tries[*a].total_cmp(&tries[*b])).unwrap_or(TRIES / 2);
        let (d, _) = self.refine(table, row as f64 * TRY_STEP - TRY_MOST);
        (d, self.profile.fit(table, &self.prior, d))
    }

    /// The offset of least misfit near `d`, and the misfit's second derivative there.
    fn refine(&self, table: &Table, mut d: f64) -> (f64, f64) {
        let f = |d: f64| self.profile.fit(table, &self.prior, d).misfit;
        let mut bend = 0.0;
        for step in [0.08, 0.04] {
            let (a, b, c) = (f(d - step), f(d), f(d + step));
            bend = (a - 2.0 * b + c) / (step * step);
            d += if bend > 0.0 { (0.5 * (a - c) / (bend * step)).clamp(-1.5 * step, 1.5 * step) } else { step * (a - c).signum() };
        }
        (d, bend)
    }

    /// The offset at the try the path went through, made precise, with its standard error.
    fn settle(&self, table: &Table, tries: &[f64; TRIES], row: usize) -> Found {
        if !self.seen {
            return Found { column: self.column, error: 1.0, unseen: true, cut: self.cut, ..Found::default() };
        }
        let (d, bend) = self.refine(table, row as f64 * TRY_STEP - TRY_MOST);
        // A blurred convex edge is seen too far inside by sigma² / 2R, a concave one too far outside (Mendonça et al.).
        let d = d + 0.5 * table.sigma() * table.sigma() * self.bend.clamp(-MOST_BEND, MOST_BEND);
        let corner = CORNER_ERROR * (self.sharpest - PLAIN_BEND).max(0.0);
        let mut variance = 2.0 / (ROW_WORTH * bend.max(1e-3)) + ERROR_FLOOR * ERROR_FLOOR + corner * corner;
        // Another valley among the tries, nearly as deep: it may be the right one.
        let (mut rival, own) = (false, tries[row]);
        for i in 1..TRIES - 1 {
            let away = i as f64 * TRY_STEP - TRY_MOST - d;
            if away.abs() > 0.3 && tries[i] <= tries[i - 1] && tries[i] <= tries[i + 1] {
                let odds = (-0.5 * ROW_WORTH * (tries[i] - own)).min(0.0).exp();
                let chance = odds / (1.0 + odds);
                variance += chance * away * away;
                rival |= chance > 0.1;
            }
        }
        Found { column: self.column, offset: d, error: variance.sqrt(), rival, unseen: false, cut: self.cut }
    }
}
