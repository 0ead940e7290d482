//! The second, precise answer: the edge model fitted every millimetre along a band that follows the first answer.

use super::Settings;
use super::band::Band;
use super::cast;
use super::edge::{Fit, NODES, Plan, Profile, node};
use super::guide::Guide;
use super::lamp::Lamp;
use super::learn::{Rows, light_rims, measure_shape};
use super::samples::Samples;
use super::search::{Moves, best_path};
use super::shapes::{Shadow, Shape};
use super::strengths::{Belief, Prior};
use super::tones::{Cover, Tones};
use crate::solve::median;
use crate::view::View;
use rayon::prelude::*;
use std::collections::BTreeMap;

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
    /// What the best fit leaves, over the noise.
    misfit: f64,
}

/// Nodes tried at first, every third from -0.9 to 0.9 mm: steps well under the blur.
pub(super) const TRY_EVERY: usize = 3;
const TRY_FIRST: usize = 6;
const TRIES: usize = 13;
/// The most that a try may cost the path, as a negative logarithm of likelihood.
const DEAREST: f64 = 12.0;
/// The farthest offset tried, mm.
pub(super) const TRY_MOST: f64 = 0.9;
/// Rows taken either side of the guide, mm.
const INNER: f64 = 3.2;
const OUTER: f64 = 3.2;
/// Neighbouring rows share light (interpolation, blur, texture): a row counts as this part of one.
const ROW_WORTH: f64 = 0.3;
/// Nor is an edge known better than this share of a pixel: cameras blur, sharpen and code in ways of their own.
const PIXEL_FLOOR: f64 = 0.05;
/// Part of the jumps from fit to fit that is the fits' and not the cloth's own roughness.
const SCATTER_WORTH: f64 = 0.7;
/// A fit that leaves so many times what most leave is no worse than they are; one that leaves more is as much worse as its
/// residuals (Birge 1932), up to a factor.
const USUAL_MISFIT: f64 = 1.25;
const MOST_MISFIT: f64 = 3.0;
/// A point worse than this says no more than that it was sought here, mm.
const MOST_ERROR: f64 = 2.0;
/// What the model leaves over at best, as light, and of the step between the sides.
const MODEL_FLOOR: f64 = 0.003;
const MODEL_SHARE: f64 = 0.01;
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
pub(super) const COARSE: [f64; 3] = [20.0, 1.0, 20.0];

/// One place where the edge is fitted.
pub(super) struct Place {
    pub column: usize,
    pub profile: Profile,
    pub prior: Prior,
    /// Curvature of the guide here, and the sharpest within a window, 1/mm.
    pub bend: f64,
    pub sharpest: f64,
    pub alike: Alike,
    pub seen: bool,
    pub cut: bool,
}

/// What decides how the model is laid out at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Alike {
    /// Millimetres a pixel across the edge, as a step of `SCALE_STEP`.
    pub scale: i32,
    /// Width of the strip of shade a lamp casts there, in steps of `cast::STEP`.
    pub cast: i32,
}

/// The contact shadow takes about this part of the light, before it is measured.
const CONTACT: f64 = 0.2;
/// Tables are shared by places whose pixels differ by less than this, relative.
pub(super) const SCALE_STEP: f64 = 0.05;

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
    let kept: Vec<usize> = (0..band.rows()).filter(|r| (-INNER..=OUTER).contains(&band.offset(*r))).collect();
    let offset: Vec<f64> = kept.iter().map(|r| band.offset(*r)).collect();
    let rows = Rows { trust: offset.iter().map(|o| trust(*o)).collect(), offset };
    let samples = Samples::of(band, guide, cover, &kept, &rows);
    let mut places = samples.places(guide, &|k| pixel_mm(view, guide, k, height), tones, settings);
    let plans = laid_out(&mut places, guide, &rows, tones.lamp.as_ref());
    let tries: Vec<Tries> = places.par_iter().map(|p| p.tries(&plans[&p.alike])).collect();
    let path = settle(&tries, guide.closed);
    let mut found: Vec<Found> = places.par_iter().zip(&tries).zip(&path).map(|((p, t), row)| p.settle(&plans[&p.alike], t, *row)).collect();
    let pixel = |p: &Place| (f64::from(p.alike.scale) * SCALE_STEP).exp();
    let scatter = scatter(&found, guide.closed);
    let usual = USUAL_MISFIT * middle_misfit(&found);
    for ((f, p), s) in found.iter_mut().zip(&places).zip(scatter).filter(|((f, _), _)| !f.unseen) {
        let error = (f.error.powi(2) + (PIXEL_FLOOR * pixel(p)).powi(2) + (SCATTER_WORTH * s).powi(2)).sqrt();
        let poor = (f.misfit / usual.max(1e-9)).sqrt().clamp(1.0, MOST_MISFIT);
        f.error = (error * poor).min(MOST_ERROR);
    }
    found
}

/// The plans of all places, who learn from each other what they are to expect.
fn laid_out(places: &mut [Place], guide: &Guide, rows: &Rows, lamp: Option<&Lamp>) -> BTreeMap<Alike, Plan> {
    let learn = |places: &mut [Place], shadow: Shadow| {
        let (shape, noise) = measure_shape(places, rows, shadow);
        let plans = rows.plans(places.iter().map(|p| p.alike), shape, 1);
        for p in places.iter_mut() {
            // The model itself is good to a hundredth of the step between the sides.
            let floor = |c: usize| (MODEL_FLOOR + MODEL_SHARE * (p.prior.paper[c] - p.prior.cloth[c]).abs()).powi(2);
            p.prior.noise = std::array::from_fn(|c| noise[c].max(COARSE[c] * floor(c)));
        }
        let contact = light_rims(places, guide, &plans, shadow);
        (shape, plans, contact)
    };
    let shadow = Shadow { cast: lamp.map_or(0.0, Lamp::depth), contact: CONTACT };
    let (shape, plans, contact) = learn(places, shadow);
    if lamp.is_none() {
        return plans;
    }
    let shadow = Shadow { contact, ..shadow };
    cast::choose(places, rows, Shape { shadow, ..shape });
    learn(places, shadow).1
}

/// The median of what the fits leave.
fn middle_misfit(found: &[Found]) -> f64 {
    let mut left: Vec<f64> = found.iter().filter(|f| !f.unseen).map(|f| f.misfit).collect();
    median(&mut left).unwrap_or(0.0)
}

/// Millimetres a pixel across the edge at column `k`.
fn pixel_mm(view: &View, guide: &Guide, k: usize, height: f64) -> f64 {
    let across = (view.local(guide.at[k], height).px_by_mm * guide.normal[k]).norm();
    if across > 1e-3 { 1.0 / across } else { 1.0 }
}

/// The sharpest bend within the length a fit looks at.
pub(super) fn sharpest(guide: &Guide, column: usize) -> f64 {
    let (n, reach) = (guide.len() as isize, (CORNER_REACH / guide.step) as isize);
    let near = (-reach..=reach).map(|d| column as isize + d).filter(|k| guide.closed || (*k >= 0 && *k < n));
    near.map(|k| guide.bend[k.rem_euclid(n) as usize].abs()).fold(0.0, f64::max)
}

/// How much the offsets around each place jump from window to window: what no single fit knows of itself, mm.
fn scatter(found: &[Found], closed: bool) -> Vec<f64> {
    // Fits four points apart share no light; a mean of two neighbours adds half the variance of one.
    const LAG: isize = 4;
    const REACH: isize = 12;
    let n = found.len() as isize;
    let at = |k: isize| if closed { Some(k.rem_euclid(n) as usize) } else { (0..n).contains(&k).then_some(k as usize) };
    let jump = |k: isize| -> Option<f64> {
        let [a, b, c] = [at(k - LAG)?, at(k)?, at(k + LAG)?].map(|k| found[k].offset);
        Some((b - 0.5 * (a + c)).abs() / 1.5f64.sqrt())
    };
    (0..n)
        .into_par_iter()
        .map(|k| {
            let mut near: Vec<f64> = (k - REACH..=k + REACH).filter_map(jump).collect();
            if near.len() < 5 {
                return 0.0;
            }
            1.4826 * median(&mut near).unwrap_or(0.0)
        })
        .collect()
}

/// Cloth far inside says little about the rim: stripes, stitches.
fn trust(offset: f64) -> f64 {
    (1.0 + 0.32 * (offset + 1.0).min(0.0)).max(0.3)
}

/// One offset tried for each place, by the best path through the tries: an outlier must pay for leaving its neighbours.
fn settle(tries: &[Tries], closed: bool) -> Vec<usize> {
    let cost: Vec<f32> = tries
        .iter()
        .flat_map(|t| {
            let low = t.misfit.iter().fold(f64::INFINITY, |a, b| a.min(*b));
            t.misfit.iter().map(move |v| ((v - low) * 0.5 * ROW_WORTH).min(DEAREST) as f32).collect::<Vec<_>>()
        })
        .collect();
    best_path(&cost, TRIES, closed, Moves { most: 3, price: 0.8, slant: 0.0 })
}

/// Misfits of one place at the nodes tried first, and how they were made.
pub(super) struct Tries {
    pub misfit: [f64; TRIES],
    robust: bool,
}

impl Tries {
    /// The try of least misfit.
    pub fn least(&self) -> usize {
        (0..TRIES).min_by(|a, b| self.misfit[*a].total_cmp(&self.misfit[*b])).unwrap_or(TRIES / 2)
    }
}

impl Place {
    /// Misfits at the nodes tried first; where even the best is poor, rows that stand out are discounted.
    pub fn tries(&self, plan: &Plan) -> Tries {
        let belief = Belief::of(self.prior);
        let at = |robust: bool| std::array::from_fn(|i| self.profile.misfit(plan, &belief, tried(i), robust));
        let misfit: [f64; TRIES] = at(false);
        let robust = self.profile.poor(misfit.iter().copied().fold(f64::INFINITY, f64::min));
        Tries { misfit: if robust { at(true) } else { misfit }, robust }
    }

    /// Mean square of what the best fit leaves, per channel.
    pub fn left_over(&self, plan: &Plan) -> [f64; 3] {
        let (at, fit) = self.best(plan);
        self.profile.left_over(plan, &fit, at)
    }

    /// The node of least misfit among those tried, and the fit there.
    pub fn best(&self, plan: &Plan) -> (usize, Fit) {
        let tries = self.tries(plan);
        let at = self.descend(plan, &tries, tries.least()).0;
        (at, self.profile.fit(plan, &Belief::of(self.prior), at, tries.robust))
    }

    /// The node of least misfit near a try, with the misfits there and on either side.
    fn descend(&self, plan: &Plan, tries: &Tries, row: usize) -> (usize, [f64; 3]) {
        let mut at = tried(row);
        let belief = Belief::of(self.prior);
        let f = |k: usize| self.profile.misfit(plan, &belief, k, tries.robust);
        let mut near = [f(at - 1), tries.misfit[row], f(at + 1)];
        for _ in 0..4 {
            if near[0] < near[1] && near[0] <= near[2] && at > 1 {
                at -= 1;
                near = [f(at - 1), near[0], near[1]];
            } else if near[2] < near[1] && at + 2 < NODES {
                at += 1;
                near = [near[1], near[2], f(at + 1)];
            } else {
                break;
            }
        }
        (at, near)
    }

    /// The offset at the try the path went through, made precise, with its standard error.
    fn settle(&self, plan: &Plan, tries: &Tries, row: usize) -> Found {
        if !self.seen {
            return Found { column: self.column, error: 1.0, unseen: true, cut: self.cut, ..Found::default() };
        }
        let (at, [a, b, c]) = self.descend(plan, tries, row);
        let step = node(1) - node(0);
        let bend = (a - 2.0 * b + c) / (step * step);
        let d = node(at) + if bend > 0.0 { (0.5 * (a - c) / (bend * step)).clamp(-step, step) } else { 0.0 };
        // A blurred convex edge is seen too far inside by sigma² / 2R, a concave one too far outside (Mendonça et al.).
        let d = d + 0.5 * plan.sigma() * plan.sigma() * self.bend.clamp(-MOST_BEND, MOST_BEND);
        let corner = CORNER_ERROR * (self.sharpest - PLAIN_BEND).max(0.0);
        let mut variance = 2.0 / (ROW_WORTH * bend.max(1e-3)) + ERROR_FLOOR * ERROR_FLOOR + corner * corner;
        // Another valley among the tries, nearly as deep: it may be the right one.
        let tries = &tries.misfit;
        let (mut rival, own) = (false, tries[row]);
        for i in 1..TRIES - 1 {
            let away = node(tried(i)) - d;
            if away.abs() > 0.3 && tries[i] <= tries[i - 1] && tries[i] <= tries[i + 1] {
                let odds = (-0.5 * ROW_WORTH * (tries[i] - own)).min(0.0).exp();
                let chance = odds / (1.0 + odds);
                variance += chance * away * away;
                rival |= chance > 0.1;
            }
        }
        Found { column: self.column, offset: d, error: variance.sqrt(), rival, unseen: false, cut: self.cut, misfit: b }
    }
}

/// The node of the `i`-th try.
fn tried(i: usize) -> usize {
    TRY_FIRST + TRY_EVERY * i
}
